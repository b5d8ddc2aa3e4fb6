"""Why a program has no answer: the few rows that clash, and the smallest move that helps, tried by solving again."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from .arrays import LiveSolver, solve_arrays
from .program import Array, LinearProgram, Status
from .scaling import check_program, row_unit

Side = Literal["lower", "upper"]


def clashing_rows(lp: LinearProgram, *, keep: Collection[int] = (), with_bounds: bool = False) -> tuple[int, ...]:
    """An irreducible set of clashing rows: together they have no answer, without any one of them they have.

    Deletion filter: leave out one row after the other, for good where the rest still clashes. There may be other such
    sets; rows of high number are tried first, so that those of low number are left out last and named first.

    Parameters
    ----------
    lp : LinearProgram
        A program without an answer.
    keep : collection of int
        Rows taken as given (a mass balance): never left out, never named.
    with_bounds : bool
        Also try the bounds of columns; column j is then named m + j. Otherwise bounds are taken as given.

    Returns
    -------
    tuple of int
        Row numbers, ascending; empty if what was taken as given already clashes.

    Raises
    ------
    ValueError
        The program has an answer, or the solver could not tell.

    Examples
    --------
    At least 5 and at most 3 cannot both hold; the third row has no part in it:

    >>> lp = LinearProgram(
    ...     cost=np.ones(2), matrix=np.array([[1.0, 1.0], [1.0, 1.0], [1.0, 0.0]]),
    ...     row_lower=np.array([5.0, -np.inf, 0.0]), row_upper=np.array([np.inf, 3.0, np.inf]),
    ...     lower=np.zeros(2), upper=np.full(2, 10.0),
    ... )
    >>> clashing_rows(lp)
    (0, 1)
    """
    check_program(lp)
    m, n = lp.matrix.shape
    trial = _Trial(replace(lp, cost=np.zeros(n)))
    if trial.has_answer():
        raise ValueError("the program has an answer: nothing clashes")
    candidates = [i for i in range(m + n if with_bounds else m) if i not in set(keep)]
    named = []
    for i in reversed(candidates):
        trial.leave_out(i)
        if trial.has_answer():
            trial.put_back(i)
            named.append(i)
    return tuple(reversed(named))


def clashing_sides(
    lp: LinearProgram, rows: Collection[int], *, keep: Collection[int] = ()
) -> tuple[tuple[int, Side], ...]:
    """Which sides of the clashing rows take part: of an equation often one alone. Irreducible side by side.

    `rows` and `keep` as given by and to `clashing_rows`; column bounds are taken as given.

    Examples
    --------
    A batch of exactly 5 from 3 at hand: it need not be 5, less would do.

    >>> lp = LinearProgram(
    ...     cost=np.ones(1), matrix=np.array([[1.0], [1.0]]), row_lower=np.array([5.0, -np.inf]),
    ...     row_upper=np.array([5.0, 3.0]), lower=np.zeros(1), upper=np.full(1, 10.0),
    ... )
    >>> clashing_sides(lp, clashing_rows(lp))
    ((0, 'lower'), (1, 'upper'))
    """
    m = lp.matrix.shape[0]
    named = [i for i in sorted(rows) if i < m]
    idle = np.ones(m, dtype=bool)
    idle[[*named, *keep]] = False
    current = replace(
        lp, row_lower=np.where(idle, -np.inf, lp.row_lower), row_upper=np.where(idle, np.inf, lp.row_upper)
    )
    one_sided: list[tuple[int, Side]] = []
    for i in named:
        for side in ("lower", "upper"):
            name = f"row_{side}"
            values = getattr(current, name).copy()
            if not np.isfinite(values[i]):
                continue
            values[i] = -np.inf if side == "lower" else np.inf
            loosened = replace(current, **{name: values})
            if _has_answer(loosened):
                one_sided.append((i, "lower" if side == "lower" else "upper"))
            else:
                current = loosened
    return tuple(one_sided)


def least_relief(lp: LinearProgram, row: int, side: Side) -> float | None:
    """By how much one side of one row must move for an answer to exist, in units of the row; None if no move helps.

    One slack column measures the miss; the amount found is tried by solving the relieved program.

    Examples
    --------
    >>> lp = LinearProgram(
    ...     cost=np.ones(2), matrix=np.array([[1.0, 1.0], [1.0, 1.0]]), row_lower=np.array([5.0, -np.inf]),
    ...     row_upper=np.array([np.inf, 3.0]), lower=np.zeros(2), upper=np.full(2, 10.0),
    ... )
    >>> least_relief(lp, 0, "lower"), least_relief(lp, 1, "upper"), least_relief(lp, 1, "lower")
    (2.0, 2.0, None)
    """
    m = lp.matrix.shape[0]
    weights = np.full(m, np.inf)
    weights[row] = 1.0
    relief = elastic(lp, weights, sides=(side,))
    if relief is None:
        return None
    amount = float((relief.lower if side == "lower" else relief.upper)[row])
    if _has_answer(relieved(lp, row, side, amount)):
        return amount
    # the least relief leaves no room at all: allow for the solver's rounding, no more
    rounding = 1e-9 * max(float(row_unit(lp.matrix)[row]), amount, abs(float(getattr(lp, f"row_{side}")[row])))
    return amount + rounding if _has_answer(relieved(lp, row, side, amount + rounding)) else None


def relieved(lp: LinearProgram, row: int, side: Side, amount: float) -> LinearProgram:
    """The program with one side of one row moved outwards."""
    if side == "lower":
        moved = lp.row_lower.copy()
        moved[row] -= amount
        return replace(lp, row_lower=moved)
    moved = lp.row_upper.copy()
    moved[row] += amount
    return replace(lp, row_upper=moved)


@dataclass(frozen=True, kw_only=True)
class Elastic:
    """The least weighted total by which rows must be missed."""

    total: float  # Σ weight · miss
    lower: Array  # (m,) by how much each lower side is missed [unit of the row]
    upper: Array  # (m,) the same for upper sides
    x: Array  # (n,) an answer that misses no more than that


def elastic(lp: LinearProgram, weights: Array, *, sides: Collection[Side] = ("lower", "upper")) -> Elastic | None:
    """The least total when every row of finite weight may be missed at that price per unit; None if that is no help.

    Parameters
    ----------
    lp : LinearProgram
        Its costs play no part.
    weights : array (m,)
        Price of one unit of miss, not negative; `inf` for rows that must hold.
    sides : collection of "lower", "upper"
        Which sides may be missed.

    Raises
    ------
    ValueError
        A weight is negative or not a number, or there is not one per row.
    """
    check_program(lp)
    m, n = lp.matrix.shape
    if weights.shape != (m,) or not (weights >= 0.0).all():
        raise ValueError(f"weights must be {m} figures from 0 to inf, one per row")
    soft = np.isfinite(weights)
    short = np.flatnonzero(soft & np.isfinite(lp.row_lower)) if "lower" in sides else np.zeros(0, dtype=np.intp)
    over = np.flatnonzero(soft & np.isfinite(lp.row_upper)) if "upper" in sides else np.zeros(0, dtype=np.intp)
    # a miss is counted in the row's own unit, so that a row of millimoles weighs like one of kilograms to the solver
    unit = row_unit(lp.matrix)
    extra = short.size + over.size
    answer = solve_arrays(
        LinearProgram(
            cost=np.concatenate([np.zeros(n), (weights * unit)[short], (weights * unit)[over]]),
            matrix=np.hstack([lp.matrix, _unit_columns(m, short, unit), -_unit_columns(m, over, unit)]),
            row_lower=lp.row_lower,
            row_upper=lp.row_upper,
            lower=np.concatenate([lp.lower, np.zeros(extra)]),
            upper=np.concatenate([lp.upper, np.full(extra, np.inf)]),
            integer=None if lp.integer is None else np.concatenate([lp.integer, np.zeros(extra, dtype=bool)]),
        )
    )
    if answer.status is not Status.OPTIMAL or answer.x is None or answer.objective is None:
        return None
    lower, upper = np.zeros(m), np.zeros(m)
    lower[short] = answer.x[n : n + short.size] * unit[short]
    upper[over] = answer.x[n + short.size :] * unit[over]
    return Elastic(total=answer.objective, lower=lower, upper=upper, x=answer.x[:n])


def _unit_columns(m: int, rows: NDArray[np.intp], unit: Array) -> Array:
    columns = np.zeros((m, rows.size))
    columns[rows, np.arange(rows.size)] = unit[rows]
    return columns


def _has_answer(lp: LinearProgram) -> bool:
    """Feasible or not; anything else is no verdict."""
    return _verdict(solve_arrays(replace(lp, cost=np.zeros_like(lp.cost))).status)


def _verdict(status: Status) -> bool:
    if status is Status.INFEASIBLE:
        return False
    if status.has_answer:
        return True
    raise ValueError(f"the solver could not tell whether the rows clash: {status.value}")


class _Trial:
    """A live program whose rows and bounds can be left out and put back, by number (column j is m + j)."""

    def __init__(self, lp: LinearProgram) -> None:
        self._full = lp
        self._live = LiveSolver(lp)

    def has_answer(self) -> bool:
        return _verdict(self._live.solve().status)

    def leave_out(self, number: int) -> None:
        self._set(number, -np.inf, np.inf)

    def put_back(self, number: int) -> None:
        m = self._full.matrix.shape[0]
        if number < m:
            self._set(number, float(self._full.row_lower[number]), float(self._full.row_upper[number]))
        else:
            self._set(number, float(self._full.lower[number - m]), float(self._full.upper[number - m]))

    def _set(self, number: int, low: float, high: float) -> None:
        m, lp = self._full.matrix.shape[0], self._live.lp
        if number < m:
            row_lower, row_upper = lp.row_lower.copy(), lp.row_upper.copy()
            row_lower[number], row_upper[number] = low, high
            self._live.change(row_lower=row_lower, row_upper=row_upper)
        else:
            lower, upper = lp.lower.copy(), lp.upper.copy()
            lower[number - m], upper[number - m] = low, high
            self._live.change(lower=lower, upper=upper)
