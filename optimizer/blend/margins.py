"""Recipes at a chosen confidence: rows whose figures err are met with a margin, by tangent cuts of a linear program.

A margin is carried only by what cannot be put right at the pan: the strength of pectin always, soluble solids where no
refractometer says when to stop. There is none on pH: a solver would buy acid and citrate to drown the uncertainty.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from statistics import NormalDist

import numpy as np

from optimizer.blend.case import Case
from optimizer.blend.cuts import Cut, error_lines, with_cuts
from optimizer.blend.rows import Row
from optimizer.blend.rules import rows_of
from optimizer.blend.rules.pectin import pectin_strength
from optimizer.blend.rules.solids import least_solids
from optimizer.blend.settle import Settled, Stuck, settle, solve_declared
from optimizer.errors import InputFault
from optimizer.solver.program import Array

VIOLATION = 1e-7  # of what the row holds
_ROUNDS = 12  # of settling the state
_CUT_ROUNDS = 60  # at one state


def standard_deviations(confidence: float) -> float:
    """How many standard deviations a row must bear at a confidence.

    Raises
    ------
    InputFault
        Below 0.5 a margin would be a wager, and at 1 no recipe exists.

    Examples
    --------
    >>> round(standard_deviations(0.9), 4)
    1.2816
    """
    if not 0.5 <= confidence < 1.0:
        raise InputFault(f"confidence of {confidence:g}: give 0.5 (no margin) or more, and less than 1, such as 0.9")
    return NormalDist().inv_cdf(confidence) if confidence > 0.5 else 0.0


def carries_margin(case: Case, row_id: str) -> bool:
    """Whether a row is met with a margin: what the cook cannot put right at the pan."""
    return row_id == "pectin_strength" or (row_id == "least_solids" and not case.site.has_refractometer)


def margin_rows(case: Case) -> tuple[Row, ...]:
    """The rows of a case that carry a margin, without their cuts."""
    plain = rows_of(replace(case, cuts=()), only=(pectin_strength, least_solids))
    return tuple(row for row in plain if carries_margin(case, row.id))


def spread(case: Case, row: Row, x: Array) -> float:
    """‖E x‖: one standard deviation of the numerator of a row at a recipe x, (n + 3,) [kg]."""
    _, lines = error_lines(row, case.streams)
    return float(np.linalg.norm(lines @ x[: len(case.streams)]))


def margin_of(case: Case, row: Row, x: Array, confidence: float) -> float:
    """The margin of a row at a recipe x, (n + 3,) [kg], in the unit of the row: z ‖E x‖ / denominator.

    The value of the row at the mean, less this, is what holds at the confidence.
    """
    margin = standard_deviations(confidence) * spread(case, row, x)
    return margin if row.denominator is None else margin / row.denominator.at(x)


def cuts_for(case: Case, x: Array, confidence: float, *, violation: float = VIOLATION) -> tuple[Cut, ...]:
    """Tangents at x of the rows that x does not meet at the confidence; none where it meets all.

    Parameters
    ----------
    case : Case
        The batch, at the state x was found with.
    x : array
        (n + 3,) [kg]: streams, water, boil-off, finished.
    confidence : float
        From 0.5 to below 1.
    violation : float
        What a margin may be missed by, as a share of all that the row adds up.

    Returns
    -------
    tuple of Cut
        To be added to the cuts of the case, not put in their place.

    Raises
    ------
    InputFault
        The confidence lies outside.
    """
    z = standard_deviations(confidence)
    cuts = []
    for row in margin_rows(case):
        keys, lines = error_lines(row, case.streams)
        errors = lines @ x[: len(case.streams)]
        if errors.any() and _short(case, row, x, confidence) > violation:
            direction = errors / np.linalg.norm(errors)
            cuts.append(Cut(row_id=row.id, z=z, direction=dict(zip(keys, direction.tolist(), strict=True))))
    return tuple(cuts)


def cut_rows(case: Case, cuts: Sequence[Cut]) -> tuple[Row, ...]:
    """Cuts as rows of this case."""
    return tuple(cut for row in margin_rows(case) for cut in with_cuts(row, cuts, case.streams)[1:])


def settle_with_margins(case: Case, confidence: float) -> Settled | Stuck:
    """The least-cost answer of one variant whose margins hold at a confidence.

    Each round solves a linear program, so prices, reduced costs and the certificate are those of any recipe. A case
    without an answer when only some cuts stand has none with all of them.

    Parameters
    ----------
    case : Case
        One variant of a request.
    confidence : float
        Chance that each row with a margin holds, from 0.5 (no margin) to below 1.

    Returns
    -------
    Settled or Stuck
        The answer's program holds the cuts, each behind its row and with the same id.

    Raises
    ------
    InputFault
        The confidence lies outside.
    SolverTrouble
        The solver stopped without a certified answer.
    """
    if standard_deviations(confidence) <= 0.0:
        return settle(case)  # rows hold at the mean, as any row does
    now, rounds = case, 0
    while True:
        found = settle(now)
        if isinstance(found, Stuck):
            return found
        rounds += 1
        missing = _missing(found.case, found.x, confidence)
        if missing <= VIOLATION or rounds == _ROUNDS:
            break
        state = replace(found.case.assumed, tightened=case.assumed.tightened)
        now = replace(now, cuts=_cuts_at_state(found, confidence), assumed=state)
    if missing <= VIOLATION:
        return found
    note = f"margins had not settled after {_ROUNDS} rounds; they hold to {missing:.1e} of what is needed"
    return replace(found, left_over=(*found.left_over, note))


def _cuts_at_state(found: Settled, confidence: float) -> tuple[Cut, ...]:
    """All cuts the case needs while its state stays: many small linear programs, no prediction between them."""
    case, x = found.case, found.x
    for _ in range(_CUT_ROUNDS):
        new = cuts_for(case, x, confidence, violation=0.1 * VIOLATION)
        if not new:
            break
        case = replace(case, cuts=(*case.cuts, *new))
        _, outcome = solve_declared(case, case.declared_fruit_fraction)
        if outcome.x is None:
            break
        x = outcome.x
    return case.cuts


def _missing(case: Case, x: Array, confidence: float) -> float:
    """Largest share by which a margin is missed; 0 or less where all are held."""
    return max((_short(case, row, x, confidence) for row in margin_rows(case)), default=0.0)


def _short(case: Case, row: Row, x: Array, confidence: float) -> float:
    """What lacks at the confidence, as a share of all that the row adds up."""
    coefficients, lower, _ = row.linear()
    held = float(np.abs(row.numerator.coefficients()) @ np.abs(x)) or 1.0
    return (lower + standard_deviations(confidence) * spread(case, row, x) - float(coefficients @ x)) / held
