"""How long lots keep: the days of the spoilage model, in the order of haste, and what has no answer says so."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from optimizer.inputs.book import load_book
from optimizer.inputs.models import Lot
from optimizer.prepare.spoilage import keeps_days
from optimizer.services.keeping import SOON_DAYS, age_days, keeping_of

BOOK, TODAY = load_book(), date(2026, 7, 4)


def lot(code: str, item: str, *, kg: float = 40.0, at: float = 20.0, received: date = TODAY) -> Lot:
    return Lot(lot=code, item=item, kind="fruit", on_hand_kg=kg, worth_uncooked_per_kg=0.1, kept_at_C=at,
               received=received)  # fmt: skip


def test_the_first_to_spoil_comes_first_and_is_marked() -> None:
    lots = [lot("A", "apple, cooking, flesh with skin", at=4.0), lot("S", "strawberry, whole berry")]
    first, second = keeping_of(lots, BOOK, on=TODAY)
    assert (first.lot, first.is_soon, second.lot, second.is_soon) == ("S", True, "A", False)


@given(age=st.integers(0, 30), warmth=st.floats(0.0, 35.0))
def test_the_last_day_is_the_last_on_which_less_than_a_tenth_is_lost(age: int, warmth: float) -> None:
    one = lot("P", "plum, flesh with skin", at=warmth, received=TODAY - timedelta(days=age))
    (found,) = keeping_of([one], BOOK, on=TODAY)
    days = keeps_days(one, BOOK, TODAY)
    assert found.days == days
    assert found.is_soon == (days <= SOON_DAYS)
    assert found.until is not None
    second = timedelta(seconds=1)  # the model finds its days to a billionth
    assert found.until - TODAY - second <= timedelta(days=days) < found.until - TODAY + timedelta(days=1) + second


def test_what_keeps_over_a_year_names_no_day() -> None:
    (found,) = keeping_of([lot("F", "apple, cooking, flesh with skin", at=-0.9)], replace(BOOK), on=TODAY)
    assert (found.until is None) == (found.days is not None and found.days >= 365.0)


def test_goods_and_lots_that_are_used_up_are_left_out() -> None:
    sugar = Lot(lot="S", item="cane/beet sugar, white", kind="sweetener", on_hand_kg=40.0, worth_uncooked_per_kg=0.9)
    assert keeping_of([sugar, lot("E", "plum, flesh with skin", kg=0.0)], BOOK, on=TODAY) == ()


def test_a_fruit_that_the_book_cannot_judge_says_so_and_comes_last() -> None:
    bare = replace(BOOK, decays={k: v for k, v in BOOK.decays.items() if not k.startswith("plum")})
    lots = [lot("P", "plum, flesh with skin"), lot("S", "strawberry, whole berry")]
    berry, plum = keeping_of(lots, bare, on=TODAY)
    assert berry.lot == "S"
    assert (plum.days, plum.until, plum.is_soon) == (None, None, False)
    assert "plum" in plum.caution


def test_chilled_fruit_is_told_of() -> None:
    (found,) = keeping_of([lot("M", "mango, flesh, ripe", at=4.0)], BOOK, on=TODAY)
    assert "chilled" in found.caution


def test_frozen_fruit_names_its_way() -> None:
    (found,) = keeping_of([lot("F", "plum, flesh with skin", at=-18.0)], BOOK, on=TODAY)
    assert found.held == "freezer"


def test_whole_days_by_the_calendar() -> None:
    late = datetime(2026, 7, 1, 12, 0, tzinfo=UTC)
    assert age_days(late, on=date(2026, 7, 10)) == 9
    assert age_days(None, on=TODAY) is None
    assert age_days(datetime(2026, 7, 9, 12, 0, tzinfo=UTC), on=TODAY) == 0  # a clock that was wrong
