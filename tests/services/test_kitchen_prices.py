"""Prices as integers: exactly what was typed, in the currency and measure in which it was typed."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from kitchens import SUGAR, a_store, put

from optimizer.inputs.book import load_book
from optimizer.services.preview import raw_of
from optimizer.services.price_terms import PriceTerms, as_integers, price_terms


def terms(price: str, *, pack: str = "", item: str = "citric acid") -> PriceTerms:
    row = {"offer": "O-1", "item": item, "price": price, "pack": pack}
    (found,) = price_terms(raw_of("offers", [row], "offers"), load_book(), "EUR")
    return found


@pytest.mark.parametrize(
    ("price", "pack", "item", "minor", "amount", "unit", "currency"),
    [
        ("28 EUR/bag", "25 kg", "citric acid", 2800, 25_000, "g", "EUR"),
        ("1.125 EUR/kg", "", "citric acid", 1125, 10_000, "g", "EUR"),
        ("0,92", "", "citric acid", 92, 1000, "g", "EUR"),
        ("2.10 £/kg", "", "citric acid", 210, 1000, "g", "GBP"),
        # 1 lb = 453.59237 g exactly (international yard and pound agreement, 1959)
        ("0.92 USD/lb", "", "citric acid", 9_200_000, 45_359_237, "g", "USD"),
        ("9 USD/50 lb", "", "citric acid", 900 * 10**4, 226_796_185, "g", "USD"),
        ("0.31 EUR/piece", "", "jar 380 mL", 31, 1, "piece", "EUR"),
        ("7.44 EUR/case", "24 pieces", "jar 380 mL", 744, 24, "piece", "EUR"),
        ("0.2852", "", "jar 380 mL", 2852, 100, "piece", "EUR"),
        ("0 EUR/kg", "", "citric acid", 0, 1000, "g", "EUR"),
    ],
)
def test_worked_by_hand(price: str, pack: str, item: str, minor: int, amount: int, unit: str, currency: str) -> None:
    found = terms(price, pack=pack, item=item)
    ratio = Fraction(found.price_minor, found.price_amount)
    assert ratio == Fraction(minor, amount)
    assert (found.price_minor, found.price_amount) == (minor, amount)
    assert (found.unit, found.currency) == (unit, currency)


@given(
    price=st.decimals(0, 10**6, places=4, allow_nan=False),
    size=st.decimals("0.001", 10**4, places=3, allow_nan=False),
)
def test_any_price_of_any_pack_is_exact(price: object, size: object) -> None:
    found = terms(f"{price} EUR/bag", pack=f"{size} kg")
    assert Fraction(found.price_minor, found.price_amount) == Fraction(str(price)) * 100 / (Fraction(str(size)) * 1000)


@given(
    minor=st.fractions(Fraction(1, 10**4), 10**14, max_denominator=10**12),
    amount=st.fractions(Fraction(1, 10**3), 10**12, max_denominator=10**12),
)
def test_where_no_integers_fit_the_price_is_closer_than_a_millionth(minor: Fraction, amount: Fraction) -> None:
    found, whole = as_integers(minor, amount)
    assert whole > 0
    assert max(found, whole) < 2**63
    wanted = minor / amount
    if Fraction(1, 10**9) < wanted < 10**9:
        assert abs(Fraction(found, whole) - wanted) < wanted / 10**6


def test_the_history_keeps_each_price_that_was_heard_and_no_other_change() -> None:
    with a_store() as store:
        put(store, "offers", SUGAR)
        put(store, "offers", {"offer": "S-1", "delivery_days": "3"})
        put(store, "offers", {"offer": "S-1", "price": "28 EUR/bag", "pack": "25 kg"})
        kitchen = store.current()
        assert kitchen is not None
        points = [(p.price_minor, p.price_amount, p.unit, p.currency, p.supplier) for p in store.price_history(kitchen)]
    assert points == [(92, 1000, "g", "EUR", "a mill"), (2800, 25_000, "g", "EUR", "a mill")]
