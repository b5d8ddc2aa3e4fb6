"""Ranges against re-solves by an independent method, just inside and just outside each end."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from how_many import examples
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from optimizer.solver import LinearProgram, Outcome, Ranges, Status, ranging, solve, solve_arrays

Programs = Callable[..., st.SearchStrategy[LinearProgram]]
Opinion = Callable[..., tuple[Status | None, float]]
STEP = 1e-3


def with_entry(values: np.ndarray, place: int, figure: float) -> np.ndarray:
    changed = values.copy()
    changed[place] = figure
    return changed


class Ranged:
    """A solved program with its ranges; costs and rows in units of their own."""

    def __init__(self, lp: LinearProgram, second_opinion: Opinion) -> None:
        self.lp, self.ask = lp, second_opinion
        self.outcome: Outcome = solve_arrays(lp)
        assume(self.outcome.status is Status.OPTIMAL)
        assert self.outcome.x is not None
        assert self.outcome.row_price is not None
        assert self.outcome.reduced_cost is not None
        self.x, self.row_price, self.d = self.outcome.x, self.outcome.row_price, self.outcome.reduced_cost
        self.money = float(np.abs(lp.cost).max()) or 1.0
        self.row_size = np.where(lp.matrix.any(axis=1), np.abs(lp.matrix).max(axis=1), 1.0)
        self.ranges: Ranges = ranging(lp, self.outcome)
        # a column without any bound can make the best answers a line, which has no corner
        assert self.ranges.basis_known or (np.isinf(lp.lower) & np.isinf(lp.upper)).any()
        assume(self.ranges.basis_known)

    def rise_above_line(self, lp: LinearProgram, line: float) -> float:
        """How far the optimum lies above (sides) or below (costs) what the range promises, in money units."""
        status, optimum = self.ask(lp, "highs-ds")
        if status is Status.INFEASIBLE:
            return np.inf
        if status is Status.UNBOUNDED:
            return -np.inf
        assert status is Status.OPTIMAL
        return (optimum - line) / self.money


@settings(max_examples=examples(120))
@given(data=st.data())
def test_costs(programs: Programs, second_opinion: Opinion, data: st.DataObject) -> None:
    """Inside, the same x is still the best; outside, something is cheaper (unless degenerate, as reported)."""
    r = Ranged(data.draw(programs()), second_opinion)
    for j in range(r.lp.cost.size):
        for end, outwards in ((r.ranges.cost_from[j], -1.0), (r.ranges.cost_to[j], 1.0)):
            assert (end - r.lp.cost[j]) * outwards >= -1e-9 * r.money
            step = STEP * r.money
            if not np.isfinite(end):
                inside = with_entry(r.lp.cost, j, r.lp.cost[j] + outwards * 1000.0 * r.money)
                below = r.rise_above_line(replace(r.lp, cost=inside), float(inside @ r.x))
                assert below >= -1e-4
                continue
            inside = with_entry(r.lp.cost, j, end)
            assert abs(r.rise_above_line(replace(r.lp, cost=inside), float(inside @ r.x))) <= 1e-6
            outside = with_entry(r.lp.cost, j, end + outwards * step)
            below = r.rise_above_line(replace(r.lp, cost=outside), float(outside @ r.x))
            assert below <= 1e-6
            if not r.ranges.primal_degenerate:
                assert below <= -1e-8


@settings(max_examples=examples(120))
@given(data=st.data())
def test_sides_of_rows(programs: Programs, second_opinion: Opinion, data: st.DataObject) -> None:
    """Inside, the optimum follows the row's price; outside, it costs more than that (unless degenerate)."""
    r = Ranged(data.draw(programs()), second_opinion)
    for i in range(r.lp.row_lower.size):
        side = int(r.ranges.side[i])
        now = r.lp.row_upper[i] if side == 1 else r.lp.row_lower[i]
        if not np.isfinite(now):
            continue
        step = STEP * r.row_size[i]

        def moved(to: float, i: int = i, side: int = side) -> LinearProgram:
            low = with_entry(r.lp.row_lower, i, to) if side <= 0 else r.lp.row_lower
            high = with_entry(r.lp.row_upper, i, to) if side >= 0 else r.lp.row_upper
            return replace(r.lp, row_lower=low, row_upper=high)

        for end, outwards in ((r.ranges.rhs_from[i], -1.0), (r.ranges.rhs_to[i], 1.0)):
            assert (end - now) * outwards >= -1e-7 * r.row_size[i] * max(1.0, abs(now) / r.row_size[i])
            if not np.isfinite(end):
                continue
            back = end - outwards * min(1e-7 * max(r.row_size[i], abs(end)), abs(end - now))
            line = float(r.lp.cost @ r.x + r.row_price[i] * (back - now))
            assert abs(r.rise_above_line(moved(back), line)) <= 1e-6
            line = float(r.lp.cost @ r.x + r.row_price[i] * (end - now))
            crossing = (side == -1 and end + outwards * step > r.lp.row_upper[i]) or (
                side == 1 and end + outwards * step < r.lp.row_lower[i]
            )
            if not r.ranges.dual_degenerate and not crossing:
                assert r.rise_above_line(moved(end + outwards * step), line + outwards * r.row_price[i] * step) >= 1e-8


@settings(max_examples=examples(120))
@given(data=st.data())
def test_bounds_of_columns(programs: Programs, second_opinion: Opinion, data: st.DataObject) -> None:
    """Inside, the optimum follows the reduced cost; outside, it costs more (unless degenerate)."""
    r = Ranged(data.draw(programs()), second_opinion)
    for j in range(r.lp.cost.size):
        if np.isnan(r.ranges.bound_from[j]):
            continue
        at_upper = abs(r.x[j] - r.lp.upper[j]) <= 1e-9 and (abs(r.x[j] - r.lp.lower[j]) > 1e-9)
        now = r.lp.upper[j] if at_upper else r.lp.lower[j]

        def moved(to: float, j: int = j, at_upper: bool = at_upper) -> LinearProgram:
            return replace(
                r.lp, **{"upper" if at_upper else "lower": with_entry(r.lp.upper if at_upper else r.lp.lower, j, to)}
            )

        for end, outwards in ((r.ranges.bound_from[j], -1.0), (r.ranges.bound_to[j], 1.0)):
            assert (end - now) * outwards >= -1e-7
            if not np.isfinite(end):
                continue
            back = end - outwards * min(1e-7 * max(1.0, abs(end)), abs(end - now))
            line = float(r.lp.cost @ r.x + r.d[j] * (back - now))
            assert abs(r.rise_above_line(moved(back), line)) <= 1e-6
            line = float(r.lp.cost @ r.x + r.d[j] * (end - now))
            to = end + outwards * STEP
            crossing = to < r.lp.lower[j] if at_upper else to > r.lp.upper[j]
            if not r.ranges.dual_degenerate and not crossing:
                assert r.rise_above_line(moved(to), line + outwards * r.d[j] * STEP) >= 1e-8


@settings(max_examples=examples(100))
@given(data=st.data())
def test_price_of_entry(programs: Programs, second_opinion: Opinion, data: st.DataObject) -> None:
    """A little dearer than its price of entry a column stays out, a little cheaper it comes in."""
    r = Ranged(data.draw(programs(boxed=True)), second_opinion)
    for j in np.flatnonzero(np.isfinite(r.ranges.entry_price)):
        assert r.x[j] == pytest.approx(r.lp.lower[j], abs=1e-9)
        dearer = with_entry(r.lp.cost, j, r.ranges.entry_price[j] + STEP * r.money)
        assert r.rise_above_line(replace(r.lp, cost=dearer), float(dearer @ r.x)) == pytest.approx(0.0, abs=1e-6)
        if not r.ranges.primal_degenerate:
            cheaper = with_entry(r.lp.cost, j, r.ranges.entry_price[j] - STEP * r.money)
            answer = solve(replace(r.lp, cost=cheaper))
            assert answer.x is not None
            assert answer.x[j] > r.lp.lower[j] + 1e-6


def test_chance_is_reported() -> None:
    """Two rows that say the same meet in one corner: the price of either may hold in one direction only."""
    lp = LinearProgram(
        cost=np.array([1.0, 2.0]), matrix=np.array([[1.0, 1.0], [2.0, 2.0]]), row_lower=np.array([4.0, 8.0]),
        row_upper=np.full(2, np.inf), lower=np.zeros(2), upper=np.full(2, 10.0),
    )  # fmt: skip
    ranges = ranging(lp, solve(lp))
    assert ranges.primal_degenerate
    assert not ranges.dual_degenerate
    same_price = replace(lp, cost=np.ones(2), row_lower=np.array([4.0, 0.0]))
    ranges = ranging(same_price, solve(same_price))
    assert ranges.dual_degenerate
    assert not ranges.primal_degenerate


def test_an_answer_between_corners_gets_no_ranges() -> None:
    """Half of each of two equal ingredients is optimal and no corner: no range is promised, and it says so."""
    lp = LinearProgram(
        cost=np.ones(2), matrix=np.ones((1, 2)), row_lower=np.array([4.0]), row_upper=np.array([np.inf]),
        lower=np.zeros(2), upper=np.full(2, 10.0),
    )  # fmt: skip
    middle = Outcome(
        status=Status.OPTIMAL, objective=4.0, x=np.full(2, 2.0), row_price=np.ones(1), reduced_cost=np.zeros(2)
    )
    ranges = ranging(lp, middle)
    assert not ranges.basis_known
    assert ranges.cost_from.tolist() == ranges.cost_to.tolist() == [1.0, 1.0]
    assert ranges.rhs_from.tolist() == ranges.rhs_to.tolist() == [4.0]


def test_whole_numbers_have_no_ranges() -> None:
    lp = LinearProgram(
        cost=np.ones(1), matrix=np.ones((1, 1)), row_lower=np.array([1.5]), row_upper=np.array([np.inf]),
        lower=np.zeros(1), upper=np.full(1, 10.0), integer=np.ones(1, dtype=bool),
    )  # fmt: skip
    with pytest.raises(ValueError, match="ranges need"):
        ranging(lp, solve(lp))
