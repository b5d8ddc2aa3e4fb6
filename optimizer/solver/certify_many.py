"""The certificate of `certificate.py` for many answers in one go: same checks, same tolerances, same sizes."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from .certificate import GAP_TOLERANCE, TOLERANCE
from .draws import Draws
from .program import Array

Flags = NDArray[np.bool_]
Whole = NDArray[np.int_]
BLOCK = 128  # draws looked at together: what fits the cache is faster


def certified(draws: Draws, which: Whole, x: Array, row_price: Array, *, block: int = BLOCK) -> Flags:
    """Which answers x (d, n) with row prices (d, m) to the draws numbered `which` (d,) are optimal, as by `certify`."""
    return _in_blocks(_certified, block, draws, which, x, row_price)


def certified_infeasible(draws: Draws, which: Whole, ray: Array, *, block: int = BLOCK) -> Flags:
    """Which of the draws numbered `which` the Farkas prices `ray` (d, m) prove to have no answer."""
    return _in_blocks(_proves, block, draws, which, ray)


def _in_blocks(check: Callable[..., Flags], block: int, draws: Draws, which: Whole, *answers: Array) -> Flags:
    found = np.zeros(which.size, dtype=bool)
    for begin in range(0, found.size, block):
        s = slice(begin, begin + block)
        with np.errstate(all="ignore"):  # what is not finite compares false
            found[s] = check(_Part(draws, numbers(which[s])), *(array[s] for array in answers))
    return found


def numbers(which: Whole) -> Whole | slice:
    """A slice where numbers follow each other: no copying then."""
    first, last = int(which[0]), int(which[-1]) + 1
    return slice(first, last) if last - first == which.size else which


class _Part:
    """Arrays of a few draws, and products with their matrices."""

    def __init__(self, draws: Draws, s: Whole | slice) -> None:
        self.cost, self.matrix = draws.of("cost", s), draws.of("matrix", s)
        self.lower, self.upper = draws.of("lower", s), draws.of("upper", s)
        self.row_lower, self.row_upper = draws.of("row_lower", s), draws.of("row_upper", s)
        self.sizes = np.abs(self.matrix)
        self.money = np.abs(self.cost).max(axis=-1, initial=0.0)
        self.money = np.where(self.money > 0.0, self.money, 1.0)[..., None]
        largest = self.sizes.max(axis=-1, initial=0.0)
        self.row_unit = np.where(largest > 0.0, largest, 1.0)


def rows(matrix: Array, x: Array) -> Array:
    """A x of each draw: (draws, m)."""
    return x @ matrix.T if matrix.ndim == 2 else np.matmul(matrix, x[..., None])[..., 0]


def columns(matrix: Array, y: Array) -> Array:
    """A'y of each draw: (draws, n)."""
    return y @ matrix if matrix.ndim == 2 else np.matmul(y[:, None, :], matrix)[:, 0]


def _certified(p: _Part, x: Array, y: Array) -> Flags:
    reached = rows(p.matrix, x)
    row_size = np.maximum(p.row_unit, rows(p.sizes, np.abs(x)))
    ok = (np.maximum(p.row_lower - reached, reached - p.row_upper) <= TOLERANCE * row_size).all(axis=1)
    ok &= (np.maximum(p.lower - x, x - p.upper) <= TOLERANCE * np.maximum(1.0, np.abs(x))).all(axis=1)
    d = p.cost - columns(p.matrix, y)
    ok &= np.isfinite(x).all(axis=1) & np.isfinite(y).all(axis=1)
    row_side, row_open = _sides(y, p.row_lower, p.row_upper)
    side, is_open = _sides(d, p.lower, p.upper)
    ok &= ~(row_open & (np.abs(y) > TOLERANCE * p.money / p.row_unit)).any(axis=1)
    if is_open.any():
        noise = np.maximum(p.money, np.abs(p.cost) + columns(p.sizes, np.abs(y)))
        ok &= ~(is_open & (np.abs(d) > TOLERANCE * noise)).any(axis=1)
    proved = (y * row_side).sum(axis=1) + (d * side).sum(axis=1)
    gap = (p.cost * x).sum(axis=1) - proved
    size = np.maximum(p.money[..., 0], (np.abs(p.cost) * np.abs(x)).sum(axis=1))
    return np.asarray(ok & (np.abs(gap) <= GAP_TOLERANCE * size))


def _sides(price: Array, lower: Array, upper: Array) -> tuple[Array, Flags]:
    """The side each price leans on, 0 where it is open, and whether it is open."""
    side = np.where(price > 0.0, lower, upper)
    is_open = np.isinf(side) & (price != 0.0)
    return np.where(np.isinf(side), 0.0, side), is_open


def _proves(p: _Part, y: Array) -> Flags:
    return _proves_as_is(p, y) | _proves_as_is(p, -y)  # as for one program: a ray proves whatever its sign


def _proves_as_is(p: _Part, y: Array) -> Flags:
    reached = columns(p.matrix, y)
    terms = columns(p.sizes, np.abs(y))
    reached = np.where(np.abs(reached) <= 1e-13 * terms, 0.0, reached)
    row_side, row_open = _sides(y, p.row_lower, p.row_upper)
    side, is_open = _sides(-reached, p.lower, p.upper)
    excess = (y * row_side).sum(axis=1) - (reached * side).sum(axis=1)
    size = sum(
        np.abs(price * np.where(np.isfinite(bound), bound, 0.0)).sum(axis=1)
        for price, bound in ((y, p.row_lower), (y, p.row_upper), (reached, p.lower), (reached, p.upper))
    )
    usable = np.isfinite(y).all(axis=1) & y.any(axis=1) & ~row_open.any(axis=1) & ~is_open.any(axis=1)
    return np.asarray(usable & (excess > GAP_TOLERANCE * size))
