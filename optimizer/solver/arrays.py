"""The fast way: arrays straight to HiGHS, and a live solver for many like programs."""

from __future__ import annotations

import time
from dataclasses import replace

import highspy
import numpy as np

from .fixing import Whole, by_fixing
from .highs import begin_at, configured, highs_options, load, run
from .program import Array, LinearProgram, Outcome, Status
from .raw import RawAnswer
from .scaling import check_program, rescaled, scaled
from .settle import believe, settle, without_solver


def solve_arrays(
    lp: LinearProgram, *, time_limit_s: float | None = None, gap: float | None = None, presolve: bool = False,
    start: Array | None = None,
) -> Outcome:  # fmt: skip
    """Solve one program without a modelling layer; the same answers as `solve`, several times faster.

    Parameters
    ----------
    presolve : bool
        Make a program with whole numbers smaller first: pays where it is large.
    start : array (n,), optional
        An answer whose whole numbers the search begins with; they need not be the best, nor possible.

    Examples
    --------
    >>> import numpy as np
    >>> lp = LinearProgram(
    ...     cost=np.array([2.0, 3.0]), matrix=np.array([[1.0, 1.0]]), row_lower=np.array([4.0]),
    ...     row_upper=np.array([np.inf]), lower=np.zeros(2), upper=np.array([1.0, 10.0]),
    ... )
    >>> solve_arrays(lp).objective
    11.0
    """

    if not lp.is_mixed_integer or presolve or start is not None:
        return _as_it_stands(lp, time_limit_s, gap, presolve=presolve, start=start)
    return whole_numbers(lp, lambda part, limit: _as_it_stands(part, limit, gap), gap=gap, time_limit_s=time_limit_s)


def whole_numbers(lp: LinearProgram, whole: Whole, *, gap: float | None, time_limit_s: float | None) -> Outcome:
    """An integer program by way of its plain one, whoever solves it; see `fixing`."""
    begin = time.perf_counter()
    check_program(lp)
    outcome = by_fixing(lp, solve_arrays(replace(lp, integer=None)), whole, gap=gap, time_limit_s=time_limit_s)
    return replace(outcome, seconds=time.perf_counter() - begin)


def _as_it_stands(
    lp: LinearProgram, time_limit_s: float | None, gap: float | None, *, presolve: bool = False,
    start: Array | None = None,
) -> Outcome:  # fmt: skip
    def route(program: LinearProgram, again: bool) -> RawAnswer:
        highs = configured(
            highs_options(
                mixed_integer=lp.is_mixed_integer, time_limit_s=time_limit_s, gap=gap, second_try=again,
                presolve=presolve,
            )
        )  # fmt: skip
        load(highs, program)
        if start is not None and program.is_mixed_integer and not again:
            begin_at(highs, program, start)
        return run(highs, mixed_integer=program.is_mixed_integer)

    return settle(lp, route, solver="highs arrays")


class LiveSolver:
    """One program kept loaded: change costs, bounds or sides, and solve again from the last basis.

    Every answer passes the same certificate; one that does not is solved again cold and counted in `cold_solves`.
    One live solver belongs to one thread. Two threads, each with its own, run side by side: a run releases the lock.

    Examples
    --------
    >>> import numpy as np
    >>> lp = LinearProgram(
    ...     cost=np.array([2.0, 3.0]), matrix=np.array([[1.0, 1.0]]), row_lower=np.array([4.0]),
    ...     row_upper=np.array([np.inf]), lower=np.zeros(2), upper=np.array([1.0, 10.0]),
    ... )
    >>> live = LiveSolver(lp)
    >>> live.solve().objective
    11.0
    >>> live.change(cost=np.array([2.0, 1.0]))
    >>> live.solve().objective
    4.0
    """

    def __init__(self, lp: LinearProgram, *, time_limit_s: float | None = None) -> None:
        check_program(lp)
        self.cold_solves = 0
        self._time_limit_s = time_limit_s
        self._highs = configured(highs_options())
        self._lp, self._units = lp, scaled(lp)
        load(self._highs, self._units.lp)

    @property
    def lp(self) -> LinearProgram:
        """The program as it stands."""
        return self._lp

    def change(
        self,
        *,
        cost: Array | None = None,
        lower: Array | None = None,
        upper: Array | None = None,
        row_lower: Array | None = None,
        row_upper: Array | None = None,
        matrix: Array | None = None,
    ) -> None:
        """Replace whole arrays (same shapes); a new matrix loads the program anew and starts cold."""
        old = self._lp
        lp = replace(
            old,
            cost=old.cost if cost is None else cost,
            lower=old.lower if lower is None else lower,
            upper=old.upper if upper is None else upper,
            row_lower=old.row_lower if row_lower is None else row_lower,
            row_upper=old.row_upper if row_upper is None else row_upper,
            matrix=old.matrix if matrix is None else matrix,
        )
        check_program(lp)
        if matrix is not None:
            self._lp, self._units = lp, scaled(lp)
            load(self._highs, self._units.lp)
            return
        self._lp, self._units = lp, rescaled(lp, self._units)
        self._pass_on(
            costs=cost is not None,
            bounds=lower is not None or upper is not None,
            sides=row_lower is not None or row_upper is not None,
        )

    def solve(self) -> Outcome:
        """Solve the program as it stands."""
        begin = time.perf_counter()
        outcome = without_solver(self._lp)
        if outcome is None:
            outcome = self._run()
            if outcome.status is Status.FAILED:
                self.cold_solves += 1
                notes = (*outcome.notes, "solved again cold")
                self._highs.clearSolver()
                outcome = self._run()
                outcome = replace(outcome, notes=(*notes, *outcome.notes))
        return replace(outcome, solver="highs live", seconds=time.perf_counter() - begin)

    def _run(self) -> Outcome:
        if self._time_limit_s is not None:
            # HiGHS counts all runs of one object together
            self._highs.setOptionValue("time_limit", self._highs.getRunTime() + self._time_limit_s)
        return believe(self._lp, self._units, run(self._highs, mixed_integer=self._lp.is_mixed_integer))

    def _pass_on(self, *, costs: bool, bounds: bool, sides: bool) -> None:
        program = self._units.lp
        m, n = program.matrix.shape
        columns, rows = np.arange(n, dtype=np.int32), np.arange(m, dtype=np.int32)
        done = []
        if costs:
            done.append(self._highs.changeColsCost(n, columns, program.cost))
        if bounds:
            done.append(self._highs.changeColsBounds(n, columns, program.lower, program.upper))
        if sides:
            change_rows = self._highs.changeRowsBounds  # type: ignore[attr-defined]
            done.append(change_rows(m, rows, program.row_lower, program.row_upper))
        if highspy.HighsStatus.kError in done:
            raise ValueError("HiGHS refused the change: check the arrays for figures beyond 1e15")
