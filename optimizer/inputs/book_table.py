"""One CSV of the book with its column table: checked cell by cell, all faults at once."""

from __future__ import annotations

import csv
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from optimizer.errors import BadTable, Fault
from optimizer.inputs.names import nearest

PERCENT_UNITS = frozenset({"%", "g/100 g"})


@dataclass(frozen=True, kw_only=True)
class Column:
    """One line of a column table: what a column of a CSV holds."""

    name: str
    type: str  # "text", "number", "yesno", "list" (`a; b`), "choice:a|b", or a type of the users' tables
    unit: str
    required: bool
    least: float | None
    most: float | None
    meaning: str

    @property
    def choices(self) -> tuple[str, ...]:
        """The words a `choice:` column takes; empty for any other type."""
        return tuple(self.type.removeprefix("choice:").split("|")) if self.type.startswith("choice:") else ()


@dataclass(frozen=True, kw_only=True)
class Record:
    """One checked line of a table; asking for a column that the table has not is a programming error."""

    file: str
    line: int
    cells: Mapping[str, str]
    columns: Mapping[str, Column]

    def text(self, name: str) -> str:
        return self.cells[name]

    def number(self, name: str) -> float | None:
        """Value of a number cell, None if empty; a column in percent gives a fraction."""
        cell = self.cells[name]
        if not cell:
            return None
        return in_program_units(float(cell), self.columns[name].unit)

    def needed(self, name: str) -> float:
        """Value of a number cell that the column table requires."""
        value = self.number(name)
        if value is None:
            raise KeyError(f"{self.file}: column {name} may be empty; use number()")
        return value

    def flag(self, name: str) -> bool:
        return self.cells[name] == "yes"

    def items(self, name: str) -> tuple[str, ...]:
        return tuple(part.strip() for part in self.cells[name].split(";") if part.strip())

    def fault(self, column: str, cure: str, item: str = "") -> Fault:
        """A fault of this line, for checks that need more than one cell."""
        return Fault(file=self.file, line=self.line, item=item, column=column, value=self.cells.get(column), cure=cure)


def in_program_units(value: float, unit: str) -> float:
    """Percent becomes a fraction; every other unit of the book is the program's own.

    >>> in_program_units(14.3, "%"), in_program_units(3.4, "pH")
    (0.143, 3.4)
    """
    return round(value / 100.0, 12) if unit in PERCENT_UNITS else value  # 14.3 % is 0.143, not 0.14300000000000002


@dataclass(kw_only=True)
class Faults:
    """Collects the faults of several tables; `raise_if_any` reports them together."""

    found: list[Fault] = field(default_factory=list)

    def add(self, fault: Fault) -> None:
        self.found.append(fault)

    def raise_if_any(self) -> None:
        if self.found:
            raise BadTable(self.found)


def read_columns(path: Path) -> dict[str, Column]:
    """A column table: `name, type, unit, required, least, most, meaning`.

    Examples
    --------
    >>> from optimizer.datafiles import data_folder
    >>> read_columns(data_folder() / "fruits.columns.csv")["sd"].type
    'number'
    """
    with path.open(encoding="utf-8", newline="") as handle:
        return {
            row["name"]: Column(
                name=row["name"],
                type=row["type"],
                unit=row["unit"],
                required=row["required"] == "yes",
                least=float(row["least"]) if row["least"] else None,
                most=float(row["most"]) if row["most"] else None,
                meaning=row["meaning"],
            )
            for row in csv.DictReader(handle)
        }


def read_table(folder: Path, name: str, faults: Faults) -> list[Record]:
    """The lines of `NAME.csv`, each cell checked against `NAME.columns.csv`; faulty lines are reported and left out.

    Parameters
    ----------
    folder : Path
        Where both files lie.
    name : str
        Without `.csv`.
    faults : Faults
        Collects what is wrong.
    """
    columns = read_columns(folder / f"{name}.columns.csv")
    file = f"{name}.csv"
    path = folder / file
    if not path.is_file():
        faults.add(Fault(file=file, cure="the table is missing; put it back or install panwise again"))
        return []
    with path.open(encoding="utf-8-sig", newline="") as handle:
        reader = csv.DictReader(handle, strict=True)
        header = list(reader.fieldnames or ())
        wrong = [_unknown(file, title, columns) for title in header if title not in columns]
        wrong += [
            Fault(file=file, column=title, cure="this column is missing") for title in columns if title not in header
        ]
        if wrong:
            for fault in wrong:
                faults.add(fault)
            return []
        records: list[Record] = []
        for row in reader:
            if None in row or None in row.values():
                faults.add(Fault(file=file, line=reader.line_num, cure=f"give {len(header)} cells, one per column"))
                continue
            cells = {title: " ".join(cell.split()) for title, cell in row.items()}
            record = Record(file=file, line=reader.line_num, cells=cells, columns=columns)
            bad = list(_check(record))
            faults.found.extend(bad)
            if not bad:
                records.append(record)
    return records


def _unknown(file: str, title: str, columns: Mapping[str, Column]) -> Fault:
    return Fault(file=file, column=title, cure=f"unknown column; {nearest(title, columns)}")


def _check(record: Record) -> Iterator[Fault]:
    item = next(iter(record.cells.values()), "")
    for name, column in record.columns.items():
        cell = record.cells[name]
        if not cell:
            if column.required:
                yield record.fault(name, f"fill it in: {column.meaning}", item)
            continue
        if column.choices and cell not in column.choices:
            yield record.fault(name, nearest(cell, column.choices), item)
        elif column.type == "yesno" and cell not in ("yes", "no"):
            yield record.fault(name, "write yes or no", item)
        elif column.type == "number":
            try:
                value = float(cell)
            except ValueError:
                yield record.fault(name, "give a number", item)
                continue
            below = column.least is not None and value < column.least
            above = column.most is not None and value > column.most
            if not math.isfinite(value) or below or above:
                yield record.fault(name, f"give {_span(column)}", item)


def _span(column: Column) -> str:
    unit = f" {column.unit}" if column.unit else ""
    if column.least is None and column.most is None:
        return f"a finite number{unit}"
    if column.most is None:
        return f"{column.least:g}{unit} or more"
    if column.least is None:
        return f"{column.most:g}{unit} or less"
    return f"{column.least:g} to {column.most:g}{unit}"
