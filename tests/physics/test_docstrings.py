"""Every public physics function says what goes in, what comes out, where it is from, and shows an example."""

import importlib
import inspect
import pkgutil
import re
from collections.abc import Callable, Iterator
from types import FunctionType
from typing import Any

import pytest

import optimizer.physics

UNDERLINE = re.compile(r"^-{3,}$")


def public_functions() -> Iterator[tuple[str, Callable[..., Any]]]:
    """All functions without a leading underscore, of all modules without one; also cached or wrapped ones."""
    for found in pkgutil.walk_packages(optimizer.physics.__path__, "optimizer.physics."):
        if found.name.rsplit(".", 1)[-1].startswith("_"):
            continue
        module = importlib.import_module(found.name)
        for name, member in vars(module).items():
            inner = inspect.unwrap(member) if callable(member) else member
            if isinstance(inner, FunctionType) and inner.__module__ == found.name and not name.startswith("_"):
                yield f"{found.name.removeprefix('optimizer.physics.')}.{name}", inner


def sections(text: str) -> dict[str, list[str]]:
    """The numpydoc sections of a docstring: heading -> lines."""
    lines = inspect.cleandoc(text).splitlines()
    parts: dict[str, list[str]] = {"": []}
    heading = ""
    for line, following in zip(lines, [*lines[1:], ""], strict=True):
        if UNDERLINE.match(following):
            heading = line
            parts[heading] = []
        elif not UNDERLINE.match(line):
            parts[heading].append(line)
    return parts


def documented_parameters(lines: list[str]) -> list[str]:
    heads = [line for line in lines if line and not line.startswith(" ")]
    return [name.strip() for head in heads for name in head.split(" : ")[0].split(",")]


def faults(function: Callable[..., Any]) -> list[str]:
    """What the docstring of a function lacks."""
    if not function.__doc__:
        return ["no docstring"]
    parts = sections(function.__doc__)
    takes = list(inspect.signature(function).parameters)
    found = [] if any(parts[""]) else ["no summary"]
    documented = documented_parameters(parts.get("Parameters", []))
    if sorted(documented) != sorted(takes):
        found.append(f"takes {takes}, documents {documented}")
    found += [f"no {name}" for name in ("Returns", "References", "Examples") if not any(parts.get(name, []))]
    if not any(line.startswith(">>> ") for line in parts.get("Examples", [])):
        found.append("no example that runs")
    return found


FUNCTIONS = dict(public_functions())


@pytest.mark.parametrize("name", FUNCTIONS)
def test_a_public_function_is_documented(name: str) -> None:
    assert faults(FUNCTIONS[name]) == []


def test_functions_are_found_also_where_they_are_cached() -> None:
    assert {"air.air_pressure_kPa", "activity.solute_kg_per_kg_water", "boiling.end_point_C"} <= set(FUNCTIONS)


def test_a_poor_docstring_is_caught() -> None:
    def poor(temperature_C: float, ph: float) -> float:
        """Says little.

        Parameters
        ----------
        temperature_C, acidity : float
            One name is wrong.

        Examples
        --------
        None yet.
        """
        return temperature_C + ph

    assert faults(poor) == [
        "takes ['temperature_C', 'ph'], documents ['temperature_C', 'acidity']",
        "no Returns",
        "no References",
        "no example that runs",
    ]
    assert faults(lambda: None) == ["no docstring"]
