"""The reader of the book: figures as the tables state them, faults named and listed together."""

import csv
import shutil
from pathlib import Path
from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimizer.datafiles import data_folder
from optimizer.errors import BadTable
from optimizer.inputs.book import load_book, packaging
from optimizer.inputs.book_fruits import FIGURES as FRUIT_FIGURES
from optimizer.inputs.book_goods import FIGURES as GOODS_FIGURES
from optimizer.inputs.book_products import WINDOWS
from optimizer.inputs.book_table import in_program_units, read_columns
from optimizer.inputs.models import (
    Acid,
    Condition,
    FigureStatus,
    FruitPart,
    Ingredient,
    Kind,
    Limit,
    PectinClass,
    Product,
    Setting,
)

BOOK = load_book()


def lines(name: str) -> list[dict[str, str]]:
    with (data_folder() / f"{name}.csv").open(encoding="utf-8", newline="") as handle:
        return list(csv.DictReader(handle))


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    """The tables in a folder that a test may spoil."""
    for path in data_folder().glob("*.csv"):
        shutil.copy(path, tmp_path)
    return tmp_path


def spoil(folder: Path, name: str, old: str, new: str) -> None:
    path = folder / name
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")


# ---- what is read ---------------------------------------------------------------------------------------------------


def test_every_line_of_the_fruit_table_reaches_the_book():
    for line in lines("fruits"):
        field, unit, _ = FRUIT_FIGURES[line["figure"]]
        figure = getattr(BOOK.fruits[f"{line['fruit']}, {line['part']}"], field)
        scale = 100.0 if unit == "%" else 1.0
        assert figure.value == pytest.approx(float(line["typical"]) / scale, rel=1e-12)
        assert figure.sd == pytest.approx(float(line["sd"] or 0) / scale, rel=1e-12)
        assert figure.low == (None if not line["low"] else pytest.approx(float(line["low"]) / scale))
        assert figure.high == (None if not line["high"] else pytest.approx(float(line["high"]) / scale))
        assert figure.status == line["status"]
        assert figure.source.startswith(line["source"])


def test_names_of_figures_are_those_of_the_model():
    assert {field for field, _, _ in FRUIT_FIGURES.values()} <= set(FruitPart.model_fields)
    assert {field for field, _, _ in GOODS_FIGURES.values()} <= set(Ingredient.model_fields)
    assert {field for field, _ in WINDOWS.values()} <= set(Product.model_fields)


@pytest.mark.parametrize(
    ("table", "column", "words"),
    [
        ("limits", "parameter", get_args(Limit.model_fields["parameter"].annotation)),
        ("limits", "kind", get_args(Limit.model_fields["kind"].annotation)),
        ("fruit_parts", "dominant_acid", get_args(Acid)),
        ("fruit_parts", "pectin_class", get_args(PectinClass)),
        ("ingredient_kinds", "kind", set(get_args(Kind)) - {"fruit", "packaging"}),
        ("ingredient_kinds", "setting", get_args(Setting)),
        ("conditions", "condition", get_args(Condition)),
        ("product_kinds", "preparation", get_args(Product.model_fields["preparation"].annotation)),
        ("product_kinds", "crystals", get_args(Product.model_fields["crystals"].annotation)),
        ("settings", "status", set(get_args(FigureStatus)) - {"measured", "offer"}),
    ],
)
def test_column_tables_admit_the_words_of_the_model(table, column, words):
    assert set(read_columns(data_folder() / f"{table}.columns.csv")[column].choices) == set(words)


def test_figures_of_two_fruits_from_the_tables_they_come_from():
    papaya = BOOK.fruits["papaya, flesh, ripe"]
    assert papaya.water_fraction.value == 0.8806  # USDA SR27, NDB 09226
    assert papaya.total_sugar_fraction.value == 0.0782
    apple = BOOK.fruits["apple, eating, flesh with skin"]
    assert apple.water_fraction.value == 0.8556  # USDA SR27, NDB 09003
    assert apple.refuse_fraction.value == 0.10  # core and stem


def test_citrus_parts_are_told_apart():
    kinds = {
        item: (part.is_peel, part.is_whole_citrus, part.is_juice)
        for item, part in BOOK.fruits.items()
        if part.is_citrus
    }
    assert kinds["orange, flesh"] == (False, False, False)
    assert kinds["lemon, peel"] == (True, False, False)
    assert kinds["bitter orange (Seville), whole fruit"] == (False, True, False)
    assert kinds["lime, juice"] == (False, False, True)
    assert {item.split(",")[0] for item in kinds} == {
        "orange", "bitter orange (Seville)", "lemon", "lime", "grapefruit", "mandarin",
    }  # fmt: skip


# Molar masses [g/mol] by hand from atomic masses C 12.011, H 1.008, O 15.999, Na 22.990, K 39.098, Ca 40.078, N 14.007.
@pytest.mark.parametrize(
    ("name", "formula", "acid_mol", "ions"),
    [
        ("citric acid", 6 * 12.011 + 8 * 1.008 + 7 * 15.999, 1, 0),
        ("citric acid monohydrate", 6 * 12.011 + 10 * 1.008 + 8 * 15.999, 1, 0),
        ("malic acid", 4 * 12.011 + 6 * 1.008 + 5 * 15.999, 1, 0),
        ("tartaric acid", 4 * 12.011 + 6 * 1.008 + 6 * 15.999, 1, 0),
        ("trisodium citrate dihydrate", 6 * 12.011 + 9 * 1.008 + 9 * 15.999 + 3 * 22.990, 1, 3),
        ("potassium citrate monohydrate", 6 * 12.011 + 7 * 1.008 + 8 * 15.999 + 3 * 39.098, 1, 3),
        ("sodium bicarbonate", 22.990 + 1.008 + 12.011 + 3 * 15.999, 0, 1),
        ("calcium carbonate", 40.078 + 12.011 + 3 * 15.999, 0, 2),
    ],
)
def test_pure_substances_follow_their_formula(name, formula, acid_mol, ions):
    item = BOOK.ingredients[name]
    assert item.acid_mol_per_kg == pytest.approx(1000.0 * acid_mol / formula, rel=2e-4)
    assert item.strong_ion_mol_per_kg == pytest.approx(1000.0 * ions / formula, rel=2e-4)


@pytest.mark.parametrize(
    ("name", "figure", "released", "whole"),
    [
        ("potassium metabisulphite", "so2_fraction", 2 * 64.064, 222.31),
        ("sodium metabisulphite", "so2_fraction", 2 * 64.064, 190.10),
        ("sodium benzoate", "benzoic_fraction", 122.12, 144.10),
        ("potassium sorbate", "sorbic_fraction", 112.13, 150.22),
        ("calcium chloride dihydrate", "calcium_fraction", 40.078, 147.01),
        ("calcium lactate pentahydrate", "calcium_fraction", 40.078, 308.3),
        ("citric acid monohydrate", "anhydrous_fraction", 192.124, 210.139),
    ],
)
def test_shares_of_salts_follow_their_formula(name, figure, released, whole):
    assert getattr(BOOK.ingredients[name], figure) == pytest.approx(released / whole, abs=1e-3)


@pytest.mark.parametrize("item", BOOK.ingredients.values(), ids=lambda item: item.name)
def test_the_parts_of_an_ingredient_sum_to_no_more_than_its_solids(item):
    assert item.solids_fraction is not None
    solids = item.solids_fraction.value
    parts = item.sucrose_fraction + item.glucose_fraction + item.fructose_fraction + item.other_saccharides_fraction
    acid = item.titratable_acid_fraction.value if item.titratable_acid_fraction else 0.0
    assert parts + acid <= solids + 1e-9
    assert item.water_fraction + item.insoluble_fraction + solids == pytest.approx(1.0, abs=1e-9)
    assert item.sources


def test_no_preservative_is_a_strong_base_or_acid():
    for item in BOOK.ingredients.values():
        if item.kind == "preservative":
            assert item.strong_ion_mol_per_kg == 0.0
            assert item.acid is None


def test_windows_of_products_as_agreed():
    jam, squash, butter = BOOK.products["jam"], BOOK.products["squash"], BOOK.products["butter"]
    assert (jam.reading_fraction.least, jam.reading_fraction.most) == (0.65, 0.68)
    assert (jam.ph.least, jam.ph.most) == (2.8, 3.4)
    assert (squash.acid_fraction.least, squash.acid_fraction.most) == (0.010, 0.012)
    assert (squash.boil_off.least, squash.boil_off.most) == (0.0, 0.0)
    assert not squash.is_cooked
    assert butter.firmness.least is None
    assert butter.fruit_per_sweetener_solids.least == 2.5
    assert butter.jaggery_most.most is None
    assert BOOK.products["jelly"].fit["over-ripe"] == 0
    assert BOOK.products["squash"].fit["windfall"] == 0


def test_every_product_says_how_each_condition_suits_it():
    for product in BOOK.products.values():
        assert set(product.fit) == set(BOOK.conditions)
        assert set(product.fit.values()) <= {0, 1, 2}
        assert product.fit["sound"] == 2


def test_extraction_and_sieve_have_a_line_for_any_other_fruit():
    assert sum(not line.fruit for line in BOOK.extractions) == 1
    assert sum(not line.fruit for line in BOOK.sieve_yields) == 1
    fruits = {part.fruit for part in BOOK.fruits.values()} | {""}
    assert {line.fruit for line in (*BOOK.extractions, *BOOK.sieve_yields)} <= fruits
    apple = next(line for line in BOOK.extractions if line.fruit == "apple")
    # Michigan State University Extension 01600889: 1 cup (237 g) of water per lb (454 g), 20 to 25 min
    assert apple.water_kg_per_kg == pytest.approx(237 / 454, abs=0.005)
    assert apple.minutes == 22.5


def test_a_second_call_gives_the_same_book():
    assert load_book() is load_book(data_folder())


@pytest.mark.parametrize("name", ["jar 380 mL", "jar 1.5 L", "lid 63 mm", "bottle 700 mL", "label set"])
def test_packaging_is_known_by_its_pattern(name):
    item = packaging(name)
    assert item is not None
    assert item.kind == "packaging"


@given(st.text(max_size=20).filter(lambda name: not name.startswith(("jar ", "bottle ", "lid ", "label "))))
def test_nothing_else_is_packaging(name):
    assert packaging(name) is None


@given(st.floats(-1e6, 1e6))
def test_percent_becomes_a_fraction_and_nothing_else_changes(value):
    assert in_program_units(value, "%") == pytest.approx(value / 100.0, abs=1e-12)
    assert in_program_units(value, "mg/kg") == value


# ---- what is refused ------------------------------------------------------------------------------------------------


def test_all_faults_are_listed_with_file_line_value_and_cure(copy):
    spoil(copy, "fruits.csv", "amla,flesh,brix,%,10,", "amla,flesh,brix,%,ten,")
    spoil(copy, "limits.csv", "codex,jam,jam (higher fruit class)", "codx,jam,jam (higher fruit class)")
    spoil(copy, "settings.csv", "pan_loss_fraction,0.01,1", "pan_loss_fraction,,1")
    with pytest.raises(BadTable) as caught:
        load_book(copy)
    told = str(caught.value)
    assert 'fruits.csv line 2, amla, typical: "ten": give a number' in told
    assert 'limits.csv line 2, codx, standard: "codx": did you mean "codex"?' in told
    assert "settings.csv line 3, pan_loss_fraction, value" in told
    assert "nothing was loaded" in told


@pytest.mark.parametrize(
    ("file", "old", "new", "told"),
    [
        ("fruits.csv", "amla,flesh,ph,pH,2.9", "amla,flesh,ph,pH,-2.9", "give 0 to 10000"),
        ("fruits.csv", "amla,flesh,ph,pH,2.9", "amla,flesh,ph,pH,nan", "give 0 to 10000"),
        ("fruits.csv", "amla,flesh,ph,pH", "amla,flesh,ph,%", "give ph in pH"),
        ("fruits.csv", "amla,flesh,ph,pH", "amla,flesh,brix,%", "second line for this figure"),
        ("fruits.csv", "amla,flesh,ph,pH", "amlaa,flesh,ph,pH", 'did you mean "amla, flesh"'),
        ("fruits.csv", "fruit,part,figure", "fruit,prt,figure", 'did you mean "part"?'),
        ("fruit_parts.csv", ",no,no,no,no,no,yes,", ",no,no,no,no,no,perhaps,", "write yes or no"),
        ("ingredients.csv", "citric acid,acid_mol,", "citric acidd,acid_mol,", "not in ingredient_kinds.csv"),
        ("products.csv", "jam,reading,65,68", "jam,reading,69,68", "is above the most"),
        ("limits.csv", "cranberry", "cranbery", 'cranbery: did you mean "cranberry"'),
        ("limits.csv", ",,0.45,kg/kg finished,min,", ",,,kg/kg finished,min,", "a figure needs a value"),
        (
            "cautions.csv",
            "mouldy_jar,A mouldy jar is thrown away whole; scooping out the mould does not help.,",
            "mouldy_jar,,",
            "fill it in",
        ),
    ],
)
def test_a_fault_names_its_cure(copy, file, old, new, told):
    spoil(copy, file, old, new)
    with pytest.raises(BadTable) as caught:
        load_book(copy)
    assert told in str(caught.value)
    assert file in str(caught.value)


def test_a_missing_table_is_named(copy):
    (copy / "conditions.csv").unlink()
    with pytest.raises(BadTable, match=r"conditions\.csv: the table is missing"):
        load_book(copy)


def test_a_fruit_without_a_needed_figure_is_a_fault_but_brix_may_be_unknown(copy):
    text = (copy / "fruits.csv").read_text(encoding="utf-8").splitlines(keepends=True)
    kept = [line for line in text if not line.startswith(("plum,flesh with skin,brix", "pear,flesh with skin,water"))]
    (copy / "fruits.csv").write_text("".join(kept), encoding="utf-8")
    with pytest.raises(BadTable) as caught:
        load_book(copy)
    assert "lacks water of it" in str(caught.value)
    assert "plum" not in str(caught.value)


def test_users_tables_have_the_columns_of_the_documentation():
    stock = read_columns(data_folder() / "tables" / "stock.columns.csv")
    offers = read_columns(data_folder() / "tables" / "offers.columns.csv")
    assert {"lot", "item", "on_hand"} == {column.name for column in stock.values() if column.required}
    assert {"offer", "item", "price"} == {column.name for column in offers.values() if column.required}
    assert set(stock) & set(offers) >= {"item", "condition", "brix", "ph", "acid", "pectin", "rot_sorted_out"}
