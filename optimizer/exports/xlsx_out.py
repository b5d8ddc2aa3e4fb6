"""A table as XLSX: real numbers and days where a cell is one, guarded text elsewhere."""

from __future__ import annotations

import io
import re
from collections.abc import Sequence
from datetime import date
from typing import Any

from optimizer.exports.cells import Sheet, as_number, consistent, neutralise, places_of

_ISO = re.compile(r"(?:19|20|21)\d\d-\d\d-\d\d")
_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")
_MOST_LETTERS = 32_767  # of a cell
_CUT = " ... (cut)"
_WIDEST, _LEAST = 44, 9


def write_xlsx(sheets: Sequence[Sheet]) -> bytes:
    """The bytes of a workbook with one sheet per table; each head stays in view.

    Examples
    --------
    >>> from optimizer.inputs.files import read_bytes
    >>> sheet = Sheet(name="stock", header=("lot", "ph"), rows=[["=A", "3.40"]], numeric=frozenset({"ph"}))
    >>> read_bytes("stock.xlsx", write_xlsx([sheet]), ["lot"]).rows
    (('=A', 3.4),)
    """
    from openpyxl import Workbook  # a fifth of a second; a CSV does without

    book = Workbook()
    book.remove(book.active)
    for sheet in sheets:
        fill(book.create_sheet(sheet.name[:31]), sheet)
    return saved(book)


def fill(page: Any, sheet: Sheet) -> None:
    """Write header and cells on a page of a workbook."""
    from openpyxl.styles import Font
    from openpyxl.utils import get_column_letter

    page.freeze_panes = "A2"
    for column, name in enumerate(sheet.header, start=1):
        put_text(page.cell(1, column), name)
        page.cell(1, column).font = Font(bold=True)
        longest = max((len(row[column - 1]) for row in sheet.rows), default=0)
        page.column_dimensions[get_column_letter(column)].width = min(_WIDEST, max(_LEAST, len(name) + 3, longest + 1))
    kinds = ["number" if name in sheet.numeric else "day" if name in sheet.days else "text" for name in sheet.header]
    for line, row in enumerate(consistent(sheet, "."), start=2):
        for column, (cell, kind) in enumerate(zip(row, kinds, strict=True), start=1):
            if cell:
                put(page.cell(line, column), cell, kind)


def put(target: Any, text: str, kind: str) -> None:
    """One cell: a number keeps its places, a day its order of year, month and day."""
    value = as_number(text) if kind == "number" else None
    if value is not None:
        target.value = value
        places = places_of(text)
        if places:
            target.number_format = "0." + "0" * places
        return
    if kind == "day" and _ISO.fullmatch(text):
        try:
            target.value = date.fromisoformat(text)
        except ValueError:
            put_text(target, text)
            return
        target.number_format = "yyyy-mm-dd"
        return
    put_text(target, text)


def put_text(target: Any, text: str) -> None:
    """Text that stays text, whatever it begins with."""
    text = _CONTROL.sub("?", neutralise(text))
    target.value = text if len(text) <= _MOST_LETTERS else text[: _MOST_LETTERS - len(_CUT)] + _CUT
    target.data_type = "s"


def saved(book: Any) -> bytes:
    """The workbook as bytes."""
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()
