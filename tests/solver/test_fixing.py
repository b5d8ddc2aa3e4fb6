"""Whole numbers with most columns left out: the answer of the whole program, proved."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from how_many import examples
from scipy.optimize import Bounds, LinearConstraint, milp

from optimizer.solver import LinearProgram, Outcome, Status, certify, solve, solve_arrays
from optimizer.solver.arrays import _as_it_stands
from optimizer.solver.fixing import by_fixing

LEAST, MOST = 2.0, 4


def choice_of_lots(lots: int, seed: int) -> LinearProgram:
    """Some of many lots, 2 kg or more of each or none, at most four of them; windows on three figures of the mix."""
    rng = np.random.default_rng(seed)
    figures = rng.uniform(0.0, 1.0, (3, lots))
    one = np.eye(lots)
    none = np.zeros((1, lots))
    stock = rng.uniform(10.0, 40.0, lots)
    rows = [
        (np.hstack([np.ones((1, lots)), none]), 50.0, 50.0),
        (np.hstack([figures, np.zeros((3, lots))]), 20.0, 32.0),
        (np.hstack([one, -np.diag(stock)]), -np.inf, 0.0),
        (np.hstack([one, -LEAST * one]), 0.0, np.inf),
        (np.hstack([none, np.ones((1, lots))]), -np.inf, float(MOST)),
    ]
    return LinearProgram(
        cost=np.concatenate([rng.uniform(0.5, 3.0, lots), rng.uniform(0.0, 2.0, lots)]),
        matrix=np.vstack([part for part, _, _ in rows]),
        row_lower=np.concatenate([np.full(len(part), low) for part, low, _ in rows]),
        row_upper=np.concatenate([np.full(len(part), high) for part, _, high in rows]),
        lower=np.zeros(2 * lots),
        upper=np.concatenate([stock, np.ones(lots)]),
        integer=np.arange(2 * lots) >= lots,
    )


def by_scipy(lp: LinearProgram) -> float | None:
    found = milp(
        lp.cost, integrality=lp.integer.astype(int), bounds=Bounds(lp.lower, lp.upper),
        constraints=LinearConstraint(lp.matrix, lp.row_lower, lp.row_upper), options={"mip_rel_gap": 1e-9},
    )  # fmt: skip
    return None if found.x is None else float(found.fun)


@pytest.mark.parametrize("seed", range(max(5, examples(12))))
@pytest.mark.parametrize("route", [solve, solve_arrays])
def test_the_answer_is_that_of_the_whole(route, seed: int) -> None:
    lp = choice_of_lots(12 + seed % 30, seed)
    expected = by_scipy(lp)
    outcome: Outcome = route(lp)
    if expected is None:
        assert outcome.status is Status.INFEASIBLE
        return
    assert outcome.status is Status.OPTIMAL
    assert outcome.objective == pytest.approx(expected, rel=2e-6)
    assert certify(lp, outcome.x, None, bound=outcome.bound).ok
    assert outcome.bound <= expected * (1.0 + 1e-6)


@pytest.mark.parametrize("seed", range(5))
def test_a_gap_is_kept_and_its_bound_is_true(seed: int) -> None:
    lp = choice_of_lots(40, seed)
    expected = by_scipy(lp)
    outcome = solve_arrays(lp, gap=0.02)
    assert expected is not None
    assert outcome.bound <= expected * (1.0 + 1e-6)
    assert outcome.objective - outcome.bound <= 0.02 * 1.001 * abs(outcome.objective)


def searched(lp: LinearProgram) -> list[int]:
    """Columns of the programs that were searched for one answer."""
    widths: list[int] = []

    def whole(part: LinearProgram, limit: float | None) -> Outcome:
        widths.append(part.cost.size)
        return _as_it_stands(part, limit, None)

    by_fixing(lp, solve_arrays(replace(lp, integer=None)), whole, gap=None, time_limit_s=None)
    return widths


def test_most_lots_are_never_searched() -> None:
    widths = [max(searched(choice_of_lots(60, seed))) for seed in range(5)]
    assert np.median(widths) < 60  # of 120


def test_where_no_column_can_be_left_out_the_whole_is_searched() -> None:
    lp = choice_of_lots(40, 1)
    free = replace(lp, cost=np.zeros_like(lp.cost))  # nothing is dearer than anything else
    assert searched(free) == [80]
