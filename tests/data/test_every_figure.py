"""The tables of `data/` as data: every figure sourced, inside its range, and consistent with its neighbours."""

import csv
import re
from collections import Counter
from pathlib import Path

import pytest

from optimizer.datafiles import data_folder
from optimizer.inputs.book import load_book
from optimizer.inputs.book_table import read_columns
from optimizer.inputs.datapackage import TITLES

STATUSES = {"read", "memory", "common practice", "judgement"}


def lines(name: str) -> list[dict[str, str]]:
    with (data_folder() / f"{name}.csv").open(encoding="utf-8", newline="") as handle:
        return list(csv.DictReader(handle))


@pytest.mark.parametrize("name", TITLES)
def test_every_line_names_a_source_and_a_status(name):
    for line in lines(name):
        assert line["source"].strip(), line
        assert line["status"] in STATUSES, line


@pytest.mark.parametrize("name", TITLES)
def test_a_source_that_is_memory_or_judgement_is_never_called_read(name):
    for line in lines(name):
        if line["source"].startswith(("from memory", "judgement")) or "; from memory" in line["source"]:
            assert line["status"] != "read", line


def test_every_table_lies_beside_its_column_table_and_none_is_forgotten():
    tables = {path.stem for path in data_folder().glob("*.csv") if not path.stem.endswith(".columns")}
    assert tables == set(TITLES)
    for name in tables:
        header = list(lines(name)[0])
        assert header == list(read_columns(data_folder() / f"{name}.columns.csv"))


@pytest.mark.parametrize("path", sorted(data_folder().rglob("*.columns.csv")), ids=lambda path: path.name)
def test_every_column_says_what_it_means(path: Path):
    columns = read_columns(path)
    assert columns
    for column in columns.values():
        assert len(column.meaning) > 10 or column.name in {"fruit", "product"}, column
        assert column.least is None or column.most is None or column.least < column.most


def test_tables_hold_no_price():
    for name in TITLES:
        for title in lines(name)[0]:
            assert not re.search(r"price|cost|worth", title), (name, title)


def test_no_trade_mark_stands_in_a_name():
    # common practice, no source: trade marks of pectins, sweeteners, jars and refractometers a kitchen may meet
    marks = re.compile(r"®|™|\b(?:ball|kilner|mason|certo|sure-?jell|pomona|bernardin|weck|tate|karo|genu)\b", re.I)
    for path in data_folder().rglob("*.csv"):
        found = marks.findall(path.read_text(encoding="utf-8"))
        assert not found, (path.name, found)


def test_the_book_has_61_parts_of_51_fruits_and_each_fruit_one_default_part():
    book = load_book()
    assert len(book.fruits) == 61
    default = Counter(part.fruit for part in book.fruits.values() if part.is_default_part)
    assert set(default.values()) == {1}
    assert set(default) == {part.fruit for part in book.fruits.values()}


def test_figures_of_a_fruit_agree_with_each_other():
    for part in load_book().fruits.values():
        water, sugar = part.water_fraction.value, part.total_sugar_fraction.value
        assert water + sugar < 1.0, part.item
        if part.brix_fraction is None:
            continue
        brix = part.brix_fraction.value
        acid = part.acid_fraction.value if part.acid_fraction else 0.0
        assert brix + water < 1.0, part.item  # what is neither water nor soluble is not negative
        assert sugar + acid <= brix + 1e-9, part.item


def test_density_follows_from_brix():
    # Brewers' form of Plato's table, 1 + B / (258.6 - 0.8796 B), from memory; the book used another one.
    # Half of the spread of a lot (0.01 kg/L) is allowed.
    for part in load_book().fruits.values():
        if part.brix_fraction is None:
            continue
        brix = 100.0 * part.brix_fraction.value
        specific_gravity = 1.0 + brix / (258.6 - 0.8796 * brix)
        assert part.density_kg_per_L.value == pytest.approx(0.9982 * specific_gravity, abs=0.005), part.item


def test_low_typical_and_high_are_in_order():
    for line in lines("fruits"):
        ends = [float(line[name]) for name in ("low", "typical", "high") if line[name]]
        assert ends == sorted(ends), line


def test_spreads_are_those_of_the_rule():
    """Brix 10 %, acid 25 or 35 %, pH 0.25, pectin 35 or 50 %, refuse 15 %, density 0.01 kg/L."""
    wide = {"apple", "pear", "mango", "plum"}
    for line in lines("fruits"):
        typical = float(line["typical"])
        rule = {
            "brix": 0.10 * typical,
            "acid": (0.35 if line["fruit"] in wide else 0.25) * typical,
            "ph": 0.25,
            "pectin": (0.50 if line["status"] == "memory" else 0.35) * typical,
            "refuse": 0.15 * typical,
            "density": 0.01,
        }.get(line["figure"])
        if rule is None:
            assert line["sd"] == "", line
        else:
            assert float(line["sd"]) == pytest.approx(rule, rel=1e-3, abs=1e-9), line


def test_elderberry_has_no_invented_brix_or_acid():
    elderberry = load_book().fruits["elderberry, whole berry"]
    assert elderberry.brix_fraction is None
    assert elderberry.acid_fraction is None


def test_low_acid_fruit_is_what_extension_lists_name_or_lies_above_ph_4_2():
    # healthycanning.com, list after USDA (2019): these and ripe mango; persimmon added by us
    named = {"papaya", "banana", "watermelon", "fig", "elderberry", "persimmon"}
    for part in load_book().fruits.values():
        expected = part.item == "mango, flesh, ripe" or part.fruit in named or part.ph.value > 4.2
        assert part.is_low_acid == (expected and not (part.is_citrus and part.is_peel)), part.item


def test_words_are_written_once():
    """No name differs from another by capitals or blanks only."""
    for names in (load_book().fruits, load_book().ingredients, load_book().settings):
        folded = Counter(" ".join(name.split()).casefold() for name in names)
        assert max(folded.values()) == 1


def test_demo_sites_say_that_they_are_invented():
    for site in ("ombrey_hollow", "sanduri_flats"):
        folder = data_folder() / "demo" / site
        assert "INVENTED" in (folder / "README.md").read_text(encoding="utf-8")
        assert "INVENTED" in (folder / "site.toml").read_text(encoding="utf-8")


@pytest.mark.parametrize("site", ["ombrey_hollow", "sanduri_flats"])
@pytest.mark.parametrize("table", ["stock", "offers"])
def test_demo_tables_use_columns_and_items_that_are_known(site, table):
    from optimizer.inputs.book import packaging

    book = load_book()
    known = read_columns(data_folder() / "tables" / f"{table}.columns.csv")
    for line in lines(f"demo/{site}/{table}"):
        assert set(line) <= set(known)
        item = line["item"]
        sulphited = item.endswith(", sulphited pulp") and item.split(", ")[0] in {p.fruit for p in book.fruits.values()}
        assert item in book.fruits or item in book.ingredients or packaging(item) or sulphited, item
