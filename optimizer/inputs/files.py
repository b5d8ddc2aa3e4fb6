"""A CSV or XLSX file as people send it → its header and rows, each with the line it came from."""

from __future__ import annotations

import csv
import io
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

from optimizer.inputs.collector import collector_at_rest
from optimizer.inputs.guards import GUARD, without_guard
from optimizer.inputs.numbers import DecimalMark
from optimizer.inputs.text_files import MOST_BYTES, UnreadableError, decoded

MOST_ROWS = 100_000
MOST_COLUMNS = 200
Cell = str | int | float | bool | date
"""Text of a CSV; a spreadsheet also has numbers and dates. An empty cell is an empty text."""


@dataclass(frozen=True, kw_only=True)
class RawTable:
    """What a file holds, before any cell is understood."""

    file: str
    header: tuple[str, ...]  # lower case, blanks as underscores
    lines: tuple[int, ...]  # line of the file, one per row
    rows: tuple[tuple[Cell, ...], ...]  # each as long as the header, or longer
    separator: str  # "" for a spreadsheet
    decimal_mark: DecimalMark | None = None  # None: the numbers of the table show it


def read_file(path: Path, known_columns: Collection[str]) -> RawTable:
    """Header and rows of a CSV or XLSX file; its content tells which it is.

    Parameters
    ----------
    path : Path
        At most 20 MB and 100 000 rows.
    known_columns : collection of str
        Help to tell the separator of a CSV.

    Raises
    ------
    UnreadableError
        Too large, an old spreadsheet, no text, broken quotes, no header.
    """
    try:
        size = path.stat().st_size
        if size > MOST_BYTES:
            raise UnreadableError(
                f"the file has {size / 1e6:.1f} MB, more than {MOST_BYTES / 1e6:.0f} MB; split it, or remove old lines"
            )
        raw = path.read_bytes()
    except OSError as error:
        raise UnreadableError(f"cannot be opened: {error.strerror or error}") from error
    return read_bytes(path.name, raw, known_columns)


def read_bytes(file: str, raw: bytes, known_columns: Collection[str]) -> RawTable:
    """As `read_file`, of bytes at hand (an upload).

    Examples
    --------
    >>> table = read_bytes("stock.csv", b"lot;item\\nA-1;plum\\n", ["lot", "item"])
    >>> table.header, table.lines, table.rows
    (('lot', 'item'), (2,), (('A-1', 'plum'),))
    """
    if len(raw) > MOST_BYTES:
        raise UnreadableError(f"the file has {len(raw) / 1e6:.1f} MB, more than {MOST_BYTES / 1e6:.0f} MB; split it")
    separator = ""
    if raw.startswith(b"\xd0\xcf\x11\xe0"):
        raise UnreadableError("this is an old .xls file; open it and save it as .xlsx or .csv")
    if raw.startswith(b"PK"):
        from optimizer.inputs.spreadsheet import spreadsheet_rows

        rows, is_guarded = spreadsheet_rows(raw, MOST_COLUMNS), True
    else:
        text = decoded(raw)
        separator = _separator(text, known_columns)
        rows, is_guarded = _csv_rows(text, separator), GUARD in text
    with collector_at_rest():
        return _table(file, rows, separator, is_guarded=is_guarded)


def _table(file: str, rows: Iterator[tuple[int, list[Cell]]], separator: str, *, is_guarded: bool) -> RawTable:
    header: tuple[str, ...] | None = None
    lines: list[int] = []
    filled: list[tuple[Cell, ...]] = []
    width = 0
    for line, cells in rows:
        if not any(cells) and not any(cell != "" for cell in cells):
            continue
        if header is None:
            header = _header(line, cells)
            width = len(header)
            continue
        if len(lines) == MOST_ROWS:
            raise UnreadableError(f"the table has more than {MOST_ROWS} rows; split it, or remove old lines")
        lines.append(line)
        if is_guarded:
            cells = [without_guard(cell) if isinstance(cell, str) and cell[:1] == GUARD else cell for cell in cells]
        short = width - len(cells)
        filled.append((*cells, *[""] * short) if short > 0 else tuple(cells))
    if header is None:
        raise UnreadableError("the file is empty; the first line names the columns")
    return RawTable(file=file, header=header, lines=tuple(lines), rows=tuple(filled), separator=separator)


def _header(line: int, cells: list[Cell]) -> tuple[str, ...]:
    names = ["_".join(str(cell).lower().split()) for cell in cells]
    while names and not names[-1]:
        names.pop()
    if len(names) > MOST_COLUMNS:
        raise UnreadableError(f"the header has {len(names)} columns, more than {MOST_COLUMNS}", line=line)
    return tuple(names)


def _separator(text: str, known_columns: Collection[str]) -> str:
    """The mark that finds most known columns in the first filled line."""
    head = next((line for line in text[:200_000].splitlines() if line.strip(' ;,\t\r\n"')), "")
    if head.lower().startswith("sep=") and len(head.rstrip()) == 5:
        return head.rstrip()[4]

    def score(mark: str) -> tuple[int, int]:
        names = ["_".join(name.strip('"').lower().split()) for name in head.split(mark)]
        return sum(name in known_columns for name in names), len(names)

    return max((",", ";", "\t"), key=score)


def _csv_rows(text: str, separator: str) -> Iterator[tuple[int, list[Cell]]]:
    reader = csv.reader(io.StringIO(text, newline=None), delimiter=separator, strict=True)
    line = 1
    try:
        for cells in reader:
            if not (line == 1 and len(cells) <= 2 and cells and cells[0].lower() in ("sep=", f"sep={separator}")):
                yield line, list(map(str.strip, cells))
            line = reader.line_num + 1
    except csv.Error as error:
        raise UnreadableError(
            f"from here on the cells cannot be told apart ({error}); look for a missing or stray quotation mark",
            line=line,
        ) from error


def cell_text(cell: Cell) -> str:
    """A cell as text, blanks in order: a number without a tail of zeros, a date as year-month-day.

    Examples
    --------
    >>> cell_text(101.0), cell_text("  two   words "), cell_text(date(2026, 7, 3)), cell_text(True)
    ('101', 'two words', '2026-07-03', 'yes')
    """
    if isinstance(cell, str):
        return " ".join(cell.split())
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, float):
        return f"{cell:.15g}"
    if isinstance(cell, datetime):
        return cell.date().isoformat() if cell.time() == datetime.min.time() else cell.isoformat(" ")
    return str(cell)
