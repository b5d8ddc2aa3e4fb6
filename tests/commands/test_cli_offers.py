"""`panwise offers`: text that fits 80 columns, JSON that keeps its schema, and faults a person can act on."""

from __future__ import annotations

import json
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from jsonschema import Draft202012Validator

from optimizer.blend.request import Request
from optimizer.cli import main
from optimizer.commands.offers_text import offers_text
from optimizer.datafiles import data_folder
from optimizer.services.offers import offers_of_folder
from optimizer.services.recipe import DEMO_DAY

SITE = str(data_folder() / "demo" / "ombrey_hollow")
ASK = ("offers", "jam", "--batch", "50 kg", "--fruit", "plum", "--site", SITE, "--on", "2026-07-04")


def run(*arguments: str, status: int = 0) -> Result:
    result = CliRunner().invoke(main, list(arguments))
    assert result.exit_code == status, result.output
    return result


@cache
def text() -> str:
    return run(*ASK).stdout


def test_text_fits_and_names_the_three_prices_apart() -> None:
    assert max(len(line) for line in text().splitlines()) <= 80
    for heading in ("BUY BELOW (entry price)", "WORTH OF ONE MORE KG", "PAYS FROM (jars)"):
        assert heading in " ".join(text().split())
    assert "None" not in text()
    assert "nan" not in text()


def test_text_has_the_order_and_its_proof() -> None:
    assert "6 x 1.00 kg" in text()
    assert "all together" in text()
    assert "No other order is cheaper" in text()
    assert "Left over" in text()


def test_json_keeps_its_schema() -> None:
    document = json.loads(run(*ASK, "--json").stdout)
    schema = json.loads((data_folder() / "schemas" / "offers.schema.json").read_text(encoding="utf-8"))
    assert [error.message for error in Draft202012Validator(schema).iter_errors(document)] == []
    assert document["schema"] == "panwise/offers/1"
    assert document["batches"] == [{"product": "jam", "finished_kg": 50.0}]


def test_several_batches_and_a_time_limit() -> None:
    ask = ("--make", "jam=20 kg", "--make", "butter=15 kg", "--fruit", "plum", "--within", "4days")
    found = run("offers", *ask, "--site", SITE, "--on", "2026-07-04").stdout
    assert "jam 20.0 kg, butter 15.0 kg" in found
    assert "later than asked (4)" in " ".join(found.split())
    assert max(len(line) for line in found.splitlines()) <= 80


def test_a_ladder_that_is_asked_for() -> None:
    found = run(*ASK, "--ladder", "O-07").stdout
    assert "How much of O-07 at which price" in " ".join(found.split())
    assert "and up" in found


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("offers", "--site", SITE), "nothing to make"),
        (("offers", "jam", "--site", SITE), "--batch"),
        (("offers", "--batch", "5 kg", "--site", SITE), "--batch of what?"),
        (("offers", "--make", "jam", "--site", SITE), "jam=50 kg"),
        (("offers", "jamm", "--batch", "5 kg", "--site", SITE), 'product "jamm" is not known'),
        (("offers", "jam", "--batch", "5 kg", "--on", "July", "--site", SITE), "2026-07-04"),
    ],
)
def test_faults_are_told_with_their_cure(arguments: tuple[str, ...], says: str) -> None:
    assert says in " ".join(run(*arguments, status=2).stderr.split())


def test_no_recipe_ends_with_status_one() -> None:
    late = run(*ASK[:-1], "2027-01-01", status=1)
    assert "no recipe" in late.stderr


def test_prices_below_nothing_are_told_in_words() -> None:
    """An offer may be worth taking only if money came with it, or as a gift, or never: no bare figure below zero."""
    found = offers_of_folder(Path(SITE), [Request(product="jam", batch_kg=20.0, on=DEMO_DAY)])
    first, second, third, *others = found.entries
    changed = (
        replace(first, enters_below=-0.125, at_any_price=False, taken=0.0, same_from=-0.125),
        replace(second, enters_below=0.0, at_any_price=False), replace(third, enters_below=None, at_any_price=False),
        *others,
    )  # fmt: skip
    text = offers_text(replace(found, entries=changed, mix_entries=()))
    table = text[text.index("BUY BELOW") : text.index("Per kg received")]
    rows = {line[:4]: line for line in table.splitlines() if line.startswith("O-")}
    assert "paid 0.125" in rows[first.id]
    assert "a gift" in rows[second.id]
    assert "never" in rows[third.id]
    assert "-0.1" not in table
    assert f"[{found.currency}]" in table


def test_default_ladders_say_that_the_cook_is_held() -> None:
    assert "only while the cook is held" in " ".join(text().split())
    document = json.loads(run(*ASK, "--json").stdout)
    assert document["ladders"]
    for ladder in document["ladders"]:
        assert ladder["exact"]
        assert any("cook held" in words for words in ladder["said"])
