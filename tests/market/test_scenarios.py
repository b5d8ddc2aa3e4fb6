"""Scenarios: equal to plain solves, statistics by hand, correlations reproduced, the same seed the same bits."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from blends import made_up_blend, redraws, tightened
from markets import BOOK, DAY, fruit_lot, offer, usual_offers
from scipy.stats import spearmanr

from optimizer.blend.program import build
from optimizer.blend.recipe import best_settled, prepare_case
from optimizer.blend.request import Request
from optimizer.errors import InputFault
from optimizer.inputs.models import Site
from optimizer.market.correlation import check_correlation, price_factors
from optimizer.market.drivers import rank_drivers
from optimizer.market.job import Job, NoRecipe, cost_of
from optimizer.market.redraws import Redraws, draw_together
from optimizer.market.scenarios import Solved, cheapest_of, solve_scenarios, spot_check, summary
from optimizer.market.what_if import composition_scenarios, price_scenarios
from optimizer.solver import Draws, LinearProgram, solve_arrays

SITE = Site(ph_meter="yes", standard="codex", jars=())
PLUM, APPLE = "plum, flesh with skin", "apple, cooking, flesh with skin"
TWO_SPEEDS = (
    *usual_offers(),
    offer("Q", "pectin, HM (powder, grade 150)", 18.5, setting="rapid"),
    offer("S2", "cane/beet sugar, white", 0.92),
)


def job_of(*requests: Request, offers=TWO_SPEEDS, lots=None) -> Job:
    lots = (fruit_lot("X", PLUM, worth=0.3),) if lots is None else lots
    asked = requests or (Request(product="jam", batch_kg=50.0, on=DAY),)
    return Job(batches=asked, site=SITE, lots=tuple(lots), offers=offers, book=BOOK)


# ---- solves and statistics -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", ["prices", "redraws", "hopeless"])
def test_scenarios_equal_plain_solves(kind: str) -> None:
    """200 draws, each solved alone: cost, amounts, and whether there is an answer."""
    lp = made_up_blend(30)
    draws = {
        "prices": lambda: Draws(lp, cost=lp.cost * price_factors(np.random.default_rng(1), 200, np.full(42, 0.1))),
        "redraws": lambda: redraws(lp, 200, 0.1),
        "hopeless": lambda: redraws(tightened(lp, 0.38), 200, 0.1),
    }[kind]()
    received = np.random.default_rng(2).uniform(1.0, 2.0, (42, 1)) * np.eye(42)
    solved = solve_scenarios(draws, received)
    none = 0
    for i in range(200):
        plain = solve_arrays(draws.program(i))
        assert solved.answered[i] == (plain.objective is not None)
        if plain.objective is None or plain.x is None:
            none += 1
            continue
        assert solved.cost[i] == pytest.approx(plain.objective, rel=1e-7)
        cost = draws.of("cost", i)
        assert cost @ (solved.kg[i] / np.diag(received)) == pytest.approx(plain.objective, rel=1e-7)
    found = summary(solved, [str(j) for j in range(42)], draws.of("cost", slice(None)), [str(j) for j in range(42)])
    assert found.infeasible == none
    assert (none > 20) == (kind == "hopeless")
    assert found.certified == 200
    assert found.uncertified == 0


def hand(cost: list[float], kg: list[list[float]], certified: list[bool] | None = None) -> Solved:
    amounts = np.array(kg, dtype=float)
    return Solved(
        cost=np.array(cost, dtype=float), kg=amounts, taken=amounts > 0.0,
        certified=np.ones(len(cost), dtype=bool) if certified is None else np.array(certified), resolved=1, by_solver=2,
        seconds=0.0,
    )  # fmt: skip


def test_statistics_by_hand() -> None:
    """Costs 1 to 5: quartiles 2, 3, 4, the 5 % point 1 + 0.05 · 4; one scenario without a recipe, one not certified."""
    solved = hand(
        [3.0, 1.0, np.nan, 5.0, 2.0, 4.0, 9.0],
        [[1.0, 0.0], [0.0, 2.0], [0.0, 0.0], [3.0, 0.0], [0.0, 0.0], [0.0, 4.0], [7.0, 7.0]],
        [True, True, True, True, True, True, False],
    )
    found = summary(solved, ["A", "B"], np.arange(7.0)[:, None], ["number"])
    assert found.quantiles == tuple(
        zip((0.05, 0.25, 0.5, 0.75, 0.95), (pytest.approx(v) for v in (1.2, 2.0, 3.0, 4.0, 4.8)), strict=True)
    )
    assert (found.mean, found.standard_deviation) == (3.0, pytest.approx(np.sqrt(2.0)))
    assert (found.scenarios, found.certified, found.infeasible, found.uncertified) == (7, 6, 1, 1)
    assert (found.resolved, found.by_solver) == (1, 2)
    shares = {one.name: (one.share, one.mean_kg, one.mean_kg_if_taken) for one in found.taken}
    assert shares == {"A": (0.4, pytest.approx(0.8), 2.0), "B": (0.4, pytest.approx(1.2), 3.0)}
    assert any("left out of every figure" in words for words in found.said)


def test_the_cheapest_way_wins_in_each_scenario() -> None:
    one = hand([3.0, 1.0, np.nan, np.nan], [[1.0], [1.0], [0.0], [0.0]])
    other = hand([2.0, 2.0, 5.0, np.nan], [[0.0], [0.0], [4.0], [0.0]], [True, True, True, True])
    best = cheapest_of([one, other])
    assert best.cost.tolist()[:3] == [2.0, 1.0, 5.0]
    assert best.kg[:, 0].tolist() == [0.0, 1.0, 4.0, 0.0]
    assert best.answered.tolist() == [True, True, True, False]
    doubtful = replace(other, certified=np.array([False, True, True, True]))
    assert cheapest_of([one, doubtful]).certified.tolist() == [False, True, True, True]


def test_drivers_by_hand() -> None:
    """c = 3 a + b of independent a, b of one variance: shares 9/10 and 1/10. A square adds nothing to a linear one."""
    a, b = np.array([-1.0, -1.0, 1.0, 1.0]), np.array([-1.0, 1.0, -1.0, 1.0])
    found, explained = rank_drivers(np.column_stack([b, a, np.ones(4)]), ["b", "a", "still"], 3.0 * a + b + 7.0)
    assert [(d.what, d.share) for d in found] == [("a", pytest.approx(0.9)), ("b", pytest.approx(0.1))]
    assert explained == pytest.approx(1.0)
    z = np.linspace(-1.0, 1.0, 101)
    found, explained = rank_drivers(z[:, None], ["z"], z**2)
    assert abs(explained) < 1e-12
    found, explained = rank_drivers(np.column_stack([z, z]), ["one", "its twin"], 2.0 * z)
    assert [d.share for d in found] == [pytest.approx(0.5), pytest.approx(0.5)]
    assert rank_drivers(z[:, None], ["z"], np.full(101, 3.0)) == ((), 0.0)


def test_rank_correlations_are_spearmans() -> None:
    rng = np.random.default_rng(4)
    z = rng.integers(0, 6, (300, 3)).astype(float)  # with ties
    cost = np.exp(z[:, 0]) + z[:, 1] + rng.integers(0, 3, 300)
    found, _ = rank_drivers(z, ["0", "1", "2"], cost)
    for driver in found:
        expected = spearmanr(z[:, int(driver.what)], cost).statistic
        assert driver.rank_correlation == pytest.approx(expected, abs=1e-12)


def test_the_spot_check_goes_from_the_cheapest_to_the_dearest() -> None:
    asked: list[int] = []

    def anew(number: int) -> float | None:
        asked.append(number)
        return None if number == 20 else float(number) + 0.25

    found = spot_check(np.arange(10, 21), np.arange(10.0, 21.0), anew, 6)
    assert asked == [10, 12, 14, 16, 18, 20]
    assert (found.checked, found.failed) == (6, 1)
    assert found.largest_difference == pytest.approx(0.25)
    assert found.largest_relative == pytest.approx(0.25 / 10.25)


# ---- prices ----------------------------------------------------------------------------------------------------------


def test_means_spreads_and_correlations_are_reproduced() -> None:
    """40,000 draws: mean to 5 standard errors, spread and correlation of the logarithms likewise."""
    asked = np.array([[1.0, 0.6, -0.3], [0.6, 1.0, 0.0], [-0.3, 0.0, 1.0]])
    spreads = np.array([0.05, 0.2, 0.5])
    count = 40_000
    factors = price_factors(np.random.default_rng(7), count, spreads, check_correlation(asked, ["a", "b", "c"]))
    assert (factors > 0.0).all()
    assert np.abs(factors.mean(axis=0) - 1.0) == pytest.approx(np.zeros(3), abs=5 * 0.5 / np.sqrt(count))
    assert factors.std(axis=0) == pytest.approx(spreads, rel=0.05)
    assert np.corrcoef(np.log(factors).T) == pytest.approx(asked, abs=5.0 / np.sqrt(count))


def test_prices_that_move_as_one_and_spreads_of_nothing() -> None:
    factors = price_factors(np.random.default_rng(1), 50, np.array([0.1, 0.1, 0.0]), np.ones((3, 3)))
    assert factors[:, 0] == pytest.approx(factors[:, 1], rel=1e-12)
    assert (factors[:, 2] == 1.0).all()


def test_the_same_seed_gives_the_same_bits() -> None:
    def once(seed: int) -> bytes:
        rng = np.random.default_rng(seed)
        return price_factors(rng, 500, np.array([0.1, 0.2]), np.array([[1.0, 0.5], [0.5, 1.0]])).tobytes()

    assert once(7) == once(7)
    assert once(7) != once(8)
    job = job_of()
    first, second = (composition_scenarios(job, np.random.default_rng(3), 300, spot_checks=2) for _ in range(2))
    assert replace(first, seconds=0.0) == replace(second, seconds=0.0)


@pytest.mark.parametrize(
    ("matrix", "words"),
    [
        ([[1.0, 0.5], [0.4, 1.0]], "one way and"),
        ([[1.0, 1.5], [1.5, 1.0]], "give -1 to 1"),
        ([[0.9, 0.0], [0.0, 1.0]], "with itself"),
        ([[1.0, np.nan], [np.nan, 1.0]], "no number"),
        ([[1.0]], "need 2 rows"),
    ],
)
def test_correlations_that_mean_nothing_are_refused(matrix: list[list[float]], words: str) -> None:
    with pytest.raises(InputFault, match=words):
        check_correlation(np.array(matrix), ["sugar", "acid"])


@pytest.mark.parametrize("strength", [0.51, 0.7, 0.999])
def test_correlations_that_contradict_each_other_are_refused_with_a_cure_that_works(strength: float) -> None:
    """Three prices cannot all move against each other by more than a half."""
    off = -strength * (1.0 - np.eye(3))
    with pytest.raises(InputFault, match="cannot hold together") as caught:
        check_correlation(np.eye(3) + off, ["a", "b", "c"])
    told = str(caught.value)
    assert "a, b and c" in told
    factor = float(told.split("times ")[1].split(" ")[0])
    check_correlation(np.eye(3) + factor * off, ["a", "b", "c"])


# ---- a job -----------------------------------------------------------------------------------------------------------


def test_price_scenarios_of_a_job_against_settling_anew() -> None:
    """40 of them settled anew, offers of another setting speed and all: cost within 0.1 %."""
    job = job_of()
    codes = ["S", "S2", "A", "P", "Q"]
    base = np.array([0.9, 0.92, 2.0, 18.0, 18.5])
    prices = base * price_factors(np.random.default_rng(5), 400, np.full(5, 0.1))
    found = price_scenarios(job, codes, prices, spot_checks=40, seed=5)
    assert (found.scenarios, found.certified, found.infeasible) == (400, 400, 0)
    assert found.spot is not None
    assert (found.spot.checked, found.spot.failed) == (40, 0)
    assert found.spot.largest_relative < 1e-3
    assert found.cost_now == pytest.approx(cost_of(job).cost)
    shares = {one.name: one.share for one in found.taken}
    assert shares["S"] + shares["S2"] == pytest.approx(1.0)  # the cheaper sugar of the two, always
    assert shares["S"] == pytest.approx(float((prices[:, 0] < prices[:, 1]).mean()), abs=1e-9)
    assert 0.05 < shares["P"] < 0.95  # and now the one pectin, now the other
    assert shares["Q"] > 0.05
    assert found.drivers[0].what in ("S", "S2")
    assert any("settled anew" in words for words in found.said)
    assert found.seed == 5


def test_scenarios_at_the_present_prices_cost_what_the_job_costs() -> None:
    request = Request(product="jam", batch_kg=50.0, on=DAY, confidence=0.9)
    job = job_of(request, lots=[fruit_lot("X", PLUM), fruit_lot("Y", APPLE)])
    found = price_scenarios(job, ["S"], np.array([[0.9], [0.9]]), spot_checks=0)
    assert found.quantile(0.5) == pytest.approx(cost_of(job).cost, rel=1e-6)


@pytest.mark.parametrize("with_pectin", [False, True])
def test_two_batches_that_share_a_scarce_lot(with_pectin: bool) -> None:
    jam = Request(product="jam", batch_kg=50.0, on=DAY)
    butter = Request(product="butter", batch_kg=20.0, on=DAY)
    offers = tuple(o for o in TWO_SPEEDS if with_pectin or o.kind != "pectin")
    lots = [fruit_lot("X", PLUM, kg=65.0, worth=0.1), fruit_lot("Z", PLUM, worth=0.9)]
    job = job_of(jam, butter, lots=lots, offers=offers)
    assert cost_of(job).received_kg["X"] == pytest.approx(65.0)  # there is not enough of the cheap lot for both
    prices = np.array([0.9, 0.92]) * price_factors(np.random.default_rng(5), 60, np.full(2, 0.2))
    found = price_scenarios(job, ["S", "S2"], prices, spot_checks=12)
    assert found.certified == 60
    assert found.spot is not None
    assert found.spot.largest_relative < 2e-3


def test_redrawn_rows_are_those_of_the_rules() -> None:
    """Every coefficient and cost of 10 draws against a program built from streams with the drawn figures."""
    for product in ("jam", "jelly", "squash", "cheese"):
        request = Request(product=product, batch_kg=50.0, on=DAY, water_activity_most=0.9 if product == "jam" else None)
        lots = [fruit_lot("X", PLUM), fruit_lot("Y", APPLE, ph=3.4)]
        case, _ = prepare_case(request, SITE, lots, usual_offers(), BOOK)
        drawn = Redraws.of(case, np.random.default_rng(1), 10)
        block = next(drawn.blocks())
        for i in range(10):
            lp = build(replace(drawn.case, streams=drawn.streams(i))).lp
            assert block.of("matrix", i) == pytest.approx(lp.matrix, rel=1e-9, abs=1e-12)
            assert block.of("cost", i) == pytest.approx(lp.cost, rel=1e-9, abs=1e-12)
        assert np.ptp(block.of("matrix", slice(None)), axis=0).max() > 0.01


def test_a_row_of_the_book_errs_alike_in_all_batches() -> None:
    jam, _ = prepare_case(Request(product="jam", batch_kg=5.0, on=DAY), SITE, [fruit_lot("X", PLUM)], (), BOOK)
    jelly, _ = prepare_case(Request(product="jelly", batch_kg=5.0, on=DAY), SITE, [fruit_lot("X", PLUM)], (), BOOK)
    one, other = draw_together([jam, jelly], np.random.default_rng(1), 50)
    assert one.values["sweetness"][:, 0] == pytest.approx(other.values["sweetness"][:, 0])


def test_composition_scenarios_of_a_job_against_settling_anew() -> None:
    """Pectin of the book decides how much is bought: it must be what moves the cost."""
    job = job_of(offers=usual_offers())
    found = composition_scenarios(job, np.random.default_rng(3), 500, spot_checks=30, seed=3)
    assert found.certified == 500
    assert found.spot is not None
    assert found.spot.largest_relative < 0.02
    assert found.drivers[0].what == f"pectin of {PLUM}"
    assert found.drivers[0].share > 0.5
    assert found.drivers[0].rank_correlation < -0.7  # more pectin in the fruit: less is bought
    case, _ = prepare_case(job.batches[0], SITE, job.lots, job.offers, BOOK)
    drawn = draw_together([case], np.random.default_rng(3), 500)[0]
    best, _ = best_settled(replace(case, streams=drawn.streams(17)))
    assert best is not None
    assert found.quantile(0.05) * 0.8 < best.cost < found.quantile(0.95) * 1.2


def test_fruit_of_several_batches_is_not_settled_anew_and_that_is_said() -> None:
    job = job_of(offers=usual_offers())
    both = replace(job, batches=(*job.batches, replace(job.batches[0], product="butter")))
    found = composition_scenarios(both, np.random.default_rng(3), 60, spot_checks=5, seed=3)
    assert found.spot is None
    assert any("several batches" in words and "settled anew" in words for words in found.said)


def test_what_is_no_scenario_is_refused() -> None:
    job = job_of()
    with pytest.raises(InputFault, match="on neither table"):
        price_scenarios(job, ["nowhere"], np.ones((2, 1)))
    with pytest.raises(InputFault, match="as many columns"):
        price_scenarios(job, ["S", "A"], np.ones((2, 1)))
    with pytest.raises(InputFault, match="one line or more"):
        price_scenarios(job, ["S"], np.ones((0, 1)))
    with pytest.raises(InputFault, match="scenario 2, A: give a price"):
        price_scenarios(job, ["S", "A"], np.array([[1.0, 2.0], [1.0, np.nan]]))
    with pytest.raises(InputFault, match="give 1 or more"):
        composition_scenarios(job, np.random.default_rng(1), 0)
    with pytest.raises(InputFault, match="give 0 % or more"):
        price_factors(np.random.default_rng(1), 5, np.array([-0.1]))
    with pytest.raises(NoRecipe):
        price_scenarios(job_of(lots=[fruit_lot("X", PLUM, kg=1.0)]), ["S"], np.ones((2, 1)))
    lp = LinearProgram(
        cost=np.ones(1), matrix=np.ones((1, 1)), row_lower=np.full(1, 5.0), row_upper=np.full(1, np.inf),
        lower=np.zeros(1), upper=np.ones(1),
    )  # fmt: skip
    with pytest.raises(InputFault, match="none of 2 scenarios has a recipe"):
        summary(solve_scenarios(Draws(lp, cost=np.ones((2, 1))), np.eye(1)), ["a"], np.ones((2, 1)), ["a"])
