"""The certificate accepts what is optimal and refuses everything else, whoever says so."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from how_many import examples
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from optimizer.solver import LinearProgram, Status, certify, solve_arrays
from optimizer.solver.certificate import certify_infeasible
from optimizer.solver.highs import configured, highs_options, load
from optimizer.solver.program import Outcome
from optimizer.solver.raw import RawAnswer
from optimizer.solver.settle import settle

Programs = Callable[..., st.SearchStrategy[LinearProgram]]


def blend() -> LinearProgram:
    """Four kilograms of two ingredients; by hand: x = (1, 3), price 3, cost 11."""
    return LinearProgram(
        cost=np.array([2.0, 3.0]),
        matrix=np.array([[1.0, 1.0]]),
        row_lower=np.array([4.0]),
        row_upper=np.array([np.inf]),
        lower=np.zeros(2),
        upper=np.array([1.0, 10.0]),
    )


X, PRICE = np.array([1.0, 3.0]), np.array([3.0])


def test_the_right_answer_passes() -> None:
    verdict = certify(blend(), X, PRICE, np.array([-1.0, 0.0]))
    assert verdict.ok
    assert verdict.primal_violation == 0.0
    assert verdict.gap == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize(
    ("x", "price", "reason"),
    [
        ([1.0, 2.99], [3.0], "a row or bound is missed"),
        ([1.001, 2.999], [3.0], "a row or bound is missed"),
        ([-0.001, 4.001], [3.0], "a row or bound is missed"),
        ([0.5, 3.5], [3.0], "costs more"),  # feasible, not best
        ([1.0, 3.001], [3.0], "costs more"),
        ([1.0, 3.0], [2.9], "costs more"),  # too low a price proves too little
        ([1.0, 3.0], [3.1], "costs more"),
        ([1.0, 3.0], [-3.0], "open side"),  # wrong sign: the row has no upper side
        ([1.0, 3.0], [0.0], "costs more"),
        ([1.0, np.nan], [3.0], "not finite"),
        ([1.0, 3.0], [np.nan], "row prices"),
    ],
)
def test_wrong_answers_are_refused(x: list[float], price: list[float], reason: str) -> None:
    verdict = certify(blend(), np.array(x), np.array(price))
    assert not verdict.ok
    assert reason in verdict.reason


def test_reduced_costs_must_fit_the_prices() -> None:
    assert not certify(blend(), X, PRICE, np.array([1.0, 0.0])).ok  # wrong sign


def test_an_open_ended_column_with_a_price_is_refused() -> None:
    """Its bound is -inf and would let anything pass: at price 4 the second column earns 1 a kilogram without end."""
    lp = replace(blend(), upper=np.array([1.0, np.inf]))
    assert certify(lp, X, PRICE).ok
    verdict = certify(lp, X, np.array([4.0]))
    assert not verdict.ok
    assert "open side" in verdict.reason
    free = replace(blend(), cost=np.array([2.0, 0.0]), lower=np.array([0.0, -np.inf]), upper=np.array([1.0, np.inf]))
    assert not certify(free, np.array([0.0, 4.0]), np.array([1.0])).ok


def test_violations_are_measured_in_the_row_s_own_size() -> None:
    """A row of 1e-6 mol missed by a tenth is refused, though the miss is far under any absolute tolerance."""
    lp = replace(blend(), matrix=np.array([[1e-6, 1e-6]]), row_lower=np.array([4e-6]))
    assert certify(lp, X, PRICE * 1e6).ok
    assert not certify(lp, np.array([1.0, 2.6]), PRICE * 1e6).ok


def test_whole_numbers() -> None:
    lp = replace(blend(), integer=np.array([True, False]))
    assert certify(lp, X, None, bound=11.0).ok
    assert certify(lp, X, None, bound=10.0).gap == pytest.approx(1.0 / 11.0)
    assert not certify(lp, np.array([0.9, 3.1]), None, bound=11.0).ok  # not whole
    assert not certify(lp, X, None, bound=11.5).ok  # below its own bound
    assert not certify(lp, X, None, bound=np.nan).ok
    assert certify(lp, X, None).gap == np.inf  # nothing proved


@settings(max_examples=examples(200))
@given(data=st.data())
def test_no_other_answer_and_no_other_price_passes(programs: Programs, data: st.DataObject) -> None:
    """Move x or y of a certified answer: what still passes must cost the same, and its prices prove the same bound."""
    lp = data.draw(programs())
    ours = solve_arrays(lp)
    assume(ours.status is Status.OPTIMAL)
    assert ours.x is not None
    assert ours.row_price is not None
    assert ours.objective is not None
    money = float(np.abs(lp.cost).max()) or 1.0
    step = data.draw(st.sampled_from([1e-3, 0.1, 1.0]))
    j = data.draw(st.integers(0, lp.cost.size - 1))
    moved = ours.x.copy()
    moved[j] += step * data.draw(st.sampled_from([-1.0, 1.0]))
    if certify(lp, moved, ours.row_price).ok:
        assert lp.cost @ moved == pytest.approx(ours.objective, abs=1e-8 * max(money, np.abs(lp.cost) @ np.abs(moved)))
    i = data.draw(st.integers(0, lp.row_lower.size - 1))
    price = ours.row_price.copy()
    price[i] += step * money / (np.abs(lp.matrix[i]).max() or 1.0) * data.draw(st.sampled_from([-1.0, 1.0]))
    if certify(lp, ours.x, price).ok:  # then it is another dual answer: complementary to x
        d = lp.cost - price @ lp.matrix
        inside = (ours.x > lp.lower + 1e-6) & (ours.x < lp.upper - 1e-6)
        assert np.abs(d[inside]).max(initial=0.0) <= 1e-6 * money


def test_farkas_prices_are_checked() -> None:
    """By hand: at least 12 from 1 + 10 at most; the price 1 shows it, the price 0 does not."""
    clash = replace(blend(), row_lower=np.array([12.0]))
    assert certify_infeasible(clash, np.array([1.0]))
    assert certify_infeasible(clash, np.array([-1.0]))  # solvers differ in the sign of a ray
    assert not certify_infeasible(clash, np.array([0.0]))
    assert not certify_infeasible(blend(), np.array([1.0]))
    assert not certify_infeasible(replace(clash, upper=np.array([1.0, np.inf])), np.array([1.0]))


def right(lp: LinearProgram, again: bool) -> RawAnswer:
    units = LIES["cost_factor"]
    return RawAnswer(status=Status.OPTIMAL, x=X, row_price=PRICE * units)


LIES = {"cost_factor": 0.5}  # costs 2 and 3 are brought to 1 and 1.5


def test_a_wrong_answer_is_solved_again_once_and_then_fails() -> None:
    calls = []

    def liar(lp: LinearProgram, again: bool) -> RawAnswer:
        calls.append(again)
        return RawAnswer(status=Status.OPTIMAL, x=np.array([0.0, 4.0]), row_price=PRICE * 0.5)

    outcome = settle(blend(), liar, solver="liar")
    assert calls == [False, True]
    assert outcome.status is Status.FAILED
    assert outcome.x is None
    assert not outcome.certified
    assert any("refused" in note for note in outcome.notes)

    def liar_once(lp: LinearProgram, again: bool) -> RawAnswer:
        return right(lp, again) if again else liar(lp, again)

    outcome = settle(blend(), liar_once, solver="liar")
    assert outcome.status is Status.OPTIMAL
    assert outcome.certified
    assert "solved again cold" in outcome.notes


@pytest.mark.parametrize("whole", [False, True])
def test_the_second_try_solves_by_itself(whole: bool) -> None:
    """Another method than the first; it must be able to solve, or the retry is for show."""
    lp = replace(blend(), integer=np.array([whole, False]))

    def only_second(program: LinearProgram, again: bool) -> RawAnswer:
        from optimizer.solver.highs import run

        if not again:
            return RawAnswer(status=Status.FAILED)
        highs = configured(highs_options(mixed_integer=whole, second_try=True))
        load(highs, program)
        return run(highs, mixed_integer=whole)

    outcome: Outcome = settle(lp, only_second, solver="second")
    assert outcome.objective == pytest.approx(11.0)
