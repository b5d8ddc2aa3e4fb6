"""What the benchmarks share: the unit R, ways taken in turn, ratios in words, goals that are never hidden."""

from __future__ import annotations

import gc
import json
import math
import os
import platform
import statistics
import sys
import time
from collections.abc import Callable, Iterable, Mapping
from importlib.metadata import version
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent / "support"), str(HERE.parents[1])]

from optimizer.solver import LinearProgram  # noqa: E402
from optimizer.solver.highs import configured, highs_options, load  # noqa: E402

ON_CPU = os.environ.get("BENCH_CLOCK") == "cpu"  # where others crowd the machine: seconds of this process alone
clock = time.process_time if ON_CPU else time.perf_counter
GOAL = "#goal "  # a line that begins so is for `all.py`
PACKAGES = ("highspy", "pulp", "numpy", "scipy", "pandas", "pydantic")


def heading(what: str, *, seed: int | str, rounds: int, sizes: object) -> None:
    """Versions, options, threads, seed, sizes: what a number is worth nothing without."""
    blas = os.environ.get("OPENBLAS_NUM_THREADS", "its own choice (`all.py` gives it one)")
    said = ", ".join(f"{name} {version(name)}" for name in PACKAGES)
    print(what)
    print(f"Python {platform.python_version()}, {said}; {os.cpu_count()} cores, threads of BLAS: {blas}")
    print(f"clock: {'CPU of this process' if ON_CPU else 'wall'}")
    print(f"HiGHS options of ours: {highs_options()}; R: the time inside HiGHS with its default options")
    print(f"seed {seed}, sizes {sizes}, {rounds} rounds taken in turn, the first apart; median (least - most)\n")


def seconds(work: Callable[[], object]) -> float:
    begin = clock()
    work()
    return clock() - begin


def inside(lp: LinearProgram, options: Mapping[str, str | float | int] | None = None) -> float:
    """Seconds inside HiGHS; without options its defaults. That is R."""
    highs = configured(dict(options or {}))
    load(highs, lp)
    begin = clock()
    highs.run()
    return clock() - begin


def in_turn(ways: Mapping[str, Callable[[], float]], rounds: int) -> dict[str, list[float]]:
    """Seconds of each way in each round, one way after the other in every round; the first round only warms up."""
    taken: dict[str, list[float]] = {name: [] for name in ways}
    for number in range(rounds + 1):
        gc.collect()
        for name, way in ways.items():
            once = way()
            if number:
                taken[name].append(once)
    return taken


def ratios(taken: Iterable[float], unit: Iterable[float]) -> list[float]:
    return [a / b for a, b in zip(taken, unit, strict=True)]


def words(values: list[float], digits: int = 2) -> str:
    return f"{statistics.median(values):.{digits}f} ({min(values):.{digits}f} - {max(values):.{digits}f})"


def exponent(sizes: list[int], times: list[float]) -> float:
    """p of time = c n^p, from the first size to the last."""
    return math.log(times[-1] / times[0]) / math.log(sizes[-1] / sizes[0])


def goal(name: str, measured: float, *, must: float, aim: float, unit: str = "", more_is_better: bool = False) -> None:
    """Say whether a goal is met, for people and for `all.py`."""
    better = (lambda a, b: a >= b) if more_is_better else (lambda a, b: a <= b)
    verdict = "aim met" if better(measured, aim) else "must met, aim NOT met" if better(measured, must) else "NOT met"
    sign = "at least" if more_is_better else "at most"
    bounds = f"must {sign} {must:g}{unit}, aim {sign} {aim:g}{unit}"
    print(f"goal: {name}: measured {measured:.3g}{unit}; {bounds}: {verdict}")
    print(GOAL + json.dumps({"name": name, "measured": f"{measured:.3g}{unit}", "must": f"{sign} {must:g}{unit}",
                             "aim": f"{sign} {aim:g}{unit}", "verdict": verdict}))  # fmt: skip
