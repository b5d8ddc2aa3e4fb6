"""Discrete blends: at most eight lots, least amounts, whole bags; HiGHS and CBC at a gap of 1e-3, ten seeds.

    python tests/benchmarks/bench_discrete.py [--lots 100] [--seeds 10] [--quick]

One seed shows nothing: times of the same program differ by seventy between seeds.
"""

from __future__ import annotations

import argparse
import statistics
from collections.abc import Callable

from common import goal, heading, inside, ratios, seconds, words  # first: it finds the rest

# isort: split
import numpy as np
import pulp
from blends import ADDITIVES, BATCH_KG, made_up_blend

from optimizer.solver import LinearProgram, Outcome, certify, solve, solve_arrays

GAP, ROUNDS, LIMIT_S = 1e-3, 3, 30.0
MOST_LOTS, LEAST_KG, BAG_KG = 12, 2.0, 2.5


def discrete(lots: int, seed: int) -> LinearProgram:
    """The made-up blend; a lot is used with 2 kg or more or not at all, at most 12 of them, additives in whole bags."""
    plain = made_up_blend(lots, seed=seed, slack=0.25)
    m, n = plain.matrix.shape
    used, bags = n, n + lots
    width = n + lots + ADDITIVES
    rows, low, high = [], [], []

    def add(entries: dict[int, float], least: float, most: float) -> None:
        row = np.zeros(width)
        for column, value in entries.items():
            row[column] = value
        rows.append(row)
        low.append(least)
        high.append(most)

    for j in range(lots):
        add({j: 1.0, used + j: -float(plain.upper[j])}, -np.inf, 0.0)
        add({j: 1.0, used + j: -LEAST_KG}, 0.0, np.inf)
    add({used + j: 1.0 for j in range(lots)}, -np.inf, float(MOST_LOTS))
    for k in range(ADDITIVES):
        add({lots + k: 1.0, bags + k: -BAG_KG}, -np.inf, 0.0)
    cost = np.concatenate([plain.cost, np.zeros(lots), plain.cost[lots:] * BAG_KG])
    cost[lots:n] = 0.0  # paid by the bag
    most_bags = np.ceil(plain.upper[lots:] / BAG_KG)
    return LinearProgram(
        cost=cost,
        matrix=np.vstack([np.hstack([plain.matrix, np.zeros((m, width - n))]), np.array(rows)]),
        row_lower=np.concatenate([plain.row_lower, low]),
        row_upper=np.concatenate([plain.row_upper, high]),
        lower=np.zeros(width),
        upper=np.concatenate([plain.upper, np.ones(lots), most_bags]),
        integer=np.arange(width) >= n,
    )


def plain_cbc(lp: LinearProgram) -> float:
    """The baseline: rows by pairs, PuLP's own call of CBC at the same gap."""
    problem = pulp.LpProblem("blend", pulp.LpMinimize)
    x = [
        problem.add_variable(f"x{j}", low, up, pulp.LpInteger if whole else pulp.LpContinuous)
        for j, (low, up, whole) in enumerate(
            zip(lp.lower.tolist(), lp.upper.tolist(), lp.integer.tolist(), strict=True)
        )
    ]
    problem.setObjective(pulp.LpAffineExpression(list(zip(x, lp.cost.tolist(), strict=True))))
    for row, low, high in zip(lp.matrix.tolist(), lp.row_lower.tolist(), lp.row_upper.tolist(), strict=True):
        pairs = [(v, a) for v, a in zip(x, row, strict=True) if a]
        for sense, side in ((pulp.LpConstraintGE, low), (pulp.LpConstraintLE, high)):
            if np.isfinite(side):
                problem.addConstraint(pulp.LpConstraint(pulp.LpAffineExpression(pairs), sense, rhs=side))
    problem.solve(pulp.COIN_CMD(path=pulp.PULP_CBC_CMD.pulp_cbc_path, msg=False, gapRel=GAP, timeLimit=LIMIT_S))
    return float(pulp.value(problem.objective))


def gap_reached(outcome: Outcome) -> float:
    if outcome.objective is None or outcome.bound is None:
        return np.nan
    return max(0.0, outcome.objective - outcome.bound) / abs(outcome.objective)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--lots", type=int, default=100)
    parser.add_argument("--seeds", type=int, default=10)
    parser.add_argument("--rounds", type=int, default=ROUNDS)
    parser.add_argument("--quick", action="store_true", help="40 lots, three seeds, one round")
    options = parser.parse_args()
    lots, seeds, rounds = (40, 3, 1) if options.quick else (options.lots, options.seeds, options.rounds)
    heading("Discrete blends", seed=f"1 to {seeds}", rounds=rounds, sizes=f"{lots} lots + {ADDITIVES} additives")
    print(f"at most {MOST_LOTS} lots of {BATCH_KG:g} kg, {LEAST_KG:g} kg or none, bags of {BAG_KG:g} kg; gap asked "
          f"{GAP:g}, limit {LIMIT_S:g} s; the median over rounds of each seed\n")  # fmt: skip
    print(
        f"{'seed':>4} {'ours, s':>8} {'HiGHS default':>14} {'CBC by PuLP':>12} {'ours/CBC':>9}"
        "  cost, bound, gap reached"
    )
    taken: dict[str, list[float]] = {"ours": [], "default": [], "cbc": []}
    worst_gap = 0.0
    for seed in range(1, seeds + 1):
        lp = discrete(lots, seed)
        found = solve_arrays(lp, gap=GAP, time_limit_s=LIMIT_S)
        assert found.x is not None
        assert found.objective is not None
        assert certify(lp, found.x, None).ok
        by_cbc = plain_cbc(lp)
        assert abs(by_cbc - found.objective) <= 2.5 * GAP * abs(found.objective), f"{by_cbc} and {found.objective}"
        ways: dict[str, Callable[[], float]] = {
            "ours": lambda lp=lp: seconds(lambda: solve(lp, gap=GAP, time_limit_s=LIMIT_S)),
            "default": lambda lp=lp: inside(lp, {"mip_rel_gap": GAP, "time_limit": LIMIT_S}),
            "cbc": lambda lp=lp: seconds(lambda: plain_cbc(lp)),
        }
        mine: dict[str, list[float]] = {name: [] for name in ways}
        for _ in range(rounds):
            for name, way in ways.items():
                mine[name].append(way())
        medians = {name: statistics.median(values) for name, values in mine.items()}
        for name, value in medians.items():
            taken[name].append(value)
        worst_gap = max(worst_gap, gap_reached(found))
        print(f"{seed:>4} {medians['ours']:8.3f} {medians['default']:14.3f} {medians['cbc']:12.3f} "
              f"{medians['ours'] / medians['cbc']:9.2f}  {found.objective:.4f}, {found.bound:.4f}, "
              f"{gap_reached(found):.1e}")  # fmt: skip
    for name, values in taken.items():
        print(f"  {name:8s} {words(values, 3)} s over {seeds} seeds")
    assert worst_gap <= GAP * 1.01, f"gap reached {worst_gap:.1e}"
    print(f"every answer whole and feasible by the certificate; largest gap reached {worst_gap:.1e} (asked {GAP:g})")
    share = statistics.median(taken["ours"]) / statistics.median(taken["cbc"])
    print(f"ours over CBC, seed by seed: {words(ratios(taken['ours'], taken['cbc']))}")
    name = f"discrete blend, {lots} lots, gap {GAP:g}, medians over {seeds} seeds"
    goal(name, share, must=1.0, aim=0.5, unit=" x CBC")


if __name__ == "__main__":
    main()
