"""HiGHS and CBC through PuLP, and HiGHS by arrays, find the same cost of a blend; a changed answer is refused."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from how_many import EXAMPLES, examples
from hypothesis import assume, given, settings
from markets import BOOK, DAY, Market, fruit_lot, markets, usual_offers

from optimizer.blend.case import Case
from optimizer.blend.program import build
from optimizer.blend.recipe import make_recipe, prepare_case
from optimizer.blend.request import FruitShare, Request
from optimizer.blend.settle import variants
from optimizer.inputs.models import Pan, Site
from optimizer.solver import LinearProgram, Outcome, Status, certify, solve, solve_arrays

ROUTES: dict[str, Callable[[LinearProgram], Outcome]] = {
    "HiGHS through PuLP": solve,
    "CBC through PuLP": lambda lp: solve(lp, solver="cbc"),
    "HiGHS by arrays": solve_arrays,
}
counted: Counter[Status] = Counter()


def _cases(market: Market) -> list[Case]:
    case, _ = prepare_case(market.request, market.site, market.lots, market.offers, BOOK)
    return list(variants(case))


def _size(lp: LinearProgram, x: np.ndarray) -> float:
    """What the terms of the cost add up to in size: a batch of lots worth nothing may cost next to nothing."""
    return float(np.abs(lp.cost) @ np.abs(x))


@settings(max_examples=examples(15))
@given(market=markets())
def test_three_routes_find_the_same_cost(market: Market) -> None:
    for case in _cases(market):
        lp = build(case).lp
        found = {name: route(lp) for name, route in ROUTES.items()}
        (status,) = {outcome.status for outcome in found.values()}
        counted[status] += 1
        assert status in (Status.OPTIMAL, Status.INFEASIBLE)
        if status is Status.INFEASIBLE:
            continue
        first = found["HiGHS by arrays"]
        assert first.x is not None
        assert first.objective is not None
        for outcome in found.values():
            assert outcome.certified
            assert outcome.x is not None
            assert outcome.objective == pytest.approx(first.objective, rel=0.0, abs=1e-6 * _size(lp, first.x))
            assert lp.cost @ outcome.x == pytest.approx(outcome.objective, rel=1e-12, abs=1e-12)


def test_the_markets_hold_blends_and_clashes_alike() -> None:
    """Runs after the test above: it would say little if nearly all programs were impossible."""
    if counted and EXAMPLES >= 100:  # a quick run draws too few to say
        assert counted[Status.OPTIMAL] >= 15
        assert counted[Status.INFEASIBLE] >= 1


@settings(max_examples=examples(15))
@given(market=markets())
def test_the_certificate_refuses_a_changed_answer(market: Market) -> None:
    solved = ((lp, solve_arrays(lp)) for lp in (build(case).lp for case in _cases(market)))
    found = next((pair for pair in solved if pair[1].status is Status.OPTIMAL), None)
    assume(found is not None)
    assert found is not None
    lp, best = found
    assert best.x is not None
    assert best.row_price is not None

    def verdict(x: np.ndarray, price: np.ndarray) -> tuple[bool, str]:
        certificate = certify(lp, x, price)
        return certificate.ok, certificate.reason

    x, price = best.x, best.row_price
    assert verdict(x, price)[0]

    used = int(np.argmax(x[:-3]))
    for factor in (0.999, 1.001):  # a thousandth of the largest stream: the mass no longer adds up
        moved = x.copy()
        moved[used] *= factor
        ok, reason = verdict(moved, price)
        assert not ok
        assert "missed" in reason

    dearest = solve_arrays(replace(lp, cost=-lp.cost)).x
    assert dearest is not None
    for share in (1.0, 1e-3):  # every rule is held, but it costs more
        other = (1.0 - share) * x + share * dearest
        dearer = float(lp.cost @ (other - x))
        if dearer > 1e-6 * _size(lp, x):
            ok, reason = verdict(other, price)
            assert not ok
            assert "costs more" in reason

    if best.objective is not None and best.objective > 1e-6 * _size(lp, x):
        for proves_nothing in (np.zeros_like(price), -price):
            assert not verdict(x, proves_nothing)[0]


@pytest.mark.parametrize(
    ("product", "item", "standard"),
    [
        ("jam", "plum, flesh with skin", "eu-2026"),
        ("jelly", "redcurrant, whole berry (red and white)", "codex"),
        ("butter", "apple, cooking, flesh with skin", "us"),
        ("squash", "pineapple, flesh, ripe", "india"),
    ],
)
def test_a_recipe_is_the_same_by_cbc(product: str, item: str, standard: str) -> None:
    """From the request to the recipe: cost and amounts."""
    site = Site(ph_meter="yes", pans=(Pan(capacity_L=60.0, power_kW=15.0, fuel_price=1.4, efficiency=0.5),))
    lots = (fruit_lot("X", item, kg=5000.0),)
    made = {}
    for solver in ("highs", "cbc"):
        request = Request(
            product=product,
            batch_kg=50.0,
            on=DAY,
            standard=standard,
            fruits=(FruitShare(fruit=item),),
            solver=solver,
        )
        made[solver] = make_recipe(request, site, lots, usual_offers(), BOOK)
    by_highs, by_cbc = made["highs"], made["cbc"]
    assert by_highs.status == by_cbc.status == "optimal"
    assert by_highs.certified
    assert by_cbc.certified
    assert by_highs.costs is not None
    assert by_cbc.costs is not None
    assert by_cbc.costs.total == pytest.approx(by_highs.costs.total, rel=1e-6)
    kg = {amount.stream.id: amount.pan_kg for amount in by_highs.amounts}
    assert {amount.stream.id: amount.pan_kg for amount in by_cbc.amounts} == pytest.approx(kg, rel=1e-6, abs=1e-6)
