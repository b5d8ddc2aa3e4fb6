"""Published linear programs through the buyer's own functions: entry prices, ranges, worth of one more.

Sources, what was read and what was recalled: each file of tests/published/worked_examples. Reduced costs, allowable
moves and marginal values are those of its tables. A price range of ours is from-to; theirs are moves.
"""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import Bounds, LinearConstraint, milp

from optimizer.market.entry import Entry, entry_prices
from optimizer.market.priced import PricedProgram
from optimizer.market.worth import Worth, worth_of_rows
from optimizer.solver import LinearProgram, solve_arrays

FOLDER = Path(__file__).parents[1] / "published" / "worked_examples"
KINDS = ("x", "rc", "dual", "cost_up", "cost_down", "rhs_up", "rhs_down")
# Printed figures of those kinds that pass through here; none may go missing.
COUNT = {"D24": 2, "D26": 12, "D27": 3, "D28": 6, "D30": 11, "D31": 6, "D32": 6, "D33": 20, "D34": 5, "D35": 2}


class Case:
    """One published program, minimised."""

    def __init__(self, name: str) -> None:
        case = json.loads((FOLDER / f"{name}.json").read_text(encoding="utf-8"))
        data = case["inputs"]["lp"]
        self.sign = -1.0 if data["sense"] == "max" else 1.0
        ops = [row["op"] for row in data["constraints"]]
        self.rhs = np.array([row["rhs"] for row in data["constraints"]], dtype=float)
        self.columns, self.rows = data["variables"], [row["name"] for row in data["constraints"]]
        self.lp = LinearProgram(
            cost=self.sign * np.array(data["objective"], dtype=float),
            matrix=np.array([row["coefficients"] for row in data["constraints"]], dtype=float),
            row_lower=np.array([-np.inf if op == "<=" else b for op, b in zip(ops, self.rhs, strict=True)]),
            row_upper=np.array([np.inf if op == ">=" else b for op, b in zip(ops, self.rhs, strict=True)]),
            lower=np.array([-np.inf if low is None else low for low, _ in data["bounds"]], dtype=float),
            upper=np.array([np.inf if high is None else high for _, high in data["bounds"]], dtype=float),
            integer=np.array(data["integer"], dtype=bool) if data["integer"] else None,
        )
        self.answers = [a for a in case["answers"] if a["name"].partition(":")[0] in KINDS and a["name"] in
                        {f"{k}:{n}" for k in KINDS for n in (*self.columns, *self.rows)}]  # fmt: skip
        self.entries = {e.id: e for e in entry_prices(PricedProgram.of(self.lp, self.columns))}
        self.worth: dict[str, Worth] = {}
        if data["integer"] is None or not any(data["integer"]):
            outcome = solve_arrays(self.lp)
            found = worth_of_rows(self.lp, outcome, {name: i for i, name in enumerate(self.rows)})
            self.worth = {w.id: w for w in found}

    def ours(self, name: str) -> float:
        kind, _, of = name.partition(":")
        if kind == "x":
            return self.entries[of].taken
        if kind == "rc":
            return self.sign * _reduced_cost(self.entries[of])
        if kind == "dual":  # a row that does not bind is worth nothing
            return -self.sign * self.worth[of].value if of in self.worth else 0.0
        if kind in ("cost_up", "cost_down"):
            entry = self.entries[of]
            end = entry.same_to if kind == "cost_up" else entry.same_from
            assert end is not None
            return abs(end - entry.price)
        worth = self.worth[of]
        end = worth.holds_to if kind == "rhs_up" else worth.holds_from
        assert end is not None
        return abs(end - worth.there)


def _reduced_cost(entry: Entry) -> float:
    """How far the price must fall before more is taken (at the least amount), or may rise (at the most): minus."""
    if entry.taken == 0.0:
        assert entry.enters_below is not None
        return entry.price - entry.enters_below
    if entry.same_to is None:
        assert entry.same_from is not None
        return entry.price - entry.same_from
    return -(entry.same_to - entry.price)


@pytest.mark.parametrize("name", COUNT)
def test_published_figures(name: str) -> None:
    case = Case(name)
    wrong = []
    for printed in case.answers:
        wanted = printed.get("expected", printed["printed"])
        ours = case.ours(printed["name"])
        if abs(ours - wanted) > printed["tolerance"]:
            wrong.append(f"{printed['name']}: {ours}, printed {printed['printed_text']}")
    assert not wrong
    assert len(case.answers) == COUNT[name]


@pytest.mark.parametrize("name", ["D26", "D28", "D30", "D33", "D34"])
def test_just_below_the_entry_price_it_is_taken_and_just_above_not(name: str) -> None:
    """Solved again at both prices, for every column whose entry price is told."""
    case = Case(name)
    tried = 0
    for column, entry in zip(case.columns, case.entries.values(), strict=True):
        if entry.enters_below is None:
            continue
        j = case.columns.index(column)
        for factor, is_taken in ((-1e-5, True), (1e-5, False)):
            cost = case.lp.cost.copy()
            cost[j] = entry.enters_below + factor * max(1.0, abs(entry.enters_below))
            x = solve_arrays(replace(case.lp, cost=cost)).x
            assert x is not None
            assert bool(x[j] > 1e-7) is is_taken, (column, entry)
            tried += 1
    assert tried or name == "D26"  # there two of each are asked for, so none has an entry price


def test_whole_packages_of_a_diet_stay_between_the_prices_that_are_told() -> None:
    """D27: inside the range the same packages by scipy's own search, outside others."""
    case = Case("D27")
    lp = case.lp
    tried = 0
    for column, entry in case.entries.items():
        j = case.columns.index(column)
        for end, out in ((entry.same_from, -1.0), (entry.same_to, 1.0)):
            if end is None:
                continue
            for step, stays in ((-out, True), (out, False)):
                cost = lp.cost.copy()
                cost[j] = end + step * 1e-3
                found = milp(
                    cost, integrality=np.ones(cost.size), bounds=Bounds(lp.lower, lp.upper),
                    constraints=LinearConstraint(lp.matrix, lp.row_lower, lp.row_upper), options={"mip_rel_gap": 0.0},
                )  # fmt: skip
                assert bool(abs(found.x[j] - entry.taken) < 0.5) is stays, (column, end, step, found.x[j])
                tried += 1
    assert tried >= 16
