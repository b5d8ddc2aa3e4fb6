"""What a buyer asks of prices: several moved together, thousands of sets of them, a table of them."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from optimizer.errors import InputFault
from optimizer.inputs.cells import CellError
from optimizer.inputs.numbers import DecimalMark
from optimizer.inputs.prices import Money, read_price
from optimizer.inputs.typed import parse_fraction, parse_number
from optimizer.market.correlation import check_correlation
from optimizer.market.job import Job
from optimizer.market.order import Order, make_order
from optimizer.market.resettled import codes_of, received_prices
from optimizer.market.scenarios import SPOT_CHECKS, Scenarios
from optimizer.market.what_if import price_scenarios
from optimizer.services.buying import Report, watched
from optimizer.services.spreads import EVERY, draw_prices, parse_spreads
from optimizer.services.what_if import MOST_SCENARIOS, scenarios_of_fruit, scenarios_of_table

_SIGN = re.compile(r"\s*([+\-−])\s*(.*%)\s*", re.DOTALL)
_DEAREST = 10.0  # a price moves by no more than this many times itself


@dataclass(frozen=True, kw_only=True)
class Difference:
    """One offer or lot in the order now and in the order at other prices; units are kg received, or pieces."""

    id: str
    item: str
    unit: str
    price_now: float | None  # None: a lot
    price_then: float | None
    amount_now: float
    amount_then: float


@dataclass(frozen=True, kw_only=True, eq=False)
class Moved:
    """The best order at other prices beside the present one."""

    now: Order
    then: Order
    differences: tuple[Difference, ...]

    @property
    def dearer(self) -> float:
        """How much more the best order at the other prices costs."""
        return self.then.total - self.now.total

    @property
    def is_same_choice(self) -> bool:
        """Whether the same offers are taken."""
        return {line.offer for line in self.now.lines} == {line.offer for line in self.then.lines}


def parse_price_change(text: str, price: float, money: Money, mark: DecimalMark = ".", *, unit: str = "kg") -> float:
    """`+10 %`, `-5 %`, `0.95`, `1.10 EUR/kg` -> the new price per unit, where it is `price` now.

    Raises
    ------
    InputFault
        No change can be read.

    Examples
    --------
    >>> money = Money(currency="EUR")
    >>> round(parse_price_change("+10 %", 0.92, money), 3), round(parse_price_change("− 5 %", 0.92, money), 3)
    (1.012, 0.874)
    >>> parse_price_change("0.95", 0.92, money), parse_price_change("1,10 EUR/kg", 0.92, money, ",")
    (0.95, 1.1)
    """
    signed = _SIGN.fullmatch(text)
    if signed is not None:
        share = _share(signed[2], text, mark)
        return price * (1.0 - share if signed[1] != "+" else 1.0 + share)
    if "%" in text:
        raise InputFault(f'"{text}": write +10 % for dearer, -10 % for cheaper, or the new price')
    try:
        found = read_price(text, money, mark)
    except CellError as fault:
        raise InputFault(f'"{text}": {fault}') from fault
    if found.per is None:
        return found.value
    if found.per.unit != unit:
        raise InputFault(f'"{text}": give the price per {unit}')
    return found.value / found.per.value


def _share(text: str, whole: str, mark: DecimalMark) -> float:
    try:
        share = parse_number(text.replace("%", " ").strip(), mark) / 100.0
    except InputFault as fault:
        raise InputFault(f'"{whole}": write +10 % for dearer, -10 % for cheaper, or the new price') from fault
    if not 0.0 <= share <= _DEAREST:
        raise InputFault(f'"{whole}": give a change of at most 1000 %')
    return share


def moved_prices(job: Job, changes: Mapping[str, str], mark: DecimalMark = ".") -> dict[str, float]:
    """New prices per received kg (piece) of offers, from what is typed of offers or items.

    A new price of an item is that of its cheapest offer; the others move by the same amount. A share moves all of them
    by the same share. A code goes before its item.

    Parameters
    ----------
    changes : mapping
        Code or item -> what is typed; empty texts change nothing.

    Raises
    ------
    InputFault
        All that cannot be read, in one message.
    """
    now = received_prices(job)
    units = {offer.offer: offer.unit for offer in job.offers}
    money = Money(currency=job.site.currency, rates=job.site.rates)
    new: dict[str, float] = {}
    faults = []
    for name, text in sorted(changes.items(), key=lambda pair: pair[0] not in now):
        if not text.strip():
            continue
        try:
            codes = [code for code in codes_of(job, name) if code not in new or code == name]
            if not codes:
                continue
            cheapest = min(now[code] for code in codes)
            is_share = "%" in text
            for code in codes:
                base = now[code] if is_share else cheapest
                there = parse_price_change(text, base, money, mark, unit=units[code])
                new[code] = there if is_share else now[code] + there - cheapest
        except InputFault as fault:
            faults.append(f"{name}: {fault}")
    if faults:
        raise InputFault("; ".join(faults))
    low = [code for code, price in new.items() if price < 0.0 <= now[code] or not math.isfinite(price)]
    if low:
        raise InputFault(f"{', '.join(low)}: a price below 0; give a smaller change")
    return new


def order_at(order: Order, prices: Mapping[str, float], report: Report) -> Moved:
    """The best order at other prices, whole packs and deliveries counted, against the present one.

    Raises
    ------
    NoRecipe
        There is none.
    """
    report(0, 1)
    then = make_order(order.job.at(prices), solver=order.solver)
    report(1, 1)
    now_of, then_of = received_prices(order.job), received_prices(then.job)
    offers = {offer.offer: offer for offer in order.job.offers}
    items = {lot.lot: lot.item for lot in order.job.lots} | {code: offer.item for code, offer in offers.items()}
    named = dict.fromkeys([*order.taken, *then.taken, *prices])
    rows = [
        Difference(
            id=code, item=items[code], unit=offers[code].unit if code in offers else "kg",
            price_now=now_of.get(code), price_then=then_of.get(code), amount_now=order.taken.get(code, 0.0),
            amount_then=then.taken.get(code, 0.0),
        )
        for code in named
        if code in items
    ]  # fmt: skip
    return Moved(now=order, then=then, differences=tuple(rows))


# ---- thousands of prices ---------------------------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class Spreads:
    """What is said of prices: spreads as shares by item or code, one correlation between all, how many, seed."""

    spreads: tuple[tuple[str, float], ...]
    correlation: float
    count: int
    seed: int


def parse_spread_wishes(
    spreads: Mapping[str, str], every: str, correlation: str, count: str, seed: str, mark: DecimalMark = "."
) -> Spreads:
    """What is typed into the fields.

    Parameters
    ----------
    spreads : mapping
        Item or code -> its spread, such as "10 %"; empty texts say nothing.
    every : str
        The spread of all that is not named; may be empty.

    Raises
    ------
    InputFault
        All that cannot be read, in one message.

    Examples
    --------
    >>> parse_spread_wishes({"sugar": "10 %"}, "", "0.5", "10000", "7")
    Spreads(spreads=(('sugar', 0.1),), correlation=0.5, count=10000, seed=7)
    """
    faults: list[str] = []
    found = []
    for name, text in [*spreads.items(), (EVERY, every)]:
        if text.strip():
            try:
                found.append((name, parse_fraction(text, mark)))
            except InputFault as fault:
                faults.append(str(fault))
    if not found and not faults:
        faults.append('no price moves: give a spread, such as "10 %"')
    together = _number(correlation or "0", mark, -1.0, 1.0, "give a figure from -1 to 1", faults)
    how_many = _number(count, mark, 1, MOST_SCENARIOS, f"give 1 to {MOST_SCENARIOS} scenarios", faults)
    start = _number(seed, mark, 0, 10**9, "give a whole number as seed", faults)
    if faults:
        raise InputFault("; ".join(faults))
    return Spreads(spreads=tuple(found), correlation=together, count=int(how_many), seed=int(start))


def _number(text: str, mark: DecimalMark, least: float, most: float, cure: str, faults: list[str]) -> float:
    try:
        value = parse_number(text, mark)
    except InputFault as fault:
        faults.append(str(fault))
        return least
    if not least <= value <= most or (most > 1.0 and value != int(value)):
        faults.append(f'"{text}": {cure}')
    return value


def spread_scenarios(job: Job, wishes: Spreads, report: Report) -> Scenarios:
    """Many sets of prices around the present ones, each solved; what is taken how often, what it costs, what moves it.

    Raises
    ------
    InputFault
        A name means no offer, or the correlation cannot hold between so many.
    NoRecipe
        The job has no recipe.
    """
    asked = watched(job, report, SPOT_CHECKS + 1)
    found = parse_spreads(job, [f"{name}={share * 100.0:.12g} %" for name, share in wishes.spreads])
    names = [one.name for one in found]
    matrix = None
    if wishes.correlation and len(found) > 1:
        matrix = np.full((len(found), len(found)), wishes.correlation)
        np.fill_diagonal(matrix, 1.0)
        matrix = check_correlation(matrix, names)
    table = draw_prices(job, found, matrix, np.random.default_rng(wishes.seed), wishes.count)
    return price_scenarios(
        asked, table.codes, table.prices, inputs=table.inputs, input_names=table.input_names, seed=wishes.seed
    )


def table_scenarios(job: Job, name: str, raw: bytes, report: Report) -> Scenarios:
    """Sets of prices from an uploaded table: one column for each offer or item, one line for each set.

    Raises
    ------
    BadTable
        All faults of the table at once.
    """
    ending = Path(name).suffix.lower()
    if ending not in (".csv", ".tsv", ".txt", ".xlsx", ".xls"):
        raise InputFault(f"{Path(name).name}: give a CSV or XLSX file")
    with TemporaryDirectory() as folder:
        path = Path(folder) / f"prices{ending}"
        path.write_bytes(raw)
        return scenarios_of_table(watched(job, report, SPOT_CHECKS + 1), path)


def fruit_scenarios(job: Job, count: int, seed: int, report: Report) -> Scenarios:
    """The fruit as it may turn out: Brix, acid, pH and pectin drawn with their spreads."""
    report(0, 0)
    return scenarios_of_fruit(job, count=count, seed=seed)
