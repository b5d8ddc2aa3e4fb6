"""Prices: whole minor units per whole grams, dated, with their supplier; never overwritten."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from fractions import Fraction

import pytest
from babel.numbers import get_currency_precision
from hypothesis import given
from hypothesis import strategies as st
from storing import save, sugar

from optimizer.store import (
    Change,
    Kitchen,
    OfferChange,
    Store,
    StoreFault,
    Unknown,
    from_minor,
    places_of,
    to_minor,
    whole_price,
)
from optimizer.store.money import PLACES


def test_prices_are_kept_with_day_supplier_and_pack(store: Store, kitchen: Kitchen) -> None:
    save(store, kitchen, sugar("O-1", 2800, on=date(2026, 6, 1), least_packs="2", breaks="from 10 packs 1 EUR/kg"))
    save(store, kitchen, sugar("O-1", 3000, on=date(2026, 7, 1)))
    first, second = store.price_history(kitchen, "sugar")
    assert (first.date, first.price_minor, first.price_amount, first.unit) == (date(2026, 6, 1), 2800, 25_000, "g")
    assert (first.supplier, first.currency, first.offer, first.item) == ("Dale Stores", "EUR", "O-1", "sugar")
    assert (first.pack, first.least_packs, first.breaks) == ("25 kg", "2", "from 10 packs 1 EUR/kg")
    assert (second.date, second.price_minor, second.least_packs) == (date(2026, 7, 1), 3000, "")
    assert store.price_history(kitchen, "honey") == ()
    (offer,) = store.offers(kitchen)
    assert (offer.since, offer.cells) == (date(2026, 7, 1), {"item": "sugar", "pack": "25 kg"})


def test_a_price_that_was_taken_back_is_no_history(store: Store, kitchen: Kitchen) -> None:
    save(store, kitchen, sugar("O-1", 2800, on=date(2026, 6, 1)))
    save(store, kitchen, sugar("O-1", 30, on=date(2026, 7, 1)))
    store.undo(kitchen)
    assert [point.price_minor for point in store.price_history(kitchen)] == [2800]
    assert store.offers(kitchen)[0].since == date(2026, 6, 1)


def test_an_offer_that_leaves_keeps_its_history(store: Store, kitchen: Kitchen) -> None:
    save(store, kitchen, sugar("O-1", 2800), sugar("O-2", 2700))
    save(store, kitchen, OfferChange(code="O-1", removed=True))
    assert [offer.code for offer in store.offers(kitchen)] == ["O-2"]
    assert [point.offer for point in store.price_history(kitchen)] == ["O-1", "O-2"]
    store.undo(kitchen)
    assert [(offer.code, offer.cells["pack"]) for offer in store.offers(kitchen)] == [
        ("O-1", "25 kg"),
        ("O-2", "25 kg"),
    ]


def test_cells_of_an_offer_may_change_without_a_price(store: Store, kitchen: Kitchen) -> None:
    save(store, kitchen, sugar("O-1", 2800, on=date(2026, 6, 1)))
    save(store, kitchen, OfferChange(code="O-1", cells={"item": "sugar", "pack": "20 kg"}))
    assert len(store.price_history(kitchen)) == 1
    (offer,) = store.offers(kitchen)
    assert (offer.cells["pack"], offer.since) == ("20 kg", date(2026, 6, 1))


def test_an_offer_without_a_day_is_of_today(store: Store, kitchen: Kitchen) -> None:
    change = OfferChange(code="O-1", cells={"item": "honey"}, item="honey", currency="EUR", price_minor=500)
    booking = save(store, kitchen, change)
    assert store.price_history(kitchen)[0].date == booking.at.astimezone().date()
    assert store.offers(kitchen)[0].since == booking.at.astimezone().date()


def test_a_price_for_nothing_and_an_unknown_offer_are_refused(store: Store, kitchen: Kitchen) -> None:
    nothing = OfferChange(code="O-1", cells={}, item="sugar", currency="EUR", price_minor=5, price_amount=0)
    with pytest.raises(StoreFault, match="what it is for"):
        store.book(kitchen, Change(offers=(nothing,)), kind="prices", said="")
    for change in (OfferChange(code="O-9", price_minor=5), OfferChange(code="O-9", removed=True)):
        with pytest.raises(Unknown):
            store.book(kitchen, Change(offers=(change,)), kind="prices", said="")


def test_minor_units_agree_with_the_unicode_cldr() -> None:
    """CLDR (through babel) gives places of use, ISO 4217 those of the standard; where both speak of 0 or 3 they agree.

    CLDR also gives 0 to currencies whose coins went out of use; those, and units of account, are left aside.
    """
    two = "EUR USD GBP INR CHF BRL KES ZAR MXN THB"
    none_or_three = "VND JPY KRW CLP PYG XAF XOF XPF RWF VUV KWD BHD JOD OMR TND LYD CLF"
    for currency in (two + " " + none_or_three).split():
        assert places_of(currency) == get_currency_precision(currency), currency
    assert places_of("cr") == 2  # an invented currency
    assert places_of("jpy") == PLACES["JPY"] == 0


@given(st.decimals(min_value=0, max_value=10_000, places=4), st.sampled_from(["EUR", "JPY", "KWD"]),
       st.sampled_from([1, 1000, 25_000]))  # fmt: skip
def test_a_whole_price_is_the_price(price: Decimal, currency: str, amount: int) -> None:
    minor, per = whole_price(price, currency, amount)
    exact = Fraction(price) * 10 ** places_of(currency) / amount
    assert Fraction(minor, per) == exact


@given(st.integers(-(10**12), 10**12), st.sampled_from(["EUR", "JPY", "KWD", "CLF"]))
def test_minor_units_there_and_back(minor: int, currency: str) -> None:
    assert to_minor(from_minor(minor, currency), currency) == minor


@pytest.mark.parametrize("price", [float("nan"), float("inf")])
def test_a_price_is_a_number(price: float) -> None:
    with pytest.raises(StoreFault, match="type it again"):
        whole_price(price, "EUR", 1000)
