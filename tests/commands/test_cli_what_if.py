"""`panwise offers` with scenarios: what is printed, and what is said where it cannot be."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner
from jsonschema import Draft202012Validator
from site_folders import csv_of, write

from optimizer.cli import main
from optimizer.datafiles import data_folder

SITE = 'currency = "EUR"\n'
LOTS = csv_of({"lot": "F-1", "item": "plum", "on_hand": "100 kg", "worth_uncooked": "0.20 EUR/kg", "brix": "12"})
OFFERS = csv_of(
    {"offer": "O-S", "item": "cane/beet sugar, white", "price": "0.9 EUR/kg"},
    {"offer": "O-T", "item": "cane/beet sugar, white", "price": "0.95 EUR/kg"},
    {"offer": "O-A", "item": "citric acid", "price": "2 EUR/kg"},
    {"offer": "O-P", "item": "pectin, HM (powder, grade 150)", "price": "18 EUR/kg"},
)


@pytest.fixture
def ask(tmp_path, monkeypatch):
    folder = write(tmp_path, stock=LOTS, offers=OFFERS)
    monkeypatch.chdir(tmp_path)

    def run(*more: str):
        asked = ["offers", "jam", "--batch", "20 kg", "--on", "2026-07-04", "--site", str(folder), *more]
        return CliRunner().invoke(main, asked)

    return run


def test_scenarios_are_told_after_the_order(ask) -> None:
    result = ask("--spread", "sugar=10 %", "--spread", "pectin=5 %", "--correlated", "sugar~pectin=0.3",
                 "--scenarios", "400", "--seed", "7", "--fruit-varies")  # fmt: skip
    assert result.exit_code == 0, result.output
    for words in ("Prices that move", "Fruit that varies", "400 scenarios", "P05", "P95", "taken in", "settled anew",
                  "Seed 7", "WHAT MOVES THE COST"):  # fmt: skip
        assert words in result.output, words
    assert max(map(len, result.output.splitlines())) <= 80
    again = ask("--spread", "sugar=10 %", "--scenarios", "400", "--seed", "7", "--json")
    document = json.loads(again.output)
    (one,) = document["scenarios"]
    assert (one["of"], one["scenarios"], one["seed"], one["certified"]) == ("Prices that move", 400, 7, 400)


def test_a_table_of_prices_gives_one_scenario_a_line(ask, tmp_path) -> None:
    (tmp_path / "prices.csv").write_text("O-S,O-T\n0.9,0.95\n1.2,0.95\n", encoding="utf-8")
    result = ask("--price-table", "prices.csv", "--json")
    assert result.exit_code == 0, result.output
    (one,) = json.loads(result.output)["scenarios"]
    shares = {taken["offer"]: taken["share"] for taken in one["taken"]}
    assert (shares["O-S"], shares["O-T"]) == (0.5, 0.5)


def test_without_anything_that_varies_no_scenarios_are_told(ask) -> None:
    assert "scenarios" not in json.loads(ask("--json").output)


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        (["--spread", "cement=5 %"], "is no offer"),
        (["--correlated", "sugar~pectin=0.3"], "give the spreads too"),
        (["--spread", "sugar=5 %", "--scenarios", "0"], "give 1 to"),
        (["--price-table", "nowhere.csv"], "cannot be opened"),
    ],
)
def test_what_cannot_be_is_said_calmly(ask, asked: list[str], words: str) -> None:
    result = ask(*asked)
    assert result.exit_code != 0
    assert words in result.output
    assert "Traceback" not in result.output


def keeps_the_schema(document: object) -> bool:
    schema = json.loads((data_folder() / "schemas" / "offers.schema.json").read_text(encoding="utf-8"))
    return [error.message for error in Draft202012Validator(schema).iter_errors(document)] == []


def test_a_map_and_the_worth_of_tests_are_told(ask) -> None:
    document = json.loads(ask("--map", "sugar", "citric acid", "--certainty", "--json").stdout)
    assert keeps_the_schema(document)
    assert document["map"]["items"] == ["sugar", "citric acid"]
    assert sum(cell["share"] for cell in document["map"]["cells"]) == pytest.approx(1.0, abs=1e-6)
    assert {one["figure"] for one in document["certainty"]} >= {"acid", "pectin", "ph"}
    assert all(one["saves"] >= 0.0 for one in document["certainty"])
    text = ask("--map", "sugar", "citric acid", "--certainty").stdout
    assert max(len(line) for line in text.splitlines()) <= 80
    assert "Who wins where: A is sugar" in " ".join(text.split())
    assert "WORTH OF A TEST" in text


def test_scenarios_keep_the_schema(ask) -> None:
    document = json.loads(ask("--spread", "sugar=10 %", "--scenarios", "50", "--json").stdout)
    assert keeps_the_schema(document)
    assert document["scenarios"][0]["scenarios"] == 50


def test_two_names_of_one_offer_make_no_map(ask) -> None:
    result = ask("--map", "sugar", "O-S")
    assert result.exit_code == 2
    assert "name two that differ" in " ".join(result.output.split())
