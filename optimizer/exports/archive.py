"""Everything of a kitchen as one zip, with a description of its tables that other programs read."""

from __future__ import annotations

import io
import json
import zipfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal

from optimizer.exports.cells import Sheet
from optimizer.exports.csv_out import write_csv
from optimizer.inputs.book_table import Column

FieldType = Literal["string", "integer", "number", "boolean", "date", "datetime"]


@dataclass(frozen=True, kw_only=True)
class Field:
    """One column of an archived table, as a Table Schema names it."""

    name: str
    type: FieldType = "string"
    description: str = ""
    unit: str = ""
    required: bool = False


@dataclass(frozen=True, kw_only=True)
class ArchivedTable:
    """A table with the meaning of its columns; cells are text, empty where nothing is known."""

    name: str
    title: str
    fields: tuple[Field, ...]
    rows: Sequence[Sequence[str]]
    key: tuple[str, ...] = ()

    @property
    def path(self) -> str:
        return f"{self.name}.csv"

    def sheet(self) -> Sheet:
        """Ready to be written as CSV or XLSX."""
        return Sheet(
            name=self.name,
            header=tuple(field.name for field in self.fields),
            rows=self.rows,
            numeric=frozenset(field.name for field in self.fields if field.type in ("integer", "number")),
            days=frozenset(field.name for field in self.fields if field.type == "date"),
        )


def fields_as_typed(columns: Mapping[str, Column]) -> tuple[Field, ...]:
    """Fields of a table that keeps what people typed (`40 kg`): all are text.

    >>> from optimizer.inputs.goods import columns_of
    >>> fields_as_typed(columns_of("stock"))[0].required
    True
    """
    return tuple(
        Field(name=column.name, description=column.meaning, unit=column.unit, required=column.required)
        for column in columns.values()
    )


def data_package(title: str, tables: Sequence[ArchivedTable], *, made_at: datetime) -> dict[str, Any]:
    """A Data Package (specs.frictionlessdata.io, version 1) that describes the tables of the archive.

    >>> table = ArchivedTable(name="jars", title="Jars", fields=(Field(name="code"),), rows=(), key=("code",))
    >>> package = data_package("A kitchen", [table], made_at=datetime(2026, 7, 4))
    >>> package["resources"][0]["path"], package["resources"][0]["schema"]["primaryKey"]
    ('jars.csv', ['code'])
    """
    return {
        "profile": "tabular-data-package",
        "name": "panwise-kitchen",
        "title": title,
        "created": made_at.isoformat(timespec="seconds"),
        "description": "An apostrophe before = + - or @ keeps a spreadsheet from running a text; it is not part of it.",
        "resources": [_resource(table) for table in tables],
    }


def _resource(table: ArchivedTable) -> dict[str, Any]:
    schema: dict[str, Any] = {"fields": [_field(field) for field in table.fields], "missingValues": [""]}
    if table.key:
        schema["primaryKey"] = list(table.key)
    return {
        "profile": "tabular-data-resource",
        "name": table.name.replace("_", "-"),
        "path": table.path,
        "title": table.title,
        "encoding": "utf-8",
        "format": "csv",
        "dialect": {"delimiter": ",", "lineTerminator": "\r\n"},
        "schema": schema,
    }


def _field(field: Field) -> dict[str, Any]:
    described: dict[str, Any] = {"name": field.name, "type": field.type}
    if field.description:
        described["description"] = field.description
    if field.type == "boolean":
        described |= {"trueValues": ["yes"], "falseValues": ["no"]}
    if field.unit:
        described["unit"] = field.unit
    if field.required:
        described["constraints"] = {"required": True}
    return described


def write_archive(
    title: str, tables: Sequence[ArchivedTable], more: Mapping[str, bytes], *, made_at: datetime
) -> bytes:
    """The zip: every table as CSV, `datapackage.json`, and further files.

    Parameters
    ----------
    title : str
        Name of the kitchen.
    tables : sequence of ArchivedTable
        What becomes CSV.
    more : mapping
        Path in the archive -> bytes, such as `site.toml`.
    made_at : datetime
        Stamped on every entry, so that the same state gives the same bytes.
    """
    files = {table.path: write_csv(table.sheet()) for table in tables}
    package = data_package(title, tables, made_at=made_at)
    files["datapackage.json"] = (json.dumps(package, indent=1, ensure_ascii=False) + "\n").encode()
    return zipped({**more, **files}, made_at=made_at)


def zipped(files: Mapping[str, bytes], *, made_at: datetime) -> bytes:
    """Files as a zip, in the order of their names."""
    stamp = (max(1980, made_at.year), made_at.month, made_at.day, made_at.hour, made_at.minute, made_at.second)
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name in sorted(files):
            archive.writestr(zipfile.ZipInfo(name, stamp), files[name], zipfile.ZIP_DEFLATED)
    return out.getvalue()
