"""A linear program and its answer, as plain frozen arrays."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from enum import Enum

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


class Status(Enum):
    """How a solve ended. Read values only where `has_answer`."""

    OPTIMAL = "optimal"
    STOPPED = "stopped"  # feasible, not proved best (time or gap limit)
    INFEASIBLE = "infeasible"
    UNBOUNDED = "unbounded"
    FAILED = "failed"  # the solver gave up, or its answer did not pass the certificate

    @property
    def has_answer(self) -> bool:
        return self in (Status.OPTIMAL, Status.STOPPED)


@dataclass(frozen=True, kw_only=True)
class LinearProgram:
    """Minimise cost · x, with row_lower ≤ A x ≤ row_upper and lower ≤ x ≤ upper.

    n columns, m rows; every figure is a float; `-inf` and `inf` stand for "no bound". Rows and columns are numbered;
    names of lots and rules are never handed to a solver.
    """

    cost: Array  # (n,) [money per unit of the column]
    matrix: Array  # (m, n)
    row_lower: Array  # (m,)
    row_upper: Array  # (m,)
    lower: Array  # (n,)
    upper: Array  # (n,)
    integer: NDArray[np.bool_] | None = None  # (n,) True where whole numbers are asked; None: a plain LP

    @property
    def is_mixed_integer(self) -> bool:
        return self.integer is not None and bool(self.integer.any())


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """The answer to a `LinearProgram`; holds no solver object.

    `row_price` is the change of the optimum when the row's binding side grows by one unit, `reduced_cost` the change
    when the bound a column sits on grows by one unit; both are None for integer models and where there is no answer.
    """

    status: Status
    objective: float | None = None
    x: Array | None = None  # (n,)
    row_price: Array | None = None  # (m,)
    reduced_cost: Array | None = None  # (n,)
    bound: float | None = None  # best proved bound (equals objective for an LP)
    certified: bool = False
    solver: str = ""
    seconds: float = 0.0
    notes: Sequence[str] = field(default_factory=tuple)
