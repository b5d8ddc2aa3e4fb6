"""An XLSX to fill in: frozen head, a comment per column, drop-downs, one example line, a page of notes.

Made from the column tables that the readers check with, so the template cannot ask for what is refused.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Literal

from optimizer.exports.xlsx_out import put, put_text, saved
from optimizer.inputs.book_table import Column
from optimizer.inputs.goods import EXAMPLE, columns_of
from optimizer.inputs.tables import NUMERIC

Which = Literal["stock", "offers"]
LAST_LINE = 2000  # down to which cells carry drop-downs
_EXAMPLES: Mapping[Which, Mapping[str, str]] = {
    "stock": {
        "lot": EXAMPLE, "item": "plum, flesh with skin", "condition": "soft 60 %, bruised 40 %", "on_hand": "260 kg",
        "paid": "0.35", "worth_uncooked": "0.10", "received": "2026-07-03", "picked": "2026-07-01",
        "kept_at": "12 degC", "brix": "13.2", "ph": "3.35", "reject": "5 %",
    },
    "offers": {
        "offer": EXAMPLE, "supplier": "a mill (invented)", "item": "cane/beet sugar, white", "price": "0.92",
        "pack": "25 kg", "least_packs": "1", "breaks": "from 20 packs 0.90", "delivery_cost": "12",
        "delivery_days": "2", "valid_until": "2026-07-31",
    },
}  # fmt: skip
_NOTES = (
    "One line for each {one}. The first line names the columns; their order is free, columns you do not need may go.",
    "Line 2 is an invented example. It is left out when the file is brought in; write over it or delete it.",
    "An empty cell means: not known. It never means zero.",
    "Write what you would say: 40 kg, 90 lb, 1.10 EUR/kg, 28 EUR/bag, 11.5 %, 25 degC. A number alone takes the unit "
    "in the table below; a price alone is in the currency of the kitchen.",
    "Days: year-month-day, such as 2026-07-03, or a cell formatted as a date.",
    "Names of fruit and goods are on the page Names. Packaging: jar 380 mL, lid 63 mm, bottle 700 mL, label set.",
    "Bringing the same file in twice changes nothing. Lines that are not in the file stay as they are.",
)


def template(which: Which, items: Sequence[str], conditions: Sequence[str] = ()) -> bytes:
    """The bytes of the workbook.

    Parameters
    ----------
    which : {"stock", "offers"}
        Which table.
    items : sequence of str
        Names of fruit and goods for the drop-down.
    conditions : sequence of str
        Words for the condition of fruit.

    Examples
    --------
    >>> from optimizer.inputs.files import read_bytes
    >>> table = read_bytes("stock.xlsx", template("stock", ["plum, flesh with skin"]), ["lot"])
    >>> table.header[:3], table.rows[0][:2]
    (('lot', 'item', 'condition'), ('EXAMPLE', 'plum, flesh with skin'))
    """
    from openpyxl import Workbook

    book = Workbook()
    page = book.active
    page.title = which
    columns = columns_of(which)
    _head(page, columns)
    for at, (name, column) in enumerate(columns.items(), start=1):
        _example(page.cell(2, at), _EXAMPLES[which].get(name, ""), column)
    _notes(book.create_sheet("Notes"), which, columns)
    _names(book.create_sheet("Names"), items, conditions)
    _drop_downs(page, columns, len(items), len(conditions))
    return saved(book)


def _head(page: Any, columns: Mapping[str, Column]) -> None:
    from openpyxl.comments import Comment
    from openpyxl.styles import Font, PatternFill
    from openpyxl.utils import get_column_letter

    page.freeze_panes = "B2"
    for at, column in enumerate(columns.values(), start=1):
        head = page.cell(1, at)
        put_text(head, column.name)
        head.font = Font(bold=True)
        if column.required:
            head.fill = PatternFill("solid", fgColor="DDE7F0")
        head.comment = Comment(help_of(column), "panwise", width=320, height=140)
        page.column_dimensions[get_column_letter(at)].width = {"item": 34, "text": 24, "breaks": 34}.get(
            column.type, 30 if column.type == "condition" else 14
        )


def help_of(column: Column) -> str:
    """What a column wants, in words.

    >>> help_of(columns_of("stock")["ph"])
    'Measured on this lot, fruit and juices; goods without acid may be higher (sugar, jaggery). From 1.8 to 6 pH.'
    >>> help_of(columns_of("stock")["received"])
    'Day it came in.'
    """
    words = [column.meaning.replace("`", "").rstrip(".") + "."]
    unit = f" {column.unit}" if column.unit else ""
    if column.least is not None and column.most is not None:
        words.append(f"From {column.least:g} to {column.most:g}{unit}.")
    elif column.type in NUMERIC and column.unit:
        words.append(f"A number alone is taken as{unit}.")
    if column.required:
        words.append("Must be filled in.")
    return " ".join(words)


def _example(target: Any, text: str, column: Column) -> None:
    from openpyxl.styles import Font

    if text:
        put(target, text, "number" if column.type in NUMERIC else "day" if column.type == "date" else "text")
    target.font = Font(italic=True, color="777777")


def _notes(page: Any, which: Which, columns: Mapping[str, Column]) -> None:
    from openpyxl.styles import Alignment, Font

    page.column_dimensions["A"].width, page.column_dimensions["B"].width = 18, 100
    line = 1
    for note in _NOTES:
        put_text(page.cell(line, 2), note.format(one="lot on hand" if which == "stock" else "offer"))
        page.cell(line, 2).alignment = Alignment(wrap_text=True, vertical="top")
        line += 1
    line += 1
    for column in columns.values():
        put_text(page.cell(line, 1), column.name)
        page.cell(line, 1).font = Font(bold=True)
        put_text(page.cell(line, 2), help_of(column))
        page.cell(line, 2).alignment = Alignment(wrap_text=True, vertical="top")
        line += 1


def _names(page: Any, items: Sequence[str], conditions: Sequence[str]) -> None:
    from openpyxl.styles import Font

    page.freeze_panes = "A2"
    for at, (head, names) in enumerate((("item", items), ("condition", conditions)), start=1):
        put_text(page.cell(1, at), head)
        page.cell(1, at).font = Font(bold=True)
        for line, name in enumerate(names, start=2):
            put_text(page.cell(line, at), name)
    page.column_dimensions["A"].width, page.column_dimensions["B"].width = 48, 16


def _drop_downs(page: Any, columns: Mapping[str, Column], items: int, conditions: int) -> None:
    """Lists to choose from; only where nothing else can be right is another text held back."""
    from openpyxl.utils import get_column_letter
    from openpyxl.worksheet.datavalidation import DataValidation

    for at, column in enumerate(columns.values(), start=1):
        strict = True
        if column.choices:
            formula = '"' + ",".join(column.choices) + '"'
        elif column.type == "yesno":
            formula = '"yes,no"'
        elif column.type == "item" and items:
            formula, strict = f"Names!$A$2:$A${items + 1}", False  # a bare FRUIT or any jar is right too
        elif column.type == "condition" and conditions:
            formula, strict = f"Names!$B$2:$B${conditions + 1}", False  # shares are right too
        else:
            continue
        kind = DataValidation(type="list", formula1=formula, allow_blank=True, showErrorMessage=strict)
        kind.errorTitle, kind.error = "Not one of these", "Choose from the list; the column's head says more."
        letter = get_column_letter(at)
        kind.add(f"{letter}2:{letter}{LAST_LINE}")
        page.add_data_validation(kind)
