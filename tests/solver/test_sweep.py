"""Many draws at once give what a plain solve of each gives, proved by the same certificate."""

from __future__ import annotations

import os
from collections.abc import Callable

import numpy as np
import pytest
from blends import made_up_blend, price_draws, redraws, tightened
from hypothesis import given, settings
from hypothesis import strategies as st

from optimizer.solver import Answers, Draws, LinearProgram, Status, certify, solve_arrays, solve_draws, solve_prices

LONG = os.environ.get("HYPOTHESIS_PROFILE") == "long"
DRAWS = 10_000 if LONG else 150
Programs = Callable[..., st.SearchStrategy[LinearProgram]]
Opinion = Callable[..., tuple[Status | None, float]]


def agrees(draws: Draws, answers: Answers, tolerance: float = 1e-7) -> float:
    """Every draw against a plain solve of its own; gives the largest difference of the optima."""
    assert answers.x is not None
    assert answers.row_price is not None
    assert len(answers) == len(draws)
    worst = 0.0
    for i in range(len(draws)):
        lp = draws.program(i)
        plain = solve_arrays(lp)
        assert answers.status[i] is plain.status, f"draw {i}"
        if plain.status is not Status.OPTIMAL:
            assert np.isnan(answers.objective[i])
            assert np.isnan(answers.x[i]).all()
            continue
        assert answers.certified[i]
        assert certify(lp, answers.x[i], answers.row_price[i]).ok
        assert plain.objective is not None
        assert plain.x is not None
        size = max(float(np.abs(lp.cost).max()), float(np.abs(lp.cost) @ np.abs(plain.x))) or 1.0
        worst = max(worst, abs(answers.objective[i] - plain.objective) / size)
        assert worst <= tolerance, f"draw {i}"
    return worst


@pytest.mark.parametrize("spread", [0.03, 0.1])
@pytest.mark.parametrize("lots", [10, 30, 100])
def test_prices_agree_with_plain_solves(lots: int, spread: float) -> None:
    lp = made_up_blend(lots)
    costs = price_draws(lp, DRAWS, spread)
    answers = solve_prices(lp, costs)
    assert answers.certified.all()
    assert answers.by_solver + answers.resolved <= 0.05 * DRAWS
    worst = agrees(Draws(lp, cost=costs), answers)
    print(f"{lots} lots, prices ±{spread:.0%}: {answers.basic_sets} basic sets, largest difference {worst:.1e}")


@pytest.mark.parametrize("spread", [0.03, 0.1])
@pytest.mark.parametrize("lots", [10, 30, 100])
def test_redraws_agree_with_plain_solves(lots: int, spread: float) -> None:
    draws = redraws(made_up_blend(lots), DRAWS, spread)
    answers = solve_draws(draws)
    assert answers.certified.all()
    assert answers.by_solver + answers.resolved <= 0.05 * DRAWS
    worst = agrees(draws, answers)
    print(f"{lots} lots, redraws ±{spread:.0%}: {answers.basic_sets} basic sets, largest difference {worst:.1e}")


def test_draws_without_an_answer_are_told_and_proved() -> None:
    draws = redraws(tightened(made_up_blend(30), 0.38), DRAWS, 0.1)
    answers = solve_draws(draws)
    assert 0.2 <= answers.infeasible / DRAWS <= 0.5  # the case is about a mixture
    assert answers.certified.all()
    worst = agrees(draws, answers)
    print(f"{answers.infeasible} of {DRAWS} without an answer, largest difference {worst:.1e}")


def test_prices_of_a_program_without_an_answer() -> None:
    lp = tightened(made_up_blend(10), 0.05)
    assert solve_arrays(lp).status is Status.INFEASIBLE
    answers = solve_prices(lp, price_draws(lp, 20, 0.1))
    assert answers.infeasible == 20
    assert answers.certified.all()


@pytest.mark.parametrize("boxed", [True, False])
@settings(max_examples=300 if LONG else 60)
@given(data=st.data())
def test_degenerate_and_hopeless_programs(programs: Programs, boxed: bool, data: st.DataObject) -> None:
    """Round figures: ties, equality rows, bounds of no width, bounds that cross, programs without an end."""
    lp = data.draw(programs(boxed=boxed))
    count = 6
    rng = np.random.default_rng(data.draw(st.integers(0, 10**6)))
    vary = data.draw(st.sets(st.sampled_from(["cost", "matrix", "rows", "lower", "upper"]), min_size=1))

    def moves(size: int) -> np.ndarray:
        return rng.integers(-2, 3, (count, size)).astype(float)

    m, n = lp.matrix.shape
    unit = np.abs(lp.matrix).max(axis=1)
    shift = moves(m) * unit
    draws = Draws(
        lp,
        cost=lp.cost + moves(n) * max(1.0, np.abs(lp.cost).max()) if "cost" in vary else None,
        matrix=lp.matrix * rng.choice([0.0, 1.0, 1.0, 2.0], (count, m, n)) if "matrix" in vary else None,
        row_lower=lp.row_lower + shift if "rows" in vary else None,
        row_upper=lp.row_upper + shift if "rows" in vary else None,
        lower=lp.lower + moves(n) if "lower" in vary else None,
        upper=np.maximum(lp.upper + moves(n), lp.lower) if "upper" in vary else None,
    )
    agrees(draws, solve_draws(draws))


@settings(max_examples=40)
@given(data=st.data())
def test_agrees_with_an_independent_solver(programs: Programs, second_opinion: Opinion, data: st.DataObject) -> None:
    lp = data.draw(programs(boxed=True))
    steps = data.draw(st.lists(st.integers(-3, 3), min_size=lp.cost.size * 3, max_size=lp.cost.size * 3))
    costs = lp.cost + np.array(steps, dtype=float).reshape(3, -1)
    answers = solve_prices(lp, costs)
    for i in range(3):
        program = Draws(lp, cost=costs).program(i)
        status, optimum = second_opinion(program)
        if status is None:
            continue
        assert answers.status[i] is status
        if status is Status.OPTIMAL:
            assert answers.x is not None
            size = max(np.abs(costs[i]).max(), np.abs(costs[i]) @ np.abs(answers.x[i])) or 1.0
            assert answers.objective[i] == pytest.approx(optimum, abs=1e-7 * size)


def test_by_hand() -> None:
    """Four kilograms of two ingredients, the cheaper one scarce: 1·2 + 3·3 = 11; at prices 3 and 1 all of the second.

    12 kg are more than there are: 1 + 10 at most.
    """
    lp = LinearProgram(
        cost=np.array([2.0, 3.0]), matrix=np.array([[1.0, 1.0]]), row_lower=np.array([4.0]),
        row_upper=np.array([np.inf]), lower=np.zeros(2), upper=np.array([1.0, 10.0]),
    )  # fmt: skip
    answers = solve_draws(Draws(lp, cost=np.array([[2, 3], [3, 1], [2, 3.0]]), row_lower=np.array([[4], [4], [12.0]])))
    assert answers.status.tolist() == [Status.OPTIMAL, Status.OPTIMAL, Status.INFEASIBLE]
    assert answers.x is not None
    assert answers.row_price is not None
    assert answers.x[:2].tolist() == [[1.0, 3.0], [0.0, 4.0]]
    assert answers.row_price[:2].tolist() == [[3.0], [1.0]]
    assert answers.objective[:2].tolist() == [11.0, 4.0]
    assert answers.has_answer.tolist() == [True, True, False]


@pytest.mark.parametrize("what", ["cost", "upper"])
def test_twins_and_exact_rows(what: str) -> None:
    """Each lot twice at the same price, every third window of no width, every fourth lot fixed: ties everywhere."""
    lp = made_up_blend(20)
    use = solve_arrays(lp).x
    assert use is not None
    reached = lp.matrix @ use
    exact = np.arange(26) % 3 == 0
    lower, upper = lp.lower.copy(), lp.upper.copy()
    lower[::4] = upper[::4] = use[::4]
    twins = LinearProgram(
        cost=np.tile(lp.cost, 2), matrix=np.hstack([lp.matrix, lp.matrix]),
        row_lower=np.where(exact, 2.0 * reached, 2.0 * lp.row_lower),
        row_upper=np.where(exact, 2.0 * reached, 2.0 * lp.row_upper), lower=np.tile(lower, 2), upper=np.tile(upper, 2),
    )  # fmt: skip
    factor = np.tile(np.random.default_rng(5).choice([0.8, 1.0, 1.2], (100, 32)), 2)
    if what == "cost":
        draws = Draws(twins, cost=twins.cost * factor)
    else:
        draws = Draws(twins, upper=np.maximum(twins.upper * factor, twins.lower))
    answers = solve_draws(draws)
    agrees(draws, answers)
    assert answers.by_solver + answers.resolved <= 5
