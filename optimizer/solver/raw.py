"""What a solver said about a scaled program, before anyone believes it."""

from __future__ import annotations

from dataclasses import dataclass

from .program import Array, Status

PROVED_GAP = 1e-6  # relative; a larger gap left means "not proved best"


@dataclass(frozen=True, kw_only=True)
class RawAnswer:
    """Status and arrays as a solver gave them."""

    status: Status
    x: Array | None = None
    row_price: Array | None = None
    reduced_cost: Array | None = None
    bound: float | None = None  # integer models: best proved bound, in scaled money
    ray: Array | None = None  # infeasible models: Farkas prices of the rows
    note: str = ""
