"""`panwise backup`: copies are proved, listed, and brought back whole."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from jsonschema import Draft202012Validator

from optimizer.cli import main
from optimizer.datafiles import data_folder

OMBREY = str(data_folder() / "demo" / "ombrey_hollow")


@pytest.fixture(autouse=True)
def _own_store(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PANWISE_STORE", str(tmp_path / "kitchen.db"))


def run(*words: str | Path, status: int = 0, typed: str | None = None) -> Result:
    result = CliRunner().invoke(main, [str(word) for word in words], input=typed)
    assert result.exit_code == status, result.output
    assert "Traceback" not in result.output
    return result


def document(*words: str | Path) -> dict[str, object]:
    schema = json.loads((data_folder() / "schemas" / "backup.schema.json").read_text(encoding="utf-8"))
    Draft202012Validator.check_schema(schema)
    found = json.loads(run("backup", *words, "--json").stdout)
    assert isinstance(found, dict)
    assert [error.message for error in Draft202012Validator(schema).iter_errors(found)] == []
    return found


def test_without_a_store_it_is_said_how_to_begin(tmp_path: Path) -> None:
    assert "panwise open" in run("backup", "make", status=2).stderr
    assert list(tmp_path.iterdir()) == []


def test_made_listed_and_brought_back(tmp_path: Path) -> None:
    run("stock", "import", OMBREY)
    assert "No backup yet" in run("backup").stdout
    made = document("make")
    assert made["done"] == "made"
    assert made["made"]["lots"] == 10  # type: ignore[index]
    assert made["made"]["fault"] == ""  # type: ignore[index]
    more = tmp_path / "more.csv"
    more.write_text("lot,item,on_hand,worth_uncooked\nOM-02,plum,1 kg,0\nN-1,plum,2 kg,0\n", encoding="utf-8")
    run("stock", "add", more, "--yes")
    before = run("stock").stdout
    assert "sound" in run("backup", "list").stdout
    assert "Nothing was changed" in run("backup", "restore", "latest", typed="n\n").stdout
    assert run("stock").stdout == before
    # it holds one lot less than now: a second yes is asked for
    assert "--even-if-smaller" in " ".join(run("backup", "restore", "latest", "--yes", status=2).stderr.split())
    assert run("stock").stdout == before
    path = str(made["made"]["path"])  # type: ignore[index]
    back = document("restore", path, "--yes", "--even-if-smaller")
    assert back["restored"] == path
    assert back["made"]
    assert "260 kg" in run("stock").stdout
    after = document("list")
    assert len(after["backups"]) == 2  # type: ignore[arg-type]


def test_another_folder(tmp_path: Path) -> None:
    run("stock", "import", OMBREY)
    stick = tmp_path / "stick"
    run("backup", "make", "--folder", stick, "--keep", "3")
    assert len(list(stick.glob("*.db"))) == 1
    assert len(document("list", "--folder", stick)["backups"]) == 1  # type: ignore[arg-type]
    assert document("list")["backups"] == []


@pytest.mark.parametrize("which", ["latest", "nowhere.db"])
def test_a_backup_that_is_not_there(which: str) -> None:
    run("stock", "import", OMBREY)
    assert "backup" in run("backup", "restore", which, "--yes", status=2).stderr


def test_a_file_that_is_no_backup_changes_nothing(tmp_path: Path) -> None:
    run("stock", "import", OMBREY)
    wrong = tmp_path / "wrong.db"
    wrong.write_bytes(b"not a store at all" * 100)
    assert run("backup", "restore", wrong, "--yes", "--even-if-smaller", status=2).stderr
    assert "260 kg" in run("stock").stdout
