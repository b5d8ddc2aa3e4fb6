"""The readable front door: a program becomes a PuLP model, solved by HiGHS or CBC."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

import highspy
import numpy as np
import pulp

from .arrays import whole_numbers
from .basis import corner
from .highs import configured, highs_options, load, pass_rows, run
from .program import Array, LinearProgram, Outcome, Status
from .raw import RawAnswer
from .settle import settle

SolverName = Literal["highs", "cbc"]


def solve(
    lp: LinearProgram,
    *,
    solver: SolverName = "highs",
    time_limit_s: float | None = None,
    gap: float | None = None,
) -> Outcome:
    """Solve one program through PuLP; every answer has passed the certificate.

    Parameters
    ----------
    lp : LinearProgram
        Minimised. Rows may be of any size: they are scaled before and unscaled after.
    solver : "highs" or "cbc"
        Both come with the package.
    time_limit_s : float, optional
        Seconds after which an integer search stops with the best it has.
    gap : float, optional
        Relative gap at which an integer search may stop; None asks for proof (to 1e-6).

    Raises
    ------
    ValueError
        The arrays are no linear program, or the solver is unknown.

    Examples
    --------
    Four units of two ingredients, the cheaper one scarce:

    >>> lp = LinearProgram(
    ...     cost=np.array([2.0, 3.0]), matrix=np.array([[1.0, 1.0]]), row_lower=np.array([4.0]),
    ...     row_upper=np.array([np.inf]), lower=np.zeros(2), upper=np.array([1.0, 10.0]),
    ... )
    >>> answer = solve(lp)
    >>> answer.status.value, answer.objective, answer.x.tolist()
    ('optimal', 11.0, [1.0, 3.0])
    >>> answer.row_price.tolist(), answer.reduced_cost.tolist()
    ([3.0], [-1.0, 0.0])
    """
    if solver == "highs" and lp.is_mixed_integer:
        return whole_numbers(lp, lambda part, limit: _highs(part, limit, gap), gap=gap, time_limit_s=time_limit_s)
    if solver == "highs":
        return _highs(lp, time_limit_s, gap)
    if solver == "cbc":
        return settle(lp, lambda p, again: _by_cbc(p, again, time_limit_s, gap), solver="cbc")
    raise ValueError(f'solver="{solver}": give "highs" or "cbc"')


def _highs(lp: LinearProgram, time_limit_s: float | None, gap: float | None) -> Outcome:
    return settle(lp, lambda p, again: _by_highs(p, again, time_limit_s, gap), solver="highs")


@dataclass(frozen=True)
class _Model:
    """A PuLP problem and our own numbering of what is in it."""

    problem: pulp.LpProblem
    variables: list[pulp.LpVariable]
    rows: list[tuple[int, pulp.LpConstraint]]  # our row number; a row with two sides gives two constraints


def _build(lp: LinearProgram) -> _Model:
    """Expressions from pairs of nonzeros: summing terms one by one is many times slower. Names are numbers."""
    m, n = lp.matrix.shape
    whole = np.zeros(n, dtype=bool) if lp.integer is None else lp.integer
    problem = pulp.LpProblem("blend", pulp.LpMinimize)
    variables = [
        problem.add_variable(
            f"x{j:07d}",
            lowBound=low if math.isfinite(low) else None,
            upBound=up if math.isfinite(up) else None,
            cat=pulp.LpInteger if is_whole else pulp.LpContinuous,
        )
        for j, (low, up, is_whole) in enumerate(zip(lp.lower.tolist(), lp.upper.tolist(), whole.tolist(), strict=True))
    ]
    # Columns of cost 0 stay in, or PuLP would not know a column that no row uses.
    problem.setObjective(pulp.LpAffineExpression(list(zip(variables, lp.cost.tolist(), strict=True))))
    rows: list[tuple[int, pulp.LpConstraint]] = []
    for i in range(m):
        used = np.flatnonzero(lp.matrix[i])
        if not used.size:
            continue  # a row of zeros holds by now
        values = lp.matrix[i, used].tolist()
        pairs = [(variables[j], a) for j, a in zip(used.tolist(), values, strict=True)]
        expression = pulp.LpAffineExpression(pairs)  # the two sides of a row share it
        for sense, side in _sides(float(lp.row_lower[i]), float(lp.row_upper[i])):
            constraint = pulp.LpConstraint(expression, sense, f"r{len(rows):07d}", side)
            problem.addConstraint(constraint)
            rows.append((i, constraint))
    return _Model(problem, variables, rows)


def _sides(lower: float, upper: float) -> list[tuple[int, float]]:
    if lower == upper:
        return [(pulp.LpConstraintEQ, lower)]
    sides = []
    if math.isfinite(lower):
        sides.append((pulp.LpConstraintGE, lower))
    if math.isfinite(upper):
        sides.append((pulp.LpConstraintLE, upper))
    return sides


def _by_highs(lp: LinearProgram, again: bool, time_limit_s: float | None, gap: float | None) -> RawAnswer:
    model = _build(lp)
    highs = configured(
        highs_options(mixed_integer=lp.is_mixed_integer, time_limit_s=time_limit_s, gap=gap, second_try=again)
    )
    _hand_over(model, highs)
    raw = run(highs, mixed_integer=lp.is_mixed_integer)
    return replace(raw, row_price=_per_row(lp, model, raw.row_price), ray=_per_row(lp, model, raw.ray))


def _hand_over(model: _Model, highs: highspy.Highs) -> None:
    """The PuLP problem in one call; PuLP's own way adds columns and rows one by one, which takes as long as a solve.

    Columns and constraints keep our order; PuLP would sort the columns by name.
    """
    for number, variable in enumerate(model.variables):
        variable.index = number
    start, indices, values = [0], [], []
    for number, (_, constraint) in enumerate(model.rows):
        constraint.index = number
        indices += [variable.index for variable in constraint.expr]
        values += constraint.expr.values()
        start.append(len(indices))
    cost = np.zeros(len(model.variables))
    cost[[variable.index for variable in model.problem.objective]] = list(model.problem.objective.values())
    lower, upper = _open_where_none([(variable.lowBound, variable.upBound) for variable in model.variables])
    row_lower, row_upper = _open_where_none([(constraint.getLb(), constraint.getUb()) for _, constraint in model.rows])
    is_whole = [variable.cat == pulp.LpInteger for variable in model.variables]
    pass_rows(
        highs, cost, lower, upper, row_lower, row_upper, np.array(start, dtype=np.int32),
        np.array(indices, dtype=np.int32), np.array(values, dtype=float), np.array(is_whole, dtype=np.int32),
    )  # fmt: skip


def _open_where_none(sides: list[tuple[float | None, float | None]]) -> tuple[Array, Array]:
    """Lower and upper sides, infinite where there is none."""
    lower = np.array([-np.inf if low is None else low for low, _ in sides], dtype=float)
    return lower, np.array([np.inf if high is None else high for _, high in sides], dtype=float)


def _per_row(lp: LinearProgram, model: _Model, prices: Array | None) -> Array | None:
    """Prices of constraints summed into prices of rows: of a row's two sides at most one binds."""
    if prices is None:
        return None
    total = np.zeros(lp.matrix.shape[0])
    for i, constraint in model.rows:
        total[i] += prices[constraint.index]
    return total


def _by_cbc(lp: LinearProgram, again: bool, time_limit_s: float | None, gap: float | None) -> RawAnswer:
    model = _build(lp)
    mixed_integer = lp.is_mixed_integer
    door = pulp.COIN_CMD(
        path=pulp.PULP_CBC_CMD.pulp_cbc_path,
        msg=False,
        timeLimit=time_limit_s,
        gapRel=gap,
        presolve=False if again else None,
    )
    try:
        model.problem.solve(door)
    except pulp.PulpSolverError:
        return _no_answer_by_cbc(lp, again, time_limit_s)
    found = model.problem.sol_status
    optimal = found == pulp.LpSolutionOptimal
    if not optimal and not (found == pulp.LpSolutionIntegerFeasible and mixed_integer):
        return _no_answer_by_cbc(lp, again, time_limit_s)
    prices = None
    if not mixed_integer:
        prices = np.zeros(lp.matrix.shape[0])
        for i, constraint in model.rows:
            prices[i] += constraint.pi or 0.0
    x = np.array([float(variable.varValue or 0.0) for variable in model.variables])
    if prices is not None:
        x, prices = corner(lp, x, prices) or (x, prices)  # CBC prints eight digits
    return RawAnswer(
        # CBC calls "optimal" also what ends within the gap that was allowed
        status=Status.OPTIMAL if optimal and not gap else Status.STOPPED,
        x=x,
        row_price=prices,
        bound=float(lp.cost @ x) if mixed_integer and optimal and not gap else None,
        note="" if optimal else "CBC stopped at its limit",
    )


def _no_answer_by_cbc(lp: LinearProgram, again: bool, time_limit_s: float | None) -> RawAnswer:
    """CBC was seen to call unbounded programs infeasible, and to break down on them; HiGHS says which, with a proof."""
    highs = configured(highs_options(mixed_integer=lp.is_mixed_integer, time_limit_s=time_limit_s, second_try=again))
    load(highs, lp)
    raw = run(highs, mixed_integer=lp.is_mixed_integer)
    if raw.status.has_answer:
        return RawAnswer(status=Status.FAILED, note="CBC found no answer, though there is one")
    return replace(raw, note="CBC found no answer; the reason is by HiGHS")
