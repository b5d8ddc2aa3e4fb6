"""The first sheet of an XLSX: typed cells, with what their format shows beside the number."""

from __future__ import annotations

import io
import re
import warnings
import zipfile
from collections.abc import Iterator
from datetime import date, datetime, time, timedelta
from functools import lru_cache
from typing import Any

from optimizer.inputs.files import Cell
from optimizer.inputs.text_files import UnreadableError

_MOST_UNPACKED = 400_000_000
_MOST_EMPTY_ROWS = 1_000_000
_NOT_A_WORKBOOK = "cannot be read as an .xlsx workbook; open it and save it again as .xlsx or .csv"


def spreadsheet_rows(raw: bytes, most_columns: int) -> Iterator[tuple[int, list[Cell]]]:
    """Line number and cells of every row that exists.

    A number comes with the unit or percent sign that its cell format shows: 0.12 shown as `12 %` is `12 %`, and 40
    shown as `40 lb` is `40 lb`. A formula gives the result that was stored with it.

    Raises
    ------
    UnreadableError
        No workbook, unpacked too large, or a formula without a stored result.
    """
    _refuse_too_large(raw)
    unsolved = _unsolved_formulas(raw, most_columns)
    for line, cells in _rows(raw, most_columns, results=True):
        for column, cell in enumerate(cells, start=1):
            if cell.value is None and (line, column) in unsolved:
                raise UnreadableError(
                    f"column {column} holds a formula without a stored result; open the file in a spreadsheet program "
                    "and save it, or type the number",
                    line=line,
                )
        yield line, [_value(cell) for cell in cells]


def _refuse_too_large(raw: bytes) -> None:
    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as archive:
            size = sum(entry.file_size for entry in archive.infolist())
    except Exception as error:  # a damaged archive raises whatever the zip module meets
        raise UnreadableError(_NOT_A_WORKBOOK) from error
    if size > _MOST_UNPACKED:
        raise UnreadableError(f"the workbook unpacks to {size / 1e6:.0f} MB; copy the table to a new file")


def _unsolved_formulas(raw: bytes, most_columns: int) -> set[tuple[int, int]]:
    """Where formulas stand; the second reading is only made where there are some."""
    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as archive:
            sheets = [name for name in archive.namelist() if name.startswith("xl/worksheets/")]
            if not any(re.search(rb"<(?:\w+:)?f[ >/]", archive.read(name)) for name in sheets):
                return set()
    except Exception as error:
        raise UnreadableError(_NOT_A_WORKBOOK) from error
    return {
        (line, column)
        for line, cells in _rows(raw, most_columns, results=False)
        for column, cell in enumerate(cells, start=1)
        if cell.value is not None and cell.data_type == "f"
    }


def _rows(raw: bytes, most_columns: int, *, results: bool) -> Iterator[tuple[int, tuple[Any, ...]]]:
    from openpyxl import load_workbook  # a fifth of a second; a CSV does without

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # extensions that are not kept do not matter here
        try:
            book = load_workbook(io.BytesIO(raw), read_only=True, data_only=results)
            sheet = book.worksheets[0]
            sheet.reset_dimensions()  # some writers store a wrong size
            for line, cells in enumerate(sheet.iter_rows(), start=1):
                if line > _MOST_EMPTY_ROWS:
                    raise UnreadableError(
                        f"the sheet has more than {_MOST_EMPTY_ROWS} rows; copy the table to a new file"
                    )
                yield line, cells[: most_columns + 1]
        except UnreadableError:
            raise
        except Exception as error:  # a damaged workbook raises whatever the reader meets
            raise UnreadableError(_NOT_A_WORKBOOK) from error


def _value(cell: Any) -> Cell:
    value = cell.value
    if value is None:
        return ""
    if isinstance(value, str):
        return value.strip()
    if isinstance(value, bool):
        return value
    if isinstance(value, int | float):
        return _as_shown(value, cell.number_format or "General")
    if isinstance(value, datetime):
        return value.date() if value.time() == time() else value
    if isinstance(value, date):
        return value
    if isinstance(value, time | timedelta):
        return str(value)
    return str(value)


def _as_shown(value: float, number_format: str) -> Cell:
    is_percent, unit = _shown_beside(number_format)
    if is_percent:
        return f"{value * 100.0:.12g} %"
    return f"{value:.15g} {unit}" if unit else value


@lru_cache(maxsize=1024)
def _shown_beside(number_format: str) -> tuple[bool, str]:
    """Whether a cell format shows percent, and which unit or currency it shows beside the number."""
    shown = number_format.split(";")[0]
    words = [word.strip() for found in re.findall(r'"([^"]*)"|\[\$([^\]-]*)[^\]]*\]', shown) for word in found]
    bare = re.sub(r'"[^"]*"|\[[^\]]*\]|\\.', "", shown)
    sign = next((mark for mark in "€£₹" if mark in bare), "")
    return "%" in bare, " ".join(part for part in (*words, sign) if part)
