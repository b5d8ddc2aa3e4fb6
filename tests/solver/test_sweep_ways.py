"""The answers to many draws do not depend on how they were cut, and what goes wrong on the way is found."""

from __future__ import annotations

import itertools
import tracemalloc
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from blends import made_up_blend, price_draws, redraws, tightened
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from optimizer.solver import (
    Answers,
    Draws,
    LinearProgram,
    Status,
    certify,
    many_walks,
    solve_arrays,
    solve_draws,
    solve_prices,
    sweep,
)
from optimizer.solver.certificate import certify_infeasible
from optimizer.solver.certify_many import certified, certified_infeasible
from optimizer.solver.many_walks import Walked

Programs = Callable[..., st.SearchStrategy[LinearProgram]]


def same(one: Answers, other: Answers) -> None:
    assert one.status.tolist() == other.status.tolist()
    assert one.certified.tolist() == other.certified.tolist()
    np.testing.assert_allclose(one.objective, other.objective, rtol=1e-12)
    assert one.x is not None
    assert other.x is not None
    np.testing.assert_allclose(one.x, other.x, rtol=1e-9, atol=1e-9)


def cut(draws: Draws, pieces: int) -> list[Draws]:
    edges = np.linspace(0, len(draws), pieces + 1).astype(int)
    return [draws.part(slice(a, b)) for a, b in itertools.pairwise(edges)]


def prices(count: int) -> Draws:
    lp = made_up_blend(30)
    return Draws(lp, cost=price_draws(lp, count, 0.1))


def redrawn(count: int) -> Draws:
    return redraws(tightened(made_up_blend(20), 0.6), count, 0.1)


@pytest.mark.parametrize("make", [prices, redrawn])
def test_answers_do_not_depend_on_chunks(make: Callable[[int], Draws]) -> None:
    draws = make(700)
    whole = solve_draws(draws)
    assert whole.has_answer.any()
    same(whole, solve_draws(draws, memory_limit_MB=0.3))
    same(whole, solve_draws(cut(draws, 7)))
    same(whole, solve_draws(block for block in cut(draws, 3)))


@pytest.mark.parametrize("make", [prices, redrawn])
def test_answers_do_not_depend_on_the_order(make: Callable[[int], Draws]) -> None:
    draws = make(700)
    order = np.random.default_rng(1).permutation(700)
    whole = solve_draws(draws)
    turned = {name: values[order] for name in sweep.NAMES if (values := getattr(draws, name)) is not None}
    mixed = solve_draws(Draws(draws.base, **turned))
    assert whole.x is not None
    same(replace(whole, status=whole.status[order], certified=whole.certified[order],
                 objective=whole.objective[order], x=whole.x[order]), mixed)  # fmt: skip


def test_what_is_not_asked_for_is_not_kept() -> None:
    draws = prices(20)
    lean = solve_draws(draws, keep_x=False, keep_row_price=False)
    assert lean.x is None
    assert lean.row_price is None
    assert lean.certified.all()
    assert lean.objective.tolist() == solve_draws(draws).objective.tolist()


@pytest.mark.parametrize("make", [prices, redrawn])
def test_wrong_answers_are_solved_again(make: Callable[[int], Draws], monkeypatch: pytest.MonkeyPatch) -> None:
    """Every third walk lies: about x, about prices, or about there being no answer."""
    draws = make(120)
    right = solve_draws(draws)

    def lie(*args: object, **options: int) -> Walked:
        walked = many_walks.walk(*args, **options)  # type: ignore[arg-type]
        walked.x[0::9] *= 1.001
        walked.row_price[3::9] *= 1.001
        walked.end[6::9] = many_walks.NO_ANSWER
        return walked

    monkeypatch.setattr(sweep, "walk", lie)
    answers = solve_draws(draws)
    assert answers.resolved >= 30
    same(right, answers)


def test_draws_that_take_too_many_steps_go_to_the_solver(monkeypatch: pytest.MonkeyPatch) -> None:
    draws = redrawn(60)
    right = solve_draws(draws)

    def tire(*args: object, **options: int) -> Walked:
        return many_walks.walk(*args, **options, most_steps=2)  # type: ignore[arg-type]

    monkeypatch.setattr(sweep, "walk", tire)
    answers = solve_draws(draws)
    assert answers.by_solver > 10
    same(right, answers)


def test_draws_with_open_columns_go_to_the_solver() -> None:
    lp = replace(made_up_blend(10), upper=np.full(22, np.inf))
    answers = solve_prices(lp, price_draws(lp, 5, 0.1))
    assert answers.by_solver == 5
    assert answers.certified.all()


def test_programs_without_rows_or_columns() -> None:
    """Without rows each column goes to its cheaper bound: -1·3 + 2·1 = -1. Without columns nothing costs anything."""
    no_rows = LinearProgram(
        cost=np.array([-1.0, 2.0]), matrix=np.zeros((0, 2)), row_lower=np.zeros(0), row_upper=np.zeros(0),
        lower=np.array([0.0, 1.0]), upper=np.array([3.0, 4.0]),
    )  # fmt: skip
    assert solve_prices(no_rows, np.array([[-1.0, 2.0], [1.0, 2.0]])).objective.tolist() == [-1.0, 2.0]
    no_columns = LinearProgram(
        cost=np.zeros(0), matrix=np.zeros((1, 0)), row_lower=np.zeros(1), row_upper=np.ones(1), lower=np.zeros(0),
        upper=np.zeros(0),
    )  # fmt: skip
    answers = solve_draws(Draws(no_columns, row_lower=np.array([[0.0], [1.0]])))
    assert answers.status.tolist() == [Status.OPTIMAL, Status.INFEASIBLE]


@settings(max_examples=150)
@given(data=st.data())
def test_certificates_agree_with_those_of_one_program(programs: Programs, data: st.DataObject) -> None:
    """On right answers and on ones a little or much wrong; one matrix for all draws, or one each."""
    lp = data.draw(programs())
    ours = solve_arrays(lp)
    assume(ours.status is Status.OPTIMAL)
    assert ours.x is not None
    assert ours.row_price is not None
    rng = np.random.default_rng(data.draw(st.integers(0, 10**6)))
    size = 10.0 ** rng.integers(-12, 1, (24, 1))
    x = ours.x + size * rng.integers(-1, 2, (24, ours.x.size)) * rng.integers(0, 2, (24, 1))
    y = ours.row_price * (1.0 + size[::-1] * rng.integers(-1, 2, (24, ours.row_price.size)))
    y[5] = -y[5]
    x[7] = np.nan
    for draws in (Draws(lp, cost=np.tile(lp.cost, (24, 1))), Draws(lp, matrix=np.tile(lp.matrix, (24, 1, 1)))):
        single = [certify(lp, x[i], y[i]) for i in range(24)]
        clear = [abs(abs(one.gap) / 1e-9 - 1.0) > 1e-3 for one in single]  # not on the very edge of the tolerance
        found = certified(draws, np.arange(24), x, y)
        assert found[clear].tolist() == [one.ok for one, is_clear in zip(single, clear, strict=True) if is_clear]


@settings(max_examples=150)
@given(data=st.data())
def test_farkas_prices_agree_with_those_of_one_program(programs: Programs, data: st.DataObject) -> None:
    lp = data.draw(programs())
    rng = np.random.default_rng(data.draw(st.integers(0, 10**6)))
    m = lp.row_lower.size
    ray = rng.integers(-1, 2, (24, m)) / np.maximum(np.abs(lp.matrix).max(axis=1), 1e-3)
    ray[1:6] = np.eye(m)[np.arange(5) % m]
    shift = rng.integers(-30, 31, (24, m)) * np.abs(lp.matrix).max(axis=1)
    far = Draws(lp, row_lower=lp.row_lower + shift, row_upper=lp.row_upper + shift)
    found = certified_infeasible(far, np.arange(24), ray)
    assert found.tolist() == [certify_infeasible(far.program(i), ray[i]) for i in range(24)]


@pytest.mark.parametrize(
    ("arrays", "words"),
    [
        ({}, "nothing differs"),
        ({"cost": np.ones((3, 5))}, "shape"),
        ({"cost": np.ones((3, 22)), "upper": np.ones((4, 22))}, "different numbers"),
        ({"cost": np.full((3, 22), np.nan)}, "cost of draw 0"),
        ({"matrix": np.full((2, 26, 22), np.inf)}, "matrix of draw 0"),
        ({"lower": np.full((2, 22), np.inf)}, "lower of draw 0"),
        ({"row_upper": np.full((2, 26), -np.inf)}, "row_upper of draw 0"),
    ],
)
def test_arrays_that_are_no_draws_are_refused(arrays: dict[str, np.ndarray], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        Draws(made_up_blend(10), **arrays)


def test_whole_numbers_and_empty_lists_are_refused() -> None:
    lp = made_up_blend(10)
    with pytest.raises(ValueError, match="whole numbers"):
        solve_prices(replace(lp, integer=np.ones(22, dtype=bool)), price_draws(lp, 2, 0.1))
    with pytest.raises(ValueError, match="no draws"):
        solve_draws([])
    with pytest.raises(ValueError, match="memory_limit_MB"):
        solve_draws(prices(2), memory_limit_MB=0.0)
    assert len(solve_prices(lp, np.zeros((0, 22)))) == 0


def test_working_memory_keeps_to_its_limit() -> None:
    draws = redraws(made_up_blend(100), 600, 0.1)
    answers_MB = 600 * (112 + 26 + 26) * 8 / 1e6
    solve_draws(draws.part(slice(10)))  # what is loaded once does not count
    for limit_MB in (2.0, 20.0):
        tracemalloc.start()
        solve_draws(draws, memory_limit_MB=limit_MB)
        peak_MB = tracemalloc.get_traced_memory()[1] / 1e6
        tracemalloc.stop()
        assert peak_MB <= limit_MB + 4.0 * answers_MB
