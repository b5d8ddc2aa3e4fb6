"""The archive: its tables are described for other programs, and the same state gives the same bytes."""

import csv
import io
import json
import zipfile
from datetime import UTC, datetime

from optimizer.exports.archive import ArchivedTable, Field, write_archive

AT = datetime(2026, 7, 4, 12, 30, tzinfo=UTC)
TABLE = ArchivedTable(
    name="price_history",
    title="Prices",
    fields=(Field(name="item", required=True), Field(name="price_minor", type="integer", unit="hundredths")),
    rows=[["=sugar", "-92"]],
    key=("item",),
)


def opened(raw: bytes) -> zipfile.ZipFile:
    return zipfile.ZipFile(io.BytesIO(raw))


def test_every_table_is_there_and_described() -> None:
    archive = opened(write_archive("A kitchen", [TABLE], {"site.toml": b"[place]\n"}, made_at=AT))
    assert archive.testzip() is None
    assert archive.namelist() == ["datapackage.json", "price_history.csv", "site.toml"]
    package = json.loads(archive.read("datapackage.json"))
    (resource,) = package["resources"]
    rows = list(csv.reader(io.StringIO(archive.read(resource["path"]).decode("utf-8-sig"))))
    assert [field["name"] for field in resource["schema"]["fields"]] == rows[0]
    assert rows[1] == ["'=sugar", "-92"]
    assert resource["schema"]["primaryKey"] == ["item"]
    # Table Schema (specs.frictionlessdata.io, version 1; from memory): types of fields
    assert {field["type"] for field in resource["schema"]["fields"]} <= {
        "string", "number", "integer", "boolean", "date", "datetime",
    }  # fmt: skip
    # names of resources: lower case letters, digits, "-", "_", "."
    assert resource["name"] == "price-history"


def test_the_same_state_gives_the_same_bytes() -> None:
    one, other = (write_archive("A", [TABLE], {"b": b"2", "a": b"1"}, made_at=AT) for _ in range(2))
    assert one == other
