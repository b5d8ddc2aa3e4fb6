"""Where rounds of solve and predict swing between two corners: the blend of the two that predicts its own state.

Assume little inversion and the program picks a corner that inverts much; assume much and it picks one that inverts
little. No corner then predicts its own state. But where the choice flips both corners cost the same, so every blend of
the two is optimal too, and one of them predicts the state at which the choice flips.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from optimizer.blend.case import Assumed, Case
from optimizer.blend.predict import Prediction, predict
from optimizer.blend.program import Program, build
from optimizer.errors import OutOfRange, SolverTrouble
from optimizer.solver import Outcome, Status, certify
from optimizer.solver.program import Array

_PASSES = 12  # corners move a little as the state does
_SHARE = 1e-10  # how closely the flip is found
_SETTLING = 3
_FEASIBLE, _GAP = 1e-6, 1e-7  # of the certificate, relative: the state at which corners tie is met to these
Solve = Callable[[Case], Outcome]


@dataclass(frozen=True, kw_only=True, eq=False)
class Between:
    """A certified answer that is no corner, with its own prediction."""

    program: Program
    outcome: Outcome
    predicted: Prediction


def state_of(assumed: Assumed, predicted: Prediction) -> Assumed:
    """The state of a prediction, taken in whole."""
    return replace(
        assumed,
        inverted_fraction=predicted.inverted_in_cook_fraction,
        ionic_strength_mol_per_kg=predicted.ionic_strength_mol_per_kg,
        boil_C=predicted.end_point_C,
    )


def settle_between(case: Case, solve: Solve, high: Array, low: Array) -> Between | None:
    """The blend of two corners that predicts the state it is optimal at; None where there is no such flip.

    Parameters
    ----------
    case : Case
        The batch, its declared fruit content fixed.
    solve : function
        Case to outcome, at the state the case assumes; raises SolverTrouble where two corners tie too closely.
    high, low : array
        (n + 3,) [kg]: the corner that inverts more than was assumed for it, and the one that inverts less.

    Returns
    -------
    Between or None
        Certified at its own state.
    """
    for _ in range(_PASSES):
        try:
            flip = _flip(case, solve, high, low)
            if flip is None:
                return None
            x, high, low, prices = flip
            found = _certified(case, x, prices)
        except OutOfRange:
            return None
        if found is not None:
            return found
    return None


def _flip(case: Case, solve: Solve, high: Array, low: Array) -> tuple[Array, Array, Array, Array] | None:
    """The blend at whose state the choice flips, the corners on either side as they are there, and row prices."""
    share_low, share_high = 0.0, 1.0  # of the high corner
    near_high: Array | None = None
    near_low: Array | None = None
    prices: Array | None = None
    while share_high - share_low > _SHARE:
        share = 0.5 * (share_low + share_high)
        state = state_of(case.assumed, predict(case, share * high + (1.0 - share) * low))
        try:
            outcome = solve(replace(case, assumed=state))
        except SolverTrouble:
            break  # the corners tie to the last digit: this is the flip
        if outcome.x is None or outcome.row_price is None:
            return None
        prices = outcome.row_price
        # Little of the high corner in it asks for more of it, much of it for less.
        if np.linalg.norm(outcome.x - high) <= np.linalg.norm(outcome.x - low):
            share_low, near_high = share, outcome.x
        else:
            share_high, near_low = share, outcome.x
    if near_high is None or near_low is None or prices is None:
        return None
    share = 0.5 * (share_low + share_high)
    return share * near_high + (1.0 - share) * near_low, near_high, near_low, prices


def _certified(case: Case, x: Array, prices: Array) -> Between | None:
    """The blend as an answer at the state it predicts, if the certificate accepts it there with these prices."""
    for _ in range(_SETTLING):  # what it predicts hardly hangs on the state it is predicted at
        case = replace(case, assumed=state_of(case.assumed, predict(case, x)))
    program = build(case)
    lp, prices = program.lean, prices[program.is_ruled]
    if not certify(lp, x, prices, tolerance=_FEASIBLE, gap_tolerance=_GAP).ok:
        return None
    cost = float(lp.cost @ x)
    outcome = Outcome(
        status=Status.OPTIMAL, objective=cost, x=x, row_price=prices, reduced_cost=lp.cost - lp.matrix.T @ prices,
        bound=cost, certified=True, solver="HiGHS", notes=("a blend of two corners that cost the same",),
    )  # fmt: skip
    return Between(program=program, outcome=program.in_full(outcome), predicted=predict(case, x))
