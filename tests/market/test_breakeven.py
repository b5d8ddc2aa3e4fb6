"""Jars from which a charge pays: against counting jar by jar, and by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest
from how_many import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from optimizer.market.breakeven import break_even, cheapest_packs, costs, jars_to_cover
from optimizer.market.terms import Terms, Tier


@st.composite
def terms(draw: st.DrawFn, code: str) -> Terms:
    """An offer of any shape."""
    base = draw(st.floats(0.1, 5.0))
    if not draw(st.booleans()):
        return Terms(id=code, item="x", pack=None, tiers=(Tier(least_packs=1, price=base),),
                     delivery=draw(st.sampled_from([0.0, 3.0, 50.0])))  # fmt: skip
    least = draw(st.integers(1, 6))
    tiers = [Tier(least_packs=least, price=base)]
    for _ in range(draw(st.integers(0, 2))):
        last = tiers[-1]
        tiers.append(
            Tier(least_packs=last.least_packs + draw(st.integers(1, 8)), price=last.price * draw(st.floats(0.6, 0.98)))
        )
    return Terms(
        id=code, item="x", pack=draw(st.sampled_from([0.5, 2.0, 25.0])), tiers=tuple(tiers),
        delivery=draw(st.sampled_from([0.0, 3.0, 50.0])),
        most=draw(st.one_of(st.none(), st.floats(20.0, 200.0))),
    )  # fmt: skip


def least_cost(offer: Terms, units: float) -> float:
    """By trying every number of packs."""
    if offer.pack is None:
        return offer.cost(units)
    most = offer.most_packs if offer.most_packs is not None else 10_000
    enough = math.ceil(units / offer.pack - 1e-9)
    tried = range(max(enough, offer.tiers[0].least_packs), min(most, enough + 60) + 1)
    return min((offer.cost(packs) for packs in tried), default=math.inf)


@settings(max_examples=examples(60), deadline=None)
@given(offer=terms("A"), units=st.lists(st.floats(0.01, 150.0), min_size=1, max_size=6))
def test_costs_of_amounts_are_those_of_every_number_of_packs(offer: Terms, units: list[float]) -> None:
    found = costs(offer, np.array(units))
    for one, amount in zip(found.tolist(), units, strict=True):
        assert one == pytest.approx(least_cost(offer, amount))


@settings(max_examples=examples(60), deadline=None)
@given(mine=terms("A"), other=terms("B"), per_jar=st.floats(0.05, 2.0), ratio=st.floats(0.5, 2.0))
def test_jars_against_counting_one_by_one(mine: Terms, other: Terms, per_jar: float, ratio: float) -> None:
    most = 120
    found = break_even(mine, per_jar, other, per_jar * ratio, most_jars=most)
    wins = []
    for jars in range(1, most + 1):
        a, b = least_cost(mine, jars * per_jar), least_cost(other, jars * per_jar * ratio)
        wins.append(math.isfinite(a) and (a <= b * (1.0 + 1e-9) or math.isinf(b)))
    first = wins.index(True) + 1 if True in wins else None
    assert found.first_jars == first
    if wins[-1]:
        lost = [jars for jars, won in enumerate(wins, start=1) if not won]
        assert found.jars == (lost[-1] + 1 if lost else 1)
    else:
        assert found.jars is None


def test_a_big_bag_by_hand() -> None:
    """1000 kg at 0.84 and 45: 885 whatever is used of it. Bags of 25 kg at 0.92 and 12: 885 is passed at the 38th bag
    (12 + 38 · 23 = 886), so from 37 bags full, 925 kg, on. At 0.25 kg a jar that is the 3701st jar."""
    bag = Terms(id="S2", item="sugar", pack=1000.0, tiers=(Tier(least_packs=1, price=0.84),), delivery=45.0)
    small = Terms(id="S1", item="sugar", pack=25.0, tiers=(Tier(least_packs=1, price=0.92),), delivery=12.0)
    found = break_even(bag, 0.25, small, 0.25, most_jars=4000)
    assert (found.first_jars, found.jars) == (3701, 3701)


def test_a_day_of_overhead() -> None:
    """140 a day over 1.63 - 0.93 = 0.70 a jar: 200 jars; a set-up of 60 over 0.07: 858 jars (857.1)."""
    assert jars_to_cover(140.0, gain_per_jar=0.70) == 200
    assert jars_to_cover(60.0, gain_per_jar=0.07) == 858
    assert jars_to_cover(60.0, gain_per_jar=-0.07) is None
    assert jars_to_cover(0.0, gain_per_jar=-0.07) == 0


def test_more_packs_where_they_cost_less() -> None:
    offer = Terms(id="A", item="x", pack=1.0, tiers=(Tier(least_packs=1, price=1.0), Tier(least_packs=10, price=0.5)))
    assert [cheapest_packs(offer, units) for units in (4.0, 5.0, 6.0, 12.5)] == [4, 5, 10, 13]
