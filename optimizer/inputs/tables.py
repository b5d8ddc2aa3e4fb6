"""Raw rows → checked columns: every distinct cell of a column is understood once, every fault is kept."""

from __future__ import annotations

import itertools
import operator
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

from optimizer.errors import Fault
from optimizer.inputs.book_table import Column
from optimizer.inputs.cells import Amount, CellError
from optimizer.inputs.files import Cell, RawTable, cell_text
from optimizer.inputs.names import nearest
from optimizer.inputs.numbers import DecimalMark, decimal_mark_of
from optimizer.inputs.prices import Price

Parser = Callable[[Cell, DecimalMark, Column], Any]
NUMERIC: Final = frozenset(
    {"mass", "price", "fraction", "brix", "ph", "mass_per_mass", "number", "temperature", "days"}
)
PLAIN: Final = {"code": 80, "text": 200}
"""Column types whose cells are texts as they stand, and how long they may be."""
_LONGEST_VALUE = 60


class _Faulty:
    """Stands where a cell could not be understood: not empty, and not to be used."""


FAULTY: Final = _Faulty()


@dataclass(kw_only=True)
class Table:
    """A table whose cells are understood one by one; what needs several cells comes after."""

    file: str
    columns: Mapping[str, Column]
    lines: Sequence[int]
    typed: Mapping[str, Sequence[Cell]]
    values: Mapping[str, Sequence[Any]]
    code_column: str
    faults: list[Fault] = field(default_factory=list)
    _rows: dict[int, Row] = field(default_factory=dict)

    def __len__(self) -> int:
        return len(self.lines)

    def __iter__(self) -> Iterator[Row]:
        return map(self.row, range(len(self)))

    def row(self, index: int) -> Row:
        """One line; the same object each time, so that its faults stay with it."""
        if index not in self._rows:
            self._rows[index] = Row(self, index)
        return self._rows[index]

    def has_fault_of_its_own(self, index: int) -> bool:
        """Whether `Row.fault` was called for a line."""
        return index in self._rows and not self._rows[index].is_sound

    def failing(self, column: str, test: Callable[[Any], bool]) -> Iterator[int]:
        """Lines whose cell fails a test that hangs on its value alone; equal cells are tested once."""
        values = self.values[column]
        if column == self.code_column:  # hardly any two are equal
            return itertools.compress(itertools.count(), map(operator.not_, map(test, values)))
        failed = {key for key, value in dict(zip(map(id, values), values, strict=True)).items() if not test(value)}
        return (index for index, key in enumerate(map(id, values)) if key in failed) if failed else iter(())


class Row:
    """One line of a table."""

    __slots__ = ("_index", "_is_faulty", "_table", "cells", "is_sound")

    def __init__(self, table: Table, index: int) -> None:
        self._table, self._index = table, index
        self._is_faulty = False
        self.cells: dict[str, Any] = {}
        """What was filled in and understood, by column."""
        for name, values in table.values.items():
            value = values[index]
            if value is FAULTY:
                self._is_faulty = True
            elif value is not None:
                self.cells[name] = value
        self.is_sound = True
        """False as soon as `fault` was called for this row."""

    @property
    def line(self) -> int:
        return self._table.lines[self._index]

    @property
    def file(self) -> str:
        return self._table.file

    def get(self, column: str) -> Any:
        """Value of a cell; None where it is empty, could not be understood, or the file has no such column."""
        return self.cells.get(column)

    def is_empty(self, column: str) -> bool:
        """Whether nothing was typed; a cell at fault is not empty."""
        if column in self.cells:
            return False
        values = self._table.values.get(column)
        return values is None or values[self._index] is None

    def may_have(self, column: str) -> bool:
        """Whether tables of this kind have such a column."""
        return column in self._table.columns

    def has_faulty_cell(self) -> bool:
        return self._is_faulty

    def fault(self, column: str, cure: str) -> None:
        """Keep a fault of this row."""
        self.is_sound = False
        typed = self._table.typed.get(column)
        value = None if typed is None else shortened(typed[self._index])
        self._table.faults.append(
            Fault(file=self.file, line=self.line, item=self.code, column=column, value=value, cure=cure)
        )

    @property
    def code(self) -> str:
        return _code(self._table, self._index)


def _code(table: Table, index: int) -> str:
    names = (table.code_column, "item")
    return _known_by({name: table.typed[name][index] for name in names if name in table.typed}, table.code_column)


def _known_by(cells: Mapping[str, Cell], code_column: str) -> str:
    """What a row is known by: its code, else its item."""
    for column in (code_column, "item"):
        if column in cells and (text := shortened(cells[column])):
            return text
    return ""


def shortened(cell: Cell) -> str:
    """A cell for a message: one line, not endless."""
    text = "".join(character if character.isprintable() else "?" for character in cell_text(cell))
    return text if len(text) <= _LONGEST_VALUE else text[:_LONGEST_VALUE] + "..."


def understand(raw: RawTable, columns: Mapping[str, Column], parsers: Mapping[str, Parser], code_column: str) -> Table:
    """Every cell as a value in the program's units, or a fault.

    Parameters
    ----------
    raw : RawTable
        As read from the file.
    columns : mapping
        The column table: types, units, ranges.
    parsers : mapping
        Column type (without the choices of a `choice:`) → how a cell of it is read.
    code_column : str
        Which column names the row.

    Returns
    -------
    Table
        With the faults of the header and of single cells.
    """
    positions = {name: raw.header.index(name) for name in columns if name in raw.header}
    typed = {name: list(map(operator.itemgetter(at), raw.rows)) for name, at in positions.items()}
    table = Table(file=raw.file, columns=columns, lines=raw.lines, typed=typed, values={}, code_column=code_column)
    table.faults.extend(layout_faults(raw, columns, code_column))
    if not positions:
        table.lines = ()
        return table
    distinct = {name: dict.fromkeys(cells) for name, cells in typed.items()}
    mark = decimal_mark_in(raw, columns, distinct)
    table.values = {
        name: _column(table, columns[name], cells, distinct[name], parsers[columns[name].type.partition(":")[0]], mark)
        for name, cells in typed.items()
    }
    return table


def layout_faults(
    raw: RawTable, columns: Mapping[str, Column], code_column: str, needed: Collection[str] | None = None
) -> list[Fault]:
    """What is wrong with the header and the width of the rows, before any cell is understood.

    Parameters
    ----------
    raw : RawTable
        As read from the file.
    columns : mapping
        The column table.
    code_column : str
        Which column names the row.
    needed : collection of str, optional
        Columns that must be there; default: those the column table requires.
    """
    if not any(name in columns for name in raw.header):
        names, found = ", ".join(columns), shortened(", ".join(raw.header))
        return [Fault(file=raw.file, line=1, value=found, cure=f"the first line must name the columns: {names}")]
    if needed is None:
        needed = [name for name, column in columns.items() if column.required]
    return [*_header_faults(raw, columns, needed), *_overlong_rows(raw, columns, code_column)]


def _header_faults(raw: RawTable, columns: Mapping[str, Column], needed: Collection[str]) -> Iterator[Fault]:
    for at, name in enumerate(raw.header):
        if not name:
            if any(row[at] != "" for row in raw.rows):
                yield Fault(file=raw.file, line=1, column=f"column {at + 1}", cure="give the column a name")
        elif name not in columns:
            yield Fault(file=raw.file, line=1, column=shortened(name), cure=f"unknown column; {nearest(name, columns)}")
        elif name in raw.header[:at]:
            yield Fault(file=raw.file, line=1, column=name, cure="the column is there twice; keep one")
    for name in needed:
        if name not in raw.header:
            cure = f"this column is missing: {columns[name].meaning}"
            yield Fault(file=raw.file, line=1, column=name, cure=cure)


def _overlong_rows(raw: RawTable, columns: Mapping[str, Column], code_column: str) -> Iterator[Fault]:
    width = len(raw.header)
    for index, row in enumerate(raw.rows):
        if len(row) > width and any(cell != "" for cell in row[width:]):
            value = shortened(next(cell for cell in row[width:] if cell != ""))
            cure = "more cells than columns: put text that holds the separator between quotation marks"
            known_by = _known_by({name: row[at] for at, name in enumerate(raw.header)}, code_column)
            yield Fault(file=raw.file, line=raw.lines[index], item=known_by, value=value, cure=cure)


def decimal_mark_in(
    raw: RawTable, columns: Mapping[str, Column], distinct: Mapping[str, Collection[Cell]] | None = None
) -> DecimalMark:
    """What the table is known to use, else what its numbers show; if they show nothing, the point in spreadsheets and
    in files with commas between cells.
    """
    if raw.decimal_mark is not None:
        return raw.decimal_mark
    numeric = {name: at for at, name in enumerate(raw.header) if name in columns and columns[name].type in NUMERIC}
    known = distinct or {name: dict.fromkeys(map(operator.itemgetter(at), raw.rows)) for name, at in numeric.items()}
    texts = [cell for name in numeric for cell in known[name] if isinstance(cell, str)]
    mark = decimal_mark_of(texts)
    if mark == "unknown" and raw.separator not in (";", "\t") and not any("," in text for text in texts):
        return "."
    return mark


def _column(
    table: Table, column: Column, cells: Sequence[Cell], distinct: Collection[Cell], parse: Parser, mark: DecimalMark
) -> list[Any]:
    """Values of one column; equal cells are parsed once."""
    is_text = all(type(cell) is str for cell in distinct)
    longest = PLAIN.get(column.type)
    if longest is not None and is_text and _are_plain(cells, longest):
        return list(cells)
    # 1 and True are equal, and are not the same
    keys: Sequence[Any] = cells if is_text else [(cell.__class__, cell) for cell in cells]
    values: dict[Any, Any] = {}
    cures: dict[Any, str] = {}
    once: Collection[Any] = distinct if is_text else dict.fromkeys(keys)
    for key in once:
        cell: Cell = key if is_text else key[1]
        values[key], cure = _understood(column, cell, parse, mark)
        if cure:
            cures[key] = cure
    understood = list(map(values.__getitem__, keys))
    for index in [index for index, value in enumerate(understood) if value is FAULTY] if cures else ():
        cell = cells[index]
        table.faults.append(
            Fault(
                file=table.file,
                line=table.lines[index],
                item=_code(table, index),
                column=column.name,
                value=shortened(cell) if cell != "" else None,
                cure=cures[keys[index]],
            )
        )
    return understood


def _are_plain(cells: Sequence[Any], longest: int) -> bool:
    """Whether every cell is a filled text in good order: one line, printable, single blanks, none at its ends."""
    if max(map(len, cells), default=longest + 1) > longest:
        return False
    whole = " ".join(cells)
    return whole.isprintable() and "  " not in whole and whole == whole.strip() and "" not in cells


def _understood(column: Column, cell: Cell, parse: Parser, mark: DecimalMark) -> tuple[Any, str]:
    """The value and "", or FAULTY and the cure."""
    if cell == "":
        return (FAULTY, f"fill it in: {column.meaning}") if column.required else (None, "")
    try:
        value = parse(cell, mark, column)
    except CellError as error:
        return FAULTY, str(error)
    cure = _range_cure(column, value)
    return (FAULTY, cure) if cure else (value, "")


def _range_cure(column: Column, value: Any) -> str:
    """Outside the least and most of the column table: pH is left to the checks that know the item."""
    if isinstance(value, Amount | Price):
        value = value.value
    if column.type == "ph" or not isinstance(value, float):
        return ""
    percent = column.unit == "%"
    least, most = (limit if limit is None or not percent else limit / 100.0 for limit in (column.least, column.most))
    if (least is None or value >= least) and (most is None or value <= most):
        return ""
    unit = f" {column.unit}" if column.unit and column.type not in ("price", "mass") else ""
    if column.most is None:
        return f"give {column.least:g}{unit} or more"
    return f"give {column.least:g} to {column.most:g}{unit}"
