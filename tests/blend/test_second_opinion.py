"""The optimum equals that of scipy on a matrix written by other code, and holds what it claims when recomputed."""

from __future__ import annotations

import numpy as np
import pytest
from how_many import examples
from hypothesis import given, settings
from markets import BOOK, Market, markets
from second_opinion import State, second_opinion

from optimizer.blend.case import Case
from optimizer.blend.recipe import prepare_case
from optimizer.blend.settle import Settled, settle, variants

_RELATIVE = 1e-6
counted = {"solved": 0, "none": 0}


def _opinion(market: Market, case: Case, speed: float | None) -> float | None:
    return second_opinion(
        case.streams,
        case.product,
        BOOK,
        market.site,
        market.request.batch_kg,
        case.limits.standard,
        case.limits.legal_name,
        State(
            inverted=case.assumed.inverted_fraction,
            ionic=case.assumed.ionic_strength_mol_per_kg,
            boil_C=case.assumed.boil_C,
            declared=case.declared_fruit_fraction,
            speed_ph=speed,
            group_mix=case.is_group_mix,
            drawn_in=dict(case.assumed.tightened),
        ),
        keeps=market.request.keeps,
    )


@settings(max_examples=examples(200))
@given(market=markets())
def test_every_variant_costs_what_the_second_program_says(market: Market) -> None:
    case, _ = prepare_case(market.request, market.site, market.lots, market.offers, BOOK)
    if not any(s.kind == "fruit" for s in case.streams):
        return
    for variant in variants(case):
        found = settle(variant)
        program = found.program
        other = _opinion(market, program.case, variant.ph_upper_of_pectin)
        if isinstance(found, Settled):
            counted["solved"] += 1
            assert other == pytest.approx(found.cost, rel=_RELATIVE, abs=1e-7)
            _feasible_and_complementary(found)
        else:
            counted["none"] += 1
            # A blend that the physics does not describe is no recipe; one that failed to settle is a fault.
            assert other is None or found.outside.startswith("The only blends that meet the rules lie outside")


def _feasible_and_complementary(found: Settled) -> None:
    """Bounds hold; a row that is slack has no price, a column that is used has no reduced cost."""
    lp, x = found.program.lp, found.x
    prices, reduced = found.outcome.row_price, found.outcome.reduced_cost
    activity = lp.matrix @ x
    size = np.abs(lp.matrix) @ np.abs(x) + 1e-9
    assert np.all(activity >= lp.row_lower - 1e-6 * size)
    assert np.all(activity <= lp.row_upper + 1e-6 * size)
    slack = np.minimum(np.abs(activity - lp.row_lower), np.abs(lp.row_upper - activity))
    worth = np.abs(prices) * slack
    assert np.all(worth <= 1e-6 * max(1.0, abs(found.cost)))
    room = np.minimum(np.abs(x - lp.lower), np.abs(lp.upper - x))
    assert np.all(np.abs(reduced) * room <= 1e-6 * max(1.0, abs(found.cost)))


def test_the_random_markets_hold_recipes_and_refusals_alike() -> None:
    """Runs after the test above: it would say little if nearly all requests were impossible."""
    total = counted["solved"] + counted["none"]
    if total:
        assert counted["solved"] > 0.25 * total
