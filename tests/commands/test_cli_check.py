"""`panwise check`: what was read, or every fault; whatever the bytes, never a traceback."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from optimizer.cli import main
from optimizer.datafiles import data_folder
from optimizer.services.check import check_paths

DEMO = data_folder() / "demo"
STOCK = "lot,item,on_hand,worth_uncooked,ph\n"


def run(*arguments: str | Path, status: int) -> Result:
    result = CliRunner().invoke(main, ["check", *map(str, arguments)])
    assert result.exit_code == status, result.output
    return result


def document(*arguments: str | Path, status: int) -> dict[str, list[dict[str, object]]]:
    schema = json.loads((data_folder() / "schemas" / "check.schema.json").read_text(encoding="utf-8"))
    Draft202012Validator.check_schema(schema)
    found = json.loads(run("--json", *arguments, status=status).stdout)
    assert isinstance(found, dict)
    assert [error.message for error in Draft202012Validator(schema).iter_errors(found)] == []
    assert found["ok"] == (status == 0)
    return found


@pytest.mark.parametrize("site", [folder.name for folder in sorted(DEMO.iterdir()) if folder.is_dir()])
def test_the_demo_sites_have_no_fault(site: str) -> None:
    text = run(DEMO / site, status=0).stdout
    assert "no fault" in text
    (entry,) = document(DEMO / site, status=0)["checked"]
    lines = (DEMO / site / "stock.csv").read_text(encoding="utf-8").splitlines()
    assert {"file": "stock.csv", "kind": "stock", "rows": len(lines) - 1} in entry["read"]  # type: ignore[operator]


def test_all_faults_of_a_table_are_listed_at_once(tmp_path: Path) -> None:
    file = tmp_path / "stock.csv"
    file.write_text(STOCK + "A,plum,40 kg,0.1 EUR/kg,34\nA,plumm,40 bags,0.1 EUR/kg,3.4\n", encoding="utf-8")
    (entry,) = document(file, status=2)["checked"]
    faults = entry["faults"]
    assert isinstance(faults, list)
    assert {(fault["line"], fault["column"]) for fault in faults} >= {(2, "ph"), (3, "item"), (3, "lot")}
    assert entry["read"] == []
    said = run(file, status=2)
    assert said.stdout == ""
    for fault in faults:
        assert "".join(str(fault["cure"]).split()) in "".join(said.stderr.split())
    assert max(len(line) for line in said.stderr.replace(str(tmp_path), "").splitlines()) <= 80


def test_a_sound_file_is_reported_beside_a_faulty_one(tmp_path: Path) -> None:
    good, bad = tmp_path / "good.csv", tmp_path / "bad.csv"
    good.write_text(STOCK + "A,plum,40 kg,0.1 EUR/kg,3.4\n", encoding="utf-8")
    bad.write_text(STOCK + "A,plum,40 kg,,3.4\n", encoding="utf-8")
    result = run(good, bad, status=2)
    assert "good.csv: stock, 1 line\n" in result.stdout
    assert "worth_uncooked" in result.stderr


def test_a_table_of_offers_is_told_by_its_columns(tmp_path: Path) -> None:
    file = tmp_path / "july.csv"
    file.write_text("offer;supplier;item;price\nO1;Mill;citric acid monohydrate;1,45 EUR/kg\n", encoding="utf-8")
    (entry,) = document(file, status=0)["checked"]
    assert entry["read"] == [{"file": "july.csv", "kind": "offers", "rows": 1}]


def test_prices_are_read_in_the_currency_of_the_site_beside(tmp_path: Path) -> None:
    file = tmp_path / "stock.csv"
    file.write_text(STOCK + "A,plum,40 kg,0.1 XYZ/kg,3.4\n", encoding="utf-8")
    assert "were not compared" in " ".join(run(file, status=0).stdout.split())
    (tmp_path / "site.toml").write_text('[money]\ncurrency = "EUR"\n', encoding="utf-8")
    assert "XYZ" in run(file, status=2).stderr


def test_a_site_file_alone(tmp_path: Path) -> None:
    file = tmp_path / "site.toml"
    file.write_text('[place]\naltitude = "high"\n[mony]\n', encoding="utf-8")
    said = run(file, status=2).stderr
    assert "altitude" in said
    assert "mony" in said
    file.write_text('[place]\naltitude = "2000 ft"\n', encoding="utf-8")
    assert "site.toml: the site" in run(file, status=0).stdout


def test_tables_that_belong_to_no_site_are_named(tmp_path: Path) -> None:
    (tmp_path / "stock.csv").write_text(STOCK + "A,plum,40 kg,0.1 EUR/kg,3.4\n", encoding="utf-8")
    (tmp_path / "recipes_of_old.csv").write_text("a,b\n", encoding="utf-8")
    assert "recipes_of_old.csv: not looked at" in run(tmp_path, status=0).stdout


@pytest.mark.parametrize("name", ["nowhere", "nowhere.csv", "site.toml"])
def test_what_is_not_there_is_said(tmp_path: Path, name: str) -> None:
    assert "cannot be opened" in " ".join(run(tmp_path / name, status=2).stderr.split())


def test_an_empty_folder_says_what_to_put_there(tmp_path: Path) -> None:
    assert "stock.csv" in run(tmp_path, status=2).stderr


@given(st.one_of(st.binary(max_size=300), st.text(max_size=200).map(lambda text: (STOCK + text).encode())))
def test_any_bytes_give_rows_or_sentences(tmp_path_factory: pytest.TempPathFactory, raw: bytes) -> None:
    folder = tmp_path_factory.mktemp("fuzz", numbered=True)
    for name in ("stock.csv", "offers.xlsx", "site.toml"):
        (folder / name).write_bytes(raw)
    report = check_paths([folder, *(folder / name for name in ("stock.csv", "offers.xlsx", "site.toml"))])
    assert len(report.checked) == 4
    for entry in report.checked:
        assert bool(entry.faults) != bool(entry.read)
        assert all(fault.cure for fault in entry.faults)
    json.dumps(report.document())
