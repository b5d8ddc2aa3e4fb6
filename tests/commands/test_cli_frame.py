"""The frame of the command line: exit status, where messages go, calm errors, quick help."""

import json
import os
import subprocess
import sys

import click
import pytest
from click.testing import CliRunner

from optimizer import __version__, cli
from optimizer.errors import BadTable, Fault, InputFault, OutOfRange, SolverTrouble

HEAVY = ["numpy", "pandas", "pint", "pulp", "highspy", "pydantic", "openpyxl", "scipy", "streamlit"]


def panwise(*arguments: str, **environment: str) -> subprocess.CompletedProcess[str]:
    """Run the command as a user does, in a process of its own."""
    return subprocess.run(
        [sys.executable, "-m", "optimizer.cli", *arguments],
        capture_output=True,
        encoding="utf-8",
        errors="strict",
        env={**os.environ, "PYTHONUTF8": "0", **environment},
        check=False,
    )


def a_verb_that_raises(monkeypatch: pytest.MonkeyPatch, error: Exception) -> None:
    @click.command()
    def broken() -> None:
        raise error

    monkeypatch.setattr(cli.Verbs, "get_command", lambda self, ctx, name: broken)


@pytest.mark.parametrize(
    ("error", "status"),
    [
        (InputFault('altitude "high": give metres'), 2),
        (BadTable([Fault(file="stock.csv", line=7, item="F1", column="brix", value="170", cure="give 0 to 85 %")]), 2),
        (OutOfRange("temperature_C=200: the formula holds from 0 to 130"), 2),
        (SolverTrouble("the solver stopped without an answer"), 1),
        (FileNotFoundError(2, "No such file or directory", "stock.csv"), 2),
        (ZeroDivisionError("division by zero"), 3),
    ],
)
def test_each_kind_of_error_has_its_status_and_a_sentence(
    monkeypatch: pytest.MonkeyPatch, error: Exception, status: int
) -> None:
    a_verb_that_raises(monkeypatch, error)
    run = CliRunner().invoke(cli.main, ["fruits"])
    assert run.exit_code == status
    assert run.stdout == ""
    assert "Traceback" not in run.stderr
    said = " ".join(run.stderr.split())
    assert (error.strerror if isinstance(error, OSError) else " ".join(str(error).split())) in said


def test_a_fault_of_the_program_shows_where_when_asked(monkeypatch: pytest.MonkeyPatch) -> None:
    a_verb_that_raises(monkeypatch, ZeroDivisionError("division by zero"))
    monkeypatch.setenv("PANWISE_DEBUG", "1")
    with pytest.raises(ZeroDivisionError):
        CliRunner().invoke(cli.main, ["fruits"], catch_exceptions=False)


def test_faults_of_a_table_keep_one_line_each(monkeypatch: pytest.MonkeyPatch) -> None:
    faults = [Fault(file="stock.csv", line=n, column="ph", value="34", cure="give 1.8 to 6") for n in (2, 3)]
    a_verb_that_raises(monkeypatch, BadTable(faults))
    lines = CliRunner().invoke(cli.main, ["fruits"]).stderr.splitlines()
    assert lines[0] == "stock.csv: 2 problems, nothing was loaded"
    assert lines[1:] == [f'  stock.csv line {n}, ph: "34": give 1.8 to 6' for n in (2, 3)]


@pytest.mark.parametrize("arguments", [["chek"], ["endpoint"], ["endpoint", "--brixx", "65"], ["fruits", "a", "b"]])
def test_wrong_usage_is_input_at_fault(arguments: list[str]) -> None:
    run = CliRunner().invoke(cli.main, arguments)
    assert (run.exit_code, run.stdout) == (2, "")
    assert "Usage: " in run.stderr


def test_version() -> None:
    run = panwise("--version")
    assert (run.returncode, run.stdout) == (0, f"panwise {__version__}\n")


def test_help_lists_every_verb_and_imports_nothing_heavy() -> None:
    code = (
        "import sys\nfrom optimizer.cli import main\n"
        "try: main(['--help'])\n"
        f"except SystemExit: print('LOADED', sorted(set({HEAVY}) & set(sys.modules)))"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, encoding="utf-8", check=True)
    assert "LOADED []" in run.stdout
    for verb in cli.VERBS:
        assert f"\n  {verb} " in run.stdout


@pytest.mark.parametrize("verb", list(cli.VERBS))
def test_help_of_each_verb_teaches_with_an_example_in_80_columns(verb: str) -> None:
    for flag in ("-h", "--help"):
        run = CliRunner().invoke(cli.main, [verb, flag])
        assert run.exit_code == 0
        assert f"panwise {verb}" in run.stdout.split("Example", 1)[1]
        assert max(len(line) for line in run.stdout.splitlines()) <= 80


@pytest.mark.parametrize("encoding", ["ascii", "cp1252", "utf-8"])
def test_any_terminal_can_show_the_output(encoding: str) -> None:
    run = panwise("fruits", PYTHONIOENCODING=encoding)
    assert run.returncode == 0, run.stderr
    run = panwise("fruits", "--json", PYTHONIOENCODING=encoding)
    assert json.loads(run.stdout)["schema"] == "panwise/fruits/1"


def test_a_closed_pipe_ends_quietly() -> None:
    run = subprocess.run(
        f"{sys.executable} -m optimizer.cli fruits | head -n 1",
        shell=True,
        capture_output=True,
        encoding="utf-8",
        check=False,
    )
    assert run.returncode == 0
    assert "Traceback" not in run.stderr
