"""How prices are said to move: `sugar=10 %`, `sugar~glucose=0.5`, or a table with one line for each scenario."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from optimizer.errors import BadTable, Fault, InputFault
from optimizer.inputs.cells import CellError
from optimizer.inputs.files import Cell, RawTable, cell_text, read_file
from optimizer.inputs.prices import Money, read_price
from optimizer.inputs.text_files import UnreadableError
from optimizer.inputs.typed import parse_fraction
from optimizer.market.correlation import check_correlation, price_factors
from optimizer.market.job import Job
from optimizer.market.resettled import codes_of, received_prices
from optimizer.solver.program import Array

EVERY = "all"


@dataclass(frozen=True, kw_only=True)
class Spread:
    """Offers whose prices move by one factor, and how far: the standard deviation as a share of the price."""

    name: str
    codes: tuple[str, ...]
    relative_sd: float


@dataclass(frozen=True, kw_only=True, eq=False)
class PriceTable:
    """Prices per received kg, (scenarios, k), of k offers; `inputs` are what stands behind them, (scenarios, j)."""

    codes: tuple[str, ...]
    prices: Array
    inputs: Array
    input_names: tuple[str, ...]


def parse_spreads(job: Job, texts: Sequence[str]) -> tuple[Spread, ...]:
    """`sugar=10 %`, `O-04=5 %`, `all=10 %` -> spreads; a code goes before its item, both before `all`.

    `all` moves every item that is not named by a factor of its own; offers of one item move together.

    Raises
    ------
    InputFault
        No such offer, no share, an offer named twice, a price of 0.
    """
    said = [_named(text) for text in texts]
    found: list[Spread] = []
    taken: dict[str, str] = {}
    exact = {offer.offer.casefold() for offer in job.offers}
    for name, share in sorted(said, key=lambda pair: (pair[0] == EVERY, pair[0].casefold() not in exact)):
        if name == EVERY:
            for item in dict.fromkeys(offer.item for offer in job.offers if offer.offer not in taken):
                codes = tuple(o.offer for o in job.offers if o.item == item and o.offer not in taken)
                found.append(Spread(name=item, codes=codes, relative_sd=share))
            break
        codes = tuple(code for code in codes_of(job, name) if code not in taken or name.casefold() in exact)
        twice = [code for code in codes if code in taken]
        if twice or not codes:
            other = taken[(twice or list(codes_of(job, name)))[0]]
            raise InputFault(f'spread of "{name}": "{other}" is the same offer; name it once')
        taken.update(dict.fromkeys(codes, name))
        found.append(Spread(name=name, codes=codes, relative_sd=share))
    now = received_prices(job)
    for spread in found:
        for code in spread.codes:
            if now[code] == 0.0 and spread.relative_sd > 0.0:
                raise InputFault(f"spread of {code}: its price is 0, and a share of 0 is 0; give it a price")
    return tuple(found)


def _named(text: str) -> tuple[str, float]:
    name, sign, share = text.rpartition("=")
    if not sign or not name.strip():
        raise InputFault(f'"{text}": write an offer, an item or "all" and a spread, such as "sugar=10 %"')
    return name.strip(), parse_fraction(share)


def parse_correlations(spreads: Sequence[Spread], texts: Sequence[str]) -> Array | None:
    """`sugar~glucose=0.5` -> the correlation matrix of the spreads; None where nothing is said.

    Raises
    ------
    InputFault
        A name that has no spread, no number from -1 to 1, figures that cannot hold together.
    """
    if not texts:
        return None
    names = [spread.name for spread in spreads]
    at = {name.casefold(): place for place, name in enumerate(names)}
    matrix = np.eye(len(names))
    for text in texts:
        pair, sign, figure = text.rpartition("=")
        first, tilde, second = pair.partition("~")
        try:
            value = float(figure.replace(",", "."))
        except ValueError:
            value = np.nan
        if not sign or not tilde or not np.isfinite(value):
            raise InputFault(f'"{text}": write two spreads and a figure from -1 to 1, such as "sugar~glucose=0.5"')
        places = []
        for name in (first.strip(), second.strip()):
            if name.casefold() not in at:
                raise InputFault(f'"{text}": "{name}" has no spread; name one of {", ".join(names)}')
            places.append(at[name.casefold()])
        if places[0] == places[1]:
            raise InputFault(f'"{text}": name two different spreads')
        matrix[places[0], places[1]] = matrix[places[1], places[0]] = value
    return check_correlation(matrix, names)


def draw_prices(
    job: Job, spreads: Sequence[Spread], correlation: Array | None, rng: np.random.Generator, count: int
) -> PriceTable:
    """Lognormal prices around those of the offers, which stay their means."""
    if not spreads:
        raise InputFault('no price moves: give a spread, such as "sugar=10 %" or "all=10 %"')
    factors = price_factors(rng, count, np.array([s.relative_sd for s in spreads]), correlation)
    now = received_prices(job)
    codes = tuple(code for spread in spreads for code in spread.codes)
    columns = [factors[:, k] * now[code] for k, spread in enumerate(spreads) for code in spread.codes]
    return PriceTable(
        codes=codes, prices=np.column_stack(columns), inputs=factors, input_names=tuple(s.name for s in spreads)
    )


def read_price_table(job: Job, path: Path) -> PriceTable:
    """A CSV or XLSX file with one column for each offer or item and one line for each scenario.

    A bare number is in the site's currency per kg. A column that names an item is the price of its cheapest offer, and
    the others move by the same amount. An empty cell: the price stays.

    Raises
    ------
    BadTable
        All faults at once.
    """
    known = [name for offer in job.offers for name in (offer.offer, offer.item)]
    try:
        table = read_file(path, known)
    except UnreadableError as error:
        raise BadTable([Fault(file=path.name, line=error.line, cure=str(error))]) from error
    faults: list[Fault] = []
    now = received_prices(job)
    columns: dict[str, Array] = {}
    inputs: dict[str, Array] = {}
    for place, head in enumerate(table.header):
        try:
            codes = codes_of(job, head.replace("_", " ")) if head not in {c.casefold() for c in now} else ()
            codes = codes or tuple(code for code in now if code.casefold() == head)
        except InputFault as fault:
            faults.append(Fault(file=table.file, line=1, column=head, cure=str(fault)))
            continue
        present = min(now[code] for code in codes)
        values = _column(table, place, head, job, present, faults)
        inputs[head] = values
        for code in codes:
            if code in columns:
                faults.append(Fault(file=table.file, line=1, column=head, cure=f"{code} has two columns; keep one"))
            columns[code] = now[code] + values - present
    if not table.rows:
        faults.append(Fault(file=table.file, cure="no scenarios: give one line or more"))
    if faults:
        raise BadTable(faults)
    return PriceTable(
        codes=tuple(columns), prices=np.column_stack(list(columns.values())),
        inputs=np.column_stack(list(inputs.values())), input_names=tuple(inputs),
    )  # fmt: skip


def _column(table: RawTable, place: int, head: str, job: Job, present: float, faults: list[Fault]) -> Array:
    money = Money(currency=job.site.currency, rates=job.site.rates)
    values = np.full(len(table.rows), present)
    for number, (line, row) in enumerate(zip(table.lines, table.rows, strict=True)):
        cell: Cell = row[place] if place < len(row) else ""
        if not cell_text(cell).strip():
            continue
        try:
            price = read_price(cell, money, table.decimal_mark or ".")
            if price.per is not None and price.per.unit != "kg":
                raise CellError("give the price per kg")
            values[number] = price.value / (1.0 if price.per is None else price.per.value)
        except CellError as fault:
            faults.append(Fault(file=table.file, line=line, column=head, value=cell_text(cell), cure=str(fault)))
    return values
