"""How long a solve takes, in units of the time inside HiGHS with default options for the same program.

Run by hand: python tests/benchmarks/bench_solver.py. The ways are interleaved in one process; medians with minimum and
maximum; ratios only, for another machine has other seconds.
"""

from __future__ import annotations

import argparse
import statistics
from collections.abc import Callable

import numpy as np
from common import exponent, goal, heading, in_turn, inside, ratios, seconds, words
from rebuilds import best_rebuild, plain_rebuild

from optimizer.solver import LinearProgram, LiveSolver, Outcome, certify, ranging, solve, solve_arrays
from optimizer.solver.highs import highs_options

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


def answer_is(lp: LinearProgram, outcome: Outcome) -> None:
    assert outcome.certified, outcome
    assert outcome.x is not None
    assert certify(lp, outcome.x, outcome.row_price).ok


def ways(lp: LinearProgram, live: LiveSolver) -> dict[str, Callable[[], float]]:
    return {
        "R": lambda: inside(lp),
        "rebuild: lpSum, HiGHS default": lambda: seconds(lambda: plain_rebuild(lp)),
        "best rebuild: pairs, presolve off": lambda: seconds(lambda: best_rebuild(lp)),
        "solve, through PuLP": lambda: seconds(lambda: solve(lp)),
        "solve_arrays": lambda: seconds(lambda: solve_arrays(lp)),
        "solve, with ranges": lambda: seconds(lambda: ranging(lp, solve(lp))),
        "solve_arrays, with ranges": lambda: seconds(lambda: ranging(lp, solve_arrays(lp))),
        "live solver, same basis": lambda: seconds(live.solve),
        "floor: inside HiGHS, our options": lambda: inside(lp, highs_options()),
    }


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--quick", action="store_true", help="10, 100 and 1000 lots, three rounds")
    parser.add_argument("--sizes", type=int, nargs="+", help="numbers of lots instead")
    options = parser.parse_args()
    sizes = options.sizes or ((10, 100, 1000) if options.quick else SIZES)
    rounds = 3 if options.quick or options.sizes else ROUNDS
    heading("One program", seed=SEED, rounds=rounds, sizes=f"{list(sizes)} lots, {ROWS} rows")
    whole = ("solve, with ranges", "solve_arrays, with ranges")
    medians: dict[int, dict[str, float]] = {}
    for n in sizes:
        lp = made_up_blend(n)
        through_pulp, on_arrays = solve(lp), solve_arrays(lp)
        answer_is(lp, through_pulp)
        answer_is(lp, on_arrays)
        assert through_pulp.objective is not None
        assert on_arrays.objective is not None
        live = LiveSolver(lp)
        live.solve()
        taken = in_turn(ways(lp, live), rounds)
        difference = abs(through_pulp.objective - on_arrays.objective) / abs(on_arrays.objective)
        print(f"n={n}: both certified, the two routes differ by {difference:.1e}")
        for name, values in taken.items():
            print(f"  {name:34s} {words(ratios(values, taken['R'])):>24} R {statistics.median(values) * 1e3:10.2f} ms")
        medians[n] = {name: statistics.median(values) for name, values in taken.items()}
        if n == 100:
            for name, aim in zip(whole, (3.0, 0.3), strict=True):
                measured = statistics.median(ratios(taken[name], taken["R"]))
                goal(f"one made-up program, 100 lots: {name}", measured, must=4.0, aim=aim, unit=" R")
    if 100 in medians and max(sizes) > 100:
        for name in whole:
            p = exponent([100, max(sizes)], [medians[n][name] for n in (100, max(sizes))])
            goal(f"growth exponent, 100 to {max(sizes)} lots: {name}", p, must=1.25, aim=1.05)


if __name__ == "__main__":
    main()
