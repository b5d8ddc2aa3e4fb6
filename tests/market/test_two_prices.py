"""Maps of two prices: against brute-force grids, by hand, and what holds for every map."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from blends import made_up_blend
from how_many import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog

from optimizer.errors import InputFault
from optimizer.market.priced import PricedProgram
from optimizer.market.two_prices import Choice, Map, Point, price_map, program_map
from optimizer.solver import LinearProgram


def names(lp: LinearProgram) -> list[str]:
    return [f"c{j}" for j in range(lp.cost.size)]


def map_of(lp: LinearProgram, first: int, second: int, low: Point, high: Point) -> Map:
    return program_map(
        PricedProgram.of(lp, names(lp)), [f"c{first}"], [f"c{second}"], price_from=low, price_to=high
    )  # fmt: skip


def independent_cost(lp: LinearProgram, cost: np.ndarray) -> float:
    """Least cost by scipy's interior point method."""
    below, above = np.isfinite(lp.row_upper), np.isfinite(lp.row_lower)
    answer = linprog(
        cost, A_ub=np.vstack([lp.matrix[below], -lp.matrix[above]]),
        b_ub=np.concatenate([lp.row_upper[below], -lp.row_lower[above]]),
        bounds=np.column_stack([lp.lower, lp.upper]), method="highs-ipm",
    )  # fmt: skip
    assert answer.status == 0
    return float(answer.fun)


def inside(point: Point, corners: tuple[Point, ...], room: float = 0.0) -> bool:
    """Whether a point lies in a counter-clockwise convex polygon, `room` away from its edges."""
    for (x, y), (u, v) in zip(corners, (*corners[1:], corners[0]), strict=True):
        length = np.hypot(u - x, v - y)
        if length > 0.0 and ((u - x) * (point[1] - y) - (v - y) * (point[0] - x)) / length < room:
            return False
    return True


@pytest.mark.parametrize(("lots", "first", "second"), [(10, 0, 1), (10, 2, 14), (20, 5, 25)])
def test_map_against_a_brute_force_grid(lots: int, first: int, second: int) -> None:
    lp = made_up_blend(lots)
    high = (2.5 * float(lp.cost[first]), 2.5 * float(lp.cost[second]))
    found = map_of(lp, first, second, (0.0, 0.0), high)
    assert found.exact
    assert found.complete
    for p in np.linspace(0.02, 0.98, 9) * high[0]:
        for q in np.linspace(0.03, 0.97, 9) * high[1]:
            cost = lp.cost.copy()
            cost[first], cost[second] = p, q
            here = [cell for cell in found.cells if inside((p, q), cell.corners, 1e-9)]
            assert len(here) == 1 or not here  # none only on an edge
            winner = here[0].choice if here else found.winner((p, q))
            assert winner.cost((p, q)) == pytest.approx(independent_cost(lp, cost), rel=1e-6)


@settings(max_examples=examples(15))
@given(seed=st.integers(0, 10**6), lots=st.integers(3, 10), first=st.integers(0, 4), second=st.integers(5, 14))
def test_cells_tile_the_map_and_are_convex(seed: int, lots: int, first: int, second: int) -> None:
    lp = made_up_blend(lots, seed=seed)
    found = map_of(lp, first, second, (0.0, 0.1), (3.0, 9.0))
    assert sum(cell.share for cell in found.cells) == pytest.approx(1.0, abs=1e-6)
    for cell in found.cells:
        middle = tuple(np.mean(cell.corners, axis=0))
        assert inside(middle, cell.corners, -1e-9)
        assert found.winner(middle).cost(middle) == pytest.approx(cell.choice.cost(middle), rel=1e-9)
        for corner in cell.corners:
            assert inside(corner, cell.corners, -1e-6)  # convex: no corner lies outside any edge


def test_three_ways_to_sweeten_by_hand() -> None:
    """1 kg of a, b or c at 2: a wins where it is below b and 2, b likewise, c where both are above 2.

    On the square from 0 to 4: c has 4 of 16, a and b 6 each.
    """
    lp = LinearProgram(
        cost=np.array([1.0, 1.0, 2.0]), matrix=np.ones((1, 3)), row_lower=np.ones(1), row_upper=np.full(1, np.inf),
        lower=np.zeros(3), upper=np.full(3, 5.0),
    )  # fmt: skip
    found = map_of(lp, 0, 1, (0.0, 0.0), (4.0, 4.0))
    shares = {cell.choice.taken: cell.share for cell in found.cells}
    assert shares == {("c0",): pytest.approx(6 / 16), ("c1",): pytest.approx(6 / 16), ("c2",): pytest.approx(4 / 16)}
    assert {cell.choice.kg for cell in found.cells} == {(1.0, 0.0), (0.0, 1.0), (0.0, 0.0)}
    assert any("Exact" in words for words in found.said)


def test_several_offers_of_one_item_move_together() -> None:
    """a and its twin, 0.5 dearer, against b: the twin is the item too, the price is that of the cheaper one."""
    lp = LinearProgram(
        cost=np.array([1.0, 1.5, 2.0]), matrix=np.ones((1, 3)), row_lower=np.full(1, 2.0), row_upper=np.full(1, np.inf),
        lower=np.zeros(3), upper=np.array([1.0, 5.0, 5.0]),
    )  # fmt: skip
    program = PricedProgram.of(lp, ["a", "twin", "b"])
    found = program_map(program, ["a", "twin"], ["b"], price_from=(0.0, 0.0), price_to=(2.0, 2.0), told=("b",))
    # both of the item where p + 0.5 < q: a triangle of 1.5 x 1.5 / 2 of 4; a alone up to p < q; else b
    shares = {cell.choice.kg: cell.share for cell in found.cells}
    assert shares == {
        (2.0, 0.0): pytest.approx(1.125 / 4),
        (1.0, 1.0): pytest.approx((2 - 1.125) / 4),
        (0.0, 2.0): pytest.approx(0.5),
    }
    assert {cell.choice.taken for cell in found.cells} == {(), ("b",)}


def test_small_savings_get_no_field_of_their_own() -> None:
    def round_edge(prices: Point) -> Choice:
        """Cost √(p² + q²) less: demand turns smoothly from one to the other."""
        p, q = prices
        size = float(np.hypot(p, q)) or 1.0
        return Choice(kg=(2.0 - p / size, 2.0 - q / size), rest=0.0, taken=())

    coarse = price_map(round_edge, (0.1, 0.1), (1.0, 1.0), money_tolerance=0.05)
    fine = price_map(round_edge, (0.1, 0.1), (1.0, 1.0), money_tolerance=0.002)
    assert len(coarse.cells) < len(fine.cells)
    rng = np.random.default_rng(3)
    for found, tolerance in ((coarse, 0.05), (fine, 0.002)):
        assert found.complete
        assert not found.exact
        for p, q in rng.uniform(0.1, 1.0, (200, 2)):
            true = round_edge((p, q)).cost((p, q))
            assert true - 1e-9 <= found.winner((p, q)).cost((p, q)) <= true + tolerance + 1e-9


def test_a_search_that_stops_or_finds_nothing_says_so() -> None:
    lp = made_up_blend(10)
    whole = map_of(lp, 0, 1, (0.0, 0.0), (5.0, 5.0))
    assert len(whole.cells) > 3

    def cut_short(prices: Point) -> Choice | None:
        return None if prices[0] > 4.0 else whole.winner(prices)

    found = price_map(cut_short, (0.0, 0.0), (5.0, 5.0), most_solves=5)
    assert not found.complete
    assert any("stopped" in words for words in found.said)
    found = price_map(cut_short, (0.0, 0.0), (5.0, 5.0))
    assert not found.complete
    assert any("found nothing" in words for words in found.said)
    with pytest.raises(InputFault, match="no recipe"):
        price_map(lambda prices: None, (0.0, 0.0), (1.0, 1.0))


def test_empty_maps_whole_numbers_and_unknown_names_are_refused() -> None:
    lp = made_up_blend(5)
    with pytest.raises(InputFault, match="lower and a higher"):
        map_of(lp, 0, 1, (1.0, 0.0), (1.0, 2.0))
    with pytest.raises(InputFault, match="adaptive"):
        map_of(replace(lp, integer=np.ones(17, dtype=bool)), 0, 1, (0.0, 0.0), (1.0, 1.0))
    with pytest.raises(InputFault, match="can not go into"):
        program_map(PricedProgram.of(lp, names(lp)), ["c0"], ["z"], price_from=(0.0, 0.0), price_to=(1.0, 1.0))
    none = replace(lp, row_lower=np.full(26, 1e6), row_upper=np.full(26, 2e6))
    with pytest.raises(InputFault, match="no recipe at any price"):
        map_of(none, 0, 1, (0.0, 0.0), (1.0, 1.0))
