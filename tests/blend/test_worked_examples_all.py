"""Every worked example of the collection is compared somewhere, or is known to wait for what it needs."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

TESTS = Path(__file__).resolve().parents[1]
FOLDER = TESTS / "published" / "worked_examples"
ALL = {f"D{number:02}" for number in range(1, 36)}
BALANCES = "blend/test_worked_examples.py"
PHYSICS = "physics/test_worked_examples.py"
ACID_AND_PRESERVATIVES = "physics/test_worked_examples_of_acid_and_preservatives.py"
PROGRAMS = "solver/test_published_programs.py"
TESTED = {
    **dict.fromkeys(("D01", "D02", "D03", "D04", "D05", "D06", "D07", "D08", "D09", "D10", "D11", "D16"), BALANCES),
    "D12": BALANCES,  # its volume: PHYSICS
    **dict.fromkeys(("D13", "D14", "D18", "D21", "D22"), ACID_AND_PRESERVATIVES),
    **dict.fromkeys(("D15", "D20", "D23"), PHYSICS),
    **dict.fromkeys((f"D{number}" for number in range(24, 36)), PROGRAMS),
}
NOT_YET = {
    "D17": "planner",  # quarts of sauce from a bushel of raw apples
    "D19": "planner",  # shelf life against temperature
}


def _named_in(path: Path) -> set[str]:
    """Cases named as text in the code of a test file; a docstring that speaks of one does not count."""
    nodes = ast.walk(ast.parse(path.read_text(encoding="utf-8")))
    words = {node.value for node in nodes if isinstance(node, ast.Constant) and isinstance(node.value, str)}
    return words & ALL


def test_each_case_has_its_file() -> None:
    assert {path.stem for path in FOLDER.glob("*.json")} == ALL


def test_each_case_is_tested_or_waits() -> None:
    assert set(TESTED) | set(NOT_YET) == ALL
    assert not set(TESTED) & set(NOT_YET)


@pytest.mark.parametrize("name", sorted(TESTED))
def test_the_file_that_tests_it_names_it(name: str) -> None:
    assert name in _named_in(TESTS / TESTED[name])


def test_what_waits_is_named_nowhere_else() -> None:
    """Once a test compares one of these, it leaves the list."""
    others = (path for path in TESTS.rglob("test_*.py") if path != Path(__file__).resolve())
    named = set().union(*(_named_in(path) for path in others))
    assert ALL - named == set(NOT_YET) == {"D17", "D19"}
    assert set(NOT_YET.values()) == {"planner"}
