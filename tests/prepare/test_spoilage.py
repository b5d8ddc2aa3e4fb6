"""How fast fruit spoils: the printed curve, lots by hand, a second method, and what must hold for any lot."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from markets import BOOK, DAY, fruit_lot

from optimizer.errors import InputFault, OutOfRange
from optimizer.inputs.models import Lot
from optimizer.prepare.spoilage import (
    cold_caution,
    decay_of,
    held_as,
    keeps_days,
    usable_share,
    usable_tomorrow_share,
    worth_tomorrow_per_kg,
)

SOUND = (("sound", 1.0),)
CONDITIONS = sorted(BOOK.conditions)
FRUITS = sorted(BOOK.decays)
temperatures = st.floats(-10.0, 40.0)
fresh_items = st.sampled_from(sorted(BOOK.fruits))


@st.composite
def conditions(draw):
    names = draw(st.lists(st.sampled_from(CONDITIONS), min_size=1, max_size=4, unique=True))
    weights = [draw(st.floats(0.05, 1.0)) for _ in names]
    return tuple((name, weight / sum(weights)) for name, weight in zip(names, weights, strict=True))


def book_of_life(life_days: float):
    """A book in which plums keep this long at 20 degC."""
    plum = BOOK.decays["plum"].model_copy(update={"life_days": life_days, "life_at_C": 20.0})
    return replace(BOOK, decays={"plum": plum})


# ---- the curve -------------------------------------------------------------------------------------------------------


# Worked out apart from this program, to two digits: life, then what is left after 1, 2, 3, 5, 7, 10, 14 days.
@pytest.mark.parametrize(
    ("life_days", "printed"),
    [
        (0.8, (0.83, 0.35, 0.06, 0.0, 0.0, 0.0, 0.0)),
        (2.6, (0.99, 0.95, 0.86, 0.58, 0.29, 0.05, 0.0)),
        (7.0, (1.0, 1.0, 0.99, 0.96, 0.90, 0.77, 0.55)),
        (14.0, (1.0, 1.0, 1.0, 0.99, 0.98, 0.96, 0.90)),
    ],
)
def test_printed_curve(life_days, printed):
    days = np.array([1.0, 2.0, 3.0, 5.0, 7.0, 10.0, 14.0])
    left = usable_share("plum", SOUND, days, 20.0, book=book_of_life(life_days))
    assert left == pytest.approx(np.array(printed), abs=0.0051)


@pytest.mark.parametrize("fruit", FRUITS)
def test_one_tenth_is_lost_at_the_life_of_every_fruit(fruit):
    decay = BOOK.decays[fruit]
    assert usable_share(fruit, SOUND, decay.life_days, decay.life_at_C, book=BOOK) == pytest.approx(0.90, abs=1e-12)


def test_an_array_gives_what_its_numbers_give():
    days = np.array([[0.0, 1.0], [2.0, 30.0]])
    whole = usable_share("mango", SOUND, days, 25.0, book=BOOK)
    assert whole.shape == days.shape
    one_by_one = [usable_share("mango", SOUND, float(day), 25.0, book=BOOK) for day in days.ravel()]
    assert whole.ravel() == pytest.approx(one_by_one)
    assert isinstance(one_by_one[0], float)


@given(fresh_items, conditions(), temperatures, st.floats(0.0, 5.0), st.floats(0.0, 30.0))
def test_survivors_counted_hour_by_hour_agree(item, condition, temperature_C, age_days, days):
    """Second method: every hour the chance of spoiling is the slope of the hazard, k/s (a/s)^(k-1), at mid-hour."""
    decay = decay_of(item, BOOK)
    pace = decay.q10 ** ((max(temperature_C, decay.coldest_C) - decay.life_at_C) / 10.0)
    steps = 4000
    middles = age_days + (np.arange(steps) + 0.5) * days / steps
    left = 0.0
    for name, share in condition:
        scale = decay.life_days * BOOK.conditions[name].life_factor / 0.1053605**0.4
        hazard_per_day = 2.5 / scale * (middles * pace / scale) ** 1.5 * pace
        left += share * np.exp(-np.sum(hazard_per_day) * days / steps)
    found = usable_share(item, condition, days, temperature_C, days_since_picking=age_days, book=BOOK)
    assert found == pytest.approx(left, abs=1e-4)


# ---- what must hold for any lot --------------------------------------------------------------------------------------


@given(fresh_items, conditions(), temperatures, st.floats(0.0, 20.0))
def test_a_share_falls_from_1_towards_0(item, condition, temperature_C, age_days):
    days = np.array([0.0, 0.5, 1.0, 2.0, 4.0, 8.0, 16.0, 64.0, 1e5])
    left = usable_share(item, condition, days, temperature_C, days_since_picking=age_days, book=BOOK)
    assert left[0] == pytest.approx(1.0, abs=1e-12)
    assert left[-1] == pytest.approx(0.0, abs=1e-9)
    assert np.all((left >= 0.0) & (left <= 1.0 + 1e-12))
    assert np.all(np.diff(left) <= 1e-15)


@given(fresh_items, conditions(), temperatures, st.floats(0.0, 15.0), st.floats(0.0, 30.0))
def test_warmer_or_older_never_keeps_better(item, condition, temperature_C, warmer_by, days):
    base = usable_share(item, condition, days, temperature_C, book=BOOK)
    assert usable_share(item, condition, days, min(temperature_C + warmer_by, 50.0), book=BOOK) <= base + 1e-12
    assert usable_share(item, condition, days, temperature_C, days_since_picking=2.0, book=BOOK) <= base + 1e-12


@given(fresh_items, temperatures, st.floats(0.0, 30.0))
def test_a_shorter_life_factor_never_keeps_better(item, temperature_C, days):
    by_factor = sorted(CONDITIONS, key=lambda name: BOOK.conditions[name].life_factor)
    left = [usable_share(item, ((name, 1.0),), days, temperature_C, book=BOOK) for name in by_factor]
    assert left == sorted(left)


@given(fresh_items, conditions(), temperatures, st.floats(0.0, 10.0), st.floats(0.0, 10.0))
def test_splitting_a_lot_by_condition_changes_nothing(item, condition, temperature_C, age_days, days):
    whole = usable_share(item, condition, days, temperature_C, days_since_picking=age_days, book=BOOK)
    parts = [
        share * usable_share(item, ((name, 1.0),), days, temperature_C, days_since_picking=age_days, book=BOOK)
        for name, share in condition
    ]
    assert whole == pytest.approx(sum(parts), abs=1e-12)


def test_kilograms_do_as_well_as_shares():
    shares = usable_share("plum", (("sound", 0.75), ("soft", 0.25)), 9.0, 12.0, book=BOOK)
    assert usable_share("plum", (("sound", 30.0), ("soft", 10.0)), 9.0, 12.0, book=BOOK) == pytest.approx(shares)


@given(fresh_items, temperatures, st.floats(0.0, 10.0), st.floats(0.0, 10.0))
def test_sorting_again_on_the_way_changes_nothing(item, temperature_C, first, then):
    """Sound fruit after `first + then` days = after `first` days, sorted, and `then` more days from that age."""
    half_way = usable_share(item, SOUND, first, temperature_C, book=BOOK)
    rest = usable_share(item, SOUND, then, temperature_C, days_since_picking=first, book=BOOK)
    assert half_way * rest == pytest.approx(
        usable_share(item, SOUND, first + then, temperature_C, book=BOOK), abs=1e-12
    )


# ---- cold ------------------------------------------------------------------------------------------------------------


def test_no_credit_for_what_chills_or_freezes():
    for fruit in FRUITS:
        coldest = BOOK.decays[fruit].coldest_C
        at = usable_share(fruit, SOUND, 9.0, coldest, book=BOOK)
        assert usable_share(fruit, SOUND, 9.0, coldest - 5.0, book=BOOK) == at
        assert usable_share(fruit, SOUND, 9.0, coldest + 5.0, book=BOOK) < at


def test_cold_is_said():
    mango = fruit_lot("M-1", "mango, flesh, ripe", kept_at_C=4.0)
    assert cold_caution(mango, BOOK).startswith("M-1: mango kept at 4 degC is chilled: below 10 degC")
    plum = fruit_lot("P-1", "plum, flesh with skin", kept_at_C=-4.0)
    assert "may freeze slowly" in cold_caution(plum, BOOK)
    for fine in (
        fruit_lot("M-2", "mango, flesh, ripe", kept_at_C=10.0),
        fruit_lot("M-3", "mango, flesh, ripe"),
        fruit_lot("M-4", "mango, flesh, ripe", kept_at_C=-18.0),
    ):
        assert cold_caution(fine, BOOK) == ""


# ---- lots ------------------------------------------------------------------------------------------------------------


def test_lot_by_hand():
    """Plums, 12 degC, received 2 days ago, picked 1 day before: 21 d at 0 degC, Q10 2.3.

    Pace 2.3^1.2 = 2.7169; age today 3 d = 8.1507 of scale 2.46 x 21 = 51.66: ln U = -(0.15777)^2.5 = -0.009887;
    tomorrow 10.8676: -(0.21037)^2.5 = -0.020297. Ratio exp(-0.010410) = 0.98964.
    """
    lot = fruit_lot(
        "P-1", "plum, flesh with skin", kept_at_C=12.0, received=DAY - timedelta(2), picked=DAY - timedelta(3)
    )
    assert usable_tomorrow_share(lot, BOOK, DAY) == pytest.approx(0.98964, abs=2e-5)
    assert worth_tomorrow_per_kg(lot, BOOK, DAY) == pytest.approx(0.2 * 0.98964, abs=1e-5)


def test_what_a_lot_does_not_say():
    """20 degC; picked the day it was received; received today."""
    item = "raspberry, whole berry"
    said = fruit_lot("R", item, kept_at_C=20.0, received=DAY, picked=DAY)
    assert usable_tomorrow_share(fruit_lot("R", item), BOOK, DAY) == usable_tomorrow_share(said, BOOK, DAY)
    old = fruit_lot("R", item, picked=DAY - timedelta(1))
    assert usable_tomorrow_share(old, BOOK, DAY) < usable_tomorrow_share(said, BOOK, DAY)
    ahead = fruit_lot("R", item, received=DAY + timedelta(2))
    assert usable_tomorrow_share(ahead, BOOK, DAY) == usable_tomorrow_share(said, BOOK, DAY)


@given(fresh_items, conditions(), temperatures, st.integers(0, 60), st.integers(0, 10))
@example("blackberry, whole berry", (("sound", 0.5), ("over-ripe", 0.5)), 40.0, 60, 10)  # next to nothing left
def test_lots_keep_a_fraction_and_lose_a_tenth_in_the_days_said(item, condition, temperature_C, since, age):
    received = DAY - timedelta(since)
    lot = fruit_lot(
        "X", item, condition=condition, kept_at_C=temperature_C, received=received, picked=received - timedelta(age)
    )
    share, days = usable_tomorrow_share(lot, BOOK, DAY), keeps_days(lot, BOOK, DAY)
    assert 0.0 <= share <= 1.0
    assert days > 0.0
    assert (share < 0.9) == (days < 1.0) or share == pytest.approx(0.9, abs=1e-6)
    if held_as(lot, BOOK) is None:

        def left(after: float) -> float:
            return usable_share(item, condition, after, temperature_C, days_since_picking=age, book=BOOK)

        if left(since) > 1e-12:  # below that the quotient itself is not to be trusted
            assert share == pytest.approx(left(since + 1.0) / left(since), rel=1e-6)
            assert left(since + days) / left(since) == pytest.approx(0.9, abs=1e-6)


@given(fresh_items, conditions(), temperatures)
def test_a_lot_split_by_condition_keeps_as_much(item, condition, temperature_C):
    whole = fruit_lot("X", item, condition=condition, kept_at_C=temperature_C)
    parts = sum(
        share * usable_tomorrow_share(whole.model_copy(update={"condition": ((name, 1.0),)}), BOOK, DAY)
        for name, share in condition
    )
    assert usable_tomorrow_share(whole, BOOK, DAY) == pytest.approx(parts, abs=1e-12)


def test_frozen_and_sulphited_lots_keep_by_the_table_of_holding():
    """180 days to one tenth, whatever the condition."""
    for lot in (
        fruit_lot("F", "mango, flesh, ripe", kept_at_C=-18.0, condition=(("over-ripe", 1.0),)),
        fruit_lot("S", "plum, sulphited pulp", kept_at_C=20.0),
    ):
        assert keeps_days(lot, BOOK, DAY) == pytest.approx(180.0)
        assert usable_tomorrow_share(lot, BOOK, DAY) > 0.9999
    assert held_as(fruit_lot("F", "mango, flesh, ripe", kept_at_C=-5.0), BOOK) is None


def test_sugar_keeps():
    sugar = Lot(lot="S", item="cane/beet sugar, white", kind="sweetener", on_hand_kg=9.0, worth_uncooked_per_kg=0.9)
    assert usable_tomorrow_share(sugar, BOOK, DAY) == 1.0
    assert keeps_days(sugar, BOOK, DAY) == float("inf")
    assert worth_tomorrow_per_kg(sugar, BOOK, DAY) == 0.9
    assert cold_caution(sugar, BOOK) == ""


def test_what_must_be_carted_off_gets_no_better_by_rotting():
    lot = fruit_lot("X", "raspberry, whole berry", worth=-0.05)
    assert worth_tomorrow_per_kg(lot, BOOK, DAY) == -0.05


# ---- faults ----------------------------------------------------------------------------------------------------------


def test_a_fruit_without_a_line_is_named():
    with pytest.raises(InputFault, match=r"decay\.csv: nothing says how fast plum spoils"):
        usable_share("plum", SOUND, 1.0, 20.0, book=replace(BOOK, decays={}))


@pytest.mark.parametrize(("days", "temperature_C", "age"), [(-1.0, 20.0, 0.0), (1.0, 60.0, 0.0), (1.0, 20.0, -2.0)])
def test_what_cannot_be_is_refused(days, temperature_C, age):
    with pytest.raises(OutOfRange):
        usable_share("plum", SOUND, days, temperature_C, days_since_picking=age, book=BOOK)


def test_the_day_does_not_depend_on_the_calendar():
    lot = fruit_lot("P-1", "plum, flesh with skin", received=date(2026, 12, 31))
    moved = lot.model_copy(update={"received": date(2028, 2, 28)})
    assert usable_tomorrow_share(lot, BOOK, date(2027, 1, 2)) == usable_tomorrow_share(moved, BOOK, date(2028, 3, 1))
