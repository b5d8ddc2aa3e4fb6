"""Demand ladders: against brute-force solves on a fine grid, against published ranges, and by hand."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from blends import made_up_blend
from how_many import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog

from optimizer.errors import InputFault
from optimizer.market.ladder import Bought, Ladder, demand, lower_envelope
from optimizer.market.ladder import program_ladder as ladder_of_ids
from optimizer.market.priced import PricedProgram
from optimizer.solver import LinearProgram, solve

FOLDER = Path(__file__).parents[1] / "published" / "worked_examples"


def published(name: str) -> tuple[LinearProgram, list[str], dict[str, dict]]:
    """A published minimisation as a program, its columns, and its printed answers."""
    case = json.loads((FOLDER / f"{name}.json").read_text(encoding="utf-8"))
    data = case["inputs"]["lp"]
    assert data["sense"] == "min"
    whole = np.array(data["integer"], dtype=bool) if any(data["integer"]) else None
    rows = data["constraints"]
    rhs = np.array([row["rhs"] for row in rows], dtype=float)
    ops = np.array([row["op"] for row in rows])
    lp = LinearProgram(
        cost=np.array(data["objective"], dtype=float),
        matrix=np.array([row["coefficients"] for row in rows], dtype=float),
        row_lower=np.where(ops == "<=", -np.inf, rhs),
        row_upper=np.where(ops == ">=", np.inf, rhs),
        lower=np.array([-np.inf if low is None else low for low, _ in data["bounds"]], dtype=float),
        upper=np.array([np.inf if high is None else high for _, high in data["bounds"]], dtype=float),
        integer=whole,
    )
    return lp, data["variables"], {answer["name"]: answer for answer in case["answers"]}


def program_ladder(lp: LinearProgram, which: tuple[int, ...], **options: float) -> Ladder:
    """The ladder of some columns of a program, each bought by the unit."""
    names = [str(j) for j in range(lp.cost.size)]
    return ladder_of_ids(PricedProgram.of(lp, names), [names[j] for j in which], **options)


def wanted(answer: dict) -> float:
    return answer.get("expected", answer["printed"])


def independent_cost(lp: LinearProgram, cost: np.ndarray) -> tuple[float, np.ndarray]:
    """Least cost and an answer by scipy's interior point method."""
    below, above = np.isfinite(lp.row_upper), np.isfinite(lp.row_lower)
    answer = linprog(
        cost,
        A_ub=np.vstack([lp.matrix[below], -lp.matrix[above]]),
        b_ub=np.concatenate([lp.row_upper[below], -lp.row_lower[above]]),
        bounds=np.column_stack([lp.lower, lp.upper]),
        method="highs-ipm",
    )
    assert answer.status == 0, answer.message
    return float(answer.fun), answer.x


def columns(lp: LinearProgram, *which: int) -> np.ndarray:
    weights = np.zeros(lp.cost.size)
    weights[list(which)] = 1.0
    return weights


def falls(ladder: Ladder) -> bool:
    return all(a.kg > b.kg and a.price_to == b.price_from for a, b in zip(ladder.steps, ladder.steps[1:], strict=False))


@pytest.mark.parametrize(("lots", "which"), [(10, (0,)), (10, (13,)), (20, (3, 4, 5)), (30, (31,))])
def test_ladder_against_solves_on_a_fine_grid(lots: int, which: tuple[int, ...]) -> None:
    """200 prices: cost by an independent solver is that of the ladder, and so are the kilograms between edges."""
    lp = made_up_blend(lots)
    weights = columns(lp, *which)
    now = float(lp.cost[list(which)].min())
    ladder = program_ladder(lp, which)
    assert ladder.exact
    assert falls(ladder)
    edges = np.array([step.price_from for step in ladder.steps[1:]])
    # spread over the edges; not on them, there two amounts are right
    prices = np.random.default_rng(5).uniform(0.0, 1.2 * edges.max(initial=now), 200)
    base, _ = independent_cost(lp, lp.cost + (0.0 - now) * weights)
    for price in prices:
        cost, x = independent_cost(lp, lp.cost + (price - now) * weights)
        rebuilt = base + sum(  # least cost is the area under the demand
            (min(price, np.inf if s.price_to is None else s.price_to) - s.price_from) * s.kg
            for s in ladder.steps
            if s.price_from < price
        )
        assert cost == pytest.approx(rebuilt, rel=1e-6)
        if np.abs(edges - price).min(initial=np.inf) > 1e-3 * now:
            assert weights @ x == pytest.approx(ladder.kg_at(price), abs=1e-3)


@settings(max_examples=examples(30))
@given(seed=st.integers(0, 10**6), lots=st.integers(3, 12), column=st.integers(0, 14))
def test_just_below_an_edge_more_is_bought_than_just_above(seed: int, lots: int, column: int) -> None:
    lp = made_up_blend(lots, seed=seed)
    which = (min(column, lp.cost.size - 1),)
    weights = columns(lp, *which)
    now = float(lp.cost[weights > 0.0][0])
    ladder = program_ladder(lp, which)
    assert falls(ladder)
    for left, right in zip(ladder.steps, ladder.steps[1:], strict=False):
        edge = right.price_from
        room = 0.25 * min(edge - left.price_from, (right.price_to or np.inf) - edge, edge)
        if left.kg - right.kg < 1e-4 or room < 1e-6 * max(1.0, edge):
            continue  # finer than the independent solver tells apart
        for price, kg in ((edge - room, left.kg), (edge + room, right.kg)):
            _, x = independent_cost(lp, lp.cost + (price - now) * weights)
            assert weights @ x == pytest.approx(kg, abs=1e-4)


@pytest.mark.parametrize(
    ("name", "columns_with_ranges"),
    [("D30", ("ice_cream", "cola")), ("D33", ("CPI1", "INV", "CPI2", "DAP2"))],
)
def test_published_price_ranges_are_the_step_a_price_stands_on(name: str, columns_with_ranges: tuple[str, ...]) -> None:
    """D30 (from memory), D33 (read): allowable increase and decrease of a cost are the way to the edges of its step."""
    lp, variables, answers = published(name)
    compared = 0
    for variable in columns_with_ranges:
        j = variables.index(variable)
        now = float(lp.cost[j])
        ladder = program_ladder(lp, (j,))
        step = next(s for s in ladder.steps if s.price_from < now < (s.price_to or np.inf))
        if f"x:{variable}" in answers:
            assert step.kg == pytest.approx(wanted(answers[f"x:{variable}"]), abs=1e-6)
        for way, edge in (("cost_up", step.price_to), ("cost_down", step.price_from)):
            answer = answers.get(f"{way}:{variable}")
            if answer is None:
                continue
            assert edge is not None
            assert abs(edge - now) == pytest.approx(wanted(answer), abs=max(answer["tolerance"], 5e-4))
            compared += 1
    assert compared >= 4


@pytest.mark.parametrize(
    ("name", "variable"),
    [("D26", "CHK"), ("D26", "FISH"), ("D26", "TUR"), ("D30", "brownie"), ("D30", "cheesecake"), ("D33", "DAP1"),
     ("D34", "chicken")],
)  # fmt: skip
def test_published_reduced_costs_are_the_way_down_to_the_entry_price(name: str, variable: str) -> None:
    """A food at its least amount is bought more below its price less the printed reduced cost, and not above.

    D26 (read) asks for at least two packages of each; D30 from memory, D33 and D34 read.
    """
    lp, variables, answers = published(name)
    j = variables.index(variable)
    now, rc = float(lp.cost[j]), answers[f"rc:{variable}"]
    ladder = program_ladder(lp, (j,), price_from=now - 1.2 * wanted(rc))
    above = ladder.steps[-1]
    assert above.kg == pytest.approx(lp.lower[j], abs=1e-9)
    assert now - above.price_from == pytest.approx(wanted(rc), abs=rc["tolerance"])
    assert ladder.steps[-2].kg > above.kg + 1e-3


@pytest.mark.parametrize("variable", ["HAM", "MCH", "MTL"])
def test_published_reduced_costs_at_an_upper_bound_are_the_way_up(variable: str) -> None:
    """D26 (read): ten packages, the most there are, until the price has risen by the printed reduced cost."""
    lp, variables, answers = published("D26")
    j = variables.index(variable)
    now, rc = float(lp.cost[j]), answers[f"rc:{variable}"]
    step = program_ladder(lp, (j,)).steps[0]
    assert step.kg == pytest.approx(10.0, abs=1e-9)
    assert step.price_to is not None
    assert step.price_to - now == pytest.approx(-wanted(rc), abs=rc["tolerance"])


@pytest.mark.parametrize("name", ["D24", "D26", "D28", "D30", "D33", "D34", "D35"])
def test_published_amounts_are_bought_at_the_printed_price(name: str) -> None:
    """D24, D26, D33, D34 read, D28, D30 and D35 from memory; where the optimum is one corner."""
    lp, variables, answers = published(name)
    printed = {answer[2:]: figure for answer, figure in answers.items() if answer.startswith("x:")}
    assert printed
    for variable, answer in printed.items():
        j = variables.index(variable)
        ladder = program_ladder(lp, (j,), price_from=min(0.0, lp.cost[j]) + 0.5 * abs(lp.cost[j]))
        assert ladder.kg_at(lp.cost[j]) == pytest.approx(wanted(answer), abs=max(answer["tolerance"], 1e-6))


def test_published_whole_packages_by_the_adaptive_ladder() -> None:
    """D27 (read): at its price each food is bought as often as printed, and demand falls."""
    lp, variables, answers = published("D27")
    for variable in [answer[2:] for answer in answers if answer.startswith("x:")]:
        j = variables.index(variable)

        def answer_at(price: float, j: int = j) -> Bought:
            cost = lp.cost.copy()
            cost[j] = price
            found = solve(replace(lp, cost=cost))
            assert found.x is not None
            return Bought(kg=float(round(found.x[j])), rest=float(lp.cost @ found.x - lp.cost[j] * found.x[j]))

        ladder = demand(answer_at, 0.5, 8.0, item=variable, noise=1e-7, price_tolerance=0.005)
        assert not ladder.exact
        assert falls(ladder)
        printed = wanted(answers[f"x:{variable}"])
        around = [ladder.kg_at(lp.cost[j] + move) for move in (-0.006, 0.006)]  # on an edge either side is right
        assert around[1] - 1e-6 <= printed <= around[0] + 1e-6
        for edge, left, right in ((r.price_from, left, r) for left, r in
                                  zip(ladder.steps, ladder.steps[1:], strict=False)):  # fmt: skip
            if min(edge - left.price_from, (right.price_to or np.inf) - edge) > 0.02:
                assert (answer_at(edge - 0.01).kg, answer_at(edge + 0.01).kg) == (left.kg, right.kg)


def test_two_columns_of_one_item_by_hand() -> None:
    """4 kg of a, b (one item, b 0.5 dearer, at most 1 and 2 kg) or c at 3: all of the item up to 2.5, a up to 3."""
    lp = LinearProgram(
        cost=np.array([1.0, 1.5, 3.0]), matrix=np.ones((1, 3)), row_lower=np.array([4.0]), row_upper=np.array([np.inf]),
        lower=np.zeros(3), upper=np.array([1.0, 2.0, 9.0]),
    )  # fmt: skip
    ladder = program_ladder(lp, (0, 1))
    told = [(s.price_from, s.price_to, s.kg) for s in ladder.steps]
    assert told == [(0.0, pytest.approx(2.5), 3.0), (pytest.approx(2.5), pytest.approx(3.0), 1.0),
                    (pytest.approx(3.0), None, 0.0)]  # fmt: skip


def test_what_cannot_be_done_without_is_bought_at_any_price() -> None:
    lp = LinearProgram(
        cost=np.array([1.0, 2.0]), matrix=np.array([[1.0, 1.0]]), row_lower=np.array([4.0]),
        row_upper=np.array([np.inf]), lower=np.array([0.5, 0.0]), upper=np.array([9.0, 9.0]),
    )  # fmt: skip
    last = program_ladder(lp, (0,)).steps[-1]
    assert (last.price_to, last.kg) == (None, 0.5)


def test_programs_without_answer_or_with_whole_numbers_are_refused() -> None:
    lp = made_up_blend(5)
    with pytest.raises(InputFault, match="no recipe at any price"):
        program_ladder(replace(lp, row_lower=np.full(26, 1e6), row_upper=np.full(26, 2e6)), (0,))
    with pytest.raises(InputFault, match="adaptive"):
        program_ladder(replace(lp, integer=np.ones(17, dtype=bool)), (0,))
    with pytest.raises(InputFault, match="can not go into"):
        ladder_of_ids(PricedProgram.of(lp, [str(j) for j in range(17)]), ["sugar"])
    with pytest.raises(InputFault, match="a lower and a higher"):
        program_ladder(lp, (0,), price_from=2.0, price_to=1.0)


def smooth(price: float) -> Bought:
    """Demand 10 - 2 p, as of a convex set with a round edge: cost is 10 p - p²."""
    kg = max(0.0, 10.0 - 2.0 * price)
    return Bought(kg=kg, rest=min(price, 5.0) ** 2)


@pytest.mark.parametrize("tolerance", [1.0, 0.1, 0.01])
def test_a_smooth_demand_is_stepped_to_the_stated_tolerance(tolerance: float) -> None:
    """The true demand at any price lies between those of the ladder one tolerance to either side."""
    ladder = demand(smooth, 0.0, 8.0, price_tolerance=tolerance, most_solves=2000)
    assert not ladder.exact
    assert ladder.price_tolerance <= tolerance
    assert falls(ladder)
    for price in np.linspace(0.0, 8.0, 333):
        assert ladder.kg_at(price + tolerance) - 1e-9 <= smooth(price).kg <= ladder.kg_at(price - tolerance) + 1e-9


def test_a_tolerance_in_kilograms_saves_solves_and_is_kept() -> None:
    fine, coarse = (demand(smooth, 0.0, 8.0, price_tolerance=1e-4, kg_tolerance=kg) for kg in (0.05, 1.0))
    assert coarse.solves < fine.solves < 600
    for price in np.linspace(0.0, 8.0, 111):
        assert coarse.kg_at(price) == pytest.approx(smooth(price).kg, abs=1.0)
        assert fine.kg_at(price) == pytest.approx(smooth(price).kg, abs=0.05)


def test_a_search_that_stops_says_so() -> None:
    ladder = demand(smooth, 0.0, 8.0, price_tolerance=1e-6, most_solves=9)
    assert ladder.solves <= 9
    assert ladder.price_tolerance > 1e-6
    assert any("stopped" in words for words in ladder.said)


def test_answers_that_wobble_give_way_to_cheaper_ones_found_elsewhere() -> None:
    """Near 4 settling ends at a recipe that is 0.5 dearer; near 6 at one that buys more at a higher price."""

    def wobbly(price: float) -> Bought:
        if 3.9 < price < 4.1:
            return Bought(kg=4.0, rest=0.5)
        return Bought(kg=4.0, rest=0.0) if price < 5.0 else Bought(kg=1.0, rest=15.0)

    ladder = demand(wobbly, 0.0, 8.0, price_tolerance=1e-3)
    assert falls(ladder)
    assert [(s.kg, s.price_to) for s in ladder.steps] == [(4.0, pytest.approx(5.0)), (1.0, 8.0)]

    def rising(price: float) -> Bought:
        return Bought(kg=1.0, rest=6.0) if price < 1.0 else Bought(kg=2.0, rest=0.0)

    ladder = demand(rising, 0.0, 4.0, price_tolerance=1e-3)
    assert [s.kg for s in ladder.steps] == [2.0]
    assert ladder.wobble == pytest.approx(6.0)
    assert any("cheaper recipe is shown" in words for words in ladder.said)


@settings(max_examples=examples(100))
@given(st.lists(st.tuples(st.integers(0, 9), st.integers(-20, 60)), min_size=1, max_size=12))
def test_the_lower_envelope_is_the_least_of_the_lines(pairs: list[tuple[int, int]]) -> None:
    lines = [Bought(kg=float(kg), rest=float(rest)) for kg, rest in pairs]
    steps = lower_envelope(lines, 0.0, 10.0)
    assert steps[0].price_from == 0.0
    assert steps[-1].price_to == 10.0
    for price in np.linspace(0.05, 9.95, 67):
        least = min(line.cost(price) for line in lines)
        step = next(s for s in steps if s.price_from <= price <= s.price_to)
        assert any(line.kg == step.kg and line.cost(price) == pytest.approx(least, abs=1e-9) for line in lines)
