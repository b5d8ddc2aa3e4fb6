"""Entry prices, ranges and prices of rows against brute-force solves of the same settled program."""

from __future__ import annotations

from dataclasses import replace

import pytest
from how_many import examples
from hypothesis import assume, given, settings
from markets import BOOK, DAY, Market, fruit_lot, markets, offer, usual_offers

from optimizer.blend.explain import row_reports, would_change
from optimizer.blend.program import build
from optimizer.blend.recipe import make_recipe, prepare_case
from optimizer.blend.request import FruitShare, Request
from optimizer.blend.result import Recipe
from optimizer.blend.settle import Settled, settle, variants
from optimizer.inputs.models import Site
from optimizer.solver import solve_arrays

SITE = Site(ph_meter="yes", standard="none")


def _first_settled(market: Market) -> tuple[Settled, object]:
    case, _ = prepare_case(market.request, market.site, market.lots, market.offers, BOOK)
    for variant in variants(case):
        found = settle(variant)
        if isinstance(found, Settled):
            return found, variant
    assume(False)
    raise AssertionError


def _used(found: Settled, id_: str, price: float) -> float:
    """Received kg of a stream when it costs `price`, solved again with all rows as they are."""
    case = found.case
    streams = tuple(replace(s, price_per_received_kg=price) if s.id == id_ else s for s in case.streams)
    outcome = solve_arrays(build(replace(case, streams=streams)).lp)
    index = [s.id for s in streams].index(id_)
    return float(outcome.x[index]) / streams[index].usable_fraction


@settings(max_examples=examples(40))
@given(market=markets())
def test_below_its_entry_price_a_stream_is_used_and_above_it_is_not(market: Market) -> None:
    found, variant = _first_settled(market)
    checked = 0
    for change in would_change(found, variant):
        if change.used or change.enters_below_per_kg is None:
            continue
        entry, step = change.enters_below_per_kg, 1e-4 * max(1.0, abs(change.enters_below_per_kg))
        least = 1e-6 * market.request.batch_kg
        assert entry <= change.price_per_kg + 1e-9
        assert _used(found, change.id, entry - step) > least
        if entry + step < change.price_per_kg:
            assert _used(found, change.id, entry + step) <= least
        assert change.then_kg > 0.0
        checked += 1
    assume(checked)


@settings(max_examples=examples(40))
@given(market=markets())
def test_inside_its_range_a_price_changes_nothing(market: Market) -> None:
    found, variant = _first_settled(market)
    before = {s.id: float(kg) / s.usable_fraction for s, kg in zip(found.case.streams, found.x, strict=False)}
    for change in would_change(found, variant):
        if not change.used:
            continue
        for end, inside in ((change.same_from, 1e-6), (change.same_to, -1e-6)):
            if end is None or abs(end - change.price_per_kg) < 1e-5:
                continue
            kg = _used(found, change.id, end + inside * max(1.0, abs(end)))
            assert kg == pytest.approx(before[change.id], rel=1e-5, abs=1e-6 * market.request.batch_kg)


@settings(max_examples=examples(25))
@given(market=markets())
def test_the_price_of_a_row_is_what_one_unit_more_costs(market: Market) -> None:
    found, _ = _first_settled(market)
    for index, report in enumerate(row_reports(found)):
        if report.price is None or report.price_holds is None or abs(report.price) < 1e-6:
            continue
        row = found.program.rows[index]
        low, high = report.price_holds
        room = min(high - row.bound, row.bound - low, 0.01 * max(1.0, abs(row.bound)))
        if room < 1e-5:
            continue
        size = 1.0 if row.denominator is None else row.denominator.at(found.x)
        lp = found.program.lp
        lower, upper = lp.row_lower.copy(), lp.row_upper.copy()
        for bounds in (lower, upper):
            bounds[index] += 0.5 * room * size
        moved = solve_arrays(replace(lp, row_lower=lower, row_upper=upper))
        assert moved.objective - found.cost == pytest.approx(report.price * 0.5 * room * size, rel=1e-4, abs=1e-7)


def test_pectin_of_another_speed_has_an_entry_price_by_solving_again() -> None:
    lots = (fruit_lot("X", "strawberry, whole berry"),)
    offers = (*usual_offers(pectin=15.0), offer("Q", "pectin, HM (powder, grade 150)", 40.0, setting="slow"))
    recipe = make_recipe(Request(product="jam", batch_kg=50.0, on=DAY), SITE, lots, offers, BOOK)
    change = next(c for c in recipe.would_change if c.id == "Q")
    assert change.enters_below_per_kg < 15.0  # slow pectin asks for a lower pH, so it must be cheaper than the other
    for price, used in ((change.enters_below_per_kg - 0.05, True), (change.enters_below_per_kg + 0.05, False)):
        cheaper = (*usual_offers(pectin=15.0), offer("Q", "pectin, HM (powder, grade 150)", price, setting="slow"))
        again = make_recipe(Request(product="jam", batch_kg=50.0, on=DAY), SITE, lots, cheaper, BOOK)
        assert any(a.stream.id == "Q" for a in again.amounts) is used


def test_why_names_what_binds_with_an_amount() -> None:
    lots = (fruit_lot("X", "strawberry, whole berry"),)
    recipe = make_recipe(Request(product="jam", batch_kg=50.0, on=DAY), SITE, lots, usual_offers(), BOOK)
    text = " ".join(recipe.why)
    assert "At least 65.0 % on the refractometer: the batch lies on this bound" in text
    assert "pH at most 3.25 (3.30 less 0.05: a pH meter)" in text
    assert text.count("EUR") == len(recipe.why)


def test_all_of_a_scarce_lot_is_worth_something() -> None:
    lots = (
        fruit_lot("X", "plum, flesh with skin", kg=5.0, worth=0.01),
        fruit_lot("Y", "strawberry, whole berry", worth=1.0),
    )
    recipe = make_recipe(Request(product="jam", batch_kg=50.0, on=DAY), SITE, lots, usual_offers(), BOOK)
    assert any(sentence.startswith("All of X is used") and "would save" in sentence for sentence in recipe.why)


def test_a_fruit_that_is_not_there_is_named_with_the_nearest() -> None:
    from optimizer.errors import InputFault

    lots = (fruit_lot("X", "plum, flesh with skin"),)
    request = Request(product="jam", batch_kg=50.0, on=DAY, fruits=(FruitShare(fruit="plumm"),))
    with pytest.raises(InputFault, match='"plumm" is on neither table; did you mean "plum'):
        make_recipe(request, SITE, lots, usual_offers(), BOOK)


def test_a_pectin_that_several_groups_of_fruit_could_use_enters_at_the_best_of_their_prices() -> None:
    """Under US rules each group of fruit is a case of its own; strawberry alone once hid what apple would pay."""
    lots = (
        fruit_lot("A", "apple, cooking, flesh with skin", worth=0.05),
        fruit_lot("P", "plum, flesh with skin", worth=0.05),
        fruit_lot("X", "strawberry, whole berry", worth=5.0),
    )
    site = Site(ph_meter="yes", standard="us")
    request = Request(product="jam", batch_kg=50.0, on=DAY)

    def at(price: float) -> Recipe:
        offers = (*usual_offers(pectin=15.0), offer("Q", "pectin, HM (powder, grade 150)", price, setting="slow"))
        return make_recipe(request, site, lots, offers, BOOK)

    entry = next(c for c in at(40.0).would_change if c.id == "Q").enters_below_per_kg
    assert entry is not None
    assert any(a.stream.id == "Q" for a in at(entry - 0.05).amounts)
    assert not any(a.stream.id == "Q" for a in at(entry + 0.05).amounts)


def test_a_firmer_set_costs_what_it_is_said_to_cost() -> None:
    """The sentence names a step of firmness, which a cook knows; checked by asking for that firmness."""
    lots = (fruit_lot("X", "strawberry, whole berry"),)

    def made(firmness: float) -> Recipe:
        request = Request(product="jam", batch_kg=50.0, on=DAY, firmness=firmness)
        return make_recipe(request, SITE, lots, usual_offers(), BOOK)

    first, firmer = made(0.8), made(0.9)
    sentence = next(text for text in first.why if text.startswith("Pectin for a set"))
    said = float(sentence.split("firmer by 0.1 would add ")[1].split(" EUR")[0])
    assert first.costs is not None
    assert firmer.costs is not None
    assert said == pytest.approx(firmer.costs.total - first.costs.total, abs=0.01)  # printed to the cent
