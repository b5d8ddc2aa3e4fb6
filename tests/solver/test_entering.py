"""What enters below its price, and how much: the same as a plain solve of each, or not certified."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from blends import made_up_blend

from optimizer.solver import LinearProgram, entered, solve_arrays, tableau

BELOW = 1e-5


def asked(lp: LinearProgram) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Columns that may enter, the amounts found and which of them are certified."""
    table = tableau(lp, solve_arrays(lp))
    assert table is not None
    out = np.flatnonzero(table.may_enter)
    found = entered(table, out, np.full(out.size, BELOW))
    return out, found.amount, found.certified


@pytest.mark.parametrize("lots", [10, 30, 100, 300])
@pytest.mark.parametrize("seed", range(3))
def test_amounts_are_those_of_a_plain_solve(lots: int, seed: int) -> None:
    lp = made_up_blend(lots, seed=seed + 1)
    base = solve_arrays(lp)
    out, amounts, certified = asked(lp)
    assert certified.mean() > 0.9  # elsewhere others are about to enter too
    for column, amount in zip(out[certified], amounts[certified], strict=True):
        cost = lp.cost.copy()
        cost[column] -= base.reduced_cost[column] + BELOW
        alone = solve_arrays(replace(lp, cost=cost))
        assert alone.x[column] == pytest.approx(amount, rel=1e-6, abs=1e-7)


def test_a_column_whose_rival_enters_at_once_is_not_certified() -> None:
    """The second row stops the last column at 1.5; a rival that costs no more and loosens that row enters with it."""
    lp = LinearProgram(
        cost=np.array([2.0, 3.0, 3.0]), matrix=np.array([[1.0, 1.0, 1.0], [0.0, -1.0, 2.0]]),
        row_lower=np.array([4.0, -np.inf]), row_upper=np.array([np.inf, 3.0]), lower=np.zeros(3),
        upper=np.array([5.0, 1.0, 3.0]),
    )  # fmt: skip
    out, amounts, certified = asked(lp)
    assert out.tolist() == [1, 2]
    assert certified.all()
    assert amounts.tolist() == [1.0, 1.5]
    _, _, certified = asked(replace(lp, cost=np.array([2.0, 2.0, 3.0])))
    assert not certified[1]


def test_without_rows_nothing_is_claimed() -> None:
    lp = LinearProgram(
        cost=np.ones(2), matrix=np.zeros((0, 2)), row_lower=np.zeros(0), row_upper=np.zeros(0), lower=np.zeros(2),
        upper=np.ones(2),
    )  # fmt: skip
    _, amounts, certified = asked(lp)
    assert amounts.size == certified.size
    assert not certified.any()
