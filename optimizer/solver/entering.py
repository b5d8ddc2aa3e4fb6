"""What enters a blend as its price falls, and how much of it: one change of basis per column, all columns at once.

Optimal because nothing else is asked of a corner: rows and bounds hold, every reduced cost has the right sign, and what
is not basic sits on a bound. All three are checked for each column; the work grows with n, not with n².
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .certificate import TOLERANCE
from .certify_many import Flags, Whole
from .program import Array
from .ranging import Tableau

ROUNDING = 1e-12  # relative, of a reduced cost


@dataclass(frozen=True, kw_only=True)
class Entered:
    """Answers just below the prices at which columns enter, one for each column asked about."""

    amount: Array  # (k,) of the column, in its unit
    certified: Flags  # (k,) the answer is proved to be the optimum at that price; where not, solve to know


def entered(table: Tableau, columns: Whole, below: Array) -> Entered:
    """Optima with one cost lowered to a little below where its column enters, each certified.

    The column that enters grows until a member of the basis meets a bound; with prices moved by that one exchange the
    new corner is optimal unless others were about to enter as well.

    Parameters
    ----------
    table : Tableau
        Of an optimal answer.
    columns : array (k,) of int
        Columns at their lower bound.
    below : array (k,)
        How far each cost goes below the one at which its column enters, above 0 [money per unit of the column].

    Examples
    --------
    Four units of two ingredients; the dear one enters below a price of 2, and then takes all that it may:

    >>> from optimizer.solver.arrays import solve_arrays
    >>> from optimizer.solver.program import LinearProgram
    >>> from optimizer.solver.ranging import tableau
    >>> lp = LinearProgram(
    ...     cost=np.array([2.0, 3.0]), matrix=np.array([[1.0, 1.0]]), row_lower=np.array([4.0]),
    ...     row_upper=np.array([np.inf]), lower=np.zeros(2), upper=np.array([5.0, 3.0]),
    ... )
    >>> found = entered(tableau(lp, solve_arrays(lp)), np.array([1]), np.array([1e-6]))
    >>> found.amount.tolist(), found.certified.tolist()
    ([3.0], [True])
    """
    z, members, moves = table.z, table.basis.members, table.moves
    k = columns.size
    every = np.arange(k)
    if not (k and members.size):
        return Entered(amount=np.zeros(k), certified=np.zeros(k, dtype=bool))
    pull = moves[:, columns]  # (m, k)
    value = z.value[members][:, None]
    room = np.where(pull > 0.0, value - z.lower[members][:, None], z.upper[members][:, None] - value)
    with np.errstate(divide="ignore", invalid="ignore"):
        steps = np.where(pull != 0.0, np.maximum(room, 0.0) / np.abs(pull), np.inf)
    leaves, step = steps.argmin(axis=0), steps.min(axis=0)
    own = z.upper[columns] - z.lower[columns]
    exchanged = step < own  # else the column runs to its own upper bound, and no price moves
    step = np.minimum(step, own)
    with np.errstate(divide="ignore", invalid="ignore"):  # nothing stops it: not certified
        price = np.where(exchanged, table.units.cost_factor * below / pull[leaves, every], 0.0)
    most, least = _prices_that_hold(table)
    right = np.isfinite(step) & (step > 0.0) & (price <= most[leaves]) & (price >= least[leaves])
    right &= _rows_hold(table, columns, step, pull)
    return Entered(amount=np.clip(z.lower[columns] + step, z.lower[columns], z.upper[columns]), certified=right)


def _prices_that_hold(table: Tableau) -> tuple[Array, Array]:
    """How far the price of each basic member may rise and fall before another reduced cost changes its sign."""
    z = table.z
    free = table.nonbasic & ~z.fixed
    d, by = table.reduced[free], table.moves[:, free]
    noise = ROUNDING * np.abs(d)
    low, high = (z.at_lower & ~table.at_upper)[free], table.at_upper[free]
    with np.errstate(divide="ignore", invalid="ignore"):
        room = np.where(low, d - noise, np.where(high, -d - noise, 0.0)) / np.abs(by)
    rises = np.where(low, by < 0.0, np.where(high, by > 0.0, by != 0.0))  # a rising price takes from this one
    falls = np.where(low, by > 0.0, np.where(high, by < 0.0, by != 0.0))
    most = np.where(rises, room, np.inf).min(axis=1, initial=np.inf)
    least = -np.where(falls, room, np.inf).min(axis=1, initial=np.inf)
    return most, least


def _rows_hold(table: Tableau, columns: Whole, step: Array, pull: Array) -> Flags:
    """Whether the new corners fulfil A x = s: only basic members and the column that enters have changed."""
    members, matrix = table.basis.members, table.z.matrix
    with np.errstate(invalid="ignore"):
        moved = step * (matrix[:, columns] - matrix[:, members] @ pull)
        size = np.abs(step) * (np.abs(matrix[:, columns]) + np.abs(matrix[:, members]) @ np.abs(pull))
        return np.asarray((np.abs(moved) <= TOLERANCE * np.maximum(1.0, size)).all(axis=0))
