"""Whole recipes, reasons included, in units of one run of HiGHS on the same linear program; not collected by pytest.

    python tests/benchmarks/bench_recipe.py

Prints ratios measured side by side in one process: never times to be met.
"""

from __future__ import annotations

import platform
import statistics
import sys
import time
from datetime import date
from importlib.metadata import version
from pathlib import Path

import highspy
import numpy as np

sys.path.insert(0, str(Path(__file__).parent.parent / "support"))

from markets import BOOK, FRUITS, fruit_lot, usual_offers

from optimizer.blend.program import answer, build
from optimizer.blend.recipe import best_settled, make_recipe, prepare_case
from optimizer.blend.request import Request
from optimizer.inputs.models import Pan, Site

SIZES = (10, 30, 100, 300)
ROUNDS = 5
SITE = Site(ph_meter="yes", pans=(Pan(capacity_L=300.0, power_kW=60.0, fuel_price=1.0),))
REQUEST = Request(product="jam", batch_kg=200.0, on=date(2026, 7, 4), standard="none")


def market(lots: int) -> tuple:
    """Invented lots of fruits that are not low in acid."""
    rng = np.random.default_rng(1)
    pool = [item for item in FRUITS if not BOOK.fruits[item].is_low_acid]
    return tuple(
        fruit_lot(
            f"F{i}",
            pool[rng.integers(len(pool))],
            kg=float(rng.uniform(5.0, 50.0)),
            worth=float(rng.uniform(0.05, 1.0)),
            brix_fraction=float(rng.uniform(0.08, 0.15)),
        )
        for i in range(lots)
    )


def inside_highs(lp) -> float:
    """Seconds inside HiGHS with default options for the settled program."""
    model = highspy.HighsLp()
    model.num_col_, model.num_row_ = len(lp.cost), len(lp.row_lower)
    model.col_cost_, model.col_lower_, model.col_upper_ = lp.cost, lp.lower, lp.upper
    model.row_lower_, model.row_upper_ = lp.row_lower, lp.row_upper
    rows, columns = np.nonzero(lp.matrix)
    model.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    model.a_matrix_.start_ = np.concatenate([[0], np.cumsum(np.count_nonzero(lp.matrix, axis=1))])
    model.a_matrix_.index_ = columns
    model.a_matrix_.value_ = lp.matrix[rows, columns]
    solver = highspy.Highs()
    solver.setOptionValue("output_flag", False)
    solver.passModel(model)
    start = time.perf_counter()
    solver.run()
    return time.perf_counter() - start


def clocked(what) -> float:
    start = time.perf_counter()
    what()
    return time.perf_counter() - start


def main() -> None:
    packages = ", ".join(f"{name} {version(name)}" for name in ("pulp", "highspy", "numpy"))
    print(f"Python {platform.python_version()}, {packages}")
    print(f"{ROUNDS} rounds, interleaved, median (least - most), in units of R: one run of HiGHS, default options\n")
    print(f"{'lots':>5} {'one solve':>22} {'settled':>22} {'with reasons':>22}")
    offers = usual_offers()
    for lots in SIZES:
        mine = market(lots)
        case, _ = prepare_case(REQUEST, SITE, mine, offers, BOOK)
        best, _ = best_settled(case)
        ratios: dict[str, list[float]] = {"one": [], "settled": [], "whole": []}
        for _ in range(ROUNDS):
            unit = inside_highs(best.program.lp)
            ratios["one"].append(clocked(lambda case=best.case: answer(build(case))) / unit)
            ratios["settled"].append(clocked(lambda case=case: best_settled(case)) / unit)
            whole = clocked(lambda mine=mine: make_recipe(REQUEST, SITE, mine, offers, BOOK))
            ratios["whole"].append(whole / unit)
        cells = [f"{statistics.median(r):.1f} ({min(r):.1f} - {max(r):.1f})" for r in ratios.values()]
        print(f"{lots:>5} {cells[0]:>22} {cells[1]:>22} {cells[2]:>22}")


if __name__ == "__main__":
    main()
