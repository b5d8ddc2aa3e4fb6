"""What every route shares: solve, check, solve again cold where the check fails, say so where it fails twice."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from .certificate import TOLERANCE, certify, certify_infeasible, primal_violation
from .highs import configured, highs_options, load, run
from .program import Array, LinearProgram, Outcome, Status
from .raw import PROVED_GAP, RawAnswer
from .scaling import Scaled, check_program, scaled

Route = Callable[[LinearProgram, bool], RawAnswer]  # (scaled program, second try?) -> answer


def settle(lp: LinearProgram, route: Route, *, solver: str) -> Outcome:
    """Run a route on a scaled copy of the program and hand back a certified outcome in the program's own units."""
    begin = time.perf_counter()
    check_program(lp)
    outcome = without_solver(lp)
    if outcome is None:
        units = scaled(lp)
        outcome = believe(lp, units, route(units.lp, False))
        if outcome.status is Status.FAILED:
            notes = (*outcome.notes, "solved again cold")
            outcome = believe(lp, units, route(units.lp, True))
            outcome = replace(outcome, notes=(*notes, *outcome.notes))
    return replace(outcome, solver=solver, seconds=time.perf_counter() - begin)


def believe(lp: LinearProgram, units: Scaled, raw: RawAnswer) -> Outcome:
    """Turn a solver's words into an outcome; an answer that does not pass the certificate becomes FAILED."""
    notes = (raw.note,) if raw.note else ()
    if raw.status is Status.INFEASIBLE:
        proved = raw.ray is not None and certify_infeasible(units.lp, raw.ray)
        return Outcome(status=Status.INFEASIBLE, certified=proved, notes=notes)
    if not raw.status.has_answer or raw.x is None:
        return Outcome(status=raw.status if not raw.status.has_answer else Status.FAILED, notes=notes)
    if lp.is_mixed_integer:
        return _believe_integer(lp, units, raw, notes)
    row_price = None if raw.row_price is None else units.row_price(raw.row_price)
    x = np.clip(raw.x, lp.lower, lp.upper)  # a solver may sit 1e-10 outside a bound
    verdict = certify(lp, x, row_price)
    if not verdict.ok or row_price is None:
        return Outcome(status=Status.FAILED, notes=(*notes, f"answer refused: {verdict.reason}"))
    objective = float(lp.cost @ x)
    return Outcome(
        status=raw.status,
        objective=objective,
        x=x,
        row_price=row_price,
        reduced_cost=lp.cost - row_price @ lp.matrix,
        bound=objective,
        certified=True,
        notes=notes,
    )


def _believe_integer(lp: LinearProgram, units: Scaled, raw: RawAnswer, notes: Sequence[str]) -> Outcome:
    assert lp.integer is not None
    assert raw.x is not None
    x = _rounded(lp, units, np.clip(raw.x, lp.lower, lp.upper))
    bound = None if raw.bound is None else raw.bound / units.cost_factor
    verdict = certify(lp, x, None, bound=bound)
    if not verdict.ok:
        return Outcome(status=Status.FAILED, notes=(*notes, f"answer refused: {verdict.reason}"))
    proved = raw.status is Status.OPTIMAL and (bound is None or verdict.gap <= PROVED_GAP)
    return Outcome(
        status=Status.OPTIMAL if proved else Status.STOPPED,
        objective=float(lp.cost @ x),
        x=x,
        bound=bound,
        certified=True,
        notes=tuple(notes),
    )


def _rounded(lp: LinearProgram, units: Scaled, x: Array) -> Array:
    """6.9999999 bags are 7 bags; where the rows do not bear that, the rest of the answer follows the rounding."""
    assert lp.integer is not None
    whole = np.where(lp.integer, np.round(x), x)
    if primal_violation(lp, whole) <= TOLERANCE:
        return whole
    lower, upper = np.where(lp.integer, whole, lp.lower), np.where(lp.integer, whole, lp.upper)
    highs = configured(highs_options())
    load(highs, replace(units.lp, lower=lower, upper=upper, integer=None))
    followed = run(highs, mixed_integer=False).x
    return x if followed is None else np.clip(followed, lower, upper)


def without_solver(lp: LinearProgram) -> Outcome | None:
    """Bounds that cross, rows of zeros and empty programs need no solver, and not every solver takes them."""
    empty_row = ~lp.matrix.any(axis=1)
    if (
        (lp.lower > lp.upper).any()
        or (lp.row_lower > lp.row_upper).any()
        or (empty_row & ((lp.row_lower > 0.0) | (lp.row_upper < 0.0))).any()
    ):
        return Outcome(status=Status.INFEASIBLE, certified=True, notes=("bounds that cross",))
    if lp.matrix.shape[1] == 0:
        m = lp.matrix.shape[0]
        prices = None if lp.is_mixed_integer else np.zeros(m)
        return Outcome(
            status=Status.OPTIMAL, objective=0.0, x=np.zeros(0), row_price=prices, reduced_cost=np.zeros(0),
            bound=0.0, certified=True,
        )  # fmt: skip
    return None
