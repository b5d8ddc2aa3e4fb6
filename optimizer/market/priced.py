"""A linear program in which some columns use up things that have a price: all that a question about prices needs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from optimizer.solver import LinearProgram
from optimizer.solver.program import Array


@dataclass(frozen=True, kw_only=True, eq=False)
class PricedProgram:
    """A program (n columns), the g things that it buys, and what one unit of each column takes of them.

    Examples
    --------
    Two ingredients bought by the kilogram, four kilograms asked for; the second becomes cheaper:

    >>> lp = LinearProgram(
    ...     cost=np.array([2.0, 3.0]), matrix=np.array([[1.0, 1.0]]), row_lower=np.array([4.0]),
    ...     row_upper=np.array([np.inf]), lower=np.zeros(2), upper=np.array([1.0, 10.0]),
    ... )
    >>> program = PricedProgram.of(lp, ["A", "B"])
    >>> program.costs(np.array([2.0, 1.0])).tolist(), program.amounts(np.array([0.0, 4.0])).tolist()
    ([2.0, 1.0], [0.0, 4.0])
    """

    lp: LinearProgram
    ids: tuple[str, ...]  # (g,) lots and offers, or names of columns
    received: Array  # (g, n) units bought (received kg) per unit of a column
    price: Array  # (g,) present price per unit bought; part of `lp.cost`
    supply_rows: Mapping[str, int] = field(default_factory=dict)  # id -> row that says how much of it there is
    paid: Array | None = None  # (g, n) what a column's cost rises by when the price does; None: `received`

    @classmethod
    def of(cls, lp: LinearProgram, names: Sequence[str]) -> PricedProgram:
        """A program each of whose columns is bought as it is."""
        return cls(lp=lp, ids=tuple(names), received=np.eye(lp.cost.size), price=lp.cost)

    def costs(self, prices: Array) -> Array:
        """Costs of the columns, (..., n), at other prices of the things, (..., g)."""
        return np.asarray(self.lp.cost + (prices - self.price) @ self.slope)

    @property
    def slope(self) -> Array:
        """Cost of each column per unit of each price, (g, n): less than its units beyond a step of the price."""
        return self.received if self.paid is None else self.paid

    def amounts(self, x: Array) -> Array:
        """Units bought of each thing, (..., g), in an answer, (..., n)."""
        return np.asarray(x @ self.received.T)

    def index(self, id_: str) -> int:
        return self.ids.index(id_)
