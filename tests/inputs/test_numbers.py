"""Numbers as typed: no decimal comma ever becomes a factor of ten."""

import math
from decimal import Decimal

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from optimizer.inputs.numbers import DecimalMark, UnclearNumberError, decimal_mark_of, read_number, split_number

MARKS: tuple[DecimalMark, ...] = (".", ",", "unknown")


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("0", 0.0),
        ("2.5", 2.5),
        ("2,5", 2.5),
        (".5", 0.5),
        (",5", 0.5),
        ("5.", 5.0),
        ("-18", -18.0),
        ("−18", -18.0),
        ("+ 3", 3.0),
        ("1.234,50", 1234.5),
        ("1,234.50", 1234.5),
        ("1,234,567", 1234567.0),
        ("1.234.567", 1234567.0),
        ("1,20,000", 120000.0),
        ("1,23,45,678.9", 12345678.9),
        ("2 500", 2500.0),
        ("2\u00a0500,75", 2500.75),
        ("12\u202f345", 12345.0),
        ("1'234.5", 1234.5),
        ("0,125", 0.125),
        ("0.125", 0.125),
        ("1,2345", 1.2345),
    ],
)
@pytest.mark.parametrize("mark", MARKS)
def test_clear_numbers_need_no_mark(text: str, value: float, mark: DecimalMark) -> None:
    assert read_number(text, mark) == value


@pytest.mark.parametrize(
    ("text", "mark", "value"),
    [("1.234", ".", 1.234), ("1,234", ",", 1.234), ("12.345", ".", 12.345), ("-1,234", ",", -1.234)],
)
def test_the_mark_of_the_file_decides_three_digits(text: str, mark: DecimalMark, value: float) -> None:
    assert read_number(text, mark) == value


@pytest.mark.parametrize(("text", "mark"), [("1,234", "."), ("1.234", ","), ("1,234", "unknown"), ("1.234", "unknown")])
def test_three_digits_after_the_other_mark_are_asked_back(text: str, mark: DecimalMark) -> None:
    with pytest.raises(UnclearNumberError, match=r"write 1[.,]2340? or 1234"):
        read_number(text, mark)


@pytest.mark.parametrize(
    "text",
    ["", " ", "-", "+", ".", ",", "1e5", "nan", "inf", "0x10", "1_000", "1..2", "1,,2", "1,2,3", "1.2.3", "12,34,56",
     "1.234,567.8", "1,234.567,8", "2 50", "25 00", "1 2345", "--1", "1-2", "٣", "½", "1" * 60, "1,2345,678"],
)  # fmt: skip
@pytest.mark.parametrize("mark", MARKS)
def test_what_is_no_clear_number_is_refused(text: str, mark: DecimalMark) -> None:
    with pytest.raises(UnclearNumberError):
        read_number(text, mark)


def grouped(whole: int, group: str) -> str:
    return f"{whole:,}".replace(",", group)


@given(st.integers(0, 10**9), st.integers(0, 999_999), st.integers(1, 6), st.sampled_from(["", " ", "'", "\u00a0"]))
def test_written_with_either_mark_it_reads_the_same(whole: int, decimals: int, places: int, group: str) -> None:
    fraction = f"{decimals:06d}"[:places]
    value = float(f"{whole}.{fraction}")
    for mark, other in ((".", ","), (",", ".")):
        text = f"{grouped(whole, group)}{mark}{fraction}"
        assert read_number(text, mark) == value
        both = f"{grouped(whole, other)}{mark}{fraction}"
        assert read_number(both, mark) == value
        if len(fraction) != 3 or whole == 0:
            assert read_number(text, "unknown") == value


@given(st.text(alphabet="0123456789.,'- +e\u00a0", max_size=14), st.sampled_from(MARKS))
def test_a_number_that_is_read_has_the_digits_that_were_typed(text: str, mark: DecimalMark) -> None:
    """Whatever is read, one decimal mark at most was moved or dropped: no digit is lost or made up."""
    try:
        value = read_number(text, mark)
    except UnclearNumberError:
        return
    typed = "".join(character for character in text if character.isdigit())
    shown = format(Decimal(repr(abs(value))), "f").replace(".", "")  # the shortest digits that give the same float
    assume(len(typed) <= 14)
    assert typed.strip("0") == shown.strip("0") or typed.strip("0") in shown


@given(st.text(max_size=20), st.sampled_from(MARKS))
def test_any_text_is_a_number_or_a_fault(text: str, mark: DecimalMark) -> None:
    digits, rest = split_number(text)
    assert "".join((digits + rest).split()) == "".join(text.split())
    for part in (text, digits):
        try:
            value = read_number(part, mark)
        except UnclearNumberError:
            continue
        assert math.isfinite(value)


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("45 lb", ("45", "lb")),
        ("0.05t", ("0.05", "t")),
        ("11.5 %", ("11.5", "%")),
        ("1 250,5 kg", ("1 250,5", "kg")),
        ("25°C", ("25", "°C")),
        ("- 4 degC", ("- 4", "degC")),
        ("bag", ("", "bag")),
        ("", ("", "")),
    ],
)
def test_number_and_rest(text: str, parts: tuple[str, str]) -> None:
    assert split_number(text) == parts


@pytest.mark.parametrize(
    ("texts", "mark"),
    [
        (["0,35 EUR/kg"], ","),
        (["2.5 %"], "."),
        (["1,234", "5"], "unknown"),
        (["1.5", "1,5"], "unknown"),
        (["sound 20 %, soft 80 %"], "unknown"),
        (["1,234,567.5"], "unknown"),
        (["0,125"], ","),
        ([], "unknown"),
    ],
)
def test_the_mark_a_file_shows(texts: list[str], mark: DecimalMark) -> None:
    assert decimal_mark_of(texts) == mark
