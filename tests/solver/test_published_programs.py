"""Published linear programs with printed answers, through our own functions.

Each file of tests/published/worked_examples names its source, what was read and what was recalled, and the rounding of
each printed figure. A maximisation is turned into a minimisation here: costs, objective, prices change sign.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from optimizer.solver import (
    LinearProgram,
    Outcome,
    Ranges,
    Status,
    clashing_rows,
    least_relief,
    ranging,
    relieved,
    solve,
    solve_arrays,
)

FOLDER = Path(__file__).parents[1] / "published" / "worked_examples"
CASES = {path.stem: json.loads(path.read_text(encoding="utf-8")) for path in sorted(FOLDER.glob("*.json"))}
CASES = {name: case for name, case in CASES.items() if "lp" in case["inputs"]}
ROUTES: dict[str, Callable[[LinearProgram], Outcome]] = {
    "pulp_highs": solve,
    "pulp_cbc": lambda lp: solve(lp, solver="cbc"),
    "arrays": solve_arrays,
}


class Case:
    """One published program in our form, and the way from our answer to a printed name."""

    def __init__(self, case: dict[str, Any], route: Callable[[LinearProgram], Outcome]) -> None:
        data = case["inputs"]["lp"]
        self.sign = -1.0 if data["sense"] == "max" else 1.0
        self.columns = {name: j for j, name in enumerate(data["variables"])}
        self.rows = {row["name"]: i for i, row in enumerate(data["constraints"])}
        self.ops = [row["op"] for row in data["constraints"]]
        self.rhs = np.array([row["rhs"] for row in data["constraints"]], dtype=float)
        bounds = data["bounds"]
        self.lp = LinearProgram(
            cost=self.sign * np.array(data["objective"], dtype=float),
            matrix=np.array([row["coefficients"] for row in data["constraints"]], dtype=float),
            row_lower=np.array([-np.inf if op == "<=" else b for op, b in zip(self.ops, self.rhs, strict=True)]),
            row_upper=np.array([np.inf if op == ">=" else b for op, b in zip(self.ops, self.rhs, strict=True)]),
            lower=np.array([-np.inf if low is None else low for low, _ in bounds], dtype=float),
            upper=np.array([np.inf if high is None else high for _, high in bounds], dtype=float),
            integer=np.array(data["integer"], dtype=bool) if data["integer"] else None,
        )
        self.outcome = route(self.lp)
        self._ranges: Ranges | None = None

    @property
    def ranges(self) -> Ranges:
        if self._ranges is None:
            self._ranges = ranging(self.lp, self.outcome)
        return self._ranges

    def answer(self, name: str) -> float | str:
        kind, _, of = name.partition(":")
        if name == "status":
            return self.outcome.status.value
        if name in SPECIAL:
            return SPECIAL[name](self)
        assert self.outcome.x is not None
        assert self.outcome.objective is not None
        if kind == "objective":
            return self.sign * self.outcome.objective
        if kind == "x":
            return float(self.outcome.x[self.columns[of]])
        if kind == "slack":
            i = self.rows[of]
            return float(abs(self.lp.matrix[i] @ self.outcome.x - self.rhs[i]))
        assert self.outcome.row_price is not None
        assert self.outcome.reduced_cost is not None
        if kind == "dual":
            return self.sign * float(self.outcome.row_price[self.rows[of]])
        if kind == "rc":
            return self.sign * float(self.outcome.reduced_cost[self.columns[of]])
        assert self.sign == 1.0, "ranges of a maximisation would change places"
        if kind in ("cost_up", "cost_down"):
            j = self.columns[of]
            r = self.ranges
            return float(r.cost_to[j] - self.lp.cost[j] if kind == "cost_up" else self.lp.cost[j] - r.cost_from[j])
        if kind in ("rhs_up", "rhs_down"):
            i = self.rows[of]
            r = self.ranges
            return float(r.rhs_to[i] - self.rhs[i] if kind == "rhs_up" else self.rhs[i] - r.rhs_from[i])
        raise KeyError(name)


def _most_b2(case: Case) -> float:
    """The failing nutrient's best under all other limits: 700 less the relief it needs."""
    relief = least_relief(case.lp, case.rows["B2_min"], "lower")
    assert relief is not None
    return 700.0 - relief


def _least_sodium(case: Case) -> float:
    relief = least_relief(case.lp, case.rows["NA_max"], "upper")
    assert relief is not None
    return 40000.0 + relief


def _most_vitamin_c(case: Case) -> float:
    assert clashing_rows(case.lp, keep=[case.rows["bottle"]]) == (case.rows["vitC_min"],)
    relief = least_relief(case.lp, case.rows["vitC_min"], "lower")
    assert relief is not None
    return 36.0 - relief


def _price_of_a_tenth_of_grade(case: Case) -> float:
    """0.1 grade on the juice made costs 0.1 · pounds · price of a grade-pound."""
    assert case.outcome.x is not None
    pounds = case.outcome.x[case.columns["g6_juice"]] + case.outcome.x[case.columns["g9_juice"]]
    price = case.answer("dual:juice_grade_8")
    assert isinstance(price, float)
    return float(0.1 * pounds * price)


SPECIAL: dict[str, Callable[[Case], float]] = {
    "best_B2": _most_b2,
    "least_NA": _least_sodium,
    "most_vitC": _most_vitamin_c,
    "profit_change_juice_8.1": _price_of_a_tenth_of_grade,
}
# Answers to compare, as many as the published tables hold: none may go missing.
COUNT = {
    "D24": 3, "D25": 3, "D26": 13, "D27": 4, "D28": 8, "D29": 2, "D30": 14, "D31": 8, "D32": 7, "D33": 22, "D34": 6,
    "D35": 3,
}  # fmt: skip


def test_every_published_program_is_here() -> None:
    assert {name: len(case["answers"]) for name, case in CASES.items()} == COUNT


@pytest.mark.parametrize("route", ROUTES)
@pytest.mark.parametrize("name", CASES)
def test_published_answers(name: str, route: str) -> None:
    case = Case(CASES[name], ROUTES[route])
    wrong = []
    compared = 0
    for printed in CASES[name]["answers"]:
        if printed.get("compare") is False:
            continue
        ours = case.answer(printed["name"])
        wanted = printed.get("expected", printed["printed"])
        fits = ours == wanted if isinstance(wanted, str) else abs(float(ours) - wanted) <= printed["tolerance"]
        compared += 1
        if not fits:
            wrong.append(f"{printed['name']}: {ours}, printed {printed['printed_text']}")
    assert not wrong
    assert compared == COUNT[name] - sum(printed.get("compare") is False for printed in CASES[name]["answers"])
    if case.outcome.status.has_answer:
        assert case.outcome.certified


@pytest.mark.parametrize("name", ["D25", "D29"])
def test_relief_of_a_published_clash_is_least(name: str) -> None:
    """The relieved program has an answer; a thousandth less relief and it has none."""
    case = Case(CASES[name], solve_arrays)
    helped = 0
    for row in clashing_rows(case.lp):
        for side in ("lower", "upper"):
            amount = least_relief(case.lp, row, side)
            if amount is None:
                continue
            helped += 1
            assert solve(relieved(case.lp, row, side, amount)).status is Status.OPTIMAL
            assert solve(relieved(case.lp, row, side, 0.999 * amount)).status is Status.INFEASIBLE
    assert helped >= 2


def test_a_maximisation_and_its_mirror_agree() -> None:
    """D31 as it is printed: raising the tenth of grade in the model itself loses a little less than its price says."""
    case = Case(CASES["D31"], solve)
    matrix = case.lp.matrix.copy()
    matrix[case.rows["juice_grade_8"], :2] -= 0.1  # grade 8.1 instead of 8
    moved = solve(replace(case.lp, matrix=matrix))
    assert moved.objective is not None
    assert case.outcome.objective is not None
    loss = moved.objective - case.outcome.objective
    assert 0.0 < loss < 1.05 * 1200.0
