"""Fails when a row of the model has no test of its own in one of the files below."""

from __future__ import annotations

import ast
from dataclasses import replace
from pathlib import Path

from handmade import FRUIT, SUGAR, case, limit, stream

from optimizer.blend.decided import Decided
from optimizer.blend.request import FruitShare
from optimizer.blend.rules import RULES, rows_of
from optimizer.inputs.models import Pan, Site

_TESTS = tuple(
    Path(__file__).with_name(name) for name in ("test_rows.py", "test_low_methoxyl_rows.py", "test_discrete_rows.py")
)


def _ids_in_tests() -> set[str]:
    """Row ids named as text in calls of `row(...)`."""
    found = set()
    trees = [ast.parse(path.read_text(encoding="utf-8")) for path in _TESTS]
    for node in (node for tree in trees for node in ast.walk(tree)):
        if (
            isinstance(node, ast.Call)
            and isinstance(node.func, ast.Name)
            and node.func.id == "row"
            and len(node.args) == 2
        ):
            name = node.args[1]
            if isinstance(name, ast.Constant):
                found.add(str(name.value).partition(":")[0])
    return found


def _every_row() -> set[str]:
    """Ids of two cases, a jam and a spread, in which every rule has something to say."""
    figures = [
        limit("so2", 50.0),
        limit("benzoic", 500.0),
        limit("sorbic", 1000.0),
        limit("preservatives_together", 1000.0),
    ]
    figures += [limit("flesh", 0.07, "min"), limit("peel", 0.05, "min"), limit("acid_fraction", 0.01, "min")]
    figures += [limit("acid_fraction", 0.02), limit("fruit_per_sweetener_solids", 0.8, "min")]
    figures += [limit("fruit_content", 0.4, "min"), limit("fruit_content", 0.3, "min", fruits=("plum",))]
    figures += [limit("fruit_share", 0.2, "min")]
    streams = (
        FRUIT, SUGAR, stream("elderberry", received_most_kg=5.0),
        stream("buy", origin="offer", received_most_kg=5.0, pack_kg=5.0),
        stream("acid", "acid"), stream("salt", "salt"), stream("pectin", "pectin", grade_per_kg=150.0),
        stream("kms", "preservative", per_kg={"so2_mg": 1.0, "benzoic_mg": 1.0, "sorbic_mg": 1.0}),
        stream("glucose syrup", "sweetener"), stream("jaggery", "sweetener"),
    )  # fmt: skip
    of = case(
        *streams, limits=tuple(figures), site=Site(pans=(Pan(capacity_L=60.0, power_kW=10.0),)), loads=1, declared=0.4,
        keeps="preservative", water_activity_most=0.85, invert_least_fraction=0.1, invert_most_fraction=0.5,
        condition_most={"over-ripe": 0.2},
        fruits=(
            FruitShare(fruit="plum", sense=">=", share_fraction=0.1),
            FruitShare(fruit="buy", sense="<=", share_fraction=0.9),
        ),
    )  # fmt: skip
    of = replace(of, decided=Decided(least_received_kg={"elderberry": 2.0}, packs={"buy": 1}))
    spread = case(*streams, stream("low-methoxyl", "pectin", is_lm_pectin=True), product="spread")
    silent = [rule.__name__ for rule in RULES if not (list(rule(of)) or list(rule(spread)))]
    assert not silent
    return {row.id.partition(":")[0] for row in (*rows_of(of), *rows_of(spread))}


def test_every_row_has_a_test() -> None:
    assert _every_row() - _ids_in_tests() == set()


def test_every_test_names_a_row_that_exists() -> None:
    assert _ids_in_tests() - _every_row() == set()
