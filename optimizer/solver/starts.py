"""Where many walks begin: at the basic set where the walk of their common program ends."""

from __future__ import annotations

import numpy as np

from .certify_many import Whole
from .draws import Draws
from .many_walks import GAVE_UP, Start, walk
from .program import Array, LinearProgram


def nominal_start(lp: LinearProgram) -> Start:
    """All draws begin where the program they vary ends, be it at its optimum or at the proof that it has none."""
    m, n = lp.matrix.shape
    rows_only = np.arange(n, n + m)
    boxed = np.isfinite(lp.lower).all() and np.isfinite(lp.upper).all()
    crossing = (lp.lower > lp.upper).any() or (lp.row_lower > lp.row_upper).any()
    if m == 0 or n == 0 or not boxed or crossing:
        return same_start(rows_only, (m, n))
    one = Draws(lp, cost=lp.cost[None])
    walked = walk(one, np.array([0]), same_start(rows_only, (m, n)), slots=1, most_steps=10 * (m + n))
    return same_start(rows_only if walked.end[0] == GAVE_UP else walked.members[0], (m, n))


def same_start(members: Whole, shape: tuple[int, int]) -> Start:
    """All draws begin at one basic set."""
    m, n = shape
    inside = members[members < n]
    tight = np.setdiff1d(np.arange(m), members[members >= n] - n)
    idle = np.setdiff1d(np.arange(m), tight)
    order = np.concatenate([inside, n + idle])

    def start(draws: Whole, matrix: Array) -> tuple[Whole, Array]:
        inverse = _inverse(matrix, inside, tight, idle)
        return np.broadcast_to(order, (draws.size, m)), np.broadcast_to(inverse, (draws.size, m, m))

    return start


def _inverse(matrix: Array, inside: Whole, tight: Whole, idle: Whole) -> Array:
    """Inverse of the basic columns of [A, -I]: only the tight rows against the columns inside need inverting."""
    m, k = matrix.shape[-2], inside.size
    inverse = np.zeros((*matrix.shape[:-2], m, m))
    basic = matrix[..., inside]
    kernel = _inverses(basic[..., tight, :])
    inverse[..., :k, tight] = kernel
    inverse[..., k:, tight] = np.matmul(basic[..., idle, :], kernel)
    inverse[..., np.arange(k, m), idle] = -1.0
    return inverse


def _inverses(stack: Array) -> Array:
    """Inverses of a stack of matrices; NaN where there is none."""
    try:
        return np.asarray(np.linalg.inv(stack))
    except np.linalg.LinAlgError:
        if stack.ndim == 2:
            return np.full_like(stack, np.nan)
        return np.stack([_inverses(one) for one in stack])
