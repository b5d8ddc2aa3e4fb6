"""Whole numbers: against every subset tried one by one, against scipy's own search, and by hand."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from how_many import EXAMPLES, examples
from hypothesis import given, settings
from hypothesis import strategies as st
from markets import BOOK, DAY, Market, fruit_lot, markets, offer, usual_offers
from scipy.optimize import Bounds, LinearConstraint, linprog, milp

from optimizer.blend.case import Case
from optimizer.blend.discrete import settle_whole
from optimizer.blend.program import Program
from optimizer.blend.recipe import make_recipe, prepare_case
from optimizer.blend.request import FruitShare, Request
from optimizer.blend.result import Recipe
from optimizer.blend.settle import Settled, settle, variants
from optimizer.blend.whole_program import whole_program
from optimizer.errors import InputFault
from optimizer.inputs.models import Lot, Offer, Site
from optimizer.solver import LinearProgram, Status, solve

SITE = Site(ph_meter="yes")
APPLE, PLUM = "apple, cooking, flesh with skin", "plum, flesh with skin"
STRAWBERRY = "strawberry, whole berry"
counted: Counter[str] = Counter()


def _settled(market: Market, **asked: object) -> Iterator[Settled]:
    """The settled variants of a market at the mean, with something asked in whole numbers."""
    request = replace(market.request, **asked)
    case, _ = prepare_case(request, market.site, market.lots, market.offers, BOOK)
    for variant in variants(case):
        found = settle(variant)
        if isinstance(found, Settled):
            yield found


def _linear(lp: LinearProgram, upper: np.ndarray, rows: list[np.ndarray]) -> float:
    """Least cost by scipy under other column bounds and with more rows ≥ 0; infinite where there is none."""
    a, low, high = lp.matrix, lp.row_lower, lp.row_upper
    ups, downs = np.isfinite(high), np.isfinite(low)
    matrix = np.vstack([a[ups], -a[downs], *(-row[None, :] for row in rows)])
    size = np.abs(matrix).max(axis=1)
    sides = np.concatenate([high[ups], -low[downs], np.zeros(len(rows))])
    found = linprog(lp.cost, A_ub=matrix / size[:, None], b_ub=sides / size, bounds=np.column_stack([lp.lower, upper]))
    return float(found.fun) if found.status == 0 else np.inf


def _shares(program: Program, fruits: tuple[str, ...]) -> list[np.ndarray]:
    """e · use of a fruit - share · Σ e · use of all of the mix ≥ 0, written here anew."""
    rows = []
    for fruit in fruits:
        law = program.case.limits.least_share_of_mix(fruit)
        if law is None or len(fruits) < 2:
            continue
        row = np.zeros(program.lp.cost.size)
        for j, s in enumerate(program.case.streams):
            if s.kind == "fruit":
                row[j] = s.per_kg.fruit_equivalent * (float(s.fruit == fruit) - law.value)
        rows.append(row)
    return rows


def _by_subsets(program: Program, most: int) -> float:
    """Every set of at most `most` fruits, one linear program each."""
    streams = program.case.streams
    names = sorted({s.fruit for s in streams if s.kind == "fruit"})
    best = np.inf
    for count in range(1, most + 1):
        for chosen in combinations(names, count):
            upper = program.lp.upper.copy()
            for j, s in enumerate(streams):
                if s.kind == "fruit" and s.fruit not in chosen:
                    upper[j] = 0.0
            best = min(best, _linear(program.lp, upper, _shares(program, chosen)))
    return best


@settings(max_examples=examples(40))
@given(market=markets(), most=st.integers(1, 3))
def test_fruits_chosen_are_the_best_of_all_subsets(market: Market, most: int) -> None:
    """At one state; subsets of a mix, each fruit with the share that the standard asks, by scipy's simplex."""
    for found in _settled(market, most_fruits=most):
        program = found.program
        whole = whole_program(program)
        outcome = solve(whole.lp)
        kinds = program.case.limits.single("fruit_kinds", "max", "mixed fruit")
        expected = _by_subsets(program, most if kinds is None else min(most, round(kinds.value)))
        size = float(np.abs(program.lp.cost) @ np.abs(found.x))
        if outcome.objective is None:
            counted["subsets: none"] += 1
            assert not np.isfinite(expected)
            continue
        counted["subsets: found"] += 1
        assert outcome.certified
        assert outcome.objective == pytest.approx(expected, abs=2e-6 * size)
        assert outcome.objective >= found.cost - 1e-7 * size  # the plain program is its relaxation


def test_the_markets_hold_choices_enough() -> None:
    """Runs after the test above: it would say little if nearly all programs were impossible."""
    if counted and EXAMPLES >= 100:  # a quick run draws too few to say
        assert counted["subsets: found"] >= 10


def _many_lots(seed: int, lots: int) -> tuple[tuple[Lot, ...], tuple[Offer, ...]]:
    rng = np.random.default_rng(seed)
    items = [item for item, p in BOOK.fruits.items() if p.brix_fraction and p.acid_fraction and not p.is_low_acid]
    stock = tuple(
        fruit_lot(f"F{k}", items[int(rng.integers(len(items)))], kg=float(rng.uniform(5.0, 60.0)),
                  worth=round(float(rng.uniform(0.02, 0.6)), 3))
        for k in range(lots)
    )  # fmt: skip
    sugar = [
        offer("S1", "cane/beet sugar, white", 0.9, pack=25.0, least_packs=1.0),
        offer("S2", "cane/beet sugar, white", 0.75, pack=20.0, least_packs=3.0),
        offer("G", "liquid glucose / corn syrup", 0.6, pack=10.0),
    ]
    return stock, (*sugar, *usual_offers()[1:])


def _by_scipy(program: Program, most: int, least: float) -> float:
    """The same search written another way: one binary per stream and per fruit, packs as whole columns."""
    lp, streams = program.lp, program.case.streams
    n, s = lp.cost.size, len(streams)
    fruits = sorted({t.fruit for t in streams if t.kind == "fruit"})
    used, kinds, packs = n, n + s, n + s + len(fruits)
    width = packs + s
    cost = np.concatenate([lp.cost, np.zeros(s + len(fruits) + s)])
    upper = np.concatenate([lp.upper, np.ones(s + len(fruits)), np.zeros(s)])
    rows, low, high = [], [], []

    def add(entries: dict[int, float], lower: float, higher: float) -> None:
        row = np.zeros(width)
        for j, value in entries.items():
            row[j] += value
        rows.append(row)
        low.append(lower)
        high.append(higher)

    for j, t in enumerate(streams):
        bound = min(
            float(lp.upper[j]), np.inf if t.received_most_kg is None else t.received_most_kg * t.usable_fraction
        )
        add({j: 1.0, used + j: -bound}, -np.inf, 0.0)
        if t.kind == "fruit":
            add({used + j: 1.0, kinds + fruits.index(t.fruit): -1.0}, -np.inf, 0.0)
            add({j: 1.0, used + j: -least * t.usable_fraction}, 0.0, np.inf)
        if t.pack_kg is not None:
            cost[j] -= t.price_per_received_kg / t.usable_fraction
            cost[packs + j] = t.price_per_received_kg * t.pack_kg
            upper[packs + j] = 100.0
            add({j: 1.0, packs + j: -t.pack_kg * t.usable_fraction}, -np.inf, 0.0)
            add({packs + j: 1.0, used + j: -t.least_order_kg / t.pack_kg}, 0.0, np.inf)
    add({kinds + k: 1.0 for k in range(len(fruits))}, 0.0, float(most))
    for k, fruit in enumerate(fruits):
        law = program.case.limits.least_share_of_mix(fruit)
        if law is not None:
            entries = {
                j: t.per_kg.fruit_equivalent * (float(t.fruit == fruit) - law.value)
                for j, t in enumerate(streams)
                if t.kind == "fruit"
            }
            add({**entries, kinds + k: -200.0}, -200.0, np.inf)
    size = np.abs(lp.matrix).max(axis=1)
    own = np.hstack([lp.matrix / size[:, None], np.zeros((lp.matrix.shape[0], width - n))])
    constraints = [
        LinearConstraint(own, lp.row_lower / size, lp.row_upper / size),
        LinearConstraint(np.array(rows), low, high),
    ]
    found = milp(
        cost, constraints=constraints, integrality=(np.arange(width) >= n).astype(int),
        bounds=Bounds(np.concatenate([lp.lower, np.zeros(width - n)]), upper), options={"mip_rel_gap": 1e-8},
    )  # fmt: skip
    return float(found.fun) if found.status == 0 else np.inf


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("standard", ["none", "us", "india"])
def test_a_larger_table_agrees_with_scipy(seed: int, standard: str) -> None:
    """Fourteen lots, at most four fruits, at least 15 kg of a lot, sugar in whole packs, shares of the standard."""
    lots, offers = _many_lots(seed, 14)
    request = Request(
        product="jam", batch_kg=100.0, on=DAY, standard=standard, most_fruits=4, least_kg_if_used={"fruit": 15.0},
        whole_packs=True,
    )  # fmt: skip
    case, _ = prepare_case(request, SITE, lots, offers, BOOK)
    tried = 0
    for variant in variants(case):
        found = settle(variant)
        if isinstance(found, Settled):
            tried += 1
            whole = whole_program(found.program)
            outcome = solve(whole.lp)
            expected = _by_scipy(found.program, 4, 15.0)
            assert (outcome.objective is None) == (not np.isfinite(expected))
            if outcome.objective is not None:
                assert outcome.status is Status.OPTIMAL
                assert outcome.objective == pytest.approx(expected, rel=5e-6)
                assert outcome.objective >= found.cost * (1.0 - 1e-9)
                assert solve(whole.lp, solver="cbc").objective == pytest.approx(expected, rel=5e-6)
    assert tried


# ---- recipes ---------------------------------------------------------------------------------------------------------


def _three(**asked: object) -> Recipe:
    """Apple aplenty, and little of two cheap fruits: a jam that would take a token of each."""
    lots = (
        fruit_lot("F1", APPLE, kg=500.0, worth=0.12),
        fruit_lot("F2", PLUM, kg=60.0, worth=0.10),
        fruit_lot("F3", STRAWBERRY, kg=8.0, worth=0.02),
    )
    packs = asked.pop("packs", {})
    offers = tuple(o.model_copy(update=packs) if o.offer == "S" else o for o in usual_offers())
    return make_recipe(Request(product="jam", batch_kg=100.0, on=DAY, **asked), SITE, lots, offers, BOOK)


@pytest.mark.parametrize(("standard", "share"), [("us", 0.2), ("india", 0.1)])
def test_each_fruit_of_a_mix_is_in_earnest_or_absent(standard: str, share: float) -> None:
    """21 CFR 150.160 (b)(2): a fifth of each fruit (from memory; read for jelly and butter); India a tenth."""
    plain = _three(standard="none")
    assert min(plain.fruit_shares.values()) < share
    held = _three(standard=standard)
    assert held.status == "optimal"
    assert all(found >= share - 1e-6 for found in held.fruit_shares.values()) or len(held.fruit_shares) == 1
    assert held.certified
    assert not [text for text in held.warnings if "of each fruit in a mix" in text]


def test_a_recipe_that_keeps_the_shares_stays_plain() -> None:
    """Ordinary requests keep their prices; where whole numbers decide there are none, not zeros."""
    plain = _three(standard="none", most_fruits=3)
    assert plain.gap is None
    assert plain.bound is None
    assert any(row.price for row in plain.rows)
    whole = _three(standard="none", most_fruits=1)
    assert len(whole.fruit_shares) == 1
    assert whole.gap is not None
    assert whole.gap <= 1e-6
    assert whole.costs is not None
    assert whole.bound == pytest.approx(whole.costs.total, rel=1e-6)
    assert all(row.price is None and row.price_holds is None and row.if_moved is None for row in whole.rows)
    assert whole.would_change == ()


def test_fruits_aplenty_allowed_change_nothing() -> None:
    free, many = _three(standard="none"), _three(standard="none", most_fruits=50)
    assert free.costs is not None
    assert many.costs is not None
    assert many.costs.total == free.costs.total


@pytest.mark.parametrize("seed", range(20, 27))
def test_at_most_two_fruits_cost_what_the_best_pair_costs(seed: int) -> None:
    """Each single fruit and pair as a recipe of its own, settled from the start; 30 kg of each are too little alone."""
    lots, _ = _many_lots(seed, 6)
    lots = tuple(
        lot.model_copy(update={"on_hand_kg": 30.0, "worth_uncooked_per_kg": 0.1 * lot.worth_uncooked_per_kg})
        for lot in lots
    )
    request = Request(product="preserve", batch_kg=80.0, on=DAY, standard="none", fruit_least_fraction=0.45)
    case, _ = prepare_case(request, SITE, lots, usual_offers(), BOOK)
    fruit = {s.id: s.fruit for s in case.streams if s.kind == "fruit"}  # the juice of a lime is an acid
    names = sorted(set(fruit.values()))
    costs = []
    for chosen in [*combinations(names, 1), *combinations(names, 2)]:
        mine = [lot for lot in lots if lot.lot not in fruit or fruit[lot.lot] in chosen]
        made = make_recipe(request, SITE, mine, usual_offers(), BOOK)
        if made.costs is not None:
            costs.append(made.costs.total)
    found = make_recipe(replace(request, most_fruits=2), SITE, lots, usual_offers(), BOOK)
    assert found.costs is not None
    counted["pairs"] += found.gap is not None
    assert found.costs.total == pytest.approx(min(costs), rel=1e-4)


def test_most_pairs_were_a_choice() -> None:
    """Runs after the test above: a plain recipe of two fruits shows nothing."""
    if counted["pairs"]:
        assert counted["pairs"] >= 5


def test_no_token_amounts() -> None:
    """8 kg of strawberry are less than the 20 kg asked for: none is used."""
    found = _three(standard="none", least_kg_if_used={"fruit": 20.0})
    assert found.status == "optimal"
    assert "strawberry" not in found.fruit_shares
    assert all(a.received_kg >= 20.0 - 1e-6 for a in found.amounts if a.stream.kind == "fruit")
    one = _three(standard="none", least_kg_if_used={"F3": 5.0})
    assert one.gap is None  # all 8 kg are used anyway


@pytest.mark.parametrize(("least_packs", "expected"), [(1.0, 2), (4.0, 4)])
def test_whole_packs_are_paid_whole(least_packs: float, expected: int) -> None:
    """About 51 kg of sugar in packs of 30 kg at 0.9: two are 54; sold from four on, 108. Half are left over or used."""
    free = _three(standard="none")
    loose = next(a.received_kg for a in free.amounts if a.stream.id == "S")
    assert 30.0 < loose < 60.0
    found = _three(standard="none", whole_packs=True, packs={"pack": 30.0, "least_packs": least_packs})
    assert found.costs is not None
    (pack,) = found.packs
    used = next(a.received_kg for a in found.amounts if a.stream.id == "S")
    assert pack.packs == expected
    assert pack.cost == found.costs.parts["sugar"] == pytest.approx(30.0 * 0.9 * expected)
    assert pack.left_over_kg == pytest.approx(30.0 * expected - used, abs=1e-9)
    assert not [text for text in found.warnings if "is sold from" in text]


def test_one_pack_less_where_the_batch_bears_it() -> None:
    """Packs of 50 kg: rather 50 kg with some more fruit than a second pack."""
    found = _three(standard="none", whole_packs=True, packs={"pack": 50.0})
    assert [pack.packs for pack in found.packs] == [1]


def test_cbc_finds_the_same() -> None:
    asked = {"standard": "us", "whole_packs": True, "least_kg_if_used": {"fruit": 10.0}, "packs": {"pack": 20.0}}
    by_highs, by_cbc = _three(**dict(asked)), _three(**dict(asked), solver="cbc")
    assert by_highs.costs is not None
    assert by_cbc.costs is not None
    assert by_cbc.costs.total == pytest.approx(by_highs.costs.total, rel=1e-6)
    assert by_cbc.packs == by_highs.packs or by_cbc.packs[0].packs == by_highs.packs[0].packs


def test_confidence_goes_along() -> None:
    """Margins are held by the fruits chosen: never cheaper than at the mean."""
    sure, mean = (_three(standard="none", most_fruits=1, confidence=p) for p in (0.9, 0.5))
    assert sure.costs is not None
    assert mean.costs is not None
    assert sure.costs.total >= mean.costs.total
    strength = next(row for row in sure.rows if row.id == "pectin_strength")
    assert strength.lower is not None
    assert strength.value - (strength.margin or 0.0) >= strength.lower * (1.0 - 1e-6)


def test_no_choice_says_which_whole_number_stands_in_the_way() -> None:
    """45 kg of fruit are needed at least; each of two lots holds 30 kg."""
    lots = (fruit_lot("F1", APPLE, kg=30.0), fruit_lot("F2", PLUM, kg=30.0))
    request = Request(product="jam", batch_kg=100.0, on=DAY, standard="none", most_fruits=1)
    assert make_recipe(replace(request, most_fruits=None), SITE, lots, usual_offers(), BOOK).status == "optimal"
    found = make_recipe(request, SITE, lots, usual_offers(), BOOK)
    assert found.status == "none"
    assert "at most 1 fruit" in found.why[0]


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"most_fruits": 0}, "give 1 or more"),
        ({"least_kg_if_used": {"fruit": -1.0}}, "positive mass"),
        ({"least_kg_if_used": {"plumm": 5.0}}, "plum"),
    ],
)
def test_what_means_nothing_is_refused(asked: dict[str, object], said: str) -> None:
    with pytest.raises(InputFault, match=said):
        _three(**asked)


def test_a_choice_can_be_settled_alone() -> None:
    """`settle_whole` on one variant: the outcome is certified and its cost counts the packs."""
    lots, offers = _many_lots(3, 6)
    request = Request(product="jam", batch_kg=100.0, on=DAY, standard="none", whole_packs=True,
                      fruits=(FruitShare(fruit="apple", sense="<=", share_fraction=0.9),) if any(
                          lot.item.startswith("apple") for lot in lots) else ())  # fmt: skip
    case, _ = prepare_case(request, SITE, lots, offers, BOOK)
    variant: Case = next(iter(variants(case)))
    plain = settle(variant)
    assert isinstance(plain, Settled)
    found = settle_whole(variant, plain)
    assert isinstance(found, Settled)
    assert found.outcome.certified
    fuel_and_loose = float(np.dot([s.cost_per_pan_kg * (s.pack_kg is None) for s in found.case.streams],
                                  found.x[: len(found.case.streams)]))  # fmt: skip
    assert found.cost == pytest.approx(fuel_and_loose + sum(pack.cost for pack in found.packs), rel=1e-9)
