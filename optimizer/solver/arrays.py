"""The fast way: arrays straight to HiGHS, and a live solver for many like programs."""

from __future__ import annotations

from .highs import configured, highs_options, load, run
from .program import LinearProgram, Outcome
from .raw import RawAnswer, settle


def solve_arrays(lp: LinearProgram, *, time_limit_s: float | None = None, gap: float | None = None) -> Outcome:
    """Solve one program without a modelling layer; the same answers as `solve`, several times faster.

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

    def route(program: LinearProgram, again: bool) -> RawAnswer:
        highs = configured(highs_options(time_limit_s=time_limit_s, gap=gap, second_try=again))
        load(highs, program)
        return run(highs, mixed_integer=program.is_mixed_integer)

    return settle(lp, route, solver="highs arrays")
