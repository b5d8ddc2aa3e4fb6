"""Text that a spreadsheet would run as a formula is guarded on the way out, and comes back as it was."""

import csv
import io

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from optimizer.exports.cells import Sheet, as_number, is_plain_number, neutralise, with_one_mark
from optimizer.exports.csv_out import write_csv
from optimizer.exports.xlsx_out import write_xlsx
from optimizer.inputs.files import cell_text, read_bytes
from optimizer.inputs.guards import without_guard
from optimizer.inputs.numbers import DecimalMark, read_number

# What begins a formula: the OWASP page "CSV Injection" lists = + - @, tab, carriage return, line feed and the
# full-width signs (from memory).
RUN = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
HOSTILE = (
    '=HYPERLINK("http://example.invalid","x")', "=cmd|' /C calc'!A0", "@SUM(1+1)", "+1+1", "-2+3", "'=1", "''=1", "'",
    "<img src=x onerror=alert(1)>", "-3", "007", "1e5", "x" * 10_000, "a,b;c\td", 'say "plum"', "﷽", "‮",
)  # fmt: skip
LETTERS = st.text(st.characters(blacklist_categories=("Cs",)), max_size=30)
TEXTS = st.one_of(LETTERS, st.sampled_from(HOSTILE), st.tuples(st.sampled_from((*RUN, "'")), LETTERS).map("".join))


@pytest.mark.parametrize("sign", RUN)
def test_every_sign_that_begins_a_formula_is_guarded(sign: str) -> None:
    assert neutralise(f"{sign}cmd") == f"'{sign}cmd"


@pytest.mark.parametrize("text", ["-3", "-3.5", "+2", "-0,25", "12", ".5"])
def test_a_number_stays_a_number(text: str) -> None:
    assert neutralise(text) == text
    assert as_number(text) == float(text.replace(",", "."))


@given(TEXTS)
@example("'=x")
@example("'-3")
def test_the_guard_comes_off_exactly_where_it_was_put(text: str) -> None:
    assert without_guard(neutralise(text)) == text


@given(TEXTS)
def test_what_goes_out_runs_nowhere(text: str) -> None:
    out = neutralise(text)
    assert out[:1] not in RUN or is_plain_number(out)


def as_kept(text: str) -> str:
    """Cells are kept with their blanks in order, and without letters that no table takes."""
    return " ".join("".join(letter for letter in text if letter.isprintable()).split())


CODES = st.lists(TEXTS.map(as_kept).filter(bool), min_size=1, max_size=6)


@given(codes=CODES, other=TEXTS.map(as_kept), decimal_comma=st.booleans())
def test_a_csv_comes_back_as_it_was(codes: list[str], other: str, decimal_comma: bool) -> None:
    sheet = Sheet(name="stock", header=("lot", "item"), rows=[[code, other] for code in codes])
    raw = write_csv(sheet, decimal_comma=decimal_comma)
    assert raw.startswith(b"\xef\xbb\xbf")
    found = read_bytes("stock.csv", raw, ["lot", "item"])
    assert [tuple(map(cell_text, row)) for row in found.rows] == [(code, other) for code in codes]
    cells = [
        cell for row in csv.reader(io.StringIO(raw.decode("utf-8-sig")), delimiter=found.separator) for cell in row
    ]
    assert all(cell[:1] not in RUN or is_plain_number(cell) for cell in cells)


@given(codes=CODES, number=st.decimals(-(10**9), 10**9, places=3).map(str))
def test_a_workbook_comes_back_as_it_was_with_real_numbers(codes: list[str], number: str) -> None:
    sheet = Sheet(
        name="stock", header=("lot", "brix"), rows=[[code, number] for code in codes], numeric=frozenset({"brix"})
    )
    found = read_bytes("stock.xlsx", write_xlsx([sheet]), ["lot", "brix"])
    assert [row[0] for row in found.rows] == codes
    assert all(isinstance(row[1], int | float) and row[1] == float(number) for row in found.rows)


def test_a_workbook_holds_no_formula_and_no_number_in_a_column_of_codes() -> None:
    from openpyxl import load_workbook

    rows = [[text[:30_000], text[:30_000]] for text in HOSTILE]
    sheet = Sheet(name="stock", header=("lot", "ph"), rows=rows, numeric=frozenset({"ph"}))
    page = load_workbook(io.BytesIO(write_xlsx([sheet]))).worksheets[0]
    cells = [cell for row in page.iter_rows(min_row=2) for cell in row]
    assert {cell.data_type for cell in cells} == {"s", "n"}
    assert all(cell.data_type == "s" for row in page.iter_rows(min_row=2, max_col=1) for cell in row)
    assert page.cell(2 + HOSTILE.index("007"), 1).value == "007"


def test_days_become_days_and_keep_their_order() -> None:
    from openpyxl import load_workbook

    rows = [["2026-07-03"], ["2026-02-30"], ["early"]]
    sheet = Sheet(name="stock", header=("received",), rows=rows, days=frozenset({"received"}))
    page = load_workbook(io.BytesIO(write_xlsx([sheet]))).worksheets[0]
    assert page["A2"].is_date
    assert page["A2"].number_format == "yyyy-mm-dd"
    assert [page["A3"].value, page["A4"].value] == ["2026-02-30", "early"]


def test_a_text_too_long_for_a_spreadsheet_is_cut_and_says_so() -> None:
    sheet = Sheet(name="x", header=("said",), rows=[["x" * 40_000]])
    (row,) = read_bytes("x.xlsx", write_xlsx([sheet]), ["said"]).rows
    assert len(str(row[0])) == 32_767  # the limit of a cell: Excel specifications and limits (from memory)
    assert str(row[0]).endswith("(cut)")


@given(
    number=st.decimals(0, 10**7, places=3, allow_nan=False).map(str),
    unit=st.sampled_from(["", " kg", " EUR/kg", " %"]),
    written=st.sampled_from(".,"),
)
def test_decimal_commas_mean_the_same_to_any_reader(number: str, unit: str, written: str) -> None:
    text = with_one_mark(number.replace(".", written) + unit, ",", pad=True)
    digits = text.removesuffix(unit)
    assert "." not in digits
    marks: tuple[DecimalMark, ...] = (".", ",", "unknown")
    for mark in marks:
        assert read_number(digits, mark) == float(number)
