"""Many draws walk to their optima side by side: a dual simplex method whose every step is a few array products.

Rows are variables too, z = (x, s) with A x - s = 0 (see `basis.py`). Every member of z has two finite bounds: an open
side of a row is closed by the range its columns imply. So any basic set is dual feasible for any prices, once each
other member sits on the side that suits the sign of its reduced cost. From there each step is:

1. The basic member that misses its bounds most, for the length of its row of the inverse, leaves (dual steepest edge).
2. Prices move until the objective stops to rise; members whose reduced cost changes sign on the way change sides
   (bound flipping), the one that stops the rise enters. If none does, the draw has no answer: the row of 1 proves it.
3. One rank-one change of the inverse.

Draws in the same step need not share anything. A fixed number of them is under way; who arrives makes room for the
next one, so that the cost of a step spreads over many draws.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .certify_many import Flags, Whole, columns, numbers, rows
from .draws import Draws
from .program import Array
from .scaling import power_of_two, row_unit

ARRIVED, NO_ANSWER, GAVE_UP = 0, 1, 2
MOST_STEPS = 60  # or three for each row, if that is more
REFILL = 0.25  # share of idle slots worth the trouble of filling them
MOST_SLOTS = 192  # draws under way together: more do not fit the cache
MISS = 1e-9  # a basic value may leave its bounds by this, relative to max(1, its size)
DRIFT = 1e-6  # a pivot worked out by row and by column may differ by this, relative; more, and the inverse is worn out
PIVOT = 1e-9  # smaller entries of a row of the tableau count as zero, relative to the largest

Start = Callable[[Whole, Array], tuple[Whole, Array]]  # (draws, matrices) -> members (d, m) and inverses (d, m, m)

PER_SLOT = (
    "place", "alive", "end", "proof", "steps", "cost", "lower", "upper", "value", "room", "side", "reduced", "members",
    "inverse",
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


def walk(draws: Draws, which: Whole, start: Start, *, slots: int, most_steps: int | None = None) -> Walked:
    """Bring the draws numbered `which` to their optimum, `slots` of them at a time."""
    m, n = draws.base.matrix.shape
    count = which.size
    done = Walked(
        np.full(count, GAVE_UP, dtype=np.int8), np.zeros((count, n)), np.zeros((count, m)),
        np.zeros((count, m), dtype=np.intp), np.zeros(count, dtype=np.intp),
    )  # fmt: skip
    if count == 0:
        return done
    if most_steps is None:
        most_steps = max(MOST_STEPS, 3 * m)
    with np.errstate(all="ignore"):  # a slot whose draw is done still takes part in the products
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
        self.place = np.full(slots, -1)  # in `which`; -1: empty
        self.end = np.full(slots, GAVE_UP, dtype=np.int8)
        self.proof = np.zeros((slots, m))
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
            matrix = self.draws.of("matrix", numbers(number)) * self.factor[:, None]
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
        self.place[free], self.alive[free], self.steps[free], self.end[free] = place, True, 0, GAVE_UP
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
        """One change of basis for every draw under way; those that are done keep still until their slot is wanted."""
        slot = self.slot
        basic = self._basic_values()
        at = self.members + (slot * self.reduced.shape[1])[:, None]
        low, high = self.lower.take(at), self.upper.take(at)
        miss = np.maximum(low - basic, basic - high)
        missing = miss > MISS * np.maximum(1.0, np.abs(basic))
        length = np.einsum("dij,dij->di", self.inverse, self.inverse)
        leaves = np.where(missing, miss * miss / length, -1.0).argmax(axis=1)
        self.end[self.alive & ~missing.any(axis=1)] = ARRIVED
        self.alive &= self.end != ARRIVED
        miss = miss[slot, leaves]
        sign = np.where(low[slot, leaves] > basic[slot, leaves], 1.0, -1.0)

        row = self.inverse[slot, leaves]
        along = np.concatenate([columns(self.matrix, row), -row], axis=1)
        enters, step, found, flips = self._ratio_test(along, sign, miss)
        stuck = self.alive & ~found
        if stuck.any():
            self.end[stuck] = NO_ANSWER
            # sign: the member that leaves cannot come up to its lower bound, or down to its upper one
            self.proof[stuck] = -sign[stuck, None] * row[stuck]
            self.alive &= found
        pivot = self._change_inverse(enters, leaves, row)
        reliable = np.abs(pivot - along[slot, enters]) <= DRIFT * np.abs(pivot)
        self.alive &= (self.steps < self.most_steps) & reliable  # the others have given up
        self._change_members(enters, leaves, sign, step, along, flips)

        idle = np.flatnonzero(~self.alive)
        if idle.size == slot.size or idle.size >= REFILL * slot.size:
            self._harvest(idle, basic)
            if self.next < self.which.size:
                self._fill(idle)
            elif idle.size < slot.size:
                self._shrink(np.flatnonzero(self.alive))

    def _change_inverse(self, enters: Whole, leaves: Whole, row: Array) -> Array:
        change = np.matmul(self.inverse, self._column(enters)[:, :, None])[:, :, 0]
        pivot = change[self.slot, leaves]
        change[self.slot, leaves] -= 1.0
        scaled_row = np.where(self.alive[:, None], row / pivot[:, None], 0.0)
        self.inverse -= change[:, :, None] * scaled_row[:, None, :]
        return np.asarray(pivot)

    def _change_members(
        self, enters: Whole, leaves: Whole, sign: Array, step: Array, along: Array, flips: Flags
    ) -> None:
        going = self.alive
        self.reduced += np.where(going, step * sign, 0.0)[:, None] * along
        flips &= going[:, None]
        np.copyto(self.value, self.lower + self.upper - self.value, where=flips)
        np.negative(self.side, out=self.side, where=flips)
        s = np.flatnonzero(going)
        leaves, enters, sign = leaves[s], enters[s], sign[s]
        left = self.members[s, leaves]
        self.value[s, left] = np.where(sign > 0.0, self.lower[s, left], self.upper[s, left])
        self.side[s, left] = -sign
        self.room[s, left] = self.upper[s, left] - self.lower[s, left]
        self.reduced[s, enters] = 0.0
        self.value[s, enters] = 0.0
        self.room[s, enters] = 0.0
        self.members[s, leaves] = enters
        self.steps[s] += 1

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
        fall = pull * self.room  # of the slope, as each is passed
        enters = ratio.argmin(axis=1)
        found = fall[self.slot, enters] >= miss
        rest = np.flatnonzero(~found)
        if rest.size:
            enters[rest], found[rest] = _past_the_first(ratio[rest], fall[rest], miss[rest])
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

    def _harvest(self, idle: Whole, basic: Array) -> None:
        """Read off how the draws ended that keep still."""
        s = idle[self.place[idle] >= 0]
        place, end = self.place[s], self.end[s]
        self.place[s] = -1
        self.done.end[place], self.done.steps[place] = end, self.steps[s]
        self.done.members[place] = np.sort(self.members[s], axis=1)
        self.done.row_price[place[end == NO_ANSWER]] = self.proof[s[end == NO_ANSWER]] * self.factor
        self._read_optima(s[end == ARRIVED], place[end == ARRIVED], basic)

    def _read_optima(self, s: Whole, place: Whole, basic: Array) -> None:
        """Answers, corrected once for what the inverse has gathered in rounding."""
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
        is_basic = np.zeros_like(z, dtype=bool)
        is_basic[here, members] = True
        y[is_basic[:, n:]] = 0.0
        self.done.x[place] = np.clip(z[:, :n], self.lower[s, :n], self.upper[s, :n])
        self.done.row_price[place] = y * self.factor

    def _shrink(self, keep: Whole) -> None:
        """No draws left to fill up with: go on with those under way."""
        for name in PER_SLOT if self.one_matrix else (*PER_SLOT, "matrix"):
            setattr(self, name, getattr(self, name)[keep])
        self.slot = np.arange(keep.size)


def _past_the_first(ratio: Array, fall: Array, slope: Array) -> tuple[Whole, Flags]:
    """The first in order of ratios at which the slope has fallen to nothing, and whether there is one."""
    order = ratio.argsort(axis=1)
    enough = np.cumsum(np.take_along_axis(fall, order, axis=1), axis=1) >= slope[:, None]
    stop = enough.argmax(axis=1)
    every = np.arange(stop.size)
    return order[every, stop], enough[every, stop]
