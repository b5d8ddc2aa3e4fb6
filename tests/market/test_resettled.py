"""Ladders and maps of a whole job: margins, whole numbers, several batches; against settling anew on a grid."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from how_many import examples
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from markets import BOOK, DAY, Market, fruit_lot, markets, offer, usual_offers

from optimizer.blend.request import Request
from optimizer.errors import InputFault, PanwiseError
from optimizer.inputs.models import Offer, Site
from optimizer.market.job import Job, NoRecipe, Priced, cost_of
from optimizer.market.ladder import Ladder
from optimizer.market.resettled import SETTLED, codes_of, in_packs, ladder_of_job, map_of_job

PLUM, APPLE = "plum, flesh with skin", "apple, cooking, flesh with skin"
SITE = Site(ph_meter="yes", standard="codex")
SUGARS = (*usual_offers(), offer("S2", "cane/beet sugar, white", 0.95), offer("G", "liquid glucose / corn syrup", 0.7))


def job_of(lots, offers=SUGARS, **asked) -> Job:
    request = Request(product=asked.pop("product", "jam"), batch_kg=50.0, on=DAY, **asked)
    return Job(batches=(request,), site=SITE, lots=tuple(lots), offers=tuple(offers), book=BOOK)


def check(job: Job, name: str, ladder: Ladder, top: float, points: int = 11) -> None:
    """Settle anew on a grid: never cheaper than the ladder says, and away from edges the same kilograms."""
    codes = codes_of(job, name)
    now = {o.offer: o.price for o in job.offers}
    present = min(now[code] for code in codes)
    assert all(a.kg > b.kg for a, b in zip(ladder.steps, ladder.steps[1:], strict=False))
    edges = np.array([step.price_from for step in ladder.steps[1:]])
    size = max(step.kg for step in ladder.steps)
    for price in np.linspace(0.013, top, points):
        priced = cost_of(job, {code: now[code] + float(price) - present for code in codes})
        near = max(ladder.price_tolerance, 0.011 * price, 0.011 * present)
        if np.abs(edges - price).min(initial=np.inf) <= near:
            continue
        room = max(2.0 * ladder.kg_tolerance, 1e-4 * size) + (0.02 * size if ladder.wobble else 0.0)
        assert priced.kg_of(*codes) == pytest.approx(ladder.kg_at(price), abs=room), price


def test_sugar_of_a_plain_recipe_on_a_grid() -> None:
    job = job_of([fruit_lot("X", PLUM)])
    for name in ("sugar", "P"):
        ladder = ladder_of_job(job, name)
        assert not ladder.exact
        assert any("settled anew" in words for words in ladder.said)
        check(job, name, ladder, 3.0 * (ladder.price_now or 1.0))


def test_pectin_with_a_margin_on_a_grid() -> None:
    job = job_of([fruit_lot("X", PLUM), fruit_lot("Y", APPLE, worth=0.35)], confidence=0.9)
    check(job, "P", ladder_of_job(job, "P"), 60.0)


def test_whole_numbers_on_a_grid() -> None:
    """At most one fruit, or at least 15 kg of a fruit that is used: fruit on offer comes and goes as a whole."""
    fruit = offer("F", "cane/beet sugar, white", 0.1).model_copy(update={"item": APPLE, "kind": "fruit"})
    lots = [fruit_lot("X", PLUM, worth=0.25)]
    for asked in ({"most_fruits": 1}, {"least_kg_if_used": {"fruit": 15.0}}):
        job = job_of(lots, (*SUGARS, fruit), **asked)
        ladder = ladder_of_job(job, "F")
        assert ladder.steps[0].kg > 1.0
        assert ladder.steps[-1].kg == 0.0
        check(job, "F", ladder, 0.6, points=9)
        if "least_kg_if_used" in asked:
            assert all(step.kg == 0.0 or step.kg >= 15.0 - 1e-6 for step in ladder.steps)


def test_another_way_to_buy_in_whole_packs() -> None:
    """Packs of 25 kg, one at least: 0, 1 or 2 packs, and just below the edge the pack is bought, above it is not."""
    job = job_of([fruit_lot("X", PLUM)])

    def by_hand(at: Job) -> Priced:
        """Sugar of S by the pack, what is left over is thrown away: every number of packs is tried."""
        price = next(o.price for o in at.offers if o.offer == "S")
        found = []
        for packs in (0, 1, 2):
            there = tuple(
                o.model_copy(update={"price": 0.0, "available": 25.0 * packs}) if o.offer == "S" else o
                for o in at.offers
            )
            made = cost_of(replace(at, offers=there))
            kg = {**made.received_kg, "S": 25.0 * packs}
            found.append(Priced(cost=made.cost + 25.0 * packs * price, received_kg=kg))
        return min(found, key=lambda one: one.cost)

    ladder = ladder_of_job(job, "S", buy=by_hand)
    assert {step.kg for step in ladder.steps} <= {0.0, 25.0, 50.0}
    assert len(ladder.steps) >= 2
    for left, right in zip(ladder.steps, ladder.steps[1:], strict=False):
        step = 0.02 * right.price_from
        assert by_hand(job.at({"S": right.price_from - step})).received_kg["S"] == left.kg
        assert by_hand(job.at({"S": right.price_from + step})).received_kg["S"] == right.kg


def test_orders_in_whole_packs() -> None:
    """Sugar by the bag of 10 kg, delivered for 3: whole bags at every price; orders beside the last edge agree."""
    bags = tuple(o.model_copy(update={"pack": 10.0, "delivery_cost": 3.0}) if o.offer == "S" else o for o in SUGARS)
    job = job_of([fruit_lot("X", PLUM)], bags)
    ladder = ladder_of_job(job, "S", buy=in_packs, most_solves=20, price_to=3.0)
    assert len(ladder.steps) >= 2
    for step in ladder.steps:
        assert step.kg / 10.0 == pytest.approx(round(step.kg / 10.0), abs=1e-9)
    left, right = ladder.steps[-2:]
    room = 0.03 * right.price_from
    if not ladder.wobble and right.price_from - left.price_from > room:
        assert in_packs(job.at({"S": right.price_from - room})).kg_of("S") == pytest.approx(left.kg)
        assert in_packs(job.at({"S": right.price_from + room})).kg_of("S") == pytest.approx(right.kg)


def test_two_batches_together_buy_what_both_buy() -> None:
    one = job_of([fruit_lot("X", PLUM)])
    other = job_of([fruit_lot("X", PLUM)], product="butter")
    both = replace(one, batches=(*one.batches, *other.batches))
    ladders = [ladder_of_job(job, "S") for job in (one, other, both)]
    for price in (0.3, 0.8, 1.5):
        kg = [ladder.kg_at(price) for ladder in ladders]
        assert kg[2] == pytest.approx(kg[0] + kg[1], abs=sum(ladder.kg_tolerance for ladder in ladders) + 1e-6)


@settings(max_examples=examples(5))
@given(market=markets(), which=st.integers(0, 20), confidence=st.sampled_from([0.5, 0.9]), whole=st.booleans())
def test_just_below_an_edge_more_is_bought_than_just_above(
    market: Market, which: int, confidence: float, whole: bool
) -> None:
    """Random markets, with margins and whole numbers: both sides of the highest edge settled anew."""
    request = replace(market.request, confidence=confidence, most_fruits=1 if whole else None)
    job = Job(batches=(request,), site=market.site, lots=market.lots, offers=market.offers, book=BOOK)
    code = job.offers[which % len(job.offers)].offer
    try:
        ladder = ladder_of_job(job, code, most_solves=40)
    except PanwiseError:
        assume(False)
        return
    assert all(a.kg > b.kg for a, b in zip(ladder.steps, ladder.steps[1:], strict=False))
    if len(ladder.steps) == 1:
        return
    left, right = ladder.steps[-2:]
    room = max(2.0 * ladder.price_tolerance, 0.02 * right.price_from, 1e-3)
    if right.price_from - room <= left.price_from or right.price_from + room >= (right.price_to or np.inf):
        return  # a step narrower than the tolerance
    below, edge, above = (cost_of(job, {code: right.price_from + move}) for move in (-room, 0.0, room))
    slack = 2.0 * ladder.kg_tolerance + 2e-4 * request.batch_kg
    # What is shown is the cheapest recipe known at any price, since rules do not depend on prices. Settling anew finds
    # it, or a dearer one that the ladder had no need to look at; a cheaper one it never finds: that would be an edge
    # that was missed. The edge itself is told to its tolerance.
    told = ladder.wobble + 2.0 * SETTLED * abs(edge.cost)
    told += max(ladder.price_tolerance, 0.01 * right.price_from) * (left.kg - right.kg) + room * slack
    for settled, step, move in ((below, left, -room), (above, right, room)):
        shown = edge.cost + move * step.kg
        assert settled.cost >= shown - told
        assert settled.kg_of(code) == pytest.approx(step.kg, abs=slack) or (
            settled.cost >= shown - ladder.wobble - SETTLED * abs(edge.cost)
        )
    # A recipe found on one side can be had on the other: it is not cheaper there than what is shown.
    assert below.cost + 2.0 * room * below.kg_of(code) >= edge.cost + room * right.kg - told
    assert above.cost - 2.0 * room * above.kg_of(code) >= edge.cost - room * left.kg - told


def test_map_of_two_sugars_on_a_grid() -> None:
    job = job_of([fruit_lot("X", PLUM)])
    found = map_of_job(job, "S", "G", price_from=(0.2, 0.2), price_to=(1.5, 1.5))
    base = cost_of(job).cost
    assert found.complete
    assert not found.exact
    assert sum(cell.share for cell in found.cells) == pytest.approx(1.0, abs=1e-6)
    for p in np.linspace(0.25, 1.45, 5):
        for q in np.linspace(0.27, 1.4, 5):
            winner = found.winner((p, q))
            settled = cost_of(job, {"S": float(p), "G": float(q)})
            assert winner.cost((p, q)) == pytest.approx(settled.cost, abs=found.money_tolerance + 1e-5 * base)
    assert any("S2" in cell.choice.taken for cell in found.cells)  # where S is dear the other sugar steps in
    assert any("G" in cell.choice.taken for cell in found.cells)


def test_packaging_has_no_ladder_by_the_kilogram_and_says_so() -> None:
    jar = Offer(offer="J", supplier="", item="jar 380 mL", kind="packaging", unit="piece", price=0.31)
    job = job_of([fruit_lot("X", PLUM)], (*SUGARS, jar))
    for name in ("J", "jar"):
        with pytest.raises(InputFault, match="is packaging"):
            ladder_of_job(job, name)
    with pytest.raises(InputFault, match='"jar 380 mL" is packaging'):
        map_of_job(job, "S", "jar 380 mL", price_from=(0.2, 0.2), price_to=(1.0, 1.0))


def test_names_and_what_is_refused() -> None:
    job = job_of([fruit_lot("X", PLUM)])
    assert codes_of(job, "s2") == ("S2",)
    assert codes_of(job, "cane/beet sugar, white") == ("S", "S2")
    assert codes_of(job, "glucose") == ("G",)
    with pytest.raises(InputFault, match="is no offer"):
        codes_of(job, "cement")
    with pytest.raises(InputFault, match="both mean S"):
        map_of_job(job, "S", "sugar", price_from=(0.0, 0.0), price_to=(1.0, 1.0))
    with pytest.raises(InputFault, match="a lower and a higher"):
        ladder_of_job(job, "S", price_from=2.0, price_to=1.0)
    with pytest.raises(NoRecipe):
        ladder_of_job(job_of([fruit_lot("X", PLUM, kg=1.0)]), "S")
