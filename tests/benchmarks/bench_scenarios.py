"""How much faster are 10,000 scenarios with their statistics than rebuilding a model for each?

Run it: `python tests/benchmarks/bench_scenarios.py [--draws 10000] [--all]`. Ways are timed in turn in one process, on
one core; medians with minimum and maximum over the rounds; ratios to both rebuilds. "scenarios" is all that a buyer
gets: every scenario solved and certified, shares taken, quantiles, drivers. `--all` holds every scenario against a
plain solve of its own, else one in 20.
"""

from __future__ import annotations

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy is imported
os.environ.setdefault("OMP_NUM_THREADS", "1")

import argparse
import statistics
import subprocess
import sys
import time
from importlib.metadata import version
from pathlib import Path

import numpy as np
import pulp

HERE = Path(__file__).resolve()
sys.path[:0] = [str(HERE.parent), str(HERE.parents[1] / "support"), str(HERE.parents[2])]

from bench_sweep import GOALS, ROUNDS, SEED, Case, largest_difference, peak_MB, ratio_words, ways  # noqa: E402
from blends import ADDITIVES, ROWS, made_up_blend, price_draws, redraws  # noqa: E402

from optimizer.datafiles import data_folder  # noqa: E402
from optimizer.inputs.book import load_book  # noqa: E402
from optimizer.inputs.folder import load_site_folder  # noqa: E402
from optimizer.market.correlation import check_correlation, price_factors  # noqa: E402
from optimizer.market.job import Job, cost_of  # noqa: E402
from optimizer.market.scenarios import Scenarios, solve_scenarios, summary  # noqa: E402
from optimizer.market.what_if import composition_scenarios, price_scenarios  # noqa: E402
from optimizer.services.recipe import demo_request  # noqa: E402
from optimizer.solver import Answers, Draws, solve_draws  # noqa: E402
from optimizer.solver.highs import QuietHighs, highs_options  # noqa: E402

CORRELATION = 0.5  # of any two lots, and of any two additives


def correlated(count: int, lots: int) -> Draws:
    """Lognormal prices of 10 %, lots that move together and additives that move together."""
    lp = made_up_blend(lots)
    kind = np.arange(lp.cost.size) < lots
    matrix = np.where(kind[:, None] == kind, CORRELATION, 0.0)
    np.fill_diagonal(matrix, 1.0)
    check_correlation(matrix, [str(j) for j in range(lp.cost.size)])
    factors = price_factors(np.random.default_rng(SEED), count, np.full(lp.cost.size, 0.1), matrix)
    return Draws(lp, cost=lp.cost * factors)


def cases(count: int) -> list[Case]:
    found = []
    for lots in (30, 100):
        lp = made_up_blend(lots)
        found.append(Case("prices", lots, 0.1, Draws(lp, cost=price_draws(lp, count, 0.1, seed=SEED))))
        found.append(Case("prices, lognormal, correlated", lots, 0.1, correlated(count, lots)))
        found.append(Case("redraws", lots, 0.1, redraws(lp, count, 0.1, seed=SEED)))
    return found


def inputs_of(draws: Draws) -> np.ndarray:
    """What differs: prices, and for redraws the stocks and targets too."""
    arrays = [getattr(draws, name) for name in ("cost", "upper", "row_upper")]
    found = np.hstack([array for array in arrays if array is not None])
    return np.asarray(found[:, np.isfinite(found).all(axis=0)])


def everything(draws: Draws) -> Scenarios:
    """All scenarios and what they tell."""
    inputs, n = inputs_of(draws), draws.base.cost.size
    names = [str(j) for j in range(n)]
    return summary(solve_scenarios(draws, np.eye(n)), names, inputs, [str(j) for j in range(inputs.shape[1])])


def report(case: Case, every: int) -> None:
    keep: list[Answers] = []
    told: list[Scenarios] = []
    timed = ways(case.draws, keep)

    def scenarios(_: int) -> float:
        begin = time.perf_counter()
        told[:] = [everything(case.draws)]
        return (time.perf_counter() - begin) / len(case.draws)

    timed["scenarios"] = scenarios
    seconds: dict[str, list[float]] = {}
    for r in range(ROUNDS + 1):
        for name, way in timed.items():
            once = way(r)
            if r:  # the first is to warm up
                seconds.setdefault(name, []).append(once)
    found, answers = told[0], keep[0]
    worst = largest_difference(case.draws, answers, every)
    print(f"\n{case.name}, {case.lots} lots, ±{case.spread:.0%}, {found.scenarios} scenarios")
    print(
        f"  certified {found.certified / found.scenarios:.2%}, solved again {found.resolved}, one by one "
        f"{found.by_solver}, infeasible {found.infeasible}, basic sets {answers.basic_sets}, explained by the drivers "
        f"{found.explained:.1%}, largest difference to plain solves {worst:.1e} (1 in {every})"
    )
    for name, taken in seconds.items():
        words = [ratio_words(seconds[base], taken) for base in ("rebuild", "best rebuild")]
        print(f"  {name:20s} {words[0]:30s} {words[1]:30s} {statistics.median(taken) * 1e6:8.1f} us per scenario")
    if case.name in GOALS and case.lots == 30:
        reached = [  # side by side in each round, as in the table
            statistics.median(slow / fast for slow, fast in zip(seconds[base], seconds["scenarios"], strict=True))
            for base in ("rebuild", "best rebuild")
        ]
        goal = GOALS[case.name]
        met = reached[0] >= goal[0] and reached[1] >= goal[1]
        print(
            f"  goal {goal[0]:.0f}x ({goal[1]:.0f}x), statistics included: {reached[0]:.0f}x ({reached[1]:.0f}x) "
            f"{'met' if met else 'NOT met'}"
        )


def kitchens(count: int) -> None:
    """The invented kitchens: scenarios of a whole job against settling the job anew for each."""
    book = load_book()
    for site in ("ombrey_hollow", "sanduri_flats"):
        found = load_site_folder(data_folder() / "demo" / site, book)
        job = Job(batches=(demo_request(site),), site=found.site, lots=found.lots, offers=found.offers, book=book)
        codes = [offer.offer for offer in job.offers if offer.unit == "kg"]
        now = np.array([offer.price for offer in job.offers if offer.unit == "kg"])
        prices = now * price_factors(np.random.default_rng(SEED), count, np.full(now.size, 0.1))
        begin = time.perf_counter()
        for row in prices[:20]:
            cost_of(job, dict(zip(codes, row.tolist(), strict=True)))
        anew = (time.perf_counter() - begin) / 20
        for name, once in (
            ("prices", lambda job=job, c=codes, p=prices, k=24: price_scenarios(job, c, p, spot_checks=k)),
            ("fruit", lambda job=job, k=24: composition_scenarios(
                job, np.random.default_rng(SEED), count, spot_checks=k)),
        ):  # fmt: skip
            begin = time.perf_counter()
            told = once()
            whole = time.perf_counter() - begin
            assert told.spot is not None
            print(
                f"{site}, {name}: {count} scenarios in {whole:.1f} s, {told.seconds:.2f} s of it the sweeps; "
                f"{anew * count / whole:.0f}x settling each anew; certified {told.certified}, solved again "
                f"{told.resolved}, infeasible {told.infeasible}; {told.spot.checked} settled anew differ by at most "
                f"{told.spot.largest_relative:.2%}"
            )


def memory(count: int) -> None:
    """In a process of its own: redraws made in blocks of 500, as they are solved, and their statistics."""
    lp = made_up_blend(30)
    n = lp.cost.size
    solve_draws(redraws(lp, 10, 0.1))
    before = peak_MB()
    blocks = (redraws(lp, 500, 0.1, seed=SEED + block) for block in range(count // 500))
    solved = solve_scenarios(blocks, np.eye(n))
    summary(solved, [str(j) for j in range(n)], solved.kg, [str(j) for j in range(n)])
    print(
        f"\nmemory of {count} redraws with their statistics, 30 lots, blocks of 500: peak {peak_MB():.0f} MB, "
        f"{before:.0f} MB of it Python, numpy and solvers"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--draws", type=int, default=10_000)
    parser.add_argument("--all", action="store_true", help="hold every scenario against a plain solve")
    parser.add_argument("--memory", action="store_true", help=argparse.SUPPRESS)
    options = parser.parse_args()
    QuietHighs()
    if options.memory:
        memory(options.draws)
        return
    print(
        f"Python {sys.version.split()[0]}, HiGHS {version('highspy')}, PuLP {pulp.__version__}, numpy {np.__version__}"
    )
    print(f"HiGHS options (the rebuilds keep its own; best rebuild: presolve off): {highs_options()}")
    print(
        f"lots + {ADDITIVES} additives, {ROWS} rows, seed {SEED}, one thread, certificate on, {ROUNDS} rounds; "
        f"correlation 0 but where it is told ({CORRELATION} within lots and within additives)"
    )
    sys.stdout.flush()
    subprocess.run([sys.executable, str(HERE), "--memory", "--draws", str(options.draws)], check=True)
    kitchens(options.draws)
    print("columns: times faster than rebuild, times faster than the best rebuild: median (least-most)")
    for case in cases(options.draws):
        report(case, 1 if options.all else 20)


if __name__ == "__main__":
    main()
