"""Is this answer right? Checked from the arrays alone, whoever found it.

Weak duality: for any row prices y and d = c - A'y, no feasible x costs less than

    Σ side(y_i)·y_i + Σ side(d_j)·d_j,   side = the lower side for a positive price, the upper one for a negative.

A feasible x that costs no more than this bound is therefore optimal. A price on a side that is open (infinite) makes
the bound -inf and proves nothing, so it is refused.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .program import Array, LinearProgram
from .scaling import cost_unit, row_unit

TOLERANCE = 1e-7
GAP_TOLERANCE = 1e-9


@dataclass(frozen=True, kw_only=True)
class Certificate:
    """The verdict on one answer. Violations and gap are relative to the size of the terms that make them up.

    A row's violation is measured in max(largest coefficient, Σ|a_ij x_j|), a column's in max(1, |x_j|), a dual one in
    max(largest cost, |c_j| + Σ|a_ij y_i|), the gap in max(largest cost, Σ|c_j x_j|).
    """

    ok: bool
    primal_violation: float
    dual_violation: float  # 0 for integer models
    gap: float  # c·x above the proved bound; infinite where nothing is proved
    reason: str = ""  # empty if ok


def certify(
    lp: LinearProgram,
    x: Array,
    row_price: Array | None,
    reduced: Array | None = None,
    *,
    bound: float | None = None,
    tolerance: float = TOLERANCE,
    gap_tolerance: float = GAP_TOLERANCE,
) -> Certificate:
    """Check an answer: x is feasible, the prices are those of an optimum, and no gap is left.

    Parameters
    ----------
    lp : LinearProgram
        The program that was to be solved.
    x : array (n,)
        The answer.
    row_price : array (m,) or None
        Change of the optimum per unit of the row's binding side; None for integer models.
    reduced : array (n,), optional
        Reduced costs as reported; checked against c - A'y, which is what counts.
    bound : float, optional
        For integer models: the best bound the solver proved. Checked not to lie above c·x; without it only feasibility
        is certified.
    tolerance, gap_tolerance : float
        Relative, see `Certificate`.

    Examples
    --------
    >>> lp = LinearProgram(
    ...     cost=np.array([2.0, 3.0]), matrix=np.array([[1.0, 1.0]]), row_lower=np.array([4.0]),
    ...     row_upper=np.array([np.inf]), lower=np.zeros(2), upper=np.full(2, 10.0),
    ... )
    >>> certify(lp, np.array([4.0, 0.0]), np.array([2.0])).ok
    True
    >>> certify(lp, np.array([0.0, 4.0]), np.array([2.0])).reason
    'costs more than the proved bound, by 0.333 of its size'
    """
    if not np.isfinite(x).all():
        return _refused("x holds a figure that is not finite")
    primal = primal_violation(lp, x)
    if primal > tolerance:
        return _refused(f"a row or bound is missed by {primal:.3g} of its size", primal=primal)
    if lp.is_mixed_integer:
        return _certify_integer(lp, x, bound, primal, tolerance)
    if row_price is None or not np.isfinite(row_price).all():
        return _refused("no finite row prices", primal=primal)

    price_terms = np.abs(lp.matrix).T @ np.abs(row_price)
    d = lp.cost - row_price @ lp.matrix
    money = cost_unit(lp.cost)
    column_noise = np.maximum(money, np.abs(lp.cost) + price_terms)
    row_noise = money / row_unit(lp.matrix)
    if reduced is not None and (np.abs(reduced - d) > tolerance * column_noise).any():
        return _refused("reduced costs do not fit the row prices", primal=primal)

    dual = max(
        _open_side_price(row_price, lp.row_lower, lp.row_upper, row_noise),
        _open_side_price(d, lp.lower, lp.upper, column_noise),
    )
    if dual > tolerance:
        return _refused(f"a price of {dual:.3g} of its size on an open side", primal=primal, dual=dual)
    proved = _at_sides(row_price, lp.row_lower, lp.row_upper) + _at_sides(d, lp.lower, lp.upper)
    gap = (float(lp.cost @ x) - proved) / max(money, float(np.abs(lp.cost) @ np.abs(x)))
    # A bound above c·x is as wrong as one below: then x leaves a row by more than its price forgives.
    if abs(gap) > gap_tolerance:
        side = "costs more" if gap > 0 else "costs less"
        reason = f"{side} than the proved bound, by {abs(gap):.3g} of its size"
        return _refused(reason, primal=primal, dual=dual, gap=gap)
    return Certificate(ok=True, primal_violation=primal, dual_violation=dual, gap=gap)


def certify_infeasible(lp: LinearProgram, ray: Array, *, tolerance: float = GAP_TOLERANCE) -> bool:
    """Farkas: with prices `ray` on the rows, Σ ray_i·row_i must exceed what the columns' bounds let it be.

    The sum of rows y'A x is at least Σ side(y_i)·y_i by the rows and at most max over the bounds by the columns. If the
    first is larger than the second, no x exists. Integer models too: what the plain LP cannot do they cannot.
    """
    if ray.shape != lp.row_lower.shape or not np.isfinite(ray).all() or not ray.any():
        return False
    for y in (ray, -ray):  # solvers differ in the sign of a ray
        reached = y @ lp.matrix
        terms = np.abs(y) @ np.abs(lp.matrix)
        reached = np.where(np.abs(reached) <= 1e-13 * terms, 0.0, reached)
        rows_say = _sum_of_sides(y, lp.row_lower, lp.row_upper)
        columns_say = -_sum_of_sides(-reached, lp.lower, lp.upper)
        size = sum(
            float(np.abs(price * np.where(np.isfinite(side), side, 0.0)).sum())
            for price, side in ((y, lp.row_lower), (y, lp.row_upper), (reached, lp.lower), (reached, lp.upper))
        )
        if np.isfinite(rows_say) and np.isfinite(columns_say) and rows_say - columns_say > tolerance * size:
            return True
    return False


def primal_violation(lp: LinearProgram, x: Array) -> float:
    """Largest miss of a row or bound, relative to its size (see `Certificate`)."""
    rows = lp.matrix @ x
    row_size = np.maximum(row_unit(lp.matrix), np.abs(lp.matrix) @ np.abs(x))
    misses = (
        np.maximum(lp.row_lower - rows, rows - lp.row_upper) / row_size,
        np.maximum(lp.lower - x, x - lp.upper) / np.maximum(1.0, np.abs(x)),
    )
    return max(0.0, *(float(miss.max(initial=0.0)) for miss in misses))


def _certify_integer(lp: LinearProgram, x: Array, bound: float | None, primal: float, tolerance: float) -> Certificate:
    assert lp.integer is not None
    off = float(np.abs(x - np.round(x))[lp.integer].max(initial=0.0))
    if off > tolerance:
        return _refused(f"a whole number is missed by {off:.3g}", primal=max(primal, off))
    if bound is None:
        return Certificate(ok=True, primal_violation=primal, dual_violation=0.0, gap=np.inf)
    gap = (float(lp.cost @ x) - bound) / max(cost_unit(lp.cost), float(np.abs(lp.cost) @ np.abs(x)))
    # Branch and bound compares rows and costs at 1e-6, so its bound may lie that little above the answer.
    if not gap >= -1e-6:
        return _refused(f"costs less than the solver's bound, by {-gap:.3g} of its size", primal=primal, gap=gap)
    return Certificate(ok=True, primal_violation=primal, dual_violation=0.0, gap=gap)


def _open_side_price(price: Array, lower: Array, upper: Array, noise: Array) -> float:
    """Largest price, in units of its noise, that leans on a side which is not there."""
    on_open_side = np.where(price > 0.0, np.isinf(lower), np.isinf(upper)) & (price != 0.0)
    return float((np.abs(price) / noise)[on_open_side].max(initial=0.0))


def _at_sides(price: Array, lower: Array, upper: Array) -> float:
    """Σ price · side, where prices on open sides (noise by now) count nothing."""
    side = np.where(price > 0.0, lower, upper)
    return float(price @ np.where(np.isfinite(side), side, 0.0))


def _sum_of_sides(price: Array, lower: Array, upper: Array) -> float:
    """Σ price · side; -inf where a price leans on an open side."""
    side = np.where(price > 0.0, lower, upper)
    priced = price != 0.0
    return float(price[priced] @ side[priced])


def _refused(reason: str, *, primal: float = np.inf, dual: float = np.inf, gap: float = np.inf) -> Certificate:
    return Certificate(ok=False, primal_violation=primal, dual_violation=dual, gap=gap, reason=reason)
