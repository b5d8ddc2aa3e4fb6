"""Numbers as people type or paste them: `1,5`, `1.234,50`, `1,20,000`, `2 500`.

A decimal comma must never become a factor of ten. Where one mark is followed by exactly three digits (`1,234`), the
text alone does not say which is meant; unless the file shows its decimal mark, it is asked back.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from functools import lru_cache
from typing import Literal

DecimalMark = Literal[".", ",", "unknown"]
"""What the place a number comes from is known to use; `unknown`: neither mark is trusted with three digits."""

_SPACE = " \u00a0\u2009\u202f'’"  # blank, no-break, thin, narrow no-break, apostrophes: all group thousands somewhere
_LEADING = re.compile(rf"[+\-−]?\s*[0-9.,](?:[0-9.,{_SPACE}]*[0-9.,])?")
_SPACED = re.compile(rf"[0-9]{{1,3}}(?:[{_SPACE}][0-9]{{3}})+(?:[.,][0-9]*)?")
_PLAIN = re.compile(r"[0-9]*[.,]?[0-9]+|[0-9]+[.,]")
_MOST_CHARACTERS = 40


class UnclearNumberError(ValueError):
    """The text is not one clear number; `str(error)` says what to write."""


def split_number(text: str) -> tuple[str, str]:
    """The number at the beginning of a text, and what follows.

    Examples
    --------
    >>> split_number("1 250,5 kg"), split_number("-18degC"), split_number("kg")
    (('1 250,5', 'kg'), ('-18', 'degC'), ('', 'kg'))
    """
    text = text.strip()
    found = _LEADING.match(text)
    if found is None:
        return "", text
    return found.group().strip(), text[found.end() :].strip()


@lru_cache(maxsize=65536)
def read_number(text: str, decimal_mark: DecimalMark = ".") -> float:
    """The number in a text that holds nothing else.

    Parameters
    ----------
    text : str
        Digits with one decimal mark; thousands may be grouped by three (or the Indian way) with the other mark,
        blanks or apostrophes.
    decimal_mark : {".", ",", "unknown"}
        What the file is known to use. Only `1,234` and `1.234` depend on it.

    Raises
    ------
    UnclearNumberError
        No number, more than one, or a number that can be read in two ways.

    Examples
    --------
    >>> read_number("1.234,50"), read_number("2,5"), read_number("1,20,000"), read_number("1,234", ",")
    (1234.5, 2.5, 120000.0, 1.234)
    >>> read_number("1,234")
    Traceback (most recent call last):
        ...
    optimizer.inputs.numbers.UnclearNumberError: can mean two numbers: write 1.234 or 1234
    """
    clean = text.strip().replace("−", "-")
    sign = -1.0 if clean.startswith("-") else 1.0
    digits = clean[1:].strip() if clean[:1] in ("+", "-") else clean
    if not digits:
        raise UnclearNumberError("give a number")
    if len(digits) > _MOST_CHARACTERS:
        raise UnclearNumberError("give a number of fewer digits")
    if any(space in digits for space in _SPACE):
        if not _SPACED.fullmatch(digits):
            raise UnclearNumberError("give one number, such as 1234.5")
        digits = "".join(character for character in digits if character not in _SPACE)
        value = float(digits.replace(",", "."))  # grouped by blanks: the one mark left is the decimal mark
    else:
        value = float(_with_point(digits, decimal_mark))
    if not math.isfinite(value):
        raise UnclearNumberError("give a finite number")
    return sign * value


def _with_point(digits: str, decimal_mark: DecimalMark) -> str:
    """The digits with a decimal point and no thousands marks."""
    marks = [character for character in digits if character in ".,"]
    if len(marks) <= 1:
        if not _PLAIN.fullmatch(digits):
            raise UnclearNumberError("give a number, such as 2.5")
        if marks and marks[0] != decimal_mark:
            _refuse_three_digits(digits, marks[0], decimal_mark)
        return digits.replace(",", ".")
    last = marks[-1]
    group, whole, fraction = last, digits, ""
    if len(set(marks)) == 2:
        if marks.count(last) > 1:
            raise UnclearNumberError("mixes points and commas: write it without thousands marks, such as 1234.5")
        group = "," if last == "." else "."
        whole, _, fraction = digits.rpartition(last)
    parts = whole.split(group)
    if not _is_grouped(parts) or not re.fullmatch(r"[0-9]*", fraction):
        raise UnclearNumberError("write it without thousands marks, such as 1234.5")
    return f"{''.join(parts)}.{fraction}" if fraction else "".join(parts)


def _refuse_three_digits(digits: str, mark: str, decimal_mark: DecimalMark) -> None:
    """`1,234` where the mark is not the one known to be decimal."""
    before, _, after = digits.partition(mark)
    if len(after) != 3 or not before.strip("0"):
        return
    plain = before + after
    if decimal_mark == "unknown":
        raise UnclearNumberError(f"can mean two numbers: write {before}.{after}0 or {plain}")
    raise UnclearNumberError(f"can mean two numbers: write {before}{decimal_mark}{after} or {plain}")


def _is_grouped(parts: list[str]) -> bool:
    """Thousands by three (1,234,567) or lakhs and crores (1,23,45,678)."""
    if not all(re.fullmatch(r"[0-9]+", part) for part in parts) or len(parts[-1]) != 3:
        return False
    middle = {len(part) for part in parts[1:-1]}
    return (len(parts[0]) <= 3 and middle <= {3}) or (len(parts[0]) <= 2 and middle <= {2})


_SHOWS_COMMA = re.compile(r"(?<![0-9.,])(?:[0-9]+,(?:[0-9]{1,2}|[0-9]{4,})|0?,[0-9]+)(?![0-9.,])")
_SHOWS_POINT = re.compile(r"(?<![0-9.,])(?:[0-9]+\.(?:[0-9]{1,2}|[0-9]{4,})|0?\.[0-9]+)(?![0-9.,])")


def decimal_mark_of(texts: Iterable[str]) -> DecimalMark:
    """The decimal mark that the numbers of one file show; `unknown` where they show none, or both.

    Examples
    --------
    >>> decimal_mark_of(["0,35 EUR/kg", "1,234"]), decimal_mark_of(["2.5"]), decimal_mark_of(["1,234"])
    (',', '.', 'unknown')
    """
    comma = point = False
    for text in texts:
        comma = comma or ("," in text and _SHOWS_COMMA.search(text) is not None)
        point = point or ("." in text and _SHOWS_POINT.search(text) is not None)
    if comma != point:
        return "," if comma else "."
    return "unknown"
