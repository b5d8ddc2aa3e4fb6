"""Tables and paragraphs for a terminal of 80 columns, whatever stands in them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimizer.commands.text import WIDTH, number, paragraph, percent, span, table

words = st.text(alphabet="abcdefgh äß-,", max_size=60)
figures = st.floats(-1e4, 1e4).map(lambda x: f"{x:.2f}")


@given(st.lists(st.tuples(words, figures, words, words), max_size=8))
def test_a_table_keeps_80_columns_and_loses_no_word(rows: list[tuple[str, str, str, str]]) -> None:
    lines = table(["item", "kg", "why", "source"], rows, right=(1,)).splitlines()
    given_words = [word for row in rows for cell in row for word in cell.split()]
    assert all(len(line) <= WIDTH for line in lines)
    assert sorted("".join("\n".join(lines[2:]).split())) == sorted("".join(given_words))
    if all(len(word) <= 8 for word in given_words):  # longer ones may be cut into pieces
        assert sorted("\n".join(lines[2:]).split()) == sorted(given_words)


@given(st.lists(st.text(alphabet="abcdefghi", min_size=1, max_size=70), min_size=1, max_size=40))
def test_a_paragraph_keeps_80_columns_and_every_word(text: list[str]) -> None:
    wrapped = paragraph(" ".join(text), indent=2, hanging=4)
    assert wrapped.split() == text
    assert all(len(line) <= WIDTH for line in wrapped.splitlines())


def test_numbers_stand_flush_right_under_their_heading() -> None:
    lines = table(["fruit", "pH"], [["plum", "3.4"], ["banana", "10.25"]], right=(1,)).splitlines()
    assert lines == ["fruit      pH", "------  -----", "plum      3.4", "banana  10.25"]


def test_a_long_cell_wraps_inside_its_column() -> None:
    lines = table(["a", "b"], [["x", "word " * 30]]).splitlines()
    assert len(lines) > 3
    assert all(line.startswith("   ") for line in lines[3:])


@pytest.mark.parametrize(
    ("value", "shown"), [(0.1234, "12.3"), (0.0, "0.0"), (-0.00001, "0.0"), (1.0, "100.0"), (None, "")]
)
def test_percent(value: float | None, shown: str) -> None:
    assert percent(value) == shown


@given(st.floats(-1e6, 1e6))
def test_a_number_shown_is_within_half_a_place(value: float) -> None:
    assert abs(float(number(value, 2)) - value) <= 0.005 + 1e-9


@given(st.one_of(st.just(""), figures), st.one_of(st.just(""), figures))
def test_a_range_names_both_ends_that_are_known(low: str, high: str) -> None:
    assert low in span(low, high)
    assert high in span(low, high)
