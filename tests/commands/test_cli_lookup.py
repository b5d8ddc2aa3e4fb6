"""`panwise fruits`, `products` and `endpoint`: text that fits, JSON that keeps its published schema."""

import json
from functools import cache

import pytest
from click.testing import CliRunner, Result
from jsonschema import Draft202012Validator

from optimizer.cli import main
from optimizer.commands import fruits as fruits_command
from optimizer.commands import products as products_command
from optimizer.datafiles import data_folder
from optimizer.inputs.book import load_book
from optimizer.inputs.models import Limit
from optimizer.services.lookup import FRUIT_FIGURES, PRODUCT_WINDOWS


def run(*arguments: str, status: int = 0) -> Result:
    result = CliRunner().invoke(main, list(arguments))
    assert result.exit_code == status, result.output
    return result


@cache
def validator(kind: str) -> Draft202012Validator:
    schema = json.loads((data_folder() / "schemas" / f"{kind}.schema.json").read_text(encoding="utf-8"))
    Draft202012Validator.check_schema(schema)
    return Draft202012Validator(schema)


def document(kind: str, *arguments: str) -> dict[str, object]:
    found = json.loads(run(kind, *arguments, "--json").stdout)
    assert isinstance(found, dict)
    assert [error.message for error in validator(kind).iter_errors(found)] == []
    assert found["schema"] == f"panwise/{kind}/1"
    return found


FRUITS = sorted({part.fruit for part in load_book().fruits.values()})


def test_fruits_names_every_part_of_the_book() -> None:
    text = run("fruits").stdout
    for item in load_book().fruits:
        assert text.count(f"\n{item} ") == 1


@pytest.mark.parametrize("fruit", FRUITS)
def test_a_fruit_shows_each_figure_with_its_source(fruit: str) -> None:
    text = run("fruits", fruit).stdout
    assert max(len(line) for line in text.splitlines()) <= 80
    parts = [part for part in load_book().fruits.values() if part.fruit == fruit]
    flowing = "".join(text.split())
    for part in parts:
        assert part.item in " ".join(text.split())
        for name in FRUIT_FIGURES:
            figure = getattr(part, name)
            assert figure is None or "".join(figure.source.split()) in flowing


def test_fruits_as_json_keeps_its_schema_and_the_book() -> None:
    found = document("fruits")["fruits"]
    assert isinstance(found, list)
    book = load_book().fruits
    assert [entry["item"] for entry in found] == list(book)
    for entry in found:
        assert entry["ph"]["value"] == book[entry["item"]].ph.value


def test_a_fruit_is_found_by_item_name_and_whatever_the_capitals() -> None:
    by_item = document("fruits", "Plum,  flesh with skin")["fruits"]
    by_name = document("fruits", "PLUM")["fruits"]
    assert isinstance(by_item, list)
    assert isinstance(by_name, list)
    assert by_item[0] in by_name


def test_a_misspelt_fruit_gets_near_names() -> None:
    result = run("fruits", "quinze", status=2)
    assert result.stdout == ""
    assert 'did you mean "quince"' in result.stderr


@pytest.mark.parametrize("product", sorted(load_book().products))
def test_a_product_shows_windows_and_every_standard(product: str) -> None:
    text = run("products", product).stdout
    assert max(len(line) for line in text.splitlines()) <= 80
    flowing = "".join(text.split())
    limits = [limit for limit in load_book().limits if limit.product == product]
    for limit in limits:
        assert f"\n{limit.standard}: " in text
        assert "".join(limit.source.split()) in flowing
    found = document("products", product)["products"]
    assert isinstance(found, list)
    assert len(found[0]["limits"]) == len(limits)


# Council Directive 2001/113/EC, Annex I (read): extra jam 450 g per 1000 g in general, 350 g for blackcurrant, quince.
def test_a_figure_of_a_standard_is_shown_as_it_was_printed() -> None:
    text = run("products", "jam", "--standard", "eu-2001").stdout
    block = " ".join(text.split("eu-2001: extra jam", 1)[1].split("\n\n", 1)[0].split())
    assert "fruit: at least 0.45 kg/kg finished" in block
    assert "quince" in block.split("at least 0.35 kg/kg finished")[0]
    assert "\nuk: " not in text


def test_unknown_products_and_standards_are_named() -> None:
    assert 'did you mean "jam"' in run("products", "jamm", status=2).stderr
    assert "codex" in run("products", "jam", "--standard", "mars", status=2).stderr


def test_all_lists_fit_80_columns() -> None:
    for verb in ("fruits", "products"):
        assert max(len(line) for line in run(verb).stdout.splitlines()) <= 80


def test_every_figure_of_the_models_has_words() -> None:
    assert set(fruits_command.FIGURES) == set(FRUIT_FIGURES)
    assert set(products_command.WINDOWS) == set(PRODUCT_WINDOWS)
    parameters = Limit.model_fields["parameter"].annotation
    assert set(products_command.PARAMETERS) == set(parameters.__args__)  # type: ignore[union-attr]


ENDPOINTS = [
    ["--brix", "65", "--invert", "0.3", "--altitude", "1650 m"],
    ["--brix", "65 %", "--invert", "30 %", "--altitude", "5413 ft"],
    ["--brix", "68"],
    ["--brix", "68", "--boiling-water", "94.5 degC", "--thermometer", "99 degC", "--acid", "0.8 %"],
    ["--brix", "66", "--altitude", "200 m", "--boiling-water", "95 degC"],
    ["--brix", "78", "--invert", "0.5"],
]


@pytest.mark.parametrize("arguments", ENDPOINTS)
def test_end_points_in_words_and_json(arguments: list[str]) -> None:
    text = run("endpoint", *arguments).stdout
    found = document("endpoint", *arguments)
    assert max(len(line) for line in text.splitlines()) <= 80
    assert f"{found['end_point_C']:.1f}" in text
    assert "A thermometer is an aid; the refractometer" in " ".join(text.split())
    assert "burns" in text
    for said in [*found["cautions"], *found["warnings"]]:  # type: ignore[misc]
        assert "".join(said.split()) in "".join(text.split())


def test_the_same_place_in_feet_and_per_cent() -> None:
    metric, other = (document("endpoint", *arguments) for arguments in ENDPOINTS[:2])
    assert metric["end_point_C"] == pytest.approx(other["end_point_C"], abs=0.01)


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--brix", "650"], "brix"),
        (["--brix", "sweet"], "sweet"),
        (["--brix", "65", "--invert", "30"], "30"),
        (["--brix", "65", "--altitude", "1650 kg"], "kg"),
        (["--brix", "65", "--altitude", "20000 m"], "20000"),
        (["--brix", "65", "--thermometer", "60 degC"], "60"),
        (["--brix", "65", "--altitude", "nan m"], "nan"),
    ],
)
def test_end_points_refuse_calmly(arguments: list[str], said: str) -> None:
    result = run("endpoint", *arguments, status=2)
    assert result.stdout == ""
    assert said in result.stderr
    assert "Traceback" not in result.stderr
