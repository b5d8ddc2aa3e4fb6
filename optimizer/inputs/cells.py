"""One cell as typed → one value in the program's units: numbers, quantities, shares, dates, choices.

Every function takes text of a CSV or a typed cell of a spreadsheet, and the decimal mark the file is known to use. It
raises `CellError`, which says what to write instead.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from functools import lru_cache

from optimizer.errors import InputFault
from optimizer.inputs.files import Cell, cell_text
from optimizer.inputs.names import nearest
from optimizer.inputs.numbers import DecimalMark, UnclearNumberError, read_number, split_number
from optimizer.units import conversion, is_unit, standard_spelling

PIECES = frozenset({"piece", "pieces", "pc", "pcs", "pce", "each", "ea", "unit", "units", "jar", "jars", "set", "sets",
                    "lid", "lids", "label", "labels", "bottle", "bottles"})  # fmt: skip
PACKS = frozenset(
    word + ending
    for word in ("pack", "bag", "sack", "carton", "case", "crate", "tray", "pail", "bucket", "drum", "can", "tin",
                 "bin", "pallet", "tub", "jar", "bottle", "roll", "bundle", "IBC", "flat", "punnet", "cylinder")
    for ending in ("", "s")
) | {"box", "boxes"}  # fmt: skip
BUYING_UNITS = {"bushel": "bushel", "bushels": "bushel", "bu": "bushel", "lug": "lug", "lugs": "lug"}
_BRIX = frozenset({"%", "Brix", "brix", "°Brix", "°brix", "degBx", "°Bx", "Bx", "deg Brix", "degrees Brix", "degBrix"})

# Most cells: a point and other than three digits after it can mean one number only, whatever the decimal mark.
_CLEAR = re.compile(r"([0-9]{1,15}(?:\.(?:[0-9]{1,2}|[0-9]{4,15}))?) ?([A-Za-z]{0,12})", re.ASCII)

MOST_VALUE = 1e12  # of any cell in the unit typed; more is a slip of the keys, and spoils sums


class CellError(ValueError):
    """The cell cannot be used; `str(error)` is the cure."""


@dataclass(frozen=True)
class Amount:
    """How much of something, before it is known what the item weighs."""

    value: float
    unit: str  # "kg", "L", "piece", "pack", a buying unit such as "bushel", or "" for a bare number
    typed_unit: str = ""


def number_and_unit(cell: Cell, mark: DecimalMark) -> tuple[float, str]:
    """The number of a cell and the unit typed after it, "" if none."""
    if isinstance(cell, bool):
        raise CellError("give a number")
    if isinstance(cell, int | float):
        try:
            value = float(cell)
        except OverflowError:
            value = math.inf
        if not math.isfinite(value):
            raise CellError("give a finite number")
        return believable(value), ""
    if isinstance(cell, date):
        raise CellError("the spreadsheet made a date of it; format the cell as a number and type it again")
    clear = _CLEAR.fullmatch(cell)
    if clear is not None:
        return believable(float(clear[1])), clear[2]
    digits, unit = split_number(cell_text(cell))
    if not digits:
        raise CellError("begin with a number")
    try:
        return believable(read_number(digits, mark)), unit
    except UnclearNumberError as error:
        raise CellError(str(error)) from error


def believable(value: float) -> float:
    """The value; raises CellError where it is larger than anything on a site."""
    if abs(value) > MOST_VALUE:
        raise CellError("is too large to be meant; look at the digits again")
    return value


def quantity(cell: Cell, to: str, mark: DecimalMark = ".") -> float:
    """A number with a unit, in unit `to`; a bare number is in it already.

    Examples
    --------
    >>> quantity("77 degF", "degC"), quantity("2000 ft", "m"), quantity(25, "degC")
    (25.0, 609.6, 25.0)
    """
    value, unit = number_and_unit(cell, mark)
    if not unit:
        return value
    try:
        return round(conversion(unit, to)(value), 12)
    except InputFault as error:
        raise CellError(str(error)) from error


def fraction(cell: Cell, mark: DecimalMark = ".") -> float:
    """A mass fraction; a bare number is percent.

    Examples
    --------
    >>> fraction("11.5 %"), fraction("8 g/kg"), fraction("1.2 g/100 g"), fraction(12)
    (0.115, 0.008, 0.012, 0.12)
    """
    value, unit = number_and_unit(cell, mark)
    if standard_spelling(unit) in ("g/L", "mg/L"):
        raise CellError("per litre needs the density: give % or g/kg")
    try:
        return round(conversion(unit or "%", "1")(value), 14)
    except InputFault as error:
        raise CellError(str(error)) from error


def brix(cell: Cell, mark: DecimalMark = ".") -> float:
    """A refractometer reading as a fraction.

    >>> brix("12.1"), brix("12 Brix"), brix("12 °Bx"), brix("12 %")
    (0.121, 0.12, 0.12, 0.12)
    """
    value, unit = number_and_unit(cell, mark)
    if unit and unit not in _BRIX:
        raise CellError(f'unit "{unit}" is no refractometer reading: give Brix or %')
    return round(value / 100.0, 14)


def mg_per_kg(cell: Cell, mark: DecimalMark = ".") -> float:
    """A residue; a bare number is mg/kg.

    >>> mg_per_kg("40 mg/kg"), mg_per_kg("0.004 %"), mg_per_kg(40)
    (40.0, 40.0, 40.0)
    """
    value, unit = number_and_unit(cell, mark)
    try:
        return round(conversion(unit, "1")(value) * 1e6, 9) if unit else value
    except InputFault as error:
        raise CellError(str(error)) from error


def number(cell: Cell, mark: DecimalMark = ".", words: Sequence[str] = ()) -> float:
    """A number that needs no unit; some words may follow or lead it: `3.4`, `pH 3.4`, `6 packs`, `2 days`."""
    if isinstance(cell, str):
        for word in words:
            cell = re.sub(rf"^\s*{re.escape(word)}\b", "", cell, flags=re.IGNORECASE)
    value, unit = number_and_unit(cell, mark)
    if unit and unit.lower() not in {word.lower() for word in words}:
        raise CellError(f'unit "{unit}" does not belong here; give the number alone')
    return value


def amount(cell: Cell, mark: DecimalMark = ".") -> Amount:
    """A mass, a volume, pieces or packs.

    >>> amount("90 lb").unit, amount("60 L"), amount("24 pcs").unit, amount("5 bushels").unit
    ('kg', Amount(value=60.0, unit='L', typed_unit='L'), 'piece', 'bushel')
    """
    value, unit = number_and_unit(cell, mark)
    kind, factor = measure(unit)
    return Amount(round(value * factor, 12), kind, unit)


@lru_cache(maxsize=1024)
def measure(unit: str) -> tuple[str, float]:
    """What an amount's unit measures, and how many kg, L, pieces or packs one is."""
    if not unit:
        return "", 1.0
    lower = unit.lower()
    if lower in BUYING_UNITS:
        return BUYING_UNITS[lower], 1.0
    for target in ("kg", "L"):
        if is_unit(unit, target):
            return target, conversion(unit, target).factor
    if lower in PIECES:
        return "piece", 1.0
    if lower in PACKS or unit in PACKS:
        return "pack", 1.0
    try:
        conversion(unit, "kg")
    except InputFault as error:
        raise CellError(str(error)) from error
    raise CellError(f'unit "{unit}" is not known')


_ISO = re.compile(r"(\d{4})-(\d\d)-(\d\d)(?:[T ]\d\d:\d\d(?::\d\d(?:\.\d+)?)?Z?)?")
_OTHER = re.compile(r"(\d{1,4})[./\- ]+(\d{1,2})[./\- ]+(\d{1,4})\.?")


def iso_date(cell: Cell) -> date:
    """A day, as 2026-07-03 or a date cell of a spreadsheet; anything else is asked back, most of all 03/07/2026.

    >>> iso_date("2026-07-03")
    datetime.date(2026, 7, 3)
    """
    if isinstance(cell, date):
        day = cell.date() if isinstance(cell, datetime) else cell
    elif isinstance(cell, str):
        text = cell_text(cell)
        found = _ISO.fullmatch(text)
        day_or_none = _day(*(int(part) for part in found.groups())) if found else None
        if day_or_none is None:
            raise CellError(_date_cure(text))
        day = day_or_none
    else:
        raise CellError("write the day as 2026-07-03, or format the cell as a date")
    if not 2000 <= day.year <= 2100:
        raise CellError("the year must lie between 2000 and 2100")
    return day


def _day(year: int, month: int, day: int) -> date | None:
    try:
        return date(year + 2000 if year < 100 else year, month, day)
    except ValueError:
        return None


def _date_cure(text: str) -> str:
    found = _OTHER.fullmatch(text)
    if found:
        first, second, third = (int(part) for part in found.groups())
        orders = [(first, second, third)] if first > 31 else [(third, second, first), (third, first, second)]
        days = list(dict.fromkeys(day for order in orders if (day := _day(*order)) is not None))
        if len(days) == 2:
            return f"can be two days: write {days[0]} or {days[1]}"
        if days:
            return f"write year-month-day: {days[0]}"
    return "write the day as year-month-day, such as 2026-07-03"


def yes_no(cell: Cell) -> bool:
    """`yes` or `no`.

    >>> yes_no("Yes"), yes_no(False)
    (True, False)
    """
    text = cell_text(cell).lower()
    if text not in ("yes", "no", "true", "false"):
        raise CellError("write yes or no")
    return text in ("yes", "true")


def choice(cell: Cell, choices: Sequence[str]) -> str:
    """One of a few words, upper or lower case, blanks or hyphens.

    >>> choice("Ultra rapid", ["ultra-rapid", "rapid"])
    'ultra-rapid'
    """
    text = cell_text(cell).lower()
    for spelt in (text, text.replace(" ", "-")):
        if spelt in choices:
            return spelt
    raise CellError(nearest(text, choices))


def plain_text(cell: Cell, longest: int = 200) -> str:
    """A name or code: one line, printable, not endless."""
    text = cell_text(cell)
    if not text.isprintable():
        raise CellError("holds characters that cannot be printed; type it again")
    if len(text) > longest:
        raise CellError(f"is longer than {longest} characters; shorten it")
    return text
