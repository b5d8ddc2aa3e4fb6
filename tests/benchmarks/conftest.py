"""Benchmarks are run, not collected: `tests/test_benchmarks_run.py` sees to it that they run."""

collect_ignore_glob = ["*.py"]
