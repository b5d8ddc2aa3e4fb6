"""Rows and costs in comparable units, by powers of two: exact, and undone exactly.

A blend holds rows of millimoles beside rows of hundreds of kilograms. A solver's tolerances are absolute, so a row of
1e-3 mol would be met to one part in ten thousand only. Here each row is multiplied by a power of two that brings its
largest coefficient into [1, 2), and so are the costs together.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from .program import Array, LinearProgram


def check_program(lp: LinearProgram) -> None:
    """Refuse arrays that are no linear program: shapes that do not fit, NaN, infinite coefficients.

    Raises
    ------
    ValueError
        Names the array, its place and what is wrong.
    """
    m, n = lp.matrix.shape
    for name, length in (("cost", n), ("lower", n), ("upper", n), ("row_lower", m), ("row_upper", m)):
        values = getattr(lp, name)
        if values.shape != (length,):
            raise ValueError(f"{name} has shape {values.shape}; a matrix of {m} rows and {n} columns needs ({length},)")
        if np.isnan(values).any():
            raise ValueError(f"{name}[{int(np.argmax(np.isnan(values)))}] is not a number")
    if lp.integer is not None and lp.integer.shape != (n,):
        raise ValueError(f"integer has shape {lp.integer.shape}; {n} columns need ({n},)")
    for name in ("cost", "matrix"):
        if not np.isfinite(getattr(lp, name)).all():
            raise ValueError(f"{name} holds a figure that is not finite")
    for name, wrong in (("lower", np.inf), ("row_lower", np.inf), ("upper", -np.inf), ("row_upper", -np.inf)):
        if (getattr(lp, name) == wrong).any():
            raise ValueError(f"{name} holds {wrong}; no figure can lie beyond it")


def power_of_two(size: Array) -> Array:
    """The power of two that brings each size into [1, 2); 1 where the size is 0.

    >>> power_of_two(np.array([1.0, 0.003, 700.0, 0.0])).tolist()
    [1.0, 512.0, 0.001953125, 1.0]
    """
    _, exponent = np.frexp(size)
    return np.where(size > 0.0, np.ldexp(1.0, 1 - exponent), 1.0)


def row_unit(matrix: Array) -> Array:
    """Largest coefficient of each row, its natural unit; 1 for a row of zeros."""
    if matrix.shape[1] == 0:
        return np.ones(matrix.shape[0])
    largest = np.maximum(matrix.max(axis=1), -matrix.min(axis=1))
    return np.where(largest > 0.0, largest, 1.0)


def cost_unit(cost: Array) -> float:
    """Largest cost, the natural unit of money; 1 where nothing costs anything."""
    return float(np.abs(cost).max(initial=0.0)) or 1.0


@dataclass(frozen=True, kw_only=True)
class Scaled:
    """A program in a solver's units, and the way back."""

    lp: LinearProgram
    row_factor: Array  # (m,) a row of `lp` = factor · the original row
    cost_factor: float

    def row_price(self, scaled_price: Array) -> Array:
        """Prices per unit of the original rows."""
        return np.asarray(scaled_price * self.row_factor / self.cost_factor)

    def reduced_cost(self, scaled_reduced: Array) -> Array:
        """Reduced costs in original money."""
        return np.asarray(scaled_reduced / self.cost_factor)


def scaled(lp: LinearProgram) -> Scaled:
    """The same program with rows and costs brought to [1, 2)."""
    row_factor = power_of_two(row_unit(lp.matrix))
    cost_factor = float(power_of_two(np.array([cost_unit(lp.cost)]))[0])
    return _with_factors(lp, lp.matrix * row_factor[:, None], row_factor, cost_factor)


def rescaled(lp: LinearProgram, old: Scaled) -> Scaled:
    """A program with the matrix of `old` and new costs, sides or bounds, by the factors of `old`."""
    return _with_factors(lp, old.lp.matrix, old.row_factor, old.cost_factor)


def _with_factors(lp: LinearProgram, matrix: Array, row_factor: Array, cost_factor: float) -> Scaled:
    program = replace(
        lp,
        cost=lp.cost * cost_factor,
        matrix=matrix,
        row_lower=lp.row_lower * row_factor,
        row_upper=lp.row_upper * row_factor,
    )
    return Scaled(lp=program, row_factor=row_factor, cost_factor=cost_factor)
