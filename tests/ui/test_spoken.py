"""What is collected from a module: the sentences of the program, not its names, keys, tables and faults of code."""

from __future__ import annotations

import doctest

import pytest

import ui.spoken
from ui.spoken import templates_of


def test_the_examples_in_the_docstrings_run() -> None:
    failed, tried = doctest.testmod(ui.spoken)
    assert tried > 0
    assert failed == 0


@pytest.mark.parametrize(
    "source",
    [
        'x = y == "two words"',
        'x = y["two words"]',
        'x = y in {"two words", "three more words"}',
        'x: Literal["two words", "none"] = y',
        'raise ValueError(f"no {x} here")',
        'found = re.compile("two words")',
        'x = require_range("mass", m, 0, 1, "kg of fruit")',
        'book(kind="batch opened")',
        'connection.execute("unit in two words")',
        'x = "DELETE FROM {table}"',
        'x = "acid" if y else "fruit"',  # no sentence is filled with it
        'x = f"{y}: {z:two words}"',
    ],
)
def test_what_nobody_sees_is_left_out(source: str) -> None:
    assert list(templates_of(source)) == []


@pytest.mark.parametrize(
    ("source", "wanted"),
    [
        ('raise InputFault(f"no {x} here")', ["no {0} here"]),
        ('said[f"a {x} of {y}"] = None', ["a {0} of {1}"]),
        ('text = "less" if x else "more"\nsay(f"one {text}")', ["one {0}", "less", "more"]),
        ('text = f"one {x} "\ntext += "less" if x else "more"', ["one {0} ", "less", "more"]),
        ("say(f\"would {'add' if x else 'save'} {y}\")", ["would {0} {1}", "add", "save"]),
    ],
)
def test_what_people_see_is_found(source: str, wanted: list[str]) -> None:
    assert sorted(templates_of(source)) == sorted(wanted)


def test_tables_of_figures_name_their_sources_and_are_not_said() -> None:
    source = 'RATES = {"a flat pan": 3.0}\ndef f(x):\n    return f"pH {x} is high"'
    assert list(templates_of(source, has_tables=True)) == ["pH {0} is high"]
    assert set(templates_of(source)) == {"a flat pan", "pH {0} is high"}
