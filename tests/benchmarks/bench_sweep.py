"""How much faster are many draws together than one by one?

Run it: `python tests/benchmarks/bench_sweep.py [--draws 10000] [--all]`. Ways are timed in turn in one process, on one
core; medians with minimum and maximum over the rounds; ratios to both rebuilds, for another machine has other seconds.
`--all` holds every draw against a plain solve of its own, else one in 20.
"""

from __future__ import annotations

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy is imported
os.environ.setdefault("OMP_NUM_THREADS", "1")

import argparse
import resource
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path

import numpy as np
import pulp

HERE = Path(__file__).resolve()
sys.path[:0] = [str(HERE.parent), str(HERE.parents[1] / "support"), str(HERE.parents[2])]

from blends import ADDITIVES, ROWS, made_up_blend, price_draws, redraws, tightened  # noqa: E402
from common import goal  # noqa: E402
from rebuilds import best_rebuild, plain_rebuild  # noqa: E402

from optimizer.solver import Answers, Draws, LiveSolver, Status, solve_arrays, solve_draws  # noqa: E402
from optimizer.solver.certify_many import certified  # noqa: E402
from optimizer.solver.highs import QuietHighs, highs_options  # noqa: E402
from optimizer.solver.starts import nominal_start  # noqa: E402

ROUNDS, SEED = 5, 2
GOALS = {"prices": (200.0, 50.0), "redraws": (60.0, 17.0)}  # at 30 lots ±10 %: over rebuild, over the best rebuild
MUST = {"prices": (25.0, 7.0), "redraws": (18.0, 5.0)}


@dataclass(frozen=True)
class Case:
    name: str
    lots: int
    spread: float
    draws: Draws


def cases(count: int, sizes: Sequence[int]) -> list[Case]:
    found = []
    for lots in sizes:
        lp = made_up_blend(lots)
        for spread in (0.03, 0.1):
            found.append(Case("prices", lots, spread, Draws(lp, cost=price_draws(lp, count, spread, seed=SEED))))
            found.append(Case("redraws", lots, spread, redraws(lp, count, spread, seed=SEED)))
    if 30 in sizes:
        found.append(Case("redraws, some infeasible", 30, 0.1, redraws(tightened(made_up_blend(30), 0.38), count, 0.1)))
    return found


def per_draw(work: Callable[[int], object], first: int, count: int) -> float:
    begin = time.perf_counter()
    for i in range(first, first + count):
        work(i)
    return (time.perf_counter() - begin) / count


def floor(draws: Draws, block: int = 192) -> None:
    """One basic set for all draws, its prices and the certificate of one answer: the least any way can do."""
    start = nominal_start(draws.base)
    n = draws.base.cost.size
    for begin in range(0, len(draws), block):
        number = np.arange(begin, min(begin + block, len(draws)))
        members, inverse = start(number, draws.of("matrix", slice(begin, begin + block)))
        full = np.zeros((number.size, n + ROWS))
        full[:, :n] = draws.of("cost", number)
        y = np.matmul(np.take_along_axis(full, members, axis=1)[:, None, :], inverse)[:, 0]
        certified(draws, number, np.broadcast_to(draws.base.lower, (number.size, n)), y)


def ways(draws: Draws, keep: list[Answers]) -> dict[str, Callable[[int], float]]:
    """Seconds per draw of each way, in round r."""
    count = len(draws)
    live = LiveSolver(draws.base)
    live.solve()
    only_prices = draws.matrix is None

    def hot(i: int) -> None:
        lp = draws.program(i)
        if only_prices:
            live.change(cost=lp.cost)
        else:
            live.change(
                cost=lp.cost, matrix=lp.matrix, row_lower=lp.row_lower, row_upper=lp.row_upper, lower=lp.lower,
                upper=lp.upper,
            )  # fmt: skip
        live.solve()

    def together(r: int) -> float:
        keep.append(solve_draws(draws))
        return keep.pop().seconds / count if r else keep[-1].seconds / count

    def all_at_once(work: Callable[[Draws], object]) -> float:
        begin = time.perf_counter()
        work(draws)
        return (time.perf_counter() - begin) / count

    def sample(size: int, r: int) -> tuple[int, int]:
        size = min(size, count // (ROUNDS + 1))
        return r * size, size

    return {
        "rebuild": lambda r: per_draw(lambda i: plain_rebuild(draws.program(i)), *sample(40, r)),
        "best rebuild": lambda r: per_draw(lambda i: best_rebuild(draws.program(i)), *sample(100, r)),
        "arrays, one by one": lambda r: per_draw(lambda i: solve_arrays(draws.program(i)), *sample(200, r)),
        "live solver": lambda r: per_draw(hot, *sample(200, r)),
        "together": together,
        "floor": lambda r: all_at_once(floor),
    }


def largest_difference(draws: Draws, answers: Answers, every: int) -> float:
    worst = 0.0
    for i in range(0, len(draws), every):
        plain = solve_arrays(draws.program(i))
        assert plain.status is answers.status[i], f"draw {i}: {plain.status} alone, {answers.status[i]} together"
        if plain.status is Status.OPTIMAL:
            assert plain.objective is not None
            worst = max(worst, abs(plain.objective - answers.objective[i]) / abs(plain.objective))
    return worst


def ratio_words(base: list[float], taken: list[float]) -> str:
    ratios = [slow / fast for slow, fast in zip(base, taken, strict=True)]
    return f"{statistics.median(ratios):8.1f} ({min(ratios):.1f}-{max(ratios):.1f})"


def report(case: Case, every: int) -> None:
    keep: list[Answers] = []
    seconds: dict[str, list[float]] = {}
    timed = ways(case.draws, keep)
    for r in range(ROUNDS + 1):
        for name, way in timed.items():
            once = way(r)
            if r:  # the first is to warm up
                seconds.setdefault(name, []).append(once)
    answers = keep[0]
    share = 1.0 - answers.resolved / len(answers)
    worst = largest_difference(case.draws, answers, every)
    print(f"\n{case.name}, {case.lots} lots, ±{case.spread:.0%}, {len(answers)} draws")
    print(
        f"  certified {answers.certified.mean():.2%}, solved again {answers.resolved}, by solver {answers.by_solver}, "
        f"infeasible {answers.infeasible}, basic sets {answers.basic_sets}, steps per draw "
        f"{answers.steps / len(answers):.2f}, largest difference {worst:.1e} (1 draw in {every})"
    )
    if case.lots == 30 and case.spread == 0.1:
        certified = float(answers.certified.mean()) * 100.0
        goal(f"{case.name}: answers certified", certified, must=100.0, aim=100.0, unit=" %", more_is_better=True)
        goal(f"{case.name}: of them solved again", 100.0 * (1.0 - share), must=100.0, aim=5.0, unit=" %")
        goal(f"{case.name}: largest difference to plain solves", worst, must=1e-7, aim=1e-9)
    for name, taken in seconds.items():
        words = [ratio_words(seconds[base], taken) for base in ("rebuild", "best rebuild")]
        print(f"  {name:20s} {words[0]:30s} {words[1]:30s} {statistics.median(taken) * 1e6:8.1f} us per draw")
    if case.name in GOALS and case.lots == 30 and case.spread == 0.1:
        reached = [
            statistics.median(seconds[base]) / statistics.median(seconds["together"]) for base in list(seconds)[:2]
        ]
        wanted = GOALS[case.name]
        bounds = zip(("rebuild", "the best rebuild"), reached, MUST[case.name], wanted, strict=True)
        for what, measured, must, aim in bounds:
            name = f"{len(answers)} {case.name}, 30 lots, ±10 %, over {what}"
            goal(name, measured, must=must, aim=aim, unit="x", more_is_better=True)
    if case.name in GOALS and case.lots == 100:
        ahead = statistics.median(seconds["live solver"]) / statistics.median(seconds["together"])
        name = f"{len(answers)} {case.name}, 100 lots, ±{case.spread:.0%}, over a hot start"
        goal(name, ahead, must=1.0, aim=1.5, unit="x", more_is_better=True)


def peak_MB() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0


def memory(count: int) -> None:
    """In a process of its own: redraws made in blocks of 500, as they are solved."""
    lp = made_up_blend(30)
    solve_draws(redraws(lp, 10, 0.1))
    before = peak_MB()
    size = min(count, 500)
    solve_draws(redraws(lp, size, 0.1, seed=SEED + block) for block in range(count // size))
    goal(f"memory of {count} redraws, 30 lots", peak_MB(), must=500.0, aim=150.0, unit=" MB")
    print(
        f"\nmemory of {count} redraws, 30 lots, blocks of {size}: peak {peak_MB():.0f} MB, of which Python, numpy and "
        f"solvers {before:.0f} MB"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--draws", type=int, default=10_000)
    parser.add_argument("--lots", type=int, nargs="+", default=[10, 30, 100])
    parser.add_argument("--quick", action="store_true", help="500 draws")
    parser.add_argument("--all", action="store_true", help="hold every draw against a plain solve")
    parser.add_argument("--memory", action="store_true", help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.quick:
        options.draws = min(options.draws, 500)
    QuietHighs()
    if options.memory:
        memory(options.draws)
        return
    print(
        f"Python {sys.version.split()[0]}, HiGHS {version('highspy')}, PuLP {pulp.__version__}, numpy {np.__version__}"
    )
    print(f"HiGHS options (the rebuilds keep its own; best rebuild: presolve off): {highs_options()}")
    print(
        f"lots + {ADDITIVES} additives, {ROWS} rows, every figure drawn on its own (no correlation), seed {SEED}, "
        f"one thread, certificate on, {ROUNDS} rounds"
    )
    sys.stdout.flush()
    subprocess.run([sys.executable, str(HERE), "--memory", "--draws", str(options.draws)], check=True)
    print("columns: times faster than rebuild, times faster than the best rebuild: median (least-most)")
    for case in cases(options.draws, options.lots):
        report(case, 1 if options.all else 20)


if __name__ == "__main__":
    main()
