"""`panwise demo` and `panwise recipe` as a person and a program use them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from jsonschema import Draft202012Validator

from optimizer.cli import main
from optimizer.datafiles import data_folder

SCHEMA = json.loads((data_folder() / "schemas" / "recipe.schema.json").read_text(encoding="utf-8"))
OMBREY = str(data_folder() / "demo" / "ombrey_hollow")
SANDURI = str(data_folder() / "demo" / "sanduri_flats")
DAY = ("--on", "2026-07-04")


def run(*words: str) -> Result:
    return CliRunner().invoke(main, list(words))


def document(*words: str) -> dict:
    result = run(*words, "--json")
    assert result.exit_code in (0, 1), result.output
    found = json.loads(result.stdout)
    Draft202012Validator(SCHEMA).validate(found)
    assert (result.exit_code == 0) == (found["status"] == "optimal")
    return found


@pytest.fixture
def kitchen(tmp_path: Path) -> Path:
    """A user's folder with nothing but stock and offers; places, lots and prices are invented."""
    (tmp_path / "stock.csv").write_text(
        "lot,item,condition,on_hand,worth_uncooked,brix\n"
        'P-1,plum,"soft 60 %, bruised 40 %",90 kg,0.10 EUR/kg,13.1\n'
        'A-4,"apple, cooking, flesh with skin",sound,40 kg,0.05,\n',
        encoding="utf-8",
    )
    (tmp_path / "offers.csv").write_text(
        "offer,supplier,item,price,grade\n"
        'S-1,an invented mill,"cane/beet sugar, white",0.92 EUR/kg,\n'
        'Q-1,an invented mill,"pectin, HM (powder, grade 150)",21.50 EUR/kg,150\n'
        "C-1,an invented mill,citric acid,2.10 EUR/kg,\n",
        encoding="utf-8",
    )
    return tmp_path


def test_demo_shows_a_recipe_at_80_columns() -> None:
    result = run("demo")
    assert result.exit_code == 0
    assert result.stderr == ""
    assert "Ombrey Hollow (invented)" in result.stdout
    for part in (
        "into the pan",
        "it will be",
        "End point",
        "Why",
        "what would change",
        "Before any jar leaves",
        "Mind",
    ):
        assert part in result.stdout
    assert max(len(line) for line in result.stdout.splitlines()) <= 80


@pytest.mark.parametrize("site", ["ombrey_hollow", "sanduri_flats"])
def test_demo_as_a_document(site: str) -> None:
    found = document("demo", site)
    assert found["certified"] is True
    assert found["currency"] == "cr"
    assert found["confidence"] == 0.9
    assert 0.0 < found["predicted"]["chance_all_windows"] <= 1.0
    pectin = next(row for row in found["rows"] if row["id"] == "pectin_strength")
    assert pectin["value"] - pectin["margin"] == pytest.approx(1.0, abs=1e-5)
    assert {"mass", "least_solids", "ph_upper", "pectin_strength"} <= {row["id"] for row in found["rows"]}
    text = " ".join(c["text"] for c in found["cautions"])
    assert "process authority" in text
    if site == "sanduri_flats":
        assert "Botulism" in text
        assert "Release only at a measured pH" in text


def test_recipe_from_a_folder_with_two_tables_only(kitchen: Path) -> None:
    result = run("recipe", "jam", "--site", str(kitchen), "--batch", "50 kg", "--fruit", "plum")
    assert result.exit_code == 0, result.output
    assert "P-1" in result.stdout
    assert "site.toml" in result.stdout  # the defaults that were used are said
    assert max(len(line) for line in result.stdout.splitlines()) <= 80


def test_recipe_document_of_a_users_folder(kitchen: Path) -> None:
    found = document("recipe", "jam", "--site", str(kitchen), "--batch", "20 kg", "--standard", "eu-2026", *DAY)
    assert found["standard"] == "eu-2026"
    used = {stream["id"]: stream for stream in found["streams"]}
    assert found["finished_kg"] == pytest.approx(20.0)
    for stream in used.values():
        for figure in ("solids_fraction", "titratable_acid_fraction", "pectin_strength"):
            assert stream["kind"] != "fruit" or figure in stream["sd_per_kg"]


def test_what_is_worth_measuring_is_said_when_asked(kitchen: Path) -> None:
    words = ("recipe", "jam", "--site", str(kitchen), "--batch", "20 kg", "--fruit", "plum")
    assert document(*words)["worth_measuring"] == []
    worth = document(*words, "--measuring")["worth_measuring"]
    assert {"id": "P-1", "figure": "pectin"} in [{k: w[k] for k in ("id", "figure")} for w in worth]
    assert [w["saves"] for w in worth] == sorted((w["saves"] for w in worth), reverse=True)
    assert "worth measuring" in run(*words, "--measuring").stdout


def test_confidence_costs_and_a_wager_is_refused(kitchen: Path) -> None:
    words = ("recipe", "jam", "--site", str(kitchen), "--batch", "20 kg", "--fruit", "plum")
    costs = [document(*words, "--confidence", p)["cost"]["total"] for p in ("0.5", "0.9", "0.99")]
    assert costs == sorted(costs)
    assert costs[0] < costs[-1]
    assert run(*words, "--confidence", "0.4").exit_code == 2


def test_full_adds_rules_with_sources(kitchen: Path) -> None:
    words = ("recipe", "jam", "--site", str(kitchen), "--batch", "20 kg")
    short, full = run(*words).stdout, run(*words, "--full").stdout
    assert "Rules and where the batch lies" in full
    assert "Rules and where the batch lies" not in short
    assert max(len(line) for line in full.splitlines()) <= 80


def test_no_recipe_is_an_answer_with_exit_status_1(kitchen: Path) -> None:
    words = ("recipe", "jam", "--site", str(kitchen), "--batch", "900 kg")
    result = run(*words)
    assert result.exit_code == 1
    assert "NO RECIPE" in result.stdout
    assert "cook " in result.stdout
    found = document(*words)
    assert found["clash"]
    assert found["reliefs"]
    assert all(relief["cost_after"] > 0 for relief in found["reliefs"])


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("recipe", "jamm", "--batch", "50 kg"), 'did you mean "jam"'),
        (("recipe", "jam", "--batch", "50 stones"), "stones"),
        (("recipe", "jam", "--batch", "-3 kg"), "-3"),
        (("recipe", "jam", "--batch", "50 kg", "--fruit", "plumm"), 'did you mean "plum"'),
        (("recipe", "jam", "--batch", "50 kg", "--fruit", "plum>=x%"), 'write a share such as "plum>=60%"'),
        (("recipe", "jam", "--batch", "50 kg", "--standard", "mars"), '"mars" is not known'),
        (("recipe", "jam", "--batch", "50 kg", "--name", "royal jam"), '"royal jam"'),
        (("recipe", "jam", "--batch", "50 kg", "--brix", "45"), "from 60 to 70 %"),
        (("recipe", "jam", "--batch", "50 kg", "--on", "4.7.2026"), "2026-07-04"),
        (("recipe", "jam"), "--batch"),
        (("demo", "nowhere"), '"nowhere" is not known'),
    ],
)
def test_input_at_fault_is_status_2_with_the_cure(words: tuple[str, ...], says: str) -> None:
    more = ("--site", OMBREY) if words[0] == "recipe" else ()
    result = run(*words, *more)
    assert result.exit_code == 2, result.output
    assert says in " ".join(result.stderr.split())
    assert result.stdout == ""
    assert "Traceback" not in result.output


def test_a_bad_table_lists_every_fault_and_solves_nothing(kitchen: Path) -> None:
    stock = kitchen / "stock.csv"
    stock.write_text(
        stock.read_text(encoding="utf-8").replace("13.1", "170").replace("40 kg", "-4 kg"), encoding="utf-8"
    )
    result = run("recipe", "jam", "--site", str(kitchen), "--batch", "20 kg")
    assert result.exit_code == 2
    assert "2 problems" in result.stderr
    assert "line 2" in result.stderr
    assert "line 3" in result.stderr


def test_both_solvers_from_the_command_line() -> None:
    words = ("recipe", "jam", "--site", OMBREY, "--batch", "50 kg", "--fruit", "plum", *DAY)
    highs, cbc = document(*words), document(*words, "--solver", "cbc")
    assert cbc["cost"]["total"] == pytest.approx(highs["cost"]["total"], rel=1e-6)


def test_the_demo_readmes_say_what_happens() -> None:
    """Traps of the two invented sites, as their README files describe them."""
    blocked = {
        out["id"]: out["why"]
        for out in document("recipe", "jam", "--site", OMBREY, "--batch", "50 kg", *DAY)["left_out"]
    }
    assert "SO2" in blocked["OM-10"]
    assert "patulin" in blocked["OM-04"]
    expired = document("recipe", "jam", "--site", OMBREY, "--batch", "50 kg", "--on", "2026-09-01")
    assert any("ran out on 2026-07-31" in out["why"] for out in expired["left_out"])
    butter = document("recipe", "butter", "--site", OMBREY, "--batch", "50 kg", "--fruit", "apple", *DAY)
    assert butter["status"] == "optimal"
    cold = document("recipe", "squash", "--site", SANDURI, "--batch", "50 kg", "--keeps", "preservative", *DAY)
    assert any(stream["kind"] == "preservative" for stream in cold["streams"])
    banana = document("recipe", "butter", "--site", SANDURI, "--batch", "50 kg", *DAY)
    assert any(out["id"] == "SF-05" and "pH" in out["why"] for out in banana["left_out"])
