"""How long a solve takes, in units of the time inside HiGHS with default options for the same program.

Run by hand: python tests/benchmarks/bench_solver.py. The ways are interleaved in one process; medians with minimum and
maximum; ratios only, for another machine has other seconds.
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable
from importlib.metadata import version

import highspy
import numpy as np
import pulp

from optimizer.solver import LinearProgram, LiveSolver, Outcome, certify, ranging, solve, solve_arrays
from optimizer.solver.highs import configured, highs_options, load

ROWS, ROUNDS, SEED = 26, 9, 20
SIZES = (10, 100, 1000, 10000)


def made_up_blend(n: int, seed: int = SEED) -> LinearProgram:
    """n lots and 12 additives, 26 dense rows: a mass of 100, windows around a recipe that is known to exist."""
    rng = np.random.default_rng(seed)
    columns = n + 12
    matrix = rng.uniform(0.0, 1.0, (ROWS, columns)) * 10.0 ** rng.integers(-3, 1, (ROWS, 1))
    matrix[rng.random((ROWS, columns)) < 0.2] = 0.0
    matrix[0] = 1.0
    use = np.zeros(columns)
    chosen = rng.choice(columns, size=min(20, columns), replace=False)
    use[chosen] = rng.dirichlet(np.ones(chosen.size)) * 100.0
    reached = matrix @ use
    low, high = reached * rng.uniform(0.85, 1.0, ROWS), reached * rng.uniform(1.0, 1.15, ROWS)
    low[0] = high[0] = 100.0
    return LinearProgram(
        cost=rng.uniform(0.3, 4.0, columns), matrix=matrix, row_lower=low, row_upper=high, lower=np.zeros(columns),
        upper=np.maximum(rng.uniform(5.0, 60.0, columns), use),
    )  # fmt: skip


def plain_pulp(lp: LinearProgram) -> None:
    """The way of the textbook: rows by lpSum, default options, every column a kilogram."""
    problem = pulp.LpProblem("plain", pulp.LpMinimize)
    x = [
        problem.add_variable(f"x{j}", low, up)
        for j, (low, up) in enumerate(zip(lp.lower.tolist(), lp.upper.tolist(), strict=True))
    ]
    problem += pulp.lpSum(c * v for c, v in zip(lp.cost.tolist(), x, strict=True))
    for row, low, high in zip(lp.matrix.tolist(), lp.row_lower.tolist(), lp.row_upper.tolist(), strict=True):
        total = pulp.lpSum(a * v for a, v in zip(row, x, strict=True))
        problem += total >= low
        problem += total <= high
    problem.solve(pulp.HiGHS(msg=False))


def inside(lp: LinearProgram, options: dict[str, str | float | int]) -> float:
    highs = configured(options)
    load(highs, lp)
    begin = time.perf_counter()
    highs.run()
    return time.perf_counter() - begin


def seconds(work: Callable[[], object]) -> float:
    begin = time.perf_counter()
    work()
    return time.perf_counter() - begin


def answer_is(lp: LinearProgram, outcome: Outcome) -> None:
    assert outcome.certified, outcome
    assert outcome.x is not None
    assert certify(lp, outcome.x, outcome.row_price).ok


def main() -> None:
    highspy.Highs().setOptionValue("output_flag", False)
    print(f"HiGHS {version('highspy')}, PuLP {pulp.__version__}, numpy {np.__version__}, {ROWS} rows, seed {SEED}")
    print(f"presolve off, tolerances 1e-9, certificate on, {ROUNDS} rounds: median (least-most), in units of R")
    for n in SIZES:
        lp = made_up_blend(n)
        through_pulp, on_arrays = solve(lp), solve_arrays(lp)
        answer_is(lp, through_pulp)
        answer_is(lp, on_arrays)
        assert through_pulp.objective is not None
        assert on_arrays.objective is not None
        live = LiveSolver(lp)
        live.solve()
        ways: dict[str, Callable[[], float]] = {
            "plain lpSum": lambda lp=lp: seconds(lambda: plain_pulp(lp)),
            "solve": lambda lp=lp: seconds(lambda: solve(lp)),
            "solve_arrays": lambda lp=lp: seconds(lambda: solve_arrays(lp)),
            "with ranges": lambda lp=lp: seconds(lambda: ranging(lp, solve_arrays(lp))),
            "live, same basis": lambda live=live: seconds(live.solve),
            "floor (inside, presolve off)": lambda lp=lp: inside(lp, highs_options()),
        }
        ratios: dict[str, list[float]] = {name: [] for name in ways}
        for round_number in range(ROUNDS + 1):
            unit = inside(lp, {})
            for name, way in ways.items():
                ratio = way() / unit
                if round_number:  # the first is to warm up
                    ratios[name].append(ratio)
        difference = abs(through_pulp.objective - on_arrays.objective) / abs(on_arrays.objective)
        print(f"n={n}: the two routes differ by {difference:.1e}")
        for name, values in ratios.items():
            print(f"  {name:30s} {statistics.median(values):7.2f} ({min(values):.2f}-{max(values):.2f})")


if __name__ == "__main__":
    main()
