"""The benchmarks run, on sizes that say nothing of speed; what they measure is for `tests/benchmarks/all.py`."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

HERE = Path(__file__).resolve().parent / "benchmarks"
SMALL = {
    "bench_solver.py": ["--sizes", "10"],
    "bench_recipe.py": ["--sizes", "5", "--rounds", "1"],
    "bench_discrete.py": ["--lots", "12", "--seeds", "2", "--rounds", "1"],
    "bench_tables.py": ["--rows", "600", "--faults", "12", "--rounds", "1"],
    "bench_sweep.py": ["--draws", "24", "--lots", "10"],
}


@pytest.mark.parametrize("name", SMALL)
def test_a_benchmark_runs(name: str) -> None:
    ran = subprocess.run(
        [sys.executable, str(HERE / name), *SMALL[name]], capture_output=True, text=True, timeout=300, check=False
    )
    assert ran.returncode == 0, ran.stderr
    assert "Python" in ran.stdout  # versions, sizes, seed head every report
    for line in ran.stdout.splitlines():
        if line.startswith("#goal "):
            assert set(json.loads(line.removeprefix("#goal "))) == {"name", "must", "aim", "measured", "verdict"}
