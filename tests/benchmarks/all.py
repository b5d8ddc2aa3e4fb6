"""All benchmarks, each in a process of its own, and one report.

    python tests/benchmarks/all.py [--quick] [--only recipe sweep] [--out report.md]

The report begins with the goals: what must be met, what is aimed at, what was measured. A goal that is not met stands
there like any other, and so does one that nothing here measures.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass, field
from pathlib import Path

HERE = Path(__file__).resolve().parent
GOAL = "#goal "  # a line of a benchmark that begins so states a goal
COLUMNS = ("name", "must", "aim", "measured", "verdict")
ONE_THREAD = {f"{library}_NUM_THREADS": "1" for library in ("OPENBLAS", "OMP", "MKL")}
NOWHERE = (  # what the project has set itself and no program here does yet
    ("plan 30 x 4 x 7 within 0.5 % of the best known", "at most 1/2 of the whole-model time", "at most 1/5"),
    ("plan 100 x 8 x 14 in the time HiGHS needs for 1 %", "at most 1 % gap", "at most 0.8 %"),
    ("plan 300 x 20 x 30, 2 % gap", "at most 4 x its LP", "at most 2.5 x its LP"),
)


@dataclass
class Ran:
    """What one benchmark said."""

    name: str
    text: str
    seconds: float
    peak_MB: float
    code: int
    goals: list[dict[str, str]] = field(default_factory=list)


def run(script: Path, *, quick: bool) -> Ran:
    """Run one benchmark in a process of its own; its peak memory is that of the process."""
    command = [sys.executable, str(script)]
    if quick and '"--quick"' in script.read_text(encoding="utf-8"):
        command.append("--quick")
    begin = time.perf_counter()
    with tempfile.TemporaryFile("w+", encoding="utf-8") as said:
        child = subprocess.Popen(command, stdout=said, stderr=subprocess.STDOUT, env={**os.environ, **ONE_THREAD})
        _, status, usage = os.wait4(child.pid, 0)
        child.returncode = os.waitstatus_to_exitcode(status)
        took = time.perf_counter() - begin
        said.seek(0)
        lines = said.read().splitlines()
    goals = [json.loads(line.removeprefix(GOAL)) for line in lines if line.startswith(GOAL)]
    text = "\n".join(line for line in lines if not line.startswith(GOAL)).strip()
    return Ran(
        name=script.stem.removeprefix("bench_"), text=text, seconds=took, peak_MB=usage.ru_maxrss / 1024.0,
        code=child.returncode, goals=goals,
    )  # fmt: skip


def report(ran: list[Ran], *, quick: bool) -> str:
    """Goals first, then what each benchmark printed."""
    lines = ["# Benchmarks", ""]
    lines.append(f"{time.strftime('%Y-%m-%d')}, {os.cpu_count()} cores, load average before and after: {loads()}.")
    lines.append("Ratios are taken side by side in one process: trust factors of two on a shared machine, not of 1.1.")
    if quick:
        lines.append("Quick: small sizes and few rounds. A goal met at a smaller size is not met.")
    lines += ["", "| Goal | must | aim | measured | |", "|---|---|---|---|---|"]
    for one in ran:
        lines += ["| " + " | ".join(goal[column] for column in COLUMNS) + " |" for goal in one.goals]
        if one.code:
            lines.append(f"| `bench_{one.name}.py` | | | | stopped with {one.code}: see below |")
    lines += [f"| {name} | {must} | {aim} | – | not measured: there is no plan yet |" for name, must, aim in NOWHERE]
    lines += ["", "| Benchmark | seconds | peak memory of its process, MB |", "|---|---|---|"]
    lines += [f"| {one.name} | {one.seconds:.0f} | {one.peak_MB:.0f} |" for one in ran]
    for one in ran:
        lines += ["", f"## {one.name}", "", "```text", one.text, "```"]
    return "\n".join(lines) + "\n"


def loads() -> str:
    return f"{FIRST_LOAD:.1f}, {os.getloadavg()[0]:.1f}"


FIRST_LOAD = os.getloadavg()[0]


def main() -> None:
    scripts = {path.stem.removeprefix("bench_"): path for path in sorted(HERE.glob("bench_*.py"))}
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--quick", action="store_true", help="small sizes, few rounds: does it run?")
    parser.add_argument("--only", nargs="+", choices=list(scripts), help="some of them")
    parser.add_argument("--out", type=Path, help="write the report to a file as well")
    options = parser.parse_args()
    ran = []
    for name, script in scripts.items():
        if options.only and name not in options.only:
            continue
        print(f"{name} ...", file=sys.stderr, flush=True)
        ran.append(run(script, quick=options.quick))
        print(f"{name}: {ran[-1].seconds:.0f} s", file=sys.stderr, flush=True)
        if options.out:  # after each: hours of measuring are not lost where one is stopped
            options.out.write_text(report(ran, quick=options.quick), encoding="utf-8")
    print(report(ran, quick=options.quick), end="")
    sys.exit(1 if any(one.code for one in ran) else 0)


if __name__ == "__main__":
    main()
