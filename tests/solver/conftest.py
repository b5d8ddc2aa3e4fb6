"""Random programs for hypothesis, and an independent solver to hold our answers against."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import strategies as st
from scipy.optimize import Bounds, LinearConstraint, linprog, milp

from optimizer.solver import LinearProgram, Status

MEANING = {0: Status.OPTIMAL, 2: Status.INFEASIBLE, 3: Status.UNBOUNDED}


@st.composite
def random_programs(
    draw: st.DrawFn,
    *,
    most_rows: int = 5,
    most_columns: int = 6,
    boxed: bool = False,
    with_integers: bool = False,
) -> LinearProgram:
    """Small programs of round figures: many are degenerate, some have no answer or no end.

    Most sides lie around the values of a point inside the bounds, so that most programs have an answer; rows differ in
    size by up to a million, as millimoles and kilograms do.
    """
    m, n = draw(st.integers(1, most_rows)), draw(st.integers(1, most_columns))

    def figures(low: int, high: int, size: int) -> np.ndarray:
        return np.array(draw(st.lists(st.integers(low, high), min_size=size, max_size=size)), dtype=float)

    row_size = 10.0 ** figures(-3, 3, m)
    matrix = figures(-4, 6, m * n).reshape(m, n) * row_size[:, None]
    low, high = figures(0, 2, n), figures(3, 9, n)
    point = np.minimum(low + figures(0, 4, n), high)
    around = matrix @ point + figures(-1, 3, m) * (figures(0, 3, m) == 0) * row_size
    kind = figures(0, 3, m)  # at least, at most, between, exactly
    width = figures(0, 3, m) * row_size
    row_lower = np.where(kind == 1, -np.inf, around - np.where(kind == 3, 0.0, width))
    row_upper = np.where(kind == 0, np.inf, around + np.where(kind == 3, 0.0, width))
    if not boxed:
        low = np.where(figures(0, 4, n) == 0, -np.inf, low)
        high = np.where(figures(0, 2, n) == 0, np.inf, high)
    integer = figures(0, 1, n).astype(bool) if with_integers else None
    cost = figures(-3, 9, n) * 10.0 ** draw(st.integers(-3, 3))
    return LinearProgram(
        cost=cost, matrix=matrix, row_lower=row_lower, row_upper=row_upper, lower=low, upper=high, integer=integer
    )


def reference(lp: LinearProgram, method: str = "highs-ipm") -> tuple[Status | None, float]:
    """Status and optimum by scipy; None where scipy could not tell.

    Its presolve was seen to call an unbounded program infeasible, so that word is checked without costs.
    """
    money = float(np.abs(lp.cost).max(initial=0.0)) or 1.0
    size = np.abs(lp.matrix).max(axis=1, initial=0.0)
    size[size == 0.0] = 1.0
    lp = replace(  # its tolerances are absolute: give it figures near 1
        lp, cost=lp.cost / money, matrix=lp.matrix / size[:, None], row_lower=lp.row_lower / size,
        row_upper=lp.row_upper / size,
    )  # fmt: skip
    status, optimum = _ask_scipy(lp, method)
    if status is Status.INFEASIBLE and lp.cost.any():
        feasible, _ = _ask_scipy(replace(lp, cost=np.zeros_like(lp.cost)), method)
        status = {Status.OPTIMAL: Status.UNBOUNDED, Status.INFEASIBLE: Status.INFEASIBLE}.get(feasible)
    return status, optimum * money


def _ask_scipy(lp: LinearProgram, method: str) -> tuple[Status | None, float]:
    if lp.is_mixed_integer:
        rows = LinearConstraint(lp.matrix, lp.row_lower, lp.row_upper)
        whole = np.asarray(lp.integer).astype(int)
        answer = milp(
            lp.cost, constraints=rows, bounds=Bounds(lp.lower, lp.upper), integrality=whole, options={"mip_rel_gap": 0}
        )
    else:
        exact = lp.row_lower == lp.row_upper
        below, above = np.isfinite(lp.row_upper) & ~exact, np.isfinite(lp.row_lower) & ~exact
        answer = linprog(
            lp.cost,
            A_ub=np.vstack([lp.matrix[below], -lp.matrix[above]]),
            b_ub=np.concatenate([lp.row_upper[below], -lp.row_lower[above]]),
            A_eq=lp.matrix[exact],
            b_eq=lp.row_lower[exact],
            bounds=np.column_stack([lp.lower, lp.upper]),
            method=method,
            options={"time_limit": 5.0},
        )
    return MEANING.get(answer.status), float(answer.fun) if answer.status == 0 else np.nan


@pytest.fixture(scope="session")
def programs() -> Callable[..., st.SearchStrategy[LinearProgram]]:
    return random_programs


@pytest.fixture(scope="session")
def second_opinion() -> Callable[..., tuple[Status | None, float]]:
    return reference
