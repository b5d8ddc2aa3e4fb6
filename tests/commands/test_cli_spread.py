"""`panwise recipe spread` and `panwise products spread` as a person types them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from jsonschema import Draft202012Validator

from optimizer.cli import main
from optimizer.datafiles import data_folder

STOCK = 'lot,item,on_hand,worth_uncooked\nB-1,"strawberry, whole berry",40 kg,0.40 EUR/kg\n'
OFFERS = """offer,supplier,item,price
S,an invented supplier,"cane/beet sugar, white",0.90 EUR/kg
LM,an invented supplier,"pectin, low-methoxyl (LM)",32 EUR/kg
CA,an invented supplier,calcium chloride dihydrate,6 EUR/kg
"""


@pytest.fixture
def kitchen(tmp_path: Path) -> Path:
    (tmp_path / "stock.csv").write_text(STOCK, encoding="utf-8")
    (tmp_path / "offers.csv").write_text(OFFERS, encoding="utf-8")
    return tmp_path


def run(*words: str, status: int = 0) -> Result:
    result = CliRunner().invoke(main, list(words))
    assert result.exit_code == status, result.output
    return result


def test_text_shows_dose_calcium_and_what_keeps_it(kitchen: Path) -> None:
    text = run("recipe", "spread", "--site", str(kitchen), "--batch", "30 kg", "--standard", "uk").stdout
    assert text.startswith("Reduced sugar jam, 30.0 kg finished")
    assert max(len(line) for line in text.splitlines()) <= 80
    lines = {line.split("  ")[0]: line.split() for line in text.splitlines()}
    assert lines["low-methoxyl pectin, %"][-1] == "0.7-1.2"
    assert lines["calcium, mg per g of it"][-1] == "15-35"
    flowing = " ".join(text.split())
    assert "A low-sugar spread is not kept by its sugar" in flowing
    assert "Ask a process authority" in flowing


def test_json_keeps_its_schema(kitchen: Path) -> None:
    schema = json.loads((data_folder() / "schemas" / "recipe.schema.json").read_text(encoding="utf-8"))
    document = json.loads(run("recipe", "spread", "--site", str(kitchen), "--batch", "30 kg", "--json").stdout)
    Draft202012Validator(schema).validate(document)
    assert {s["item"]: s["per_kg"]["calcium_mg"] for s in document["streams"]}["strawberry, whole berry"] == 150.0


def test_without_calcium_the_text_says_what_to_buy(kitchen: Path) -> None:
    """42 kg of spread take 294 g of powder and 4 410 mg of calcium; 28 kg of berries, some of it stalk, bring less."""
    (kitchen / "stock.csv").write_text(STOCK.replace("40 kg", "28 kg"), encoding="utf-8")
    (kitchen / "offers.csv").write_text("".join(OFFERS.splitlines(keepends=True)[:3]), encoding="utf-8")
    text = run("recipe", "spread", "--site", str(kitchen), "--batch", "42 kg", status=1).stdout
    assert "g of calcium chloride dihydrate" in " ".join(text.split())


def test_products_shows_the_names_under_a_standard() -> None:
    text = run("products", "spread", "--standard", "uk").stdout
    block = " ".join(text.split("uk: reduced sugar jam", 1)[1].split("\n\n", 1)[0].split())
    assert "soluble solids: at least 25 %" in block
    assert "soluble solids: at most 50 %" in block
    assert "benzoic acid: at most 500 mg/kg" in block


def test_help_names_the_product() -> None:
    assert "spread" in run("recipe", "--help").stdout
