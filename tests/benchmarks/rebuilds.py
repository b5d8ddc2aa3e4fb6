"""The two ways of a plain program that rebuilds its model for every draw: what the benchmarks compare with."""

from __future__ import annotations

import pulp

from optimizer.solver import LinearProgram


def plain_rebuild(lp: LinearProgram) -> float | None:
    """The way of the textbook: rows by lpSum, default options."""
    problem, x = _columns(lp)
    problem += pulp.lpSum(c * v for c, v in zip(lp.cost.tolist(), x, strict=True))
    for row, low, high in zip(lp.matrix.tolist(), lp.row_lower.tolist(), lp.row_upper.tolist(), strict=True):
        total = pulp.lpSum(a * v for a, v in zip(row, x, strict=True))
        if low == high:
            problem += total == low
            continue
        if low > -float("inf"):
            problem += total >= low
        if high < float("inf"):
            problem += total <= high
    problem.solve(pulp.HiGHS(msg=False))
    return _optimum(problem)


def best_rebuild(lp: LinearProgram) -> float | None:
    """Rows from pairs without zeros, presolve off: what can be had from the same library."""
    problem, x = _columns(lp)
    problem.setObjective(pulp.LpAffineExpression(list(zip(x, lp.cost.tolist(), strict=True))))
    for row, low, high in zip(lp.matrix.tolist(), lp.row_lower.tolist(), lp.row_upper.tolist(), strict=True):
        total = pulp.LpAffineExpression([(v, a) for v, a in zip(x, row, strict=True) if a])
        if low == high:
            problem.addConstraint(pulp.LpConstraint(total, pulp.LpConstraintEQ, rhs=low))
            continue
        if low > -float("inf"):
            problem.addConstraint(pulp.LpConstraint(total, pulp.LpConstraintGE, rhs=low))
        if high < float("inf"):
            problem.addConstraint(pulp.LpConstraint(total, pulp.LpConstraintLE, rhs=high))
    problem.solve(pulp.HiGHS(msg=False, presolve="off"))
    return _optimum(problem)


def _columns(lp: LinearProgram) -> tuple[pulp.LpProblem, list[pulp.LpVariable]]:
    problem = pulp.LpProblem("draw", pulp.LpMinimize)
    pairs = zip(lp.lower.tolist(), lp.upper.tolist(), strict=True)
    return problem, [problem.add_variable(f"x{j}", low, up) for j, (low, up) in enumerate(pairs)]


def _optimum(problem: pulp.LpProblem) -> float | None:
    return pulp.value(problem.objective) if problem.status == pulp.LpStatusOptimal else None
