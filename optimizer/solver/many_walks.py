"""Many draws walk to their optima side by side: a dual simplex method whose every step is a few array products.

Rows are variables too, z = (x, s) with A x - s = 0 (see `basis.py`). Every member of z has two finite bounds: an open
side of a row is closed by the range its columns imply. So any basic set is dual feasible for any prices, once each
other member sits on the side that suits the sign of its reduced cost. From there each step is:

1. The basic member that misses its bounds most, for the length of its row of the inverse, leaves (dual steepest edge).
2. Prices move until the objective stops to rise; members whose reduced cost changes sign on the way change sides
   (bound flipping), the one that stops the rise enters. If none does, the draw has no answer, and row 1 proves it.
3. One rank-one change of the inverse.

Draws in the same step need not share anything. A fixed number of them is under way; who arrives makes room for the
next one, so that the cost of a step spreads over many draws.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .certify_many import Flags, Whole, columns, rows
from .draws import Draws
from .program import Array
from .scaling import power_of_two, row_unit

ARRIVED, NO_ANSWER, GAVE_UP = 0, 1, 2
MOST_STEPS = 60
MOST_SLOTS = 128  # draws under way together: more do not fit the cache
MISS = 1e-9  # a basic value may leave its bounds by this, relative to max(1, its size)
DRIFT = 1e-6  # a pivot worked out by row and by column may differ by this, relative; more, and the inverse is worn out
PIVOT = 1e-9  # smaller entries of a row of the tableau count as zero, relative to the largest

Start = Callable[[Whole, Array], tuple[Whole, Array]]  # (draws, matrices) -> members (d, m) and inverses (d, m, m)

PER_SLOT = (
    "place", "alive", "cost", "lower", "upper", "value", "room", "side", "reduced", "members", "inverse", "steps",
)  # fmt: skip


@dataclass(frozen=True)
class Walked:
    """How each draw ended; x, row prices and members are meaningless where a draw gave up."""

    end: NDArray[np.int8]
    x: Array
    row_price: Array  # where there is no answer: the Farkas prices
    members: Whole  # (draws, m) basic members, sorted
    steps: Whole


def slots_within(memory_limit_MB: float, shape: tuple[int, int]) -> int:
    """How many draws of programs of this shape may be under way within a limit of working memory."""
    m, n = shape
    per_slot = 8 * (4 * m * n + 4 * m * m + 30 * (n + m))  # the matrix and its copies, the inverse, vectors
    return int(np.clip(memory_limit_MB * 1e6 / per_slot, 1, MOST_SLOTS))


def walk(draws: Draws, which: Whole, start: Start, *, slots: int, most_steps: int = MOST_STEPS) -> Walked:
    """Bring the draws numbered `which` to their optimum, `slots` of them at a time."""
    m, n = draws.base.matrix.shape
    count = which.size
    done = Walked(
        np.full(count, GAVE_UP, dtype=np.int8), np.zeros((count, n)), np.zeros((count, m)),
        np.zeros((count, m), dtype=np.intp), np.zeros(count, dtype=np.intp),
    )  # fmt: skip
    if count == 0:
        return done
    with np.errstate(all="ignore"):  # a slot whose draw is done goes on with figures that nobody reads
        way = _Walkers(draws, which, start, done, min(slots, count), most_steps)
        while way.alive.any():
            way.step()
    return done


class _Walkers:
    def __init__(self, draws: Draws, which: Whole, start: Start, done: Walked, slots: int, most_steps: int) -> None:
        m, n = draws.base.matrix.shape
        self.m, self.n, self.most_steps = m, n, most_steps
        self.draws, self.which, self.start, self.done = draws, which, start, done
        self.factor = power_of_two(row_unit(draws.base.matrix))
        self.one_matrix = draws.matrix is None
        self.next = 0
        size = n + m
        self.place = np.zeros(slots, dtype=np.intp)  # place in `which`
        self.alive = np.zeros(slots, dtype=bool)
        self.matrix = draws.base.matrix * self.factor[:, None] if self.one_matrix else np.zeros((slots, m, n))
        self.cost = np.zeros((slots, n))
        self.lower, self.upper = np.zeros((slots, size)), np.zeros((slots, size))
        self.value = np.zeros((slots, size))  # 0 for basic members
        self.room = np.zeros((slots, size))  # upper - lower; 0 for basic members
        self.side = np.zeros((slots, size))  # -1 at the lower bound, 1 at the upper one
        self.reduced = np.zeros((slots, size))
        self.members = np.zeros((slots, m), dtype=np.intp)
        self.inverse = np.zeros((slots, m, m))
        self.steps = np.zeros(slots, dtype=np.intp)
        self.slot = np.arange(slots)
        self._fill(self.slot)

    # ---- in ---------------------------------------------------------------------------------------------------------

    def _fill(self, free: Whole) -> None:
        """Put the next draws into free slots."""
        free = free[: self.which.size - self.next]
        if free.size == 0:
            return
        place = np.arange(self.next, self.next + free.size)
        self.next += free.size
        number = self.which[place]
        if self.one_matrix:
            matrix = self.matrix
        else:
            matrix = self.draws.of("matrix", number) * self.factor[:, None]
            self.matrix[free] = matrix
        cost = np.broadcast_to(self.draws.of("cost", number), (free.size, self.n))
        lower, upper = self._bounds(number, matrix)
        members, inverse = self.start(place, matrix)
        here = np.arange(free.size)[:, None]
        full_cost = np.zeros((free.size, self.n + self.m))
        full_cost[:, : self.n] = cost
        y = np.matmul(full_cost[here, members][:, None, :], inverse)[:, 0]
        reduced = np.concatenate([cost - columns(matrix, y), y], axis=1)
        reduced[here, members] = 0.0
        at_upper = reduced < 0.0
        value, room = np.where(at_upper, upper, lower), upper - lower
        value[here, members] = 0.0
        room[here, members] = 0.0
        self.place[free], self.alive[free], self.steps[free] = place, True, 0
        self.cost[free], self.lower[free], self.upper[free] = cost, lower, upper
        self.value[free], self.room[free], self.side[free] = value, room, np.where(at_upper, 1.0, -1.0)
        self.reduced[free], self.members[free], self.inverse[free] = reduced, members, inverse

    def _bounds(self, number: Whole, matrix: Array) -> tuple[Array, Array]:
        """Both bounds of each member of z; a row that is open gets the range its columns imply."""
        m, n, size = self.m, self.n, number.size
        lower, upper = np.empty((size, n + m)), np.empty((size, n + m))
        lower[:, :n], upper[:, :n] = self.draws.of("lower", number), self.draws.of("upper", number)
        lower[:, n:] = self.draws.of("row_lower", number) * self.factor
        upper[:, n:] = self.draws.of("row_upper", number) * self.factor
        open_rows = np.flatnonzero(np.isinf(lower[:, n:]).any(axis=0) | np.isinf(upper[:, n:]).any(axis=0))
        if open_rows.size:
            some = matrix[..., open_rows, :]
            gain, loss = np.maximum(some, 0.0), np.minimum(some, 0.0)
            least = rows(gain, lower[:, :n]) + rows(loss, upper[:, :n])
            most = rows(gain, upper[:, :n]) + rows(loss, lower[:, :n])
            low, high = lower[:, n + open_rows], upper[:, n + open_rows]
            # where the other side lies beyond the range, the draw has no answer; the sides must not cross all the same
            lower[:, n + open_rows] = np.where(np.isinf(low), np.minimum(least, high), low)
            upper[:, n + open_rows] = np.where(np.isinf(high), np.maximum(most, low), high)
        return lower, upper

    # ---- on ---------------------------------------------------------------------------------------------------------

    def step(self) -> None:
        slot = self.slot
        basic = self._basic_values()
        low, high = self.lower[slot[:, None], self.members], self.upper[slot[:, None], self.members]
        miss = np.maximum(low - basic, basic - high)
        missing = miss > MISS * np.maximum(1.0, np.abs(basic))
        length = np.einsum("dij,dij->di", self.inverse, self.inverse)
        leaves = np.where(missing, miss * miss / length, -1.0).argmax(axis=1)
        arrived = self.alive & ~missing.any(axis=1)
        if arrived.any():
            self._arrive(np.flatnonzero(arrived), basic)
        miss = miss[slot, leaves]
        sign = np.where(low[slot, leaves] > basic[slot, leaves], 1.0, -1.0)

        row = self.inverse[slot, leaves]
        along = np.concatenate([columns(self.matrix, row), -row], axis=1)
        enters, step, found, flips = self._ratio_test(along, sign, miss)
        stuck = self.alive & ~arrived & ~found
        if stuck.any():
            # sign: the member that leaves cannot come up to its lower bound, or down to its upper one
            self._leave(np.flatnonzero(stuck), NO_ANSWER, -sign[stuck, None] * row[stuck])

        self.reduced += (step * sign)[:, None] * along
        np.copyto(self.value, self.lower + self.upper - self.value, where=flips)
        np.negative(self.side, out=self.side, where=flips)
        left = self.members[slot, leaves]
        self.value[slot, left] = np.where(sign > 0.0, self.lower[slot, left], self.upper[slot, left])
        self.side[slot, left] = -sign
        self.room[slot, left] = self.upper[slot, left] - self.lower[slot, left]
        self.reduced[slot, enters] = 0.0
        self.value[slot, enters] = 0.0
        self.room[slot, enters] = 0.0
        self.members[slot, leaves] = enters

        entering = self._column(enters)
        change = np.matmul(self.inverse, entering[:, :, None])[:, :, 0]
        pivot = change[slot, leaves]
        change[slot, leaves] -= 1.0
        self.inverse -= change[:, :, None] * (row / pivot[:, None])[:, None, :]
        self.steps += 1
        reliable = np.abs(pivot - along[slot, enters]) <= DRIFT * np.abs(pivot)
        lost = self.alive & ((self.steps > self.most_steps) | ~reliable)
        if lost.any():
            self._leave(np.flatnonzero(lost))
        free = np.flatnonzero(~self.alive)
        if self.next < self.which.size:
            self._fill(free)
        elif 2 * free.size > slot.size and free.size < slot.size:
            self._shrink(np.flatnonzero(self.alive))

    def _basic_values(self) -> Array:
        n = self.n
        rest = rows(self.matrix, self.value[:, :n]) - self.value[:, n:]
        return np.asarray(-np.matmul(self.inverse, rest[:, :, None])[:, :, 0])

    def _ratio_test(self, along: Array, sign: Array, miss: Array) -> tuple[Whole, Array, Flags, Flags]:
        """Who enters, how far the price moves, whether anyone does, and who changes sides on the way."""
        pull = along * self.side * sign[:, None]  # positive: this reduced cost moves towards 0
        pull *= self.room > 0.0
        small = PIVOT * np.abs(along).max(axis=1)
        stops = pull > small[:, None]
        pull *= stops
        ratio = np.where(stops, np.abs(self.reduced) / pull, np.inf)
        order = ratio.argsort(axis=1)
        slot = self.slot[:, None]
        fall = np.cumsum((pull * self.room)[slot, order], axis=1)  # of the slope, as one after the other is passed
        stop = (fall < miss[:, None]).sum(axis=1)
        usable = stops.sum(axis=1)
        found = stop < usable
        enters = order[self.slot, np.minimum(stop, order.shape[1] - 1)]
        step = np.where(found, ratio[self.slot, enters], 0.0)
        return enters, step, found, ratio < step[:, None]

    def _column(self, member: Whole) -> Array:
        """The members' columns of [A, -I]: (slots, m)."""
        is_row = member >= self.n
        j = np.where(is_row, 0, member)
        column = self.matrix[:, j].T.copy() if self.one_matrix else self.matrix[self.slot, :, j]
        column[is_row] = 0.0
        column[is_row, member[is_row] - self.n] = -1.0
        return np.asarray(column)

    # ---- out --------------------------------------------------------------------------------------------------------

    def _arrive(self, s: Whole, basic: Array) -> None:
        """Read off answers, each corrected once for what the inverse has gathered in rounding."""
        n, here = self.n, np.arange(s.size)[:, None]
        matrix = self.matrix if self.one_matrix else self.matrix[s]
        members, inverse, cost = self.members[s], self.inverse[s], self.cost[s]
        z = self.value[s]
        z[here, members] = basic[s]
        miss = rows(matrix, z[:, :n]) - z[:, n:]
        z[here, members] -= np.matmul(inverse, miss[:, :, None])[:, :, 0]
        full_cost = np.zeros_like(z)
        full_cost[:, :n] = cost
        y = np.matmul(full_cost[here, members][:, None, :], inverse)[:, 0]
        reduced = np.concatenate([cost - columns(matrix, y), y], axis=1)[here, members]
        y += np.matmul(reduced[:, None, :], inverse)[:, 0]
        is_row = np.zeros_like(z, dtype=bool)
        is_row[here, members] = True
        y[is_row[:, n:]] = 0.0
        place = self.place[s]
        self.done.x[place] = np.clip(z[:, :n], self.lower[s, :n], self.upper[s, :n])
        self._leave(s, ARRIVED, y)

    def _leave(self, s: Whole, end: int = GAVE_UP, y: Array | None = None) -> None:
        place = self.place[s]
        self.alive[s] = False
        self.done.end[place] = end
        self.done.steps[place] = self.steps[s]
        self.done.members[place] = np.sort(self.members[s], axis=1)
        if y is not None:
            self.done.row_price[place] = y * self.factor

    def _shrink(self, keep: Whole) -> None:
        """No draws left to fill up with: go on with those under way."""
        for name in PER_SLOT if self.one_matrix else (*PER_SLOT, "matrix"):
            setattr(self, name, getattr(self, name)[keep])
        self.slot = np.arange(keep.size)
