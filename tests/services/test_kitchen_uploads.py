"""Uploads: any bytes give rows or sentences; what was exported comes back as it was."""

from __future__ import annotations

import io
from collections.abc import Iterator
from contextlib import ExitStack
from datetime import date

import pytest
from how_many import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from kitchens import PLUM, SUGAR, a_store, put
from openpyxl import load_workbook
from site_folders import csv_of

from optimizer.inputs.files import MOST_ROWS
from optimizer.inputs.text_files import MOST_BYTES
from optimizer.services.kitchen import Preview, open_kitchen, preview_upload, save, table
from optimizer.services.preview import CODE, Which
from optimizer.services.tables_in import read_upload, which_table
from optimizer.services.tables_out import table_file, template_file
from optimizer.store import Store

TABLES: tuple[Which, ...] = ("stock", "offers")


@pytest.fixture
def store() -> Iterator[Store]:
    with a_store() as store:
        yield store


def upload(store: Store, raw: bytes | str, which: Which = "stock", name: str = "stock.csv") -> Preview:
    return preview_upload(store, which, name, raw if isinstance(raw, bytes) else raw.encode())


GERMAN = "lot;item;on_hand;worth_uncooked;supplier\r\nÄ-1;plum;1,5 kg;0,10 EUR/kg;Obsthof Grün (erfunden)\r\n"


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
@pytest.mark.parametrize("mark", [";", "\t"])
def test_usual_encodings_and_separators(store: Store, encoding: str, mark: str) -> None:
    found = upload(store, GERMAN.replace(";", mark).encode(encoding))
    assert (found.new, found.faults) == (("Ä-1",), ())
    save(store, found)
    (row,) = table(store, "stock").rows
    assert (row["on_hand"], row["supplier"]) == ("1,5 kg", "Obsthof Grün (erfunden)")


def test_an_old_workbook_is_refused_with_advice(store: Store) -> None:
    (fault,) = upload(store, b"\xd0\xcf\x11\xe0" + bytes(600), name="old.xls").faults
    assert "save it as .xlsx" in fault.cure
    assert fault.file == "old.xls"


def test_too_much_is_refused_with_the_number(store: Store) -> None:
    (fault,) = upload(store, b"lot,item\n" + b"x" * MOST_BYTES).faults
    assert "20" in fault.cure
    lines = "lot,item\n" + "A,plum\n" * (MOST_ROWS + 1)
    (fault,) = upload(store, lines).faults
    assert str(MOST_ROWS) in fault.cure


def test_faults_name_the_line_of_the_file(store: Store) -> None:
    found = upload(store, "lot,item,on_hand,worth_uncooked,ph\n\nA,plum,4 kg,0.1,34\n\nB,plumm,4 kg,0.1,\n")
    assert [(fault.file, fault.line, fault.item, fault.column, fault.value) for fault in found.faults] == [
        ("stock.csv", 3, "A", "ph", "34"),
        ("stock.csv", 5, "B", "item", "plumm"),
    ]


@pytest.mark.parametrize(
    ("raw", "says"),
    [
        ("", "empty"),
        ("nothing known\nx\n", "must name the columns"),
        ("item,on_hand\nplum,4 kg\n", "missing"),
        ("lot,itm\nA,plum\n", 'did you mean "item"?'),
        ("lot,item,item\nA,plum,pear\n", "twice"),
        ("lot,item\nA,plum,4 kg,0.1\n", "quotation marks"),
        ("offer,item,price\nS-1,citric acid,2\n", "table of offers"),
    ],
)
def test_a_layout_at_fault_says_what_to_do(store: Store, raw: str, says: str) -> None:
    found = upload(store, raw)
    assert any(says in fault.cure for fault in found.faults), found.faults
    assert not found.can_save


def test_a_date_in_a_column_of_numbers_is_told_as_such(store: Store) -> None:
    book = load_workbook(io.BytesIO(template_file("stock")[1]))
    page = book.worksheets[0]
    head = {cell.value: cell.column for cell in page[1]}
    for name, value in {**PLUM, "brix": "2026-07-03"}.items():
        page.cell(2, head[name]).value = value
    page.cell(2, head["brix"]).value = date(2026, 7, 3)
    out = io.BytesIO()
    book.save(out)
    found = upload(store, out.getvalue(), name="stock.xlsx")
    assert [(fault.column, "made a date of it" in fault.cure) for fault in found.faults] == [("brix", True)]


@pytest.mark.parametrize("which", TABLES)
def test_a_template_left_as_it_is_books_nothing_and_says_so(store: Store, which: Which) -> None:
    name, raw = template_file(which)
    found = preview_upload(store, which, name, raw)
    assert (found.new, found.faults, found.can_save) == ((), (), False)
    assert any("example" in sentence for sentence in found.said)


@pytest.mark.parametrize("which", TABLES)
def test_a_filled_template_is_read(store: Store, which: Which) -> None:
    book = load_workbook(io.BytesIO(template_file(which)[1]))
    page = book.worksheets[0]
    head = {cell.value: cell.column for cell in page[1]}
    for name, value in (PLUM if which == "stock" else SUGAR).items():
        page.cell(3, head[name]).value = value
    out = io.BytesIO()
    book.save(out)
    assert preview_upload(store, which, "filled.xlsx", out.getvalue()).new == (
        (PLUM if which == "stock" else SUGAR)[CODE[which]],
    )


def test_the_example_of_a_template_keeps_its_price_column_plain(store: Store) -> None:
    page = load_workbook(io.BytesIO(template_file("offers")[1])).worksheets[0]
    head = {cell.value: cell.column for cell in page[1]}
    assert page.cell(2, head["price"]).value == 0.92


def test_a_table_is_told_by_its_columns() -> None:
    assert which_table("a.csv", csv_of(PLUM).encode()) == "stock"
    assert which_table("a.csv", csv_of(SUGAR).encode()) == "offers"
    assert which_table("a.csv", b"\0\1\2") == "stock"


def test_a_name_of_a_file_is_only_a_name() -> None:
    assert read_upload("../../etc/pass\nwd.csv", b"", "stock").file == "pass?wd.csv"
    assert read_upload("C:\\mine\\" + "x" * 500, b"", "stock").file == "x" * 120


HEAD = "lot,item,on_hand,worth_uncooked,brix\n"
BYTES = st.one_of(
    st.binary(max_size=400),
    st.text(max_size=300).map(lambda text: (HEAD + text).encode("utf-8", "replace")),
    st.binary(max_size=200).map(lambda raw: b"PK\x03\x04" + raw),
    st.binary(max_size=200).map(lambda raw: HEAD.encode("utf-16") + raw),
    st.lists(st.text(st.characters(blacklist_categories=("Cs",)), max_size=8), max_size=30).map(
        lambda cells: (HEAD + ",".join(cells)).encode()
    ),
)


@settings(max_examples=examples(60))
@given(BYTES)
def test_any_bytes_give_rows_or_sentences(raw: bytes) -> None:
    for which in TABLES:
        found = read_upload("any.csv", raw, which)
        assert not (found.rows and found.faults)
        assert all(fault.cure and fault.file == "any.csv" for fault in found.faults)


@settings(max_examples=examples(20))
@given(BYTES)
def test_any_bytes_give_a_preview_that_books_whole_or_not_at_all(raw: bytes) -> None:
    with a_store() as store:
        found = upload(store, raw)
        assert not (found.faults and found.can_save)
        if found.can_save:
            save(store, found)
            assert {row["lot"] for row in table(store, "stock").rows} == set(found.new)


CODES = st.text(st.characters(blacklist_categories=("Cs", "Cc", "Zl", "Zp", "Cn", "Co", "Cf")), min_size=1, max_size=20)
HOSTILE = st.sampled_from(
    ["=1+1", "'=1", "''=1", "@x", "+1", "-1", "-", "'", "'-3", "007", "1e5", "12", "true", "\t=x"]
)
NAMES = (
    st.one_of(CODES, HOSTILE)
    .map(lambda text: " ".join(text.split()))
    .filter(lambda text: bool(text) and text.isprintable() and text.upper() != "EXAMPLE")
)
ROWS = st.lists(
    st.fixed_dictionaries(
        {
            "lot": NAMES,
            "item": st.sampled_from(["plum", "citric acid", "apple, cooking, flesh with skin"]),
            "supplier": st.one_of(st.just(""), NAMES),
            "on_hand": st.sampled_from(["40 kg", "0,5 kg", "1.125 kg", "12", "90 lb", "0"]),
            "worth_uncooked": st.sampled_from(
                ["-0.05 EUR/kg", "-3", "0", "0.10", "0,10 EUR/kg", "1.125 EUR/kg", "11.0"]
            ),
            "received": st.sampled_from(["", "2026-07-03"]),
        }
    ),
    min_size=1,
    max_size=5,
    unique_by=lambda row: row["lot"],
)


@settings(max_examples=examples(20))
@given(rows=ROWS, kind=st.sampled_from(["csv", "decimal comma", "xlsx"]))
def test_what_is_exported_comes_back_without_a_change(rows: list[dict[str, str]], kind: str) -> None:
    with ExitStack() as stack:
        store = stack.enter_context(a_store())
        put(store, "stock", *rows, mark=".")  # typed with both decimal marks, as in a table of many hands
        before = table(store, "stock").rows
        name, raw = table_file(
            store, "stock", "xlsx" if kind == "xlsx" else "csv", decimal_comma=kind == "decimal comma"
        )
        found = upload(store, raw, name=name)
        assert found.faults == ()
        assert (found.new, found.changed) == ((), ())
        assert set(found.untouched) == {row["lot"] for row in before}
        other = stack.enter_context(a_store())
        copied = upload(other, raw, name=name)
        save(other, copied)
        again = table(other, "stock").rows
        assert [row["lot"] for row in again] == [row["lot"] for row in before]
        assert [row["supplier"] for row in again] == [row["supplier"] for row in before]
        kitchen, copy = open_kitchen(store), open_kitchen(other)
        assert kitchen is not None
        assert copy is not None
        assert kitchen.folder is not None
        assert copy.folder is not None
        assert copy.folder.lots == kitchen.folder.lots
