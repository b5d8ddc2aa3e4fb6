"""Templates: what a person finds in them, and that a filled one is read."""

import io

import pytest
from openpyxl import load_workbook

from optimizer.exports.template import Which, template
from optimizer.inputs.book import load_book
from optimizer.inputs.files import read_bytes
from optimizer.inputs.goods import Context, columns_of
from optimizer.inputs.offers import read_offers
from optimizer.inputs.prices import Money
from optimizer.inputs.stock import read_lots
from optimizer.services.tables_out import item_names

TABLES: tuple[Which, ...] = ("stock", "offers")


def made(which: Which) -> bytes:
    book = load_book()
    return template(which, item_names(book), tuple(book.conditions))


@pytest.mark.parametrize("which", TABLES)
def test_the_head_stays_in_view_and_explains_every_column(which: Which) -> None:
    page = load_workbook(io.BytesIO(made(which))).worksheets[0]
    columns = columns_of(which)
    assert [cell.value for cell in page[1]] == list(columns)
    assert page.freeze_panes == "B2"
    for cell, column in zip(page[1], columns.values(), strict=True):
        assert column.meaning.replace("`", "").rstrip(".") in cell.comment.text
        assert ("Must be filled in" in cell.comment.text) == column.required


@pytest.mark.parametrize("which", TABLES)
def test_drop_downs_offer_what_the_reader_takes(which: Which) -> None:
    book = load_workbook(io.BytesIO(made(which)))
    page = book.worksheets[0]
    lists = {
        page.cell(1, area.min_col).value: kind.formula1
        for kind in page.data_validations.dataValidation
        for area in kind.sqref.ranges
    }
    columns = columns_of(which)
    for name, column in columns.items():
        if column.choices:
            assert lists[name] == '"' + ",".join(column.choices) + '"'
            assert len(lists[name]) <= 257  # a list typed into a rule holds 255 letters: Excel specifications (memory)
    assert lists["rot_sorted_out"] == '"yes,no"'
    for name, letter in (("item", "A"), ("condition", "B")):
        assert lists[name].startswith(f"Names!${letter}$2:${letter}$")
        last = int(lists[name].rpartition("$")[2])
        names = [book["Names"][f"{letter}{line}"].value for line in range(2, last + 1)]
        assert None not in names
        assert book["Names"][f"{letter}{last + 1}"].value is None
    assert {"plum, flesh with skin", "citric acid"} <= {cell.value for cell in book["Names"]["A"]}


@pytest.mark.parametrize("which", TABLES)
def test_the_notes_name_every_column(which: Which) -> None:
    page = load_workbook(io.BytesIO(made(which)))["Notes"]
    named = [cell.value for cell in page["A"] if cell.value]
    assert named == list(columns_of(which))
    assert any("never means zero" in str(cell.value) for cell in page["B"])


@pytest.mark.parametrize("which", TABLES)
def test_the_example_is_sound_but_for_its_code_and_is_refused_when_left_in(which: Which) -> None:
    raw = read_bytes(f"{which}.xlsx", made(which), columns_of(which))
    context = Context.of(load_book(), Money(currency="EUR"))
    _, faults = read_lots(raw, context) if which == "stock" else read_offers(raw, context)
    (fault,) = faults
    assert fault.value == "EXAMPLE"
    assert "delete it" in fault.cure
