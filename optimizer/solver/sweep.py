"""Answers to thousands of draws of one program, certified, without a solver call for each."""

from __future__ import annotations

import time
from collections.abc import Iterable

import numpy as np

from .arrays import LiveSolver, solve_arrays
from .certify_many import Flags, Whole, certified, certified_infeasible, numbers
from .draws import NAMES, Answers, Draws, joined
from .known_vertices import KnownVertices
from .many_walks import ARRIVED, GAVE_UP, NO_ANSWER, Start, Walked, slots_within, walk
from .program import Array, LinearProgram, Status
from .starts import nominal_start

FIRST_LOOK = 512  # draws after which it shows whether walking pays
FIRST_BLOCK, LATER_BLOCK = 256, 2048  # of prices: vertices met in one block are known to the next
MANY = 1.0 / 3.0  # of the draws gave up: leave the rest to the solver


def solve_prices(
    lp: LinearProgram,
    costs: Array,
    *,
    keep_x: bool = True,
    keep_row_price: bool = True,
    memory_limit_MB: float = 100.0,
) -> Answers:
    """Solve one program at many price vectors, each answer certified.

    Parameters
    ----------
    lp : LinearProgram
        Rows and bounds of all draws; every column that has two finite bounds is fast.
    costs : array (draws, n)
        [money per unit of the column]
    keep_x, keep_row_price : bool
        Whether the answers hold x and row prices.
    memory_limit_MB : float
        Bound for the working arrays, without `costs` and the answers. The answers do not depend on it.

    Returns
    -------
    Answers
        In the order of the draws.

    Notes
    -----
    Set OPENBLAS_NUM_THREADS=1 (or what your BLAS calls it) before numpy is imported: products are small here.

    Examples
    --------
    >>> lp = LinearProgram(
    ...     cost=np.array([2.0, 3.0]), matrix=np.array([[1.0, 1.0]]), row_lower=np.array([4.0]),
    ...     row_upper=np.array([np.inf]), lower=np.zeros(2), upper=np.array([1.0, 10.0]),
    ... )
    >>> answers = solve_prices(lp, np.array([[2.0, 3.0], [3.0, 1.0]]))
    >>> answers.objective.tolist(), answers.certified.all()
    ([11.0, 4.0], np.True_)
    """
    return solve_draws(
        Draws(lp, cost=costs), keep_x=keep_x, keep_row_price=keep_row_price, memory_limit_MB=memory_limit_MB
    )


def solve_draws(
    draws: Draws | Iterable[Draws],
    *,
    keep_x: bool = True,
    keep_row_price: bool = True,
    memory_limit_MB: float = 100.0,
) -> Answers:
    """Solve draws in which anything may differ, each answer certified.

    Parameters
    ----------
    draws : Draws, or several one after the other
        Blocks made one at a time (a generator) keep memory flat however many draws there are.
    keep_x, keep_row_price, memory_limit_MB
        As for `solve_prices`.

    Examples
    --------
    >>> lp = LinearProgram(
    ...     cost=np.array([2.0, 3.0]), matrix=np.array([[1.0, 1.0]]), row_lower=np.array([4.0]),
    ...     row_upper=np.array([np.inf]), lower=np.zeros(2), upper=np.array([1.0, 10.0]),
    ... )
    >>> answers = solve_draws(Draws(lp, row_lower=np.array([[4.0], [5.0], [12.0]])))
    >>> answers.objective.tolist(), answers.infeasible
    ([11.0, 14.0, nan], 1)
    """
    if not memory_limit_MB > 0.0:
        raise ValueError(f"memory_limit_MB={memory_limit_MB:g}: give a positive number")
    blocks = [draws] if isinstance(draws, Draws) else draws
    parts: list[Answers] = []
    start: Start | None = None
    base: LinearProgram | None = None
    for block in blocks:
        if start is None or block.base is not base:
            base, start = block.base, nominal_start(block.base)
        sheet = _Sheet(block, slots_within(memory_limit_MB, block.base.matrix.shape))
        _solve_block(sheet, start)
        parts.append(sheet.answers(keep_x, keep_row_price))
    if not parts:
        raise ValueError("no draws: give at least one block")
    return joined(parts)


def _solve_block(sheet: _Sheet, start: Start) -> None:
    todo = sheet.set_aside()
    if 0 not in sheet.draws.base.matrix.shape and todo.size:
        if not sheet.only_prices:
            _by_walks(sheet, todo, start)
        elif not sheet.no_answer_at_all():
            _by_known_vertices(sheet, todo, start)
    sheet.finish()


def _by_walks(sheet: _Sheet, todo: Whole, start: Start) -> None:
    """Every draw walks from one basic set."""
    for some in (todo[:FIRST_LOOK], todo[FIRST_LOOK:]):
        walked = walk(sheet.draws, some, start, slots=sheet.slots)
        sheet.take(some, walked)
        if (walked.end == GAVE_UP).sum() > MANY * some.size:
            return


def _by_known_vertices(sheet: _Sheet, todo: Whole, start: Start) -> None:
    """Blocks of draws that differ in prices: those whose answer is no known vertex walk on from the cheapest one."""
    known = KnownVertices(sheet.draws.base)
    block = FIRST_BLOCK
    while todo.size:
        some, todo = todo[:block], todo[block:]
        if len(known):
            pick, right = _known_answers(sheet, some, known)
            some, start = some[~right], known.start(pick[~right])
        walked = walk(sheet.draws, some, start, slots=sheet.slots)
        known.learn(walked, sheet.take(some, walked))
        if (walked.end == GAVE_UP).sum() > MANY * block:
            return
        block = min(2 * block, LATER_BLOCK)


def _known_answers(sheet: _Sheet, some: Whole, known: KnownVertices) -> tuple[Whole, Flags]:
    """The cheapest known vertex of each draw, and whether it is the answer."""
    pick, right = np.empty_like(some), np.empty(some.size, dtype=bool)
    for begin in range(0, some.size, sheet.slots):
        s = slice(begin, begin + sheet.slots)
        cost = sheet.draws.of("cost", numbers(some[s]))
        pick[s] = known.cheapest(cost)
        right[s] = sheet.check_known(some[s], *known.answers(cost, pick[s]))
    return pick, right


class _Sheet:
    """Answers of one block as they come in."""

    def __init__(self, draws: Draws, slots: int) -> None:
        m, n = draws.base.matrix.shape
        count = len(draws)
        self.begin = time.perf_counter()
        self.draws, self.slots = draws, slots
        self.status = np.full(count, Status.FAILED, dtype=object)
        self.objective = np.full(count, np.nan)
        self.x, self.row_price = np.full((count, n), np.nan), np.full((count, m), np.nan)
        self.certified = np.zeros(count, dtype=bool)
        self.sets: set[int] = set()
        self.mark = np.random.default_rng(0).integers(2**62, size=m)  # a number for each basic set, for counting only
        self.steps = self.by_solver = self.resolved = 0

    def set_aside(self) -> Whole:
        """The draws that can walk: bounds that cross need no solver, columns without end need one."""
        lower, upper = self._of("lower"), self._of("upper")
        crossing = (lower > upper).any(axis=-1) | (self._of("row_lower") > self._of("row_upper")).any(axis=-1)
        crossing = np.broadcast_to(crossing, self.certified.shape)
        self.status[crossing], self.certified[crossing] = Status.INFEASIBLE, True
        open_column = (np.isinf(lower) | np.isinf(upper)).any(axis=-1)
        return np.flatnonzero(~crossing & ~open_column)

    def no_answer_at_all(self) -> bool:
        """Prices do not change whether there is an answer: one proof serves all draws."""
        base = solve_arrays(self.draws.base)
        none = base.status is Status.INFEASIBLE and base.certified
        if none:
            self.status[:], self.certified[:] = Status.INFEASIBLE, True
        return none

    def take(self, which: Whole, walked: Walked) -> Whole:
        """Believe what passes the certificate; gives the places in `which` of certified optima."""
        y = self._without_open_sides(which, walked.row_price)
        arrived = np.flatnonzero(walked.end == ARRIVED)
        right = arrived[certified(self.draws, which[arrived], walked.x[arrived], y[arrived], block=self.slots)]
        self._optimal(which[right], walked.x[right], y[right])
        stuck = np.flatnonzero(walked.end == NO_ANSWER)
        proved = stuck[certified_infeasible(self.draws, which[stuck], y[stuck], block=self.slots)]
        self.status[which[proved]], self.certified[which[proved]] = Status.INFEASIBLE, True
        self.resolved += arrived.size - right.size + stuck.size - proved.size
        self.steps += int(walked.steps.sum())
        self.sets.update((walked.members[right] @ self.mark).tolist())
        return right

    def check_known(self, which: Whole, x: Array, row_price: Array) -> Flags:
        """Which draws have their answer at a known vertex."""
        y = self._without_open_sides(which, row_price)
        right = certified(self.draws, which, x, y, block=self.slots)
        self._optimal(which[right], x[right], y[right])
        return right

    def finish(self) -> None:
        """Leave to the solver what is left."""
        left = np.flatnonzero(~self.certified)
        self.by_solver = left.size - self.resolved
        live = LiveSolver(self.draws.base) if left.size and self.only_prices else None
        for draw in left.tolist():
            if live is None:
                outcome = solve_arrays(self.draws.program(draw))
            else:
                live.change(cost=self.draws.of("cost", draw))
                outcome = live.solve()
            self.status[draw], self.certified[draw] = outcome.status, outcome.certified
            if outcome.x is not None and outcome.row_price is not None and outcome.objective is not None:
                self.x[draw], self.row_price[draw] = outcome.x, outcome.row_price
                self.objective[draw] = outcome.objective

    @property
    def only_prices(self) -> bool:
        return all(getattr(self.draws, name) is None for name in NAMES if name != "cost")

    def _of(self, name: str) -> Array:
        return self.draws.of(name, slice(None))

    def _without_open_sides(self, which: Whole, row_price: Array) -> Array:
        """No price on an open side: there a row stands at the range its columns imply, and their own bounds bear it."""
        low, high = self.draws.of("row_lower", which), self.draws.of("row_upper", which)
        return np.where(np.isinf(np.where(row_price > 0.0, low, high)), 0.0, row_price)

    def _optimal(self, which: Whole, x: Array, row_price: Array) -> None:
        self.status[which], self.certified[which] = Status.OPTIMAL, True
        self.x[which], self.row_price[which] = x, row_price
        self.objective[which] = (self.draws.of("cost", which) * x).sum(axis=1)

    def answers(self, keep_x: bool, keep_row_price: bool) -> Answers:
        return Answers(
            status=self.status, objective=self.objective, x=self.x if keep_x else None,
            row_price=self.row_price if keep_row_price else None, certified=self.certified, basic_sets=len(self.sets),
            steps=self.steps, by_solver=self.by_solver, resolved=self.resolved,
            seconds=time.perf_counter() - self.begin,
        )  # fmt: skip
