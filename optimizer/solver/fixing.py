"""Whole numbers with most columns left out, and a proof that none of them is wanted.

The plain program, without whole numbers, prices each column that it does not use: any answer that takes one whole unit
of it costs at least its reduced cost more. A search over the few columns that may pay finds an answer; where every
column left out would cost more than that answer (less the gap allowed), the answer is the answer to the whole program.
Else the search is made once more, with all that may still pay.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from .certificate import certify
from .program import Array, LinearProgram, Outcome, Status
from .raw import PROVED_GAP

Whole = Callable[[LinearProgram, float | None], Outcome]  # (program, seconds left) -> answer
_NEXT_BEST = 12  # columns that look too dear and are tried all the same
_WORTH_IT = 12  # columns that must be left out, or the whole is searched at once
_ROUNDING = 1e-8  # of the cost: less is no proof


def by_fixing(
    lp: LinearProgram, relaxed: Outcome, whole: Whole, *, gap: float | None, time_limit_s: float | None
) -> Outcome:
    """The answer to an integer program by smaller ones, certified; by the whole one where that is no help.

    Parameters
    ----------
    lp : LinearProgram
        With whole numbers.
    relaxed : Outcome
        Its answer without them.
    whole : callable
        Solves an integer program as it stands.
    gap, time_limit_s
        As for `solve`; the limit holds for both searches together.
    """
    begin = time.perf_counter()

    def left() -> float | None:
        return None if time_limit_s is None else max(0.01, time_limit_s - (time.perf_counter() - begin))

    if relaxed.status is not Status.OPTIMAL or relaxed.objective is None:
        return whole(lp, left())
    dearer = _dearer_by(lp, relaxed)
    order = np.flatnonzero(dearer > 0.0)
    order = order[np.argsort(dearer[order], kind="stable")]
    drop = np.zeros(lp.cost.size, dtype=bool)
    drop[order[_NEXT_BEST:]] = True
    for _ in range(2):
        if drop.sum() < _WORTH_IT:
            break
        part = _part(lp, drop)
        found = whole(part.lp, left())
        if found.x is None or found.objective is None or found.bound is None:
            break
        least = found.objective - (PROVED_GAP if gap is None else gap) * abs(found.objective)
        # What is left out costs more than this, whatever else an answer does.
        without = relaxed.objective - _ROUNDING * abs(relaxed.objective) + float(dearer[drop].min())
        if without >= least:
            return _lifted(lp, part, found, min(found.bound, without)) or whole(lp, left())
        drop = relaxed.objective - _ROUNDING * abs(relaxed.objective) + dearer >= least
    return whole(lp, left())


def _dearer_by(lp: LinearProgram, relaxed: Outcome) -> Array:
    """(n,) how much one whole unit of a column costs at least; 0 where nothing is known of it."""
    assert lp.integer is not None
    assert relaxed.x is not None
    assert relaxed.reduced_cost is not None
    at_nothing = (relaxed.x <= 0.0) & (lp.lower == 0.0)
    price = np.where(at_nothing, np.maximum(relaxed.reduced_cost, 0.0), 0.0)
    dearer = np.where(lp.integer & at_nothing, price, 0.0)
    # "At least b of x for each y": the price of x may be asked of y, once.
    two = np.flatnonzero((np.count_nonzero(lp.matrix, axis=1) == 2) & (lp.row_lower == 0.0) & np.isinf(lp.row_upper))
    for row in two:
        one, other = np.flatnonzero(lp.matrix[row])
        x, y = (one, other) if lp.integer[other] else (other, one)
        a, b = lp.matrix[row, x], -lp.matrix[row, y]
        if lp.integer[y] and not lp.integer[x] and at_nothing[y] and a > 0.0 and b > 0.0:
            dearer[y] += price[x] / a * b
            price[x] = 0.0
    return dearer


@dataclass(frozen=True)
class _Part:
    lp: LinearProgram
    columns: NDArray[np.intp]


def _part(lp: LinearProgram, drop: NDArray[np.bool_]) -> _Part:
    """The program without some columns that stay at 0, and without those that the rest then holds at 0."""
    assert lp.integer is not None
    kept = ~drop
    used = lp.matrix != 0.0
    # Of "at most M of x for each y" only x is left: it is 0.
    alone = (used & kept).sum(axis=1) == 1
    for row in np.flatnonzero(alone & (lp.row_upper == 0.0) & used[:, drop].any(axis=1)):
        column = int(np.flatnonzero(used[row] & kept)[0]) if (used[row] & kept).any() else -1
        if column >= 0 and lp.matrix[row, column] > 0.0 and lp.lower[column] == 0.0:
            kept[column] = False
    columns = np.flatnonzero(kept)
    says = used[:, columns].any(axis=1) | (lp.row_lower > 0.0) | (lp.row_upper < 0.0)
    smaller = replace(
        lp, cost=lp.cost[columns], matrix=lp.matrix[np.ix_(says, columns)], row_lower=lp.row_lower[says],
        row_upper=lp.row_upper[says], lower=lp.lower[columns], upper=lp.upper[columns], integer=lp.integer[columns],
    )  # fmt: skip
    return _Part(smaller, columns)


def _lifted(lp: LinearProgram, part: _Part, found: Outcome, bound: float) -> Outcome | None:
    """The answer in all columns, certified against the whole program; None where it does not pass."""
    assert found.x is not None
    x = np.zeros(lp.cost.size)
    x[part.columns] = found.x
    verdict = certify(lp, x, None, bound=bound)
    if not verdict.ok:
        return None
    proved = found.status is Status.OPTIMAL and verdict.gap <= PROVED_GAP
    return replace(
        found, status=Status.OPTIMAL if proved else Status.STOPPED, objective=float(lp.cost @ x), x=x, bound=bound,
        certified=True,
    )  # fmt: skip
