"""Optima and statuses against independent methods: two LP methods and MILP of scipy, all corners of small programs."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from how_many import examples
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from optimizer.solver import LinearProgram, Outcome, Status, certify, solve, solve_arrays, use_threads
from optimizer.solver.certificate import primal_violation

EXAMPLES = 150
Programs = Callable[..., st.SearchStrategy[LinearProgram]]
Opinion = Callable[..., tuple[Status | None, float]]


def by_cbc(lp: LinearProgram) -> Outcome:
    return solve(lp, solver="cbc")


def blend() -> LinearProgram:
    """Four kilograms of two ingredients, the cheaper one scarce."""
    return LinearProgram(
        cost=np.array([2.0, 3.0]),
        matrix=np.array([[1.0, 1.0]]),
        row_lower=np.array([4.0]),
        row_upper=np.array([np.inf]),
        lower=np.zeros(2),
        upper=np.array([1.0, 10.0]),
    )


def same_optimum(lp: LinearProgram, ours: Outcome, theirs: float) -> bool:
    assert ours.objective is not None
    assert ours.x is not None
    size = max(np.abs(lp.cost).max(initial=0.0), float(np.abs(lp.cost) @ np.abs(ours.x)))
    return bool(abs(ours.objective - theirs) <= 1e-7 * size)


@pytest.mark.parametrize("method", ["highs-ipm", "highs-ds"])
@pytest.mark.parametrize("route", [solve, solve_arrays])
@settings(max_examples=examples(EXAMPLES))
@given(data=st.data())
def test_agrees_with_a_second_method(
    programs: Programs,
    second_opinion: Opinion,
    route: Callable[[LinearProgram], Outcome],
    method: str,
    data: st.DataObject,
) -> None:
    lp = data.draw(programs())
    status, optimum = second_opinion(lp, method)
    assume(status is not None)
    ours = route(lp)
    assert ours.status is status
    if status is Status.OPTIMAL:
        assert ours.certified
        assert same_optimum(lp, ours, optimum)
    if status is Status.INFEASIBLE:
        assert ours.certified  # by Farkas prices, not by the solver's word


@settings(max_examples=examples(40))
@given(data=st.data())
def test_cbc_agrees_where_columns_have_bounds(programs: Programs, second_opinion: Opinion, data: st.DataObject) -> None:
    lp = data.draw(programs(boxed=True))
    status, optimum = second_opinion(lp)
    ours = by_cbc(lp)
    assert ours.status is status
    if status is Status.OPTIMAL:
        assert ours.certified
        assert same_optimum(lp, ours, optimum)


@settings(max_examples=examples(40))
@given(data=st.data())
def test_cbc_is_never_believed_wrongly(programs: Programs, second_opinion: Opinion, data: st.DataObject) -> None:
    """CBC calls some unbounded programs optimal or infeasible; then there is no answer, never a wrong one."""
    lp = data.draw(programs())
    status, optimum = second_opinion(lp)
    assume(status is not None)
    ours = by_cbc(lp)
    assert ours.status in (status, Status.FAILED)
    if ours.status is Status.OPTIMAL:
        assert same_optimum(lp, ours, optimum)


@pytest.mark.parametrize(("route", "usual"), [(solve, 100), (solve_arrays, 100), (by_cbc, 40)])
def test_whole_numbers_agree_with_a_second_method(
    programs: Programs, second_opinion: Opinion, route: Callable[[LinearProgram], Outcome], usual: int
) -> None:
    @settings(max_examples=examples(usual))
    @given(lp=programs(boxed=True, with_integers=True))
    def check(lp: LinearProgram) -> None:
        status, optimum = second_opinion(lp)
        assume(status is not None)
        ours = route(lp)
        assert ours.status is status
        if ours.status is Status.OPTIMAL:
            assert ours.x is not None
            assert ours.objective is not None
            assert abs(ours.objective - optimum) <= 2e-6 * max(np.abs(lp.cost).max(), np.abs(lp.cost) @ np.abs(ours.x))
            assert primal_violation(lp, ours.x) <= 1e-7
            if lp.is_mixed_integer:
                assert ours.row_price is None
                assert ours.reduced_cost is None
                assert (ours.x[lp.integer] == np.round(ours.x[lp.integer])).all()

    check()


def best_corner(lp: LinearProgram) -> float | None:
    """The least cost over all corners: every choice of n sides and bounds that meet in one point."""
    n = lp.cost.size
    normals = np.vstack([lp.matrix, lp.matrix, np.eye(n), np.eye(n)])
    sides = np.concatenate([lp.row_lower, lp.row_upper, lp.lower, lp.upper])
    there = np.flatnonzero(np.isfinite(sides))
    costs = []
    for chosen in itertools.combinations(there, n):
        square = normals[list(chosen)] / np.abs(normals[list(chosen)]).max(axis=1, keepdims=True).clip(1e-12)
        if abs(np.linalg.det(square)) < 1e-6:
            continue
        point = np.linalg.solve(normals[list(chosen)], sides[list(chosen)])
        if primal_violation(lp, point) <= 1e-9:
            costs.append(float(lp.cost @ point))
    return min(costs, default=None)


@pytest.mark.parametrize("route", [solve, solve_arrays])
@settings(max_examples=examples(60))
@given(data=st.data())
def test_no_corner_is_cheaper(
    programs: Programs, route: Callable[[LinearProgram], Outcome], data: st.DataObject
) -> None:
    lp = data.draw(programs(most_rows=3, most_columns=3, boxed=True))
    best = best_corner(lp)
    ours = route(lp)
    if best is None:
        assert ours.status is Status.INFEASIBLE
    else:
        assert ours.status is Status.OPTIMAL
        assert same_optimum(lp, ours, best)


@pytest.mark.parametrize("route", [solve, by_cbc, solve_arrays])
def test_signs_of_prices(route: Callable[[LinearProgram], Outcome]) -> None:
    """By hand: one kilogram more asked for costs 3; one more of the scarce ingredient at 2 in place of 3 saves 1."""
    ours = route(blend())
    assert ours.objective == pytest.approx(11.0)
    assert ours.row_price == pytest.approx([3.0])
    assert ours.reduced_cost == pytest.approx([-1.0, 0.0])
    assert ours.bound == ours.objective


@pytest.mark.parametrize("route", [solve, by_cbc, solve_arrays])
def test_rows_of_millimoles_are_met_as_closely_as_rows_of_kilograms(
    route: Callable[[LinearProgram], Outcome],
) -> None:
    """A row of 1e-3 mol, met only to a solver's absolute 1e-7, would be off by one part in ten thousand."""
    per_kg = np.array([3e-6, 1e-6])  # [mol/kg]
    lp = replace(
        blend(), matrix=np.vstack([np.ones(2), per_kg]), row_lower=np.array([4.0, 9.1e-6]), row_upper=np.full(2, np.inf)
    )
    ours = route(lp)
    assert ours.x is not None
    assert ours.x == pytest.approx([1.0, 6.1])  # 3e-6 + 6.1e-6 = 9.1e-6
    assert per_kg @ ours.x >= 9.1e-6 * (1.0 - 1e-9)
    assert ours.row_price == pytest.approx([0.0, 3.0 / 1e-6])


@pytest.mark.parametrize("route", [solve, by_cbc, solve_arrays])
@pytest.mark.parametrize(
    ("change", "status", "objective"),
    [
        ({"lower": np.array([2.0, 0.0])}, Status.INFEASIBLE, None),  # bounds that cross
        ({"row_upper": np.array([3.0])}, Status.INFEASIBLE, None),  # sides that cross
        ({"row_lower": np.array([12.0])}, Status.INFEASIBLE, None),
        ({"matrix": np.zeros((1, 2))}, Status.INFEASIBLE, None),  # 0 >= 4
        ({"matrix": np.zeros((1, 2)), "row_lower": np.array([-1.0])}, Status.OPTIMAL, 0.0),
        ({"cost": np.array([-1.0, -1.0]), "upper": np.full(2, np.inf)}, Status.UNBOUNDED, None),
        ({"cost": np.zeros(2)}, Status.OPTIMAL, 0.0),
    ],
)
def test_edges(
    route: Callable[[LinearProgram], Outcome], change: dict[str, np.ndarray], status: Status, objective: float | None
) -> None:
    ours = route(replace(blend(), **change))
    assert ours.status is status
    assert ours.objective == objective
    assert (ours.x is None) == (objective is None)


@pytest.mark.parametrize("route", [solve, solve_arrays])
def test_no_rows_and_no_columns(route: Callable[[LinearProgram], Outcome]) -> None:
    no_rows = replace(blend(), matrix=np.zeros((0, 2)), row_lower=np.zeros(0), row_upper=np.zeros(0))
    assert route(no_rows).objective == 0.0
    nothing = LinearProgram(
        cost=np.zeros(0), matrix=np.zeros((1, 0)), row_lower=np.zeros(1), row_upper=np.ones(1), lower=np.zeros(0),
        upper=np.zeros(0),
    )  # fmt: skip
    assert route(nothing).objective == 0.0
    assert route(replace(nothing, row_lower=np.ones(1))).status is Status.INFEASIBLE


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"cost": np.array([1.0, np.nan])}, "not a number"),
        ({"cost": np.array([1.0, np.inf])}, "not finite"),
        ({"cost": np.ones(3)}, "shape"),
        ({"lower": np.array([np.inf, 0.0])}, "beyond"),
        ({"integer": np.zeros(3, dtype=bool)}, "shape"),
    ],
)
def test_what_is_no_program_is_refused(change: dict[str, np.ndarray], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        solve(replace(blend(), **change))


def test_unknown_solver_is_refused() -> None:
    with pytest.raises(ValueError, match='give "highs" or "cbc"'):
        solve(blend(), solver="other")  # type: ignore[arg-type]


def knapsack(n: int = 60) -> LinearProgram:
    """Strongly correlated knapsacks, hard to prove: worth follows weight closely."""
    rng = np.random.default_rng(7)
    weight = rng.integers(100, 1000, (3, n)).astype(float)
    return LinearProgram(
        cost=-(weight.sum(axis=0) + 50.0), matrix=weight, row_lower=np.full(3, -np.inf),
        row_upper=0.4 * weight.sum(axis=1), lower=np.zeros(n), upper=np.ones(n), integer=np.ones(n, dtype=bool),
    )  # fmt: skip


@pytest.mark.parametrize("route", [solve, by_cbc, solve_arrays])
def test_a_stopped_search_says_so(route: Callable[..., Outcome]) -> None:
    lp = knapsack()
    ours = solve(lp, solver="cbc", gap=0.05) if route is by_cbc else route(lp, gap=0.05)
    assert ours.status is Status.STOPPED
    assert ours.certified
    assert ours.objective is not None
    assert ours.x is not None
    assert primal_violation(lp, ours.x) <= 1e-7
    if route is not by_cbc:
        assert ours.bound is not None
        assert ours.bound < ours.objective
        assert ours.objective - ours.bound <= 0.05 * abs(ours.objective)


def test_a_time_limit_ends_the_search() -> None:
    ours = solve_arrays(knapsack(200), time_limit_s=0.3)
    assert ours.status in (Status.STOPPED, Status.FAILED)
    assert ours.seconds < 5.0
    assert any("ime limit" in note for note in ours.notes)


def test_solvers_are_silent(capfd: pytest.CaptureFixture[str]) -> None:
    for route in (solve, by_cbc, solve_arrays):
        route(blend())
        route(replace(blend(), integer=np.ones(2, dtype=bool)))
    out, err = capfd.readouterr()
    assert out + err == ""


def test_another_number_of_threads_is_never_refused() -> None:
    """HiGHS refuses a run that asks for another number of threads than the first of the process did."""
    try:
        for count in (1, 2, 1, 0):
            use_threads(count)
            assert solve_arrays(blend()).objective == pytest.approx(11.0)
            assert solve(blend()).objective == pytest.approx(11.0)
    finally:
        use_threads(0)
    with pytest.raises(ValueError, match="threads=-1"):
        use_threads(-1)


def test_names_of_people_never_reach_a_solver() -> None:
    """Ten columns and more: names sort otherwise than numbers, and the answer must keep our order."""
    n = 120
    cost = np.arange(n, 0, -1, dtype=float)
    lp = LinearProgram(
        cost=cost, matrix=np.ones((1, n)), row_lower=np.ones(1), row_upper=np.full(1, np.inf), lower=np.zeros(n),
        upper=np.full(n, 5.0),
    )  # fmt: skip
    for route in (solve, by_cbc, solve_arrays):
        ours = route(lp)
        assert ours.x is not None
        assert np.flatnonzero(ours.x).tolist() == [n - 1]
        assert certify(lp, ours.x, ours.row_price, ours.reduced_cost).ok
