"""The optimal basis behind an answer, found again from the answer alone.

Write rows as variables too, A x - s = 0 with s between the row's sides, so that z = (x, s) has m basic members. What
lies strictly between its bounds is basic; where chance puts a basic member on a bound, members of zero price fill up.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .program import Array, LinearProgram

AT_BOUND = 1e-7  # relative: nearer than this to its bound counts as on it
DEPENDENT = 1e-9  # relative: less of a column left, and it depends on those before
ZERO_PRICE = 1e-7  # relative: smaller reduced costs count as zero


@dataclass(frozen=True)
class Variables:
    """Columns and rows side by side, z = (x, s), in scaled units."""

    matrix: Array  # (m, n + m) = [A, -I]
    value: Array
    lower: Array
    upper: Array
    cost: Array
    reduced: Array
    at_lower: NDArray[np.bool_]
    at_upper: NDArray[np.bool_]
    zero_reduced: NDArray[np.bool_]

    @classmethod
    def of(cls, lp: LinearProgram, x: Array, y: Array) -> Variables:
        """An answer x with row prices y, both of the scaled program."""
        m = lp.matrix.shape[0]
        rows = lp.matrix @ x
        matrix = np.hstack([lp.matrix, -np.eye(m)])
        value = np.concatenate([x, rows])
        lower, upper = np.concatenate([lp.lower, lp.row_lower]), np.concatenate([lp.upper, lp.row_upper])
        size = AT_BOUND * np.concatenate([np.maximum(1.0, np.abs(x)), np.maximum(1.0, np.abs(lp.matrix) @ np.abs(x))])
        cost = np.concatenate([lp.cost, np.zeros(m)])
        reduced = np.concatenate([lp.cost - y @ lp.matrix, y])
        money = max(1.0, float(np.abs(lp.cost).max(initial=0.0)))
        noise = np.maximum(money, np.abs(cost) + np.abs(y) @ np.abs(matrix))
        return cls(
            matrix, value, lower, upper, cost, reduced,
            at_lower=value - lower <= size, at_upper=upper - value <= size,
            zero_reduced=np.abs(reduced) <= ZERO_PRICE * noise,
        )  # fmt: skip

    @property
    def fixed(self) -> NDArray[np.bool_]:
        return np.asarray(self.lower == self.upper)


@dataclass(frozen=True)
class Basis:
    members: NDArray[np.int_]  # (m,) numbers in z
    inverse: Array  # (m, m)
    degenerate: bool


def find_basis(z: Variables) -> Basis | None:
    """What lies strictly inside is basic; the rest is filled up with members that sit on a bound at no price."""
    m = z.matrix.shape[0]
    inside = ~z.at_lower & ~z.at_upper
    must = np.flatnonzero(inside)
    if must.size > m or not z.zero_reduced[must].all():
        return None  # an answer on a face, not at a corner
    members: list[int] = must.tolist()
    unit = _orthonormal(z.matrix[:, must])
    if unit is None:
        return None
    independent = _Independent(unit)
    # rows first: their columns are unit vectors and keep the basis well conditioned
    spare = np.flatnonzero(~inside & z.zero_reduced)
    for j in sorted(spare.tolist(), key=lambda j: (z.fixed[j], j < z.matrix.shape[1] - m, j)):
        if len(members) == m:
            break
        if independent.add(z.matrix[:, j]):
            members.append(j)
    if len(members) < m:
        return None
    chosen = np.array(members, dtype=np.intp)
    # a fixed member cannot leave its place, but it stands there by chance all the same
    return Basis(chosen, np.asarray(np.linalg.inv(z.matrix[:, chosen]), dtype=np.float64), degenerate=must.size < m)


def _orthonormal(columns: Array) -> Array | None:
    """What columns span, as unit vectors; None where one depends on those before it."""
    unit, triangle = np.linalg.qr(columns)
    left, size = np.abs(np.diagonal(triangle)), np.linalg.norm(columns, axis=0)
    return None if (left <= DEPENDENT * size).any() else np.asarray(unit)


class _Independent:
    """Columns taken one by one, each only if it is independent of those before (Gram-Schmidt, twice for accuracy)."""

    def __init__(self, unit: Array) -> None:
        self._unit = unit

    def add(self, column: Array) -> bool:
        size = float(np.linalg.norm(column))
        rest = column - self._unit @ (self._unit.T @ column)
        rest = rest - self._unit @ (self._unit.T @ rest)
        left = float(np.linalg.norm(rest))
        if left <= DEPENDENT * size:
            return False
        self._unit = np.column_stack([self._unit, rest / left])
        return True


def corner(lp: LinearProgram, x: Array, y: Array) -> tuple[Array, Array] | None:
    """The same answer and prices to full accuracy, worked out from the basis; None if the answer is no corner.

    For a solver that prints eight digits.
    """
    z = Variables.of(lp, x, y)
    basis = find_basis(z)
    if basis is None:
        return None
    n = x.size
    value = np.where(z.at_lower, z.lower, np.where(z.at_upper, z.upper, z.value))
    value[basis.members] = 0.0
    value[basis.members] = -basis.inverse @ (z.matrix @ value)
    return value[:n], np.asarray(z.cost[basis.members] @ basis.inverse)
