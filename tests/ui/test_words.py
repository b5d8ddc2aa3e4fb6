"""How figures, money and days are written; the reader's language."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimizer.inputs.numbers import read_number
from optimizer.units import format_mass, format_money
from ui import words


@pytest.fixture
def german(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(words, "language", lambda: "de")


@given(st.floats(min_value=-1e9, max_value=1e9, allow_nan=False), st.sampled_from(["brix", "ph", "money", "price"]))
def test_what_is_shown_is_read_back_to_half_of_its_last_place(value: float, kind: words.Kind) -> None:
    """A page and a file read each other's figures; half a unit of the last place is what rounding takes."""
    places = {"brix": 1, "ph": 2, "money": 2, "price": 3}[kind]
    shown = words.show_number(value, kind)
    assert read_number(shown) == pytest.approx(value, abs=0.5 * 10.0**-places * (1 + 1e-6) + 1e-6)


def test_german_figures_have_a_comma_and_no_point(german: None) -> None:
    assert words.show_number(1234.5, "money") == "1\u202f234,50"
    assert words.show_money(12.4, "EUR") == "12,40\u00a0EUR"
    assert words.show_mass(1.5) == "1,50\u00a0kg"
    assert words.show_weight(26.06, 0.005) == "26,060\u00a0kg"
    assert words.decimal_mark() == ","


@given(st.floats(min_value=0.0, max_value=1e6))
def test_a_mass_and_money_are_written_as_the_sentences_of_the_program_write_them(value: float) -> None:
    assert words.show_mass(value).replace("\u00a0", " ") == format_mass(value)
    assert words.show_money(value, "EUR").replace("\u00a0", " ") == format_money(value, "EUR")


@given(
    st.integers(min_value=1, max_value=10**6), st.sampled_from([0.0001, 0.001, 0.002, 0.005, 0.01, 0.05, 0.1, 0.5, 1.0])
)
def test_a_mass_in_steps_of_the_scales_loses_nothing(steps: int, step_kg: float) -> None:
    kg = steps * step_kg
    number, unit = words.show_weight(kg, step_kg).split("\u00a0")
    shown_kg = read_number(number) * (1.0 if unit == "kg" else 0.001)
    assert shown_kg == pytest.approx(kg, abs=1e-9, rel=1e-9)


def test_the_readers_choice_goes_before_the_machine(monkeypatch: pytest.MonkeyPatch) -> None:
    chosen = ""
    before = list(words._choice)
    monkeypatch.setenv(words.VARIABLE, "de_AT.UTF-8")
    try:
        words.let_choose(lambda: chosen)
        assert words.language() == "de"
        chosen = "en"
        assert words.language() == "en"
        chosen = "kl"  # no such catalogue
        monkeypatch.setenv(words.VARIABLE, "")
        assert words.language() == "en"
    finally:
        words._choice[:] = before


def test_days_name_their_month(german: None) -> None:
    assert words.show_day(date(2026, 7, 4), year=True).startswith("4")
    assert "2026" in words.show_day(date(2026, 7, 4), year=True)
    assert ":" in words.show_time(datetime(2026, 7, 4, 12, 30, tzinfo=UTC))


def test_what_is_not_known_is_an_empty_text() -> None:
    assert words.show_number(None, "ph") == words.show_money(None, "EUR") == words.show_percent(None) == ""
    assert words.show_number(float("nan"), "ph") == words.show_number(float("inf"), "ph") == ""
