"""One cell on its way into a file: text that would be run as a formula is guarded, numbers stay numbers."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field

from optimizer.inputs.guards import GUARD, RUN_AS_FORMULA, is_guarded

_NUMBER = re.compile(r"[+-]?(?:[0-9]+(?:[.,][0-9]+)?|[.,][0-9]+)")
_MOST_DIGITS = 15  # a spreadsheet keeps no more
_SIMPLE = re.compile(r"(?<![0-9.,])(?P<whole>[0-9]*)\.(?P<decimals>[0-9]+)(?![0-9.,])")


@dataclass(frozen=True, kw_only=True)
class Sheet:
    """A table ready to be written: its header and cells as text, and which columns hold numbers or days."""

    name: str
    header: tuple[str, ...]
    rows: Sequence[Sequence[str]]
    numeric: frozenset[str] = field(default_factory=frozenset)
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


def with_decimal_comma(text: str) -> str:
    """The numbers of a text with a decimal comma; three decimals get a fourth, so that no reader takes 1,125 for 1125.

    >>> with_decimal_comma("0.35 EUR/kg"), with_decimal_comma("1.125 EUR/kg"), with_decimal_comma("0.125")
    ('0,35 EUR/kg', '1,1250 EUR/kg', '0,125')
    >>> with_decimal_comma("1,234.5")
    '1,234.5'
    """

    def comma(found: re.Match[str]) -> str:
        whole, decimals = found["whole"], found["decimals"]
        return f"{whole},{decimals}0" if len(decimals) == 3 and whole.strip("0") else f"{whole},{decimals}"

    return _SIMPLE.sub(comma, text)
