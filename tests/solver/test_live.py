"""A live solver gives what a cold one gives, after any change."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest
from how_many import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from optimizer.solver import LinearProgram, LiveSolver, Status, solve_arrays

Programs = Callable[..., st.SearchStrategy[LinearProgram]]


def wide(seed: int) -> LinearProgram:
    rng = np.random.default_rng(seed)
    m, n = 12, 60
    matrix = rng.uniform(0.0, 1.0, (m, n)) * 10.0 ** rng.integers(-3, 3, (m, 1))
    use = rng.uniform(0.0, 2.0, n)
    return LinearProgram(
        cost=rng.uniform(0.5, 3.0, n), matrix=matrix, row_lower=0.8 * matrix @ use, row_upper=1.1 * matrix @ use,
        lower=np.zeros(n), upper=np.full(n, 8.0),
    )  # fmt: skip


@settings(max_examples=examples(80))
@given(data=st.data())
def test_agrees_with_a_cold_solve_after_each_change(programs: Programs, data: st.DataObject) -> None:
    live = LiveSolver(data.draw(programs()))
    for _ in range(4):
        cold, hot = solve_arrays(live.lp), live.solve()
        assert hot.status is cold.status
        if hot.status is Status.OPTIMAL:
            assert hot.certified
            assert hot.objective is not None
            size = float(np.abs(live.lp.cost).max() + np.abs(live.lp.cost) @ np.abs(hot.x))
            assert hot.objective == pytest.approx(cold.objective, abs=1e-8 * size)
        step = data.draw(st.lists(st.integers(-2, 2), min_size=live.lp.cost.size, max_size=live.lp.cost.size))
        move = np.array(step, dtype=float)
        kind = data.draw(st.sampled_from(["cost", "lower", "sides", "matrix"]))
        if kind == "cost":
            live.change(cost=live.lp.cost + move)
        elif kind == "lower":  # may cross the upper one: then there is no answer
            live.change(lower=live.lp.lower + move)
        elif kind == "sides":
            shift = np.abs(live.lp.matrix).max(axis=1) * move[0]
            live.change(row_lower=live.lp.row_lower + shift, row_upper=live.lp.row_upper + np.abs(shift))
        else:
            live.change(matrix=live.lp.matrix * (1.0 + 0.1 * move))


def test_price_draws_agree_with_cold_solves() -> None:
    lp = wide(1)
    live = LiveSolver(lp)
    rng = np.random.default_rng(2)
    for _ in range(50):
        cost = lp.cost * rng.uniform(0.9, 1.1, lp.cost.size)
        live.change(cost=cost)
        hot, cold = live.solve(), solve_arrays(live.lp)
        assert hot.certified
        assert hot.objective == pytest.approx(cold.objective, rel=1e-9)
    assert live.cold_solves == 0


def test_a_time_limit_counts_each_solve_alone() -> None:
    """HiGHS counts all runs of one object together: without care the last of many short solves would be stopped."""
    live = LiveSolver(wide(3), time_limit_s=0.2)
    rng = np.random.default_rng(4)
    spent = 0.0
    for _ in range(400):
        live.change(cost=wide(3).cost * rng.uniform(0.5, 1.5, 60))
        outcome = live.solve()
        assert outcome.status is Status.OPTIMAL
        spent += outcome.seconds
        if spent > 0.5:
            break


def test_threads_with_a_solver_each_agree() -> None:
    def objectives(seed: int) -> list[float | None]:
        live = LiveSolver(wide(seed))
        found = []
        rng = np.random.default_rng(seed)
        for _ in range(20):
            live.change(cost=live.lp.cost * rng.uniform(0.9, 1.1, live.lp.cost.size))
            found.append(live.solve().objective)
        return found

    with ThreadPoolExecutor(2) as pool:
        assert list(pool.map(objectives, [5, 6])) == [objectives(5), objectives(6)]


def test_wrong_shapes_are_refused() -> None:
    with pytest.raises(ValueError, match="shape"):
        LiveSolver(wide(1)).change(cost=np.ones(3))
