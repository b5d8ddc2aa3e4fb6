"""Rows with a margin: against an independent nonlinear solver, by simulation, and by what a margin must not do."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise
from statistics import NormalDist

import numpy as np
import pytest
from markets import BOOK, DAY, FRUITS, fruit_lot, usual_offers
from scipy.optimize import minimize

from optimizer.blend.case import Case
from optimizer.blend.margins import cut_rows, cuts_for, margin_of, margin_rows, settle_with_margins
from optimizer.blend.program import build
from optimizer.blend.recipe import prepare_case
from optimizer.blend.request import Request
from optimizer.blend.settle import Settled, settle, variants
from optimizer.errors import InputFault
from optimizer.inputs.models import Lot, Site

SURE = [item for item in FRUITS if not BOOK.fruits[item].is_low_acid and not BOOK.fruits[item].is_peel]
FIGURE = {"pectin_strength": "pectin_strength", "least_solids": "solids_fraction"}


def blend(*lots: Lot, refractometer: bool = True, pectin: float = 18.0, kg: float = 50.0, product: str = "jam") -> Case:
    """The one variant that buys pectin of medium speed."""
    request = Request(product=product, batch_kg=kg, on=DAY, standard="none")
    site = Site(has_refractometer=refractometer)
    case, _ = prepare_case(request, site, lots, usual_offers(pectin=pectin), BOOK)
    return next(v for v in variants(case) if any(s.kind == "pectin" for s in v.streams))


def plums_and_strawberries(**more: float) -> tuple[Lot, ...]:
    return (
        fruit_lot("F1", "plum, flesh with skin", kg=40.0, worth=0.30, **more),
        fruit_lot("F2", "strawberry, whole berry", kg=40.0, worth=0.35, **more),
    )


def found_for(case: Case, confidence: float) -> Settled:
    found = settle_with_margins(case, confidence)
    assert isinstance(found, Settled)
    assert found.outcome.certified
    assert not found.left_over
    return found


def lines_by_hand(case: Case, row_id: str) -> np.ndarray:
    """E written out again: (sources, n)."""
    keys = sorted({e.key for s in case.streams for e in s.errors if e.figure == FIGURE[row_id]})
    matrix = np.zeros((len(keys), len(case.streams)))
    # 1.0526 kg of invert sugar from 1 kg of sucrose (molar masses); it reads 2.2 % low (rule of AOAC, from memory)
    gain = (360.31 / 342.30 * (1.0 - 0.022) - 1.0) * case.assumed.inverted_fraction
    for i, s in enumerate(case.streams):
        for e in s.errors:
            if e.figure != FIGURE[row_id] or (row_id == "pectin_strength" and s.per_kg.pectin_strength == 0.0):
                continue
            c = s.per_kg
            inverting = 1.0 if row_id == "pectin_strength" else 1.0 + gain * c.sucrose_fraction / c.reading_fraction
            matrix[keys.index(e.key), i] = e.sd_per_kg * inverting
    return matrix


def random_lots(seed: int) -> tuple[Lot, ...]:
    rng = np.random.default_rng(seed)
    items = rng.choice(SURE, size=int(rng.integers(2, 6)), replace=False)
    lots = []
    for number, item in enumerate(items):
        part = BOOK.fruits[item]
        measured = {"brix_fraction": part.brix_fraction.value} if rng.random() < 0.4 else {}
        if rng.random() < 0.3:
            measured["pectin_fraction"] = part.pectin_fraction.value
        worth, kg = float(rng.uniform(0.1, 0.8)), float(rng.uniform(10.0, 60.0))
        lots.append(fruit_lot(f"F{number}", item, kg=kg, worth=worth, **measured))
    return tuple(lots)


def nonlinear_optimum(case: Case, start: np.ndarray, z: float) -> float:
    """The same batch with the norm itself as constraint, by sequential quadratic programming."""
    plain = replace(case, cuts=())
    program = build(plain)
    lp = program.lp
    scale = case.request.batch_kg
    equal = lp.row_lower == lp.row_upper
    size = np.maximum(np.abs(lp.matrix).max(axis=1), 1e-12)
    rows, low, high = lp.matrix / size[:, None], lp.row_lower / size / scale, lp.row_upper / size / scale
    constraints = [{"type": "eq", "fun": lambda y: rows[equal] @ y - low[equal], "jac": lambda y: rows[equal]}]
    least, most = ~equal & np.isfinite(low), ~equal & np.isfinite(high)
    constraints.append({"type": "ineq", "fun": lambda y: rows[least] @ y - low[least], "jac": lambda y: rows[least]})
    constraints.append({"type": "ineq", "fun": lambda y: high[most] - rows[most] @ y, "jac": lambda y: -rows[most]})
    for row in margin_rows(plain):
        lines = np.pad(lines_by_hand(plain, row.id), ((0, 0), (0, 3)))
        form = row.linear()[0]
        size_of_row = float(np.abs(form).max())
        form, lines = form / size_of_row, lines / size_of_row

        def room(y: np.ndarray, form: np.ndarray = form, lines: np.ndarray = lines) -> float:
            return float(form @ y - z * np.linalg.norm(lines @ y))

        def slope(y: np.ndarray, form: np.ndarray = form, lines: np.ndarray = lines) -> np.ndarray:
            e = lines @ y
            return form - z * (lines.T @ e) / max(float(np.linalg.norm(e)), 1e-15)

        constraints.append({"type": "ineq", "fun": room, "jac": slope})
    y = start / scale
    for _ in range(4):  # a new start clears what rounding has done to its idea of the curvature
        answer = minimize(
            lambda y: float(lp.cost @ y),
            y,
            jac=lambda y: lp.cost,
            bounds=list(zip(lp.lower / scale, lp.upper / scale, strict=True)),
            constraints=constraints,
            method="SLSQP",
            options={"maxiter": 1000, "ftol": 1e-12},
        )
        y = answer.x
    # It may stop where rounding lets it go no further: what counts is a point that keeps every constraint.
    for c in constraints:
        worst = np.min(c["fun"](y)) if c["type"] == "ineq" else -np.max(np.abs(c["fun"](y)))
        assert worst >= -1e-7
    return float(lp.cost @ y) * scale


@pytest.mark.parametrize("refractometer", [True, False])
@pytest.mark.parametrize("seed", range(12))
def test_cuts_reach_the_optimum_of_a_nonlinear_solver(seed: int, refractometer: bool) -> None:
    case = blend(*random_lots(seed), refractometer=refractometer)
    found = settle_with_margins(case, 0.95)
    if not isinstance(found, Settled):
        pytest.skip("no recipe of these fruits")
    start = found_for(case, 0.99).x if isinstance(settle_with_margins(case, 0.99), Settled) else found.x
    assert nonlinear_optimum(found.case, start, NormalDist().inv_cdf(0.95)) == pytest.approx(found.cost, rel=1e-6)


def test_most_random_fruits_make_a_recipe() -> None:
    """The comparison above would say little if it skipped most of its cases."""
    solved = [isinstance(settle_with_margins(blend(*random_lots(seed)), 0.95), Settled) for seed in range(12)]
    assert sum(solved) >= 10


@pytest.mark.parametrize("confidence", [0.75, 0.9, 0.99])
@pytest.mark.parametrize("seed", [0, 1, 2])
def test_rows_hold_as_often_as_promised(seed: int, confidence: float) -> None:
    """10,000 batches with errors drawn anew; at most 4 standard errors of the share below the confidence."""
    found = found_for(blend(*random_lots(seed), refractometer=False), confidence)
    case, x, draws = found.case, found.x, 10_000
    n = len(case.streams)
    rng = np.random.default_rng(seed)
    for row in margin_rows(case):
        lines = lines_by_hand(case, row.id)
        errors = rng.standard_normal((draws, len(lines))) @ (lines @ x[:n])
        share = float(np.mean(row.linear()[0] @ x + errors >= -1e-7))
        assert share >= confidence - 4.0 * math.sqrt(confidence * (1.0 - confidence) / draws)


@pytest.mark.parametrize("refractometer", [True, False])
def test_splitting_a_lot_buys_nothing_where_the_figure_is_of_the_book(refractometer: bool) -> None:
    whole = blend(*plums_and_strawberries(), refractometer=refractometer)
    first, second = plums_and_strawberries()
    halves = [first.model_copy(update={"lot": f"F1{half}", "on_hand_kg": 20.0}) for half in "ab"]
    split = blend(*halves, second, refractometer=refractometer)
    assert found_for(split, 0.95).cost == pytest.approx(found_for(whole, 0.95).cost, rel=1e-7)


def test_two_measured_lots_err_apart() -> None:
    """sd of a sum of two equal independent errors is 1/√2 of that of one: by hand."""
    lots = [fruit_lot(f"F{i}", "plum, flesh with skin", kg=12.0, pectin_fraction=0.008) for i in "ab"]
    case = blend(*lots)
    row = margin_rows(case)[0]
    x = np.zeros(len(case.streams) + 3)
    x[-1] = 50.0
    one, both = x.copy(), x.copy()
    one[0], both[0], both[1] = 20.0, 10.0, 10.0
    assert margin_of(case, row, both, 0.9) == pytest.approx(margin_of(case, row, one, 0.9) / math.sqrt(2.0))


def test_at_half_there_is_no_margin() -> None:
    case = blend(*plums_and_strawberries(), refractometer=False)
    plain, found = settle(case), found_for(case, 0.5)
    assert isinstance(plain, Settled)
    assert found.x == pytest.approx(plain.x, rel=1e-12)
    assert not found.case.cuts


@pytest.mark.parametrize("confidence", [0.49, 0.0, 1.0, 1.2, math.nan])
def test_a_confidence_that_is_none_is_refused(confidence: float) -> None:
    with pytest.raises(InputFault, match=r"confidence of .*0\.9"):
        settle_with_margins(blend(*plums_and_strawberries()), confidence)


@pytest.mark.parametrize("refractometer", [True, False])
def test_more_confidence_never_costs_less(refractometer: bool) -> None:
    case = blend(*plums_and_strawberries(), refractometer=refractometer)
    costs = [found_for(case, p).cost for p in (0.5, 0.6, 0.75, 0.9, 0.95, 0.99)]
    assert all(after >= before * (1.0 - 1e-9) for before, after in pairwise(costs))
    assert costs[-1] > costs[0] * 1.001


def test_solids_carry_a_margin_only_without_a_refractometer() -> None:
    for refractometer, ids in ((True, {"pectin_strength"}), (False, {"pectin_strength", "least_solids"})):
        found = found_for(blend(*plums_and_strawberries(), refractometer=refractometer), 0.9)
        assert {row.id for row in found.program.rows if row.is_cut} == ids
        for row in margin_rows(found.case):
            assert row.value(found.x) - margin_of(found.case, row, found.x, 0.9) >= row.bound * (1.0 - 1e-6)


def test_a_cut_keeps_id_and_bound_and_only_lowers_the_value() -> None:
    case = blend(*plums_and_strawberries())
    plain = settle(case)
    assert isinstance(plain, Settled)
    cuts = cuts_for(plain.case, plain.x, 0.9)
    (row,) = margin_rows(plain.case)
    (cut,) = cut_rows(plain.case, cuts)
    assert (cut.id, cut.lower, cut.reason) == (row.id, row.lower, row.reason)
    # A tangent touches the margin where it was taken.
    expected = row.value(plain.x) - margin_of(plain.case, row, plain.x, 0.9)
    assert cut.value(plain.x) == pytest.approx(expected, rel=1e-12)


def test_where_no_pectin_can_be_bought_the_margin_is_met_by_fruit_or_refused() -> None:
    """Fruit alone cannot promise what its own error is as large as: the answer is none, not a thinner margin."""
    request = Request(product="jam", batch_kg=50.0, on=DAY, standard="none")
    lots = (fruit_lot("F1", "strawberry, whole berry", kg=500.0),)
    offers = tuple(o for o in usual_offers() if o.kind != "pectin")
    case, _ = prepare_case(request, Site(), lots, offers, BOOK)
    for variant in variants(case):
        assert not isinstance(settle_with_margins(variant, 0.9999), Settled)
