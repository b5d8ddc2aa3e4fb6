"""Prices as typed: `1.10 EUR/kg`, `28 EUR/bag`, `1.20 USD/lb`, `0.31 EUR/piece`, and price breaks."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from optimizer.inputs.cells import Amount, CellError, amount, believable, measure, number_and_unit
from optimizer.inputs.files import Cell, cell_text
from optimizer.inputs.numbers import DecimalMark, UnclearNumberError, read_number, split_number

SIGNS = {"€": "EUR", "£": "GBP", "₹": "INR"}
_CURRENCY = r"[^\W\d_]{1,8}\.?|[^\w\s.,;:/%+\-−()]"
_MONEY = re.compile(rf"(?P<before>{_CURRENCY})?\s*(?P<number>[+\-−]?[0-9.,][0-9.,\s'’]*)(?P<after>{_CURRENCY})?")
_PER = re.compile(r"\s*/\s*|\s+per\s+")
_BREAK = re.compile(
    r"from\s+(?P<amount>.+?\s*[^\W\d]+)\s+(?:at\s+)?(?P<price>(?:[^\W\d]{1,8}\s*|[€£₹$]\s*)?[0-9.,].*)", re.I
)


@dataclass(kw_only=True)
class Money:
    """The site's currency and dated rates; remembers which rates were used."""

    currency: str = "EUR"
    rates: Mapping[str, float] = field(default_factory=dict)  # units of the site's currency for one of it
    is_given: bool = True  # False: nobody named the currency
    is_known: bool = True  # False: the site file is at fault there; a currency is then not blamed again
    used: set[str] = field(default_factory=set)
    rates_day: date | None = None

    def in_site_currency(self, value: float, currency: str) -> float:
        """Raises CellError where no rate is known."""
        code = SIGNS.get(currency, currency)
        names = {name.lower(): name for name in (*self.rates, self.currency)}
        name = names.get(code.lower(), names.get(currency.lower()))
        if name == self.currency or not self.is_known:
            return value
        if name is None:
            if code == "$":
                raise CellError("a dollar sign names no currency: write USD, CAD, AUD ...")
            if not self.is_given:
                raise CellError(
                    f'give the currency in site.toml, [money] currency = "{code}", or its rate under [money.rates]'
                )
            raise CellError(
                f'no rate is known for "{code}": write {self.currency}, or give one in site.toml under [money.rates]'
            )
        self.used.add(name)
        return value * self.rates[name]


@dataclass(frozen=True)
class Price:
    """Money [site's currency] for `per`; `per` is None where the cell names no unit."""

    value: float
    per: Amount | None = None


def read_price(cell: Cell, money: Money, mark: DecimalMark = ".") -> Price:
    """A price; a bare number is in the site's currency and in the unit of its column.

    Raises
    ------
    CellError
        No clear number, an unknown currency or unit.

    Examples
    --------
    >>> money = Money(currency="EUR", rates={"USD": 0.9})
    >>> read_price("1.10 EUR/kg", money).value, read_price("28 EUR/bag", money).per.unit
    (1.1, 'pack')
    >>> price = read_price("1.20 USD/lb", money)
    >>> round(price.value / price.per.value, 4)
    2.381
    """
    if not isinstance(cell, str):
        value, _ = number_and_unit(cell, mark)
        return Price(value)
    text = cell_text(cell)
    amount_of_money, *per = _PER.split(text, maxsplit=1)
    found = _MONEY.fullmatch(amount_of_money.strip())
    if found is None:
        raise CellError("write a price such as 1.10 EUR/kg")
    try:
        value = believable(read_number(found["number"].strip(), mark))
    except UnclearNumberError as error:
        raise CellError(str(error)) from error
    names = [name for name in (found["before"], found["after"]) if name]
    if len(names) > 1:
        raise CellError("name one currency")
    if names:
        value = money.in_site_currency(value, names[0])
    return Price(value, _per(per[0], mark) if per else None)


def _per(text: str, mark: DecimalMark) -> Amount:
    """`kg`, `25 kg`, `bag`, `1000 pieces`."""
    digits, unit = split_number(text)
    if not digits:
        kind, factor = measure(unit)
        return Amount(factor, kind, unit)
    per = amount(text, mark)
    if not per.unit:
        raise CellError(f'say per what: "{text}" is a number without a unit')
    if per.value <= 0.0:
        raise CellError("the amount after the stroke must be above 0")
    return per


@dataclass(frozen=True)
class Break:
    """From this much on, this price."""

    least: Amount
    price: Price


def read_breaks(cell: Cell, money: Money, mark: DecimalMark = ".") -> tuple[Break, ...]:
    """`from 10 packs 0.95 EUR/kg; from 40 packs 0.90 EUR/kg`.

    Examples
    --------
    >>> steps = read_breaks("from 10 packs 0.95/kg; from 40 bags 0.9", Money())
    >>> [(step.least.value, step.price.value) for step in steps]
    [(10.0, 0.95), (40.0, 0.9)]
    """
    steps = []
    for part in re.split(r"[;\n|]", cell_text(cell)):
        if not part.strip():
            continue
        found = _BREAK.fullmatch(part.strip())
        if found is None:
            raise CellError("write a step as: from 10 packs 0.95 EUR/kg; divide steps by a semicolon")
        steps.append(Break(amount(found["amount"], mark), read_price(found["price"], money, mark)))
    return tuple(steps)
