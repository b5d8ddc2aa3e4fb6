"""One cell on its way into a file: text that would be run as a formula is guarded, numbers stay numbers."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field

from optimizer.inputs.guards import GUARD, RUN_AS_FORMULA, is_guarded

_NUMBER = re.compile(r"[+-]?(?:[0-9]+(?:[.,][0-9]+)?|[.,][0-9]+)")
_MOST_DIGITS = 15  # a spreadsheet keeps no more
_SIMPLE = re.compile(r"(?<![0-9.,])(?P<whole>[0-9]*)[.,](?P<decimals>[0-9]+)(?![0-9.,])")


@dataclass(frozen=True, kw_only=True)
class Sheet:
    """A table ready to be written: its header and cells as text.

    `numeric` names the columns of numbers (a unit may follow), `worded` those with numbers among words, `days` those of
    days.
    """

    name: str
    header: tuple[str, ...]
    rows: Sequence[Sequence[str]]
    numeric: frozenset[str] = field(default_factory=frozenset)
    worded: frozenset[str] = field(default_factory=frozenset)
    days: frozenset[str] = field(default_factory=frozenset)


def neutralise(text: str) -> str:
    """Text that a spreadsheet would run as a formula gets an apostrophe; a number such as -3 stays one.

    The rule is its own inverse with `optimizer.inputs.guards.without_guard`, for any text.

    >>> neutralise("=1+1"), neutralise("-3"), neutralise("-0.05 EUR/kg"), neutralise("'=x"), neutralise("plum")
    ("'=1+1", '-3', "'-0.05 EUR/kg", "''=x", 'plum')
    """
    if is_plain_number(text):
        return text
    return GUARD + text if text[:1] and (text[0] in RUN_AS_FORMULA or is_guarded(text)) else text


def is_plain_number(text: str) -> bool:
    """A number and nothing else, with one decimal mark at most.

    >>> [is_plain_number(text) for text in ("-3", "1,5", "3.35", "12 %", "1,234.5", "")]
    [True, True, True, False, False, False]
    """
    return _NUMBER.fullmatch(text) is not None


def as_number(text: str) -> float | int | None:
    """The value of a plain number that a spreadsheet keeps whole; None for any other text.

    >>> as_number("12"), as_number("-3,5"), as_number("40 kg"), as_number("1234567890123456")
    (12, -3.5, None, None)
    """
    if not is_plain_number(text) or sum(letter.isdigit() for letter in text) > _MOST_DIGITS:
        return None
    return float(text.replace(",", ".")) if "." in text or "," in text else int(text)


def places_of(text: str) -> int:
    """Digits after the decimal mark of a plain number.

    >>> places_of("11.0"), places_of("3"), places_of("0,250")
    (1, 0, 3)
    """
    return len(text) - 1 - max(text.rfind("."), text.rfind(",")) if "." in text or "," in text else 0


def with_one_mark(text: str, mark: str, *, pad: bool) -> str:
    """The numbers of a text with one decimal mark, where each has one mark only.

    Parameters
    ----------
    mark : str
        `.` or `,`.
    pad : bool
        Three decimals get a fourth, so that no reader takes 1,125 for 1125.

    Examples
    --------
    >>> with_one_mark("0.35 EUR/kg", ",", pad=True), with_one_mark("1.125 EUR/kg", ",", pad=True)
    ('0,35 EUR/kg', '1,1250 EUR/kg')
    >>> with_one_mark("soft 60,5 %, bruised 39,5 %", ".", pad=False), with_one_mark("1,234.5", ",", pad=True)
    ('soft 60.5 %, bruised 39.5 %', '1,234.5')
    """

    def written(found: re.Match[str]) -> str:
        whole, decimals = found["whole"], found["decimals"]
        more = "0" if pad and len(decimals) == 3 and whole.strip("0") else ""
        return f"{whole}{mark}{decimals}{more}"

    return _SIMPLE.sub(written, text)


def consistent(sheet: Sheet, mark: str) -> list[list[str]]:
    """The cells of a sheet with one decimal mark throughout: people type both, and a file is read by one.

    >>> rows = [["A", "0,10 EUR/kg"], ["B", "1.125 EUR/kg"]]
    >>> consistent(Sheet(name="stock", header=("lot", "paid"), rows=rows, numeric=frozenset({"paid"})), ".")
    [['A', '0.10 EUR/kg'], ['B', '1.125 EUR/kg']]
    """
    numeric = [name in sheet.numeric for name in sheet.header]
    numbers = [is_numeric or name in sheet.worded for name, is_numeric in zip(sheet.header, numeric, strict=True)]

    def written(pad: bool) -> list[list[str]]:
        return [
            [with_one_mark(cell, mark, pad=pad) if has else cell for cell, has in zip(row, numbers, strict=True)]
            for row in sheet.rows
        ]

    if mark == ".":
        rows = written(False)
        if not any("," in cell for row in rows for cell, is_numeric in zip(row, numeric, strict=True) if is_numeric):
            return rows
    return written(True)
