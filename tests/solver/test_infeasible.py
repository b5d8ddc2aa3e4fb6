"""Clashes and reliefs, each held against re-solves by an independent method."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from how_many import examples
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from optimizer.solver import (
    LinearProgram,
    Status,
    clashing_rows,
    clashing_sides,
    elastic,
    least_relief,
    relieved,
    solve,
)

Programs = Callable[..., st.SearchStrategy[LinearProgram]]
Opinion = Callable[..., tuple[Status | None, float]]


def only(lp: LinearProgram, rows: list[int]) -> LinearProgram:
    """The program with these rows alone, and no costs."""
    return replace(
        lp, cost=np.zeros_like(lp.cost), matrix=lp.matrix[rows], row_lower=lp.row_lower[rows],
        row_upper=lp.row_upper[rows],
    )  # fmt: skip


def with_a_clash(lp: LinearProgram, data: st.DataObject) -> LinearProgram:
    """One row more: a sum of rows must stay below the sum of their lower sides."""
    times = np.array(data.draw(st.lists(st.integers(0, 2), min_size=lp.row_lower.size, max_size=lp.row_lower.size)))
    times = np.where(np.isfinite(lp.row_lower), times, 0) / np.abs(lp.matrix).max(axis=1).clip(1e-3)
    below = float(times @ np.where(np.isfinite(lp.row_lower), lp.row_lower, 0.0)) - data.draw(st.integers(1, 5))
    return replace(
        lp, matrix=np.vstack([lp.matrix, times @ lp.matrix]), row_lower=np.append(lp.row_lower, -np.inf),
        row_upper=np.append(lp.row_upper, below),
    )  # fmt: skip


def clash() -> LinearProgram:
    """Mass is 10; at least 6 of the first, at least 5 of the second; the last row has no part in it."""
    return LinearProgram(
        cost=np.ones(3), matrix=np.array([[1.0, 1, 1], [1, 0, 0], [0, 1, 0], [0, 0, 1]]),
        row_lower=np.array([10.0, 6, 5, -np.inf]), row_upper=np.array([10.0, np.inf, np.inf, 1]),
        lower=np.zeros(3), upper=np.full(3, 20.0),
    )  # fmt: skip


def test_by_hand() -> None:
    lp = clash()
    assert clashing_rows(lp) == (0, 1, 2)
    assert clashing_rows(lp, keep=[0]) == (1, 2)
    assert clashing_sides(lp, (0, 1, 2)) == ((0, "upper"), (1, "lower"), (2, "lower"))
    assert clashing_sides(lp, (1, 2), keep=[0]) == ((1, "lower"), (2, "lower"))
    assert least_relief(lp, 0, "upper") == pytest.approx(1.0)
    assert least_relief(lp, 1, "lower") == pytest.approx(1.0)
    assert least_relief(lp, 2, "lower") == pytest.approx(1.0)
    assert least_relief(lp, 0, "lower") is None
    assert least_relief(lp, 3, "upper") is None
    softest = elastic(lp, np.array([np.inf, 3.0, 2.0, 1.0]))
    assert softest is not None
    assert softest.total == pytest.approx(2.0)  # the second row gives way, at 2 a unit
    assert softest.lower == pytest.approx([0.0, 0.0, 1.0, 0.0])
    assert softest.upper == pytest.approx(np.zeros(4))
    assert elastic(lp, np.full(4, np.inf)) is None


def test_bounds_as_rows() -> None:
    """The bounds of the two columns leave at most 2 of the 3 asked for; each bound is part of the clash."""
    lp = LinearProgram(
        cost=np.ones(3), matrix=np.array([[1.0, 1.0, 0.0]]), row_lower=np.array([3.0]), row_upper=np.array([np.inf]),
        lower=np.zeros(3), upper=np.ones(3),
    )  # fmt: skip
    assert clashing_rows(lp) == (0,)
    assert clashing_rows(lp, with_bounds=True) == (0, 1, 2)
    assert clashing_rows(lp, keep=[0], with_bounds=True) == (1, 2)


def test_whole_numbers_can_clash() -> None:
    """Twice a whole number is never 3; as a plain number it is, so the relief is to 2 or 4."""
    lp = LinearProgram(
        cost=np.ones(1), matrix=np.array([[2.0], [1.0]]), row_lower=np.array([3.0, 0.0]),
        row_upper=np.array([3.0, 9.0]), lower=np.zeros(1), upper=np.full(1, 9.0), integer=np.ones(1, dtype=bool),
    )  # fmt: skip
    assert clashing_rows(lp) == (0,)
    assert least_relief(lp, 0, "lower") == pytest.approx(1.0)
    assert least_relief(lp, 0, "upper") == pytest.approx(1.0)


def test_crossing_sides_and_bounds() -> None:
    lp = replace(clash(), row_upper=np.array([9.0, 20.0, 20.0, 1.0]))
    assert clashing_rows(lp)[0] == 0
    crossed = replace(clash(), lower=np.array([0.0, 0.0, 30.0]))
    assert clashing_rows(crossed) == ()
    assert 6 in clashing_rows(crossed, with_bounds=True)


def test_what_has_an_answer_does_not_clash() -> None:
    with pytest.raises(ValueError, match="nothing clashes"):
        clashing_rows(replace(clash(), row_lower=np.zeros(4)))


@pytest.mark.parametrize("weights", [np.array([1.0, 1, 1]), np.array([1.0, 1, 1, -1]), np.array([1.0, 1, 1, np.nan])])
def test_weights_are_checked(weights: np.ndarray) -> None:
    with pytest.raises(ValueError, match="weights must be 4 figures"):
        elastic(clash(), weights)


@settings(max_examples=examples(150))
@given(data=st.data())
def test_a_clash_is_one_and_is_irreducible(programs: Programs, second_opinion: Opinion, data: st.DataObject) -> None:
    lp = with_a_clash(data.draw(programs(boxed=True)), data)
    assert second_opinion(lp, "highs-ds")[0] is Status.INFEASIBLE
    rows = list(clashing_rows(lp))
    assert rows
    assert second_opinion(only(lp, rows), "highs-ds")[0] is Status.INFEASIBLE
    for i in rows:
        rest = only(lp, [other for other in rows if other != i])
        assert not rest.matrix.size or second_opinion(rest, "highs-ds")[0] is Status.OPTIMAL
    sides = clashing_sides(lp, rows)
    assert {i for i, _ in sides} == set(rows)


@settings(max_examples=examples(150))
@given(data=st.data())
def test_relief_is_enough_and_no_less_is(programs: Programs, second_opinion: Opinion, data: st.DataObject) -> None:
    lp = with_a_clash(data.draw(programs(boxed=True)), data)
    assert second_opinion(lp, "highs-ds")[0] is Status.INFEASIBLE
    bare = replace(lp, cost=np.zeros_like(lp.cost))
    for row in range(lp.row_lower.size):
        for side in ("lower", "upper"):
            amount = least_relief(lp, row, side)
            if amount is None:  # then not even without that side
                without = relieved(bare, row, side, np.inf)
                assert second_opinion(without, "highs-ds")[0] is Status.INFEASIBLE
                continue
            size = max(float(np.abs(lp.matrix[row]).max()), amount)
            assert amount > 0.0
            assert second_opinion(relieved(bare, row, side, amount + 1e-7 * size), "highs-ds")[0] is Status.OPTIMAL
            assert second_opinion(relieved(bare, row, side, amount - 1e-3 * size), "highs-ds")[0] is Status.INFEASIBLE


@settings(max_examples=examples(80))
@given(data=st.data())
def test_elastic_misses_make_it_feasible(programs: Programs, data: st.DataObject) -> None:
    lp = data.draw(programs(boxed=True))
    assume((lp.row_lower <= lp.row_upper).all())
    weights = np.ones(lp.row_lower.size)
    softest = elastic(lp, weights)
    assert softest is not None  # all rows may be missed
    assert softest.total == pytest.approx((softest.lower + softest.upper).sum())
    answer = solve(lp)
    assert (answer.status is Status.INFEASIBLE) == (softest.total > 1e-7 * np.abs(lp.matrix).max(axis=1).min())
    slack = 1e-7 * np.maximum(1.0, np.abs(lp.matrix) @ np.abs(softest.x))
    assert (lp.matrix @ softest.x >= lp.row_lower - softest.lower - slack).all()
    assert (lp.matrix @ softest.x <= lp.row_upper + softest.upper + slack).all()
