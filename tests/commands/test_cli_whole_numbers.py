"""`panwise recipe` with --most-fruits, --least-if-used and --whole-packs: text, JSON, help and refusals."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner, Result
from jsonschema import Draft202012Validator

from optimizer.cli import main
from optimizer.datafiles import data_folder

SCHEMA = json.loads((data_folder() / "schemas" / "recipe.schema.json").read_text(encoding="utf-8"))
OMBREY = str(data_folder() / "demo" / "ombrey_hollow")
JAM = ("recipe", "jam", "--site", OMBREY, "--batch", "50 kg", "--on", "2026-07-04")


def run(*words: str) -> Result:
    return CliRunner().invoke(main, [*JAM, *words])


def document(*words: str) -> dict:
    result = run(*words, "--json")
    assert result.exit_code == 0, result.output
    found = json.loads(result.stdout)
    Draft202012Validator(SCHEMA).validate(found)
    return found


def test_packs_are_said_and_paid() -> None:
    """Sugar of this table comes in bags of 25 kg at 0.92: whole bags, counted whole."""
    found = document("--whole-packs")
    assert found["packs"]
    for pack in found["packs"]:
        (stream,) = (s for s in found["streams"] if s["id"] == pack["id"])
        assert stream["cost"] == pytest.approx(pack["packs"] * pack["pack_kg"] * stream["price_per_received_kg"])
        assert stream["received_kg"] + pack["left_over_kg"] == pytest.approx(pack["packs"] * pack["pack_kg"])
    assert found["bound"] <= found["cost"]["total"] + 1e-9
    assert all(row["price"] is None for row in found["rows"])
    text = " ".join(run("--whole-packs").stdout.split())
    assert "left over" in text
    assert "Whole numbers decide here" in text


def test_one_fruit() -> None:
    found = document("--most-fruits", "1")
    assert len(found["fruit_shares"]) == 1


def test_each_lot_in_earnest() -> None:
    found = document("--least-if-used", "15 kg", "--least-if-used", "OM-02=25 kg")
    for stream in found["streams"]:
        if stream["kind"] == "fruit":
            assert stream["received_kg"] >= (25.0 if stream["id"] == "OM-02" else 15.0) - 1e-6


def test_ordinary_recipes_say_nothing_of_whole_numbers() -> None:
    found = document("--most-fruits", "50")
    assert not {"gap", "bound", "packs"} & set(found)
    assert any(row["price"] for row in found["rows"])


@pytest.mark.parametrize("words", [("--least-if-used", "OM-99=5 kg"), ("--least-if-used", "=5 kg"),
                                   ("--least-if-used", "some"), ("--most-fruits", "0")])  # fmt: skip
def test_what_means_nothing_is_refused(words: tuple[str, ...]) -> None:
    assert run(*words).exit_code == 2


def test_help_names_them() -> None:
    said = CliRunner().invoke(main, ["recipe", "--help"]).stdout
    for option in ("--most-fruits", "--least-if-used", "--whole-packs"):
        assert option in said
