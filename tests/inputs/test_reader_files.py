"""Whole files: encodings, separators, decimal marks, workbooks, limits; and whatever the bytes, rows or sentences."""

import codecs
import csv
import io
import random
from collections.abc import Callable, Iterator
from datetime import date, datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimizer.datafiles import data_folder
from optimizer.errors import BadTable, Fault, InputFault
from optimizer.inputs.book import load_book
from optimizer.inputs.folder import load_site_folder
from optimizer.inputs.goods import columns_of
from optimizer.inputs.models import Lot, SiteFolder

HEAD = ["lot", "item", "on_hand", "worth_uncooked", "brix"]
ROWS = [["Käfer-1", "plum, flesh with skin", "12.5 kg", "0.35 €/kg", "13.2"], ["A-2", "guava", "7", "0", ""]]
BOOK = load_book()


def as_csv(rows: list[list[str]], separator: str = ",") -> str:
    text = io.StringIO()
    csv.writer(text, delimiter=separator).writerows(rows)
    return text.getvalue()


def load(folder: Path, stock: bytes, name: str = "stock.csv") -> SiteFolder:
    (folder / name).write_bytes(stock)
    return load_site_folder(folder, BOOK)


def faults(folder: Path, stock: bytes, name: str = "stock.csv") -> tuple[Fault, ...]:
    with pytest.raises(BadTable) as caught:
        load(folder, stock, name)
    return caught.value.faults


def check(lots: tuple[Lot, ...]) -> None:
    assert [lot.lot for lot in lots] == ["Käfer-1", "A-2"]
    assert lots[0].on_hand_kg == 12.5
    assert lots[0].worth_uncooked_per_kg == 0.35
    assert lots[0].brix_fraction == 0.132
    assert (lots[0].line, lots[1].line) == (2, 3)
    assert (lots[1].item, lots[1].on_hand_kg, lots[1].brix_fraction) == ("guava, flesh, ripe", 7.0, None)


@pytest.mark.parametrize("separator", [",", ";", "\t"])
@pytest.mark.parametrize(
    "encode",
    [
        lambda text: text.encode("utf-8"),
        lambda text: text.encode("utf-8-sig"),
        lambda text: text.encode("cp1252"),
        lambda text: text.encode("utf-16"),
        lambda text: codecs.BOM_UTF16_BE + text.encode("utf-16-be"),
        lambda text: text.encode("utf-16-le"),
        lambda text: text.replace("\r\n", "\n").encode("utf-8"),
        lambda text: text.replace("\r\n", "\r").encode("utf-8"),
    ],
    ids=["utf-8", "utf-8 with mark", "windows-1252", "utf-16", "utf-16-be", "utf-16 without mark", "unix", "old mac"],
)
def test_encodings_separators_line_ends(tmp_path: Path, separator: str, encode: Callable[[str], bytes]) -> None:
    check(load(tmp_path, encode(as_csv([HEAD, *ROWS], separator))).lots)


@pytest.mark.parametrize("separator", [";", "\t", ","])
def test_decimal_commas(tmp_path: Path, separator: str) -> None:
    rows = [[cell if at == 1 else cell.replace(".", ",") for at, cell in enumerate(row)] for row in ROWS]
    check(load(tmp_path, as_csv([HEAD, *rows], separator).encode()).lots)


def test_a_decimal_comma_shown_once_settles_the_whole_file(tmp_path: Path) -> None:
    rows = [["A", "plum", "1,234", "0,5", ""], ["B", "plum", "1,5", "0", ""]]
    lots = load(tmp_path, as_csv([HEAD, *rows], ";").encode()).lots
    assert [lot.on_hand_kg for lot in lots] == [1.234, 1.5]


def test_without_a_sign_three_digits_are_asked_back(tmp_path: Path) -> None:
    (fault,) = faults(tmp_path, as_csv([HEAD, ["A", "plum", "1,234", "0", ""]], ";").encode())
    assert (fault.line, fault.column, fault.value) == (2, "on_hand", "1,234")
    assert "1234" in fault.cure


def test_in_a_file_with_decimal_commas_a_point_before_three_digits_is_asked_back(tmp_path: Path) -> None:
    (fault,) = faults(tmp_path, as_csv([HEAD, ["A", "plum", "1.234 kg", "0,5", ""]]).encode())
    assert (fault.column, fault.value) == ("on_hand", "1.234 kg")


SITE = """[place]
altitud = "420 m"

[[pan]]
capacity = "60 L"
power = "15 kg"
[[pan]]
capacity = "60 L"
powr = "15 kW"

['jars'.'380 mL']
net = "450 g"
[jars."190 mL"]
"net" = "-1 g"
[stors]
"""


def test_faults_of_the_site_file_name_their_lines(tmp_path: Path) -> None:
    (tmp_path / "site.toml").write_text(SITE, encoding="utf-8")
    found = faults(tmp_path, as_csv([HEAD, ["A", "plum", "5", "0", ""]]).encode())
    places = [(fault.line, fault.column) for fault in found]
    assert (7, "power") in places  # missing: the head of its table
    assert {(2, "altitud"), (6, "power"), (9, "powr"), (14, "net"), (15, "stors")} <= set(places)
    assert places == sorted(places, key=lambda place: place[0] or 0)


@pytest.mark.parametrize(("net", "fits"), [("450 g", True), ("540 g", True), ("560 g", False), ("450", False)])
def test_a_jar_holds_no_more_than_its_brim(tmp_path: Path, net: str, fits: bool) -> None:
    (tmp_path / "site.toml").write_text(f'[jars."380 mL"]\nnet = "{net}"\nbrim_volume = "380 mL"\n', encoding="utf-8")
    stock = as_csv([HEAD, ["A", "plum", "5", "0", ""]]).encode()
    if fits:
        assert load(tmp_path, stock).site.jars[0].brim_volume_L == 0.38
    else:
        (fault,) = faults(tmp_path, stock)
        assert (fault.file, fault.column) == ("site.toml", "net")


def test_offers_without_stock(tmp_path: Path) -> None:
    found = load(tmp_path, b"offer,item,price\nO-1,honey,6 EUR/kg\n", "offers.csv")
    assert (found.lots, len(found.offers)) == ((), 1)
    assert "nothing is on hand" in " ".join(found.site.defaults_said)


def test_an_unnamed_currency_of_the_tables_is_asked_for(tmp_path: Path) -> None:
    (fault,) = faults(tmp_path, as_csv([HEAD, ["A", "plum", "5", "0.1 cr/kg", ""]]).encode())
    assert 'currency = "cr"' in fault.cure
    (tmp_path / "site.toml").write_text('[money]\ncurrency = "€"\n', encoding="utf-8")
    assert load(tmp_path, as_csv([HEAD, ["A", "plum", "5", "0.1 EUR/kg", ""]]).encode()).site.currency == "EUR"


def test_heads_in_capitals_with_blanks_and_empty_lines(tmp_path: Path) -> None:
    text = "\n LOT , Item,On hand, Worth uncooked\n\nA-1,plum,5 kg,0\n,,,\nA-2,plum,6 kg,0\n"
    lots = load(tmp_path, text.encode()).lots
    assert [(lot.lot, lot.line) for lot in lots] == [("A-1", 4), ("A-2", 6)]


def test_a_cell_over_two_lines_does_not_shift_the_line_numbers(tmp_path: Path) -> None:
    text = 'lot,item,on_hand,worth_uncooked\nA-1,"plum,\nflesh with skin",5 kg,0\nA-2,plumm,6 kg,0\n'
    (fault,) = faults(tmp_path, text.encode())
    assert (fault.line, fault.item, fault.column) == (4, "A-2", "item")


# ---- workbooks -------------------------------------------------------------------------------------------------------


def workbook(rows: list[list[Any]], *, formats: dict[str, str] | None = None) -> bytes:
    book = openpyxl.Workbook()
    sheet = book.active
    for row in rows:
        sheet.append(row)
    for cell, number_format in (formats or {}).items():
        sheet[cell].number_format = number_format
    book.create_sheet("notes").append(["lot", "item"])
    raw = io.BytesIO()
    book.save(raw)
    return raw.getvalue()


def test_a_workbook_with_text(tmp_path: Path) -> None:
    check(load(tmp_path, workbook([HEAD, *ROWS]), "stock.xlsx").lots)


def test_a_workbook_with_numbers_dates_and_formats(tmp_path: Path) -> None:
    head = [*HEAD, "received", "acid", "reject", "rot_sorted_out"]
    rows = [
        [101, "plum", 12.5, 0.35, 13.2, date(2026, 7, 3), 0.012, 5, True],
        ["A-2", "plum", 1.234, -0.05, 12, datetime(2026, 7, 4, 0, 0), 1.2, 0, False],
    ]
    raw = workbook([head, *rows], formats={"G2": "0.0%", "C2": '0.0" lb"'})
    lots = load(tmp_path, raw, "stock.xlsx").lots
    assert [lot.lot for lot in lots] == ["101", "A-2"]
    assert [lot.on_hand_kg for lot in lots] == pytest.approx([12.5 * 0.45359237, 1.234])
    assert [lot.worth_uncooked_per_kg for lot in lots] == [0.35, -0.05]
    assert [lot.received for lot in lots] == [date(2026, 7, 3), date(2026, 7, 4)]
    assert [lot.acid_fraction for lot in lots] == pytest.approx([0.012, 0.012])  # shown as 1.2 %; typed as 1.2
    assert [lot.reject_fraction for lot in lots] == [0.05, 0.0]
    assert [lot.rot_sorted_out for lot in lots] == [True, False]


def test_the_same_table_as_csv_and_as_workbook_gives_the_same_lots(tmp_path: Path) -> None:
    source = data_folder() / "demo" / "ombrey_hollow"
    one, two = tmp_path / "one", tmp_path / "two"
    for folder in (one, two):
        folder.mkdir()
        (folder / "site.toml").write_bytes((source / "site.toml").read_bytes())
    for name in ("stock", "offers"):
        raw = (source / f"{name}.csv").read_bytes()
        (one / f"{name}.csv").write_bytes(raw)
        (two / f"{name}.xlsx").write_bytes(workbook(list(csv.reader(io.StringIO(raw.decode())))))
    first, second = load_site_folder(one, BOOK), load_site_folder(two, BOOK)
    assert [lot.model_dump(exclude={"file"}) for lot in first.lots] == [
        lot.model_dump(exclude={"file"}) for lot in second.lots
    ]
    assert [offer.model_dump(exclude={"file"}) for offer in first.offers] == [
        offer.model_dump(exclude={"file"}) for offer in second.offers
    ]


def test_a_formula_that_was_never_worked_out_is_a_fault(tmp_path: Path) -> None:
    raw = workbook([HEAD, ["A", "plum", "=2*3", 0, ""]])
    (fault,) = faults(tmp_path, raw, "stock.xlsx")
    assert fault.line == 2
    assert "formula" in fault.cure


# ---- files that are refused ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("raw", "name", "cure"),
    [
        (b"", "stock.csv", "empty"),
        (b"\n \n", "stock.csv", "empty"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600), "stock.xls", "xlsx"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600), "stock.csv", "xlsx"),
        (b"PK\x03\x04broken", "stock.xlsx", "save it again"),
        (bytes(range(256)), "stock.csv", "text"),
        (b'lot,item,on_hand\n"A-1,plum,5\n', "stock.csv", "quotation"),
        (b"name,weight\nplum,5\n", "stock.csv", "name the columns"),
        (b"lot,item,on_hnad,worth_uncooked\nA,plum,5,0\n", "stock.csv", "on_hand"),
        (b"lot,item,on_hand,on_hand,worth_uncooked\nA,plum,5,5,0\n", "stock.csv", "twice"),
        (b"lot,item,worth_uncooked\nA,plum,0\n", "stock.csv", "missing"),
        (b"lot,item,on_hand,worth_uncooked\nA,plum, flesh with skin,5,0\n", "stock.csv", "quotation"),
    ],
)
def test_files_that_are_refused(tmp_path: Path, raw: bytes, name: str, cure: str) -> None:
    found = faults(tmp_path, raw, name)
    assert any(cure in fault.cure for fault in found), found
    assert {fault.file for fault in found} == {name}


def test_too_large_and_too_long(tmp_path: Path) -> None:
    (fault,) = faults(tmp_path, b"x" * 20_000_001)
    assert "20.0 MB" in fault.cure
    head, row = b"lot,item,on_hand,worth_uncooked\n", b"A,plum,5,0\n"
    (fault,) = faults(tmp_path, head + row * 100_001)
    assert "100000" in fault.cure.replace(" ", "")


# ---- folders ---------------------------------------------------------------------------------------------------------


def test_all_faults_of_all_files_come_at_once_and_nothing_is_loaded(tmp_path: Path) -> None:
    (tmp_path / "site.toml").write_text('[place]\naltitud = "420 m"\n[money]\ncurrency = "cr"\n', encoding="utf-8")
    stock = "lot,item,on_hand,worth_uncooked,ph\nA,plumm,5,0,9\nB,plum,-1,,3.4\nA,plum,1,0,\n"
    (tmp_path / "stock.csv").write_text(stock, encoding="utf-8")
    (tmp_path / "offers.csv").write_text("offer,item,price\nO,sugar,1 EUR/kg\n", encoding="utf-8")
    with pytest.raises(BadTable) as caught:
        load_site_folder(tmp_path, BOOK)
    places = {(fault.file, fault.line, fault.column) for fault in caught.value.faults}
    wanted = {("stock.csv", 2, "item"), ("stock.csv", 3, "on_hand"), ("stock.csv", 3, "worth_uncooked")}
    wanted |= {("stock.csv", 4, "lot"), ("offers.csv", 2, "item"), ("offers.csv", 2, "price")}
    assert wanted <= places
    assert any(fault.file == "site.toml" and "altitude" in fault.cure for fault in caught.value.faults)
    second = next(fault for fault in caught.value.faults if (fault.line, fault.column) == (4, "lot"))
    assert "line 2" in second.cure
    message = str(caught.value)
    assert all(str(fault) in message for fault in caught.value.faults)


def test_folders_without_tables_are_refused(tmp_path: Path) -> None:
    for folder in (tmp_path, tmp_path / "not there"):
        with pytest.raises(InputFault, match=r"stock\.csv"):
            load_site_folder(folder, BOOK)


def test_two_tables_of_one_name_are_refused(tmp_path: Path) -> None:
    (tmp_path / "stock.xlsx").write_bytes(workbook([HEAD, *ROWS]))
    (fault,) = faults(tmp_path, as_csv([HEAD, *ROWS]).encode())
    assert "stock.csv" in fault.cure
    assert "stock.xlsx" in fault.cure


def test_defaults_are_said_aloud(tmp_path: Path) -> None:
    found = load(tmp_path, as_csv([HEAD, ["A", "plum", "5", "0", ""]]).encode())
    said = " ".join(found.site.defaults_said)
    for word in ("site.toml", "altitude", "Codex", "EUR", "pan", "jars", "labour", "offers"):
        assert word in said, word
    assert all(sentence.endswith(".") for sentence in found.site.defaults_said)
    assert (found.site.altitude_m, found.site.standard, found.offers) == (0.0, "codex", ())


@pytest.mark.parametrize(("site", "lots", "offers"), [("ombrey_hollow", 10, 12), ("sanduri_flats", 10, 8)])
def test_the_demo_sites_load(site: str, lots: int, offers: int) -> None:
    found = load_site_folder(data_folder() / "demo" / site, BOOK)
    assert (len(found.lots), len(found.offers)) == (lots, offers)
    assert {lot.kind for lot in found.lots} == {"fruit"}
    assert found.site.currency == "cr"


# ---- any bytes at all ------------------------------------------------------------------------------------------------

WORDS = [
    "",
    "5",
    "1,234",
    "0.10 EUR/kg",
    "28 EUR/bag",
    "plum",
    "plum, flesh with skin",
    "citric acid",
    "jar 380 mL",
    "nan",
]
WORDS += [
    "sound 50 %, soft 50 %",
    "2026-07-03",
    "03/07/2026",
    "from 10 packs 1 EUR/kg",
    "-5",
    "12 Brix",
    "1e9",
    "½",
    '"',
]
WORDS += ["=1+1", "yes", "rapid", "rich", "40 mg/kg", "10 bushels", "60 L", "3 packs", "99 %", "\0", "\u202e", "$5"]


def only_faults(files: dict[str, bytes]) -> None:
    with TemporaryDirectory() as name:
        folder = Path(name)
        for file, raw in files.items():
            (folder / file).write_bytes(raw)
        try:
            load_site_folder(folder, BOOK)
        except InputFault as error:
            assert str(error).isascii() or str(error)  # noqa: PT017 - the message itself must be buildable


@given(st.binary(max_size=400), st.sampled_from(["stock.csv", "stock.xlsx", "offers.csv", "site.toml"]))
def test_any_bytes_give_a_table_or_a_fault(raw: bytes, name: str) -> None:
    only_faults({"stock.csv": b"lot,item,on_hand,worth_uncooked\nA,plum,5,0\n", name: raw})


def tables(name: str) -> st.SearchStrategy[bytes]:
    columns = list(columns_of(name))
    row = st.lists(st.one_of(st.sampled_from(WORDS), st.text(max_size=8)), min_size=len(columns), max_size=len(columns))
    made = st.tuples(st.permutations(columns), st.lists(row, max_size=4), st.sampled_from([",", ";", "\t"]))
    return made.map(lambda parts: as_csv([list(parts[0]), *parts[1]], parts[2]).encode("utf-8", "replace"))


@given(tables("stock"), tables("offers"))
def test_any_cells_give_a_table_or_faults(stock: bytes, offers: bytes) -> None:
    only_faults({"stock.csv": stock, "offers.csv": offers})


@given(st.data())
def test_a_line_is_read_or_reported_never_dropped(data: st.DataObject) -> None:
    name = data.draw(st.sampled_from(["stock", "offers"]))
    source = data_folder() / "demo" / data.draw(st.sampled_from(["ombrey_hollow", "sanduri_flats"]))
    whole = {file.name: file.read_bytes() for file in source.iterdir() if file.suffix in (".csv", ".toml")}
    rows = list(csv.reader(io.StringIO(whole[f"{name}.csv"].decode())))
    for _ in range(data.draw(st.integers(1, 3))):
        row = data.draw(st.integers(1, len(rows) - 1))
        rows[row][data.draw(st.integers(0, len(rows[0]) - 1))] = data.draw(st.sampled_from(WORDS))
    with TemporaryDirectory() as folder:
        for file, raw in {**whole, f"{name}.csv": as_csv(rows).encode()}.items():
            (Path(folder) / file).write_bytes(raw)
        try:
            found = load_site_folder(folder, BOOK)
        except BadTable as error:
            assert {fault.file for fault in error.faults} == {f"{name}.csv"}  # noqa: PT017 - both outcomes are meant
            assert "cannot be used" not in str(error)  # noqa: PT017 - each fault has its own cure
            return
    goods = found.lots if name == "stock" else found.offers
    assert len(goods) == len(rows) - 1


def damaged(raw: bytes, seed: int) -> Iterator[bytes]:
    draw = random.Random(seed)
    for _ in range(60):
        changed = bytearray(raw)
        for _ in range(draw.randint(1, 6)):
            at = draw.randrange(len(changed))
            changed[at : at + draw.randint(0, 3)] = draw.randbytes(draw.randint(0, 3))
        yield bytes(changed)


@pytest.mark.parametrize("name", ["stock.csv", "offers.csv", "site.toml"])
def test_damaged_demo_files_give_a_table_or_faults(name: str) -> None:
    source = data_folder() / "demo" / "ombrey_hollow"
    whole = {file.name: file.read_bytes() for file in source.iterdir() if file.suffix in (".csv", ".toml")}
    for raw in damaged(whole[name], seed=7):
        only_faults({**whole, name: raw})


def test_damaged_workbooks_give_a_table_or_a_fault() -> None:
    for raw in damaged(workbook([HEAD, *ROWS]), seed=11):
        only_faults({"stock.xlsx": raw})
