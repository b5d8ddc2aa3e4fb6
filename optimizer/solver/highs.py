"""One place for HiGHS: options, load, run, read. Both routes use it."""

from __future__ import annotations

import highspy
import numpy as np
from numpy.typing import NDArray

from .program import Array, LinearProgram, Status
from .raw import PROVED_GAP, RawAnswer

_STOPPED_EARLY = (
    highspy.HighsModelStatus.kTimeLimit,
    highspy.HighsModelStatus.kIterationLimit,
    highspy.HighsModelStatus.kSolutionLimit,
    highspy.HighsModelStatus.kInterrupt,
    highspy.HighsModelStatus.kObjectiveBound,
    highspy.HighsModelStatus.kObjectiveTarget,
)
Whole = NDArray[np.int32]
_threads = 0  # 0: left to HiGHS, which is never refused


def use_threads(count: int) -> None:
    """Fix the number of threads of every later solve in this process (integer models gain, plain LPs do not).

    HiGHS refuses a run that asks for another number than the first one did, so the shared scheduler is made anew.
    Call it at the start, while no solve is running.
    """
    global _threads
    if count < 0:
        raise ValueError(f"threads={count}: give 0 (left to the solver) or a positive number")
    highspy.Highs.resetGlobalScheduler(True)
    _threads = count


def highs_options(
    *,
    mixed_integer: bool = False,
    time_limit_s: float | None = None,
    gap: float | None = None,
    second_try: bool = False,
    presolve: bool = False,
) -> dict[str, str | float | int]:
    """Options of every solve. Presolve is off unless asked for: for wide, short programs it costs more than the solve.

    A second try goes another way: the primal simplex, cold, or presolve for whole numbers. Presolve has no part in a
    plain LP, for it was seen to call an unbounded program infeasible, nor the interior point, seen not to end.
    """
    options: dict[str, str | float | int] = {
        "presolve": "on" if mixed_integer and second_try != presolve else "off",
        "primal_feasibility_tolerance": 1e-9,
        "dual_feasibility_tolerance": 1e-9,
        "small_matrix_value": 1e-12,
        "mip_rel_gap": PROVED_GAP if gap is None else gap,
        # 1: dual; 4: primal, which was seen to end wrong from a hot start, so only ever cold
        "simplex_strategy": 4 if second_try and not mixed_integer else 1,
    }
    if time_limit_s is not None:
        options["time_limit"] = float(time_limit_s)
    if presolve and mixed_integer:
        options |= {"mip_allow_restart": False, "parallel": "off"}
    if _threads:
        options["threads"] = _threads
    return options


class QuietHighs(highspy.Highs):
    """A solver that never writes to the screen.

    `highspy.Highs` prints a banner while it turns its callbacks on, before anyone can tell it to be quiet; that would
    spoil whatever a command prints. No callbacks are used here, so that step is left out.
    """

    def __init__(self) -> None:
        super(highspy.Highs, self).__init__()
        self.setOptionValue("output_flag", False)


def configured(options: dict[str, str | float | int]) -> highspy.Highs:
    """A quiet solver with these options."""
    highs = QuietHighs()
    for name, value in options.items():
        highs.setOptionValue(name, value)
    return highs


def load(highs: highspy.Highs, lp: LinearProgram) -> None:
    """Hand over the whole program in one call; filling a HighsLp field by field is several times slower."""
    m, n = lp.matrix.shape
    rows, columns = np.nonzero(lp.matrix)
    start = np.zeros(m + 1, dtype=np.int32)
    np.cumsum(np.bincount(rows, minlength=m), out=start[1:])
    integer = np.zeros(n, dtype=np.int32) if lp.integer is None else lp.integer.astype(np.int32)
    pass_rows(
        highs, lp.cost, lp.lower, lp.upper, lp.row_lower, lp.row_upper, start, columns.astype(np.int32),
        lp.matrix[rows, columns], integer,
    )  # fmt: skip


def pass_rows(
    highs: highspy.Highs, cost: Array, lower: Array, upper: Array, row_lower: Array, row_upper: Array, start: Whole,
    columns: Whole, values: Array, integer: Whole,
) -> None:  # fmt: skip
    """A program by the nonzeros of its rows: those of row i stand from `start[i]` to `start[i + 1]`."""
    status = highs.passModel(
        cost.size, row_lower.size, values.size, int(highspy.MatrixFormat.kRowwise), int(highspy.ObjSense.kMinimize),
        0.0, cost, lower, upper, row_lower, row_upper, start, columns, values, integer,
    )  # fmt: skip
    if status == highspy.HighsStatus.kError:
        raise ValueError("HiGHS refused the program: check its arrays for figures beyond 1e15")


def begin_at(highs: highspy.Highs, lp: LinearProgram, start: Array) -> None:
    """Whole numbers to begin a search with; the rest of that answer is worked out from them."""
    assert lp.integer is not None
    where = np.flatnonzero(lp.integer).astype(np.int32)
    highs.setSolution(where.size, where, np.round(start[where]))


def run(highs: highspy.Highs, *, mixed_integer: bool) -> RawAnswer:
    """Run and read; values are read only where the status says there are some."""
    highs.run()
    status = highs.getModelStatus()
    if status in (highspy.HighsModelStatus.kUnboundedOrInfeasible, highspy.HighsModelStatus.kUnbounded):
        return _which_of_both(highs, mixed_integer=mixed_integer)
    if status == highspy.HighsModelStatus.kInfeasible:
        return RawAnswer(status=Status.INFEASIBLE, ray=None if mixed_integer else _farkas_ray(highs))
    word = highs.modelStatusToString(status)
    info = highs.getInfo()
    has_point = info.primal_solution_status == highspy.SolutionStatus.kSolutionStatusFeasible
    if status != highspy.HighsModelStatus.kOptimal and not (status in _STOPPED_EARLY and mixed_integer and has_point):
        return RawAnswer(status=Status.FAILED, note=f"HiGHS ended with: {word}")
    optimal = status == highspy.HighsModelStatus.kOptimal
    solution = highs.getSolution()
    return RawAnswer(
        status=Status.OPTIMAL if optimal else Status.STOPPED,
        x=np.array(solution.col_value),
        row_price=None if mixed_integer else np.array(solution.row_dual),
        reduced_cost=None if mixed_integer else np.array(solution.col_dual),
        bound=float(info.mip_dual_bound) if mixed_integer else None,
        note="" if optimal else f"HiGHS ended with: {word}",
    )


def _farkas_ray(highs: highspy.Highs) -> Array | None:
    _, exists, ray = highs.getDualRay()  # type: ignore[attr-defined]
    return np.array(ray) if exists else None


def _which_of_both(highs: highspy.Highs, *, mixed_integer: bool) -> RawAnswer:
    """Without costs nothing is unbounded: what is left is feasible or not.

    Asked also where HiGHS says unbounded, so that a feasible point backs the word.
    """
    n = highs.getNumCol()
    everyone, cost = np.arange(n, dtype=np.int32), np.array(highs.getLp().col_cost_)
    highs.changeColsCost(n, everyone, np.zeros(n))
    highs.clearSolver()
    highs.run()
    status = highs.getModelStatus()
    ray = None if mixed_integer else _farkas_ray(highs)
    highs.changeColsCost(n, everyone, cost)
    if status == highspy.HighsModelStatus.kOptimal:
        return RawAnswer(status=Status.UNBOUNDED)
    if status == highspy.HighsModelStatus.kInfeasible:
        return RawAnswer(status=Status.INFEASIBLE, ray=ray)
    return RawAnswer(status=Status.FAILED, note=f"HiGHS ended with: {highs.modelStatusToString(status)}")
