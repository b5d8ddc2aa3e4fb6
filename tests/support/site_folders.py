"""Site folders written by tests: a stock table of one good line, changed cell by cell."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest

from optimizer.errors import BadTable, Fault
from optimizer.inputs.book import load_book
from optimizer.inputs.folder import load_site_folder
from optimizer.inputs.models import Lot, Offer, SiteFolder

LOT = {"lot": "A-1", "item": "plum", "on_hand": "100 kg", "worth_uncooked": "0.10 EUR/kg"}
OFFER = {"offer": "O-1", "item": "citric acid", "price": "2 EUR/kg"}


def csv_of(*rows: dict[str, str], separator: str = ",") -> str:
    """A table whose columns are those of all rows."""
    columns = list(dict.fromkeys(name for row in rows for name in row))
    out = io.StringIO()
    writer = csv.DictWriter(out, columns, restval="", delimiter=separator)
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue()


def write(
    folder: Path, *, stock: str | bytes | None = None, offers: str | bytes | None = None, site: str | None = None
) -> Path:
    """A site folder; a stock table with no lines unless given."""
    stock = "lot,item,on_hand,worth_uncooked\n" if stock is None else stock
    for name, text in (("stock.csv", stock), ("offers.csv", offers), ("site.toml", site)):
        if text is not None:
            (folder / name).write_bytes(text if isinstance(text, bytes) else text.encode())
    return folder


def load(folder: Path) -> SiteFolder:
    return load_site_folder(folder, load_book())


def lot(folder: Path, *, site: str | None = None, **cells: str) -> Lot:
    """The good lot with some cells changed."""
    (found,) = load(write(folder, stock=csv_of({**LOT, **cells}), site=site)).lots
    return found


def offer(folder: Path, *, site: str | None = None, **cells: str) -> Offer:
    """The good offer with some cells changed."""
    (found,) = load(write(folder, offers=csv_of({**OFFER, **cells}), site=site)).offers
    return found


def faults(folder: Path) -> tuple[Fault, ...]:
    """All faults of a folder that must not load."""
    with pytest.raises(BadTable) as caught:
        load(folder)
    return caught.value.faults


def lot_fault(folder: Path, *, site: str | None = None, **cells: str) -> Fault:
    """The one fault of the good lot with some cells changed."""
    (found,) = faults(write(folder, stock=csv_of({**LOT, **cells}), site=site))
    return found


def offer_fault(folder: Path, *, site: str | None = None, **cells: str) -> Fault:
    """The one fault of the good offer with some cells changed."""
    (found,) = faults(write(folder, offers=csv_of({**OFFER, **cells}), site=site))
    return found
