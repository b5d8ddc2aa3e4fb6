"""Files to take away: each table as CSV or XLSX, templates to fill in, everything of a kitchen as one zip."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Literal

from optimizer.errors import InputFault
from optimizer.exports.archive import ArchivedTable, Field, fields_as_typed, write_archive
from optimizer.exports.csv_out import write_csv
from optimizer.exports.template import template
from optimizer.exports.xlsx_out import write_xlsx
from optimizer.inputs.book import load_book
from optimizer.inputs.goods import columns_of
from optimizer.inputs.models import Book
from optimizer.services.kitchen_state import State, needed_state
from optimizer.services.preview import CODE, Which
from optimizer.services.site_folders import sheet_of, write_folder, write_whole
from optimizer.store import Batch, Kitchen, Store

Format = Literal["csv", "xlsx"]
_EVERY = 1_000_000  # bookings of a kitchen; no kitchen has more


def table_file(store: Store, which: Which, kind: Format = "csv", *, decimal_comma: bool = False) -> tuple[str, bytes]:
    """Name and bytes of a table as it stands, to be opened in a spreadsheet and brought in again.

    Parameters
    ----------
    which : {"stock", "offers"}
        Which table.
    kind : {"csv", "xlsx"}
        CSV: UTF-8 with a mark. XLSX: real numbers and days.
    decimal_comma : bool
        CSV with semicolons and decimal commas.
    """
    sheet = sheet_of(needed_state(store), which)
    if kind == "xlsx":
        return f"{which}.xlsx", write_xlsx([sheet])
    return f"{which}.csv", write_csv(sheet, decimal_comma=decimal_comma)


def template_file(which: Which) -> tuple[str, bytes]:
    """Name and bytes of a workbook to fill in.

    >>> name, content = template_file("offers")
    >>> name, content[:2]
    ('offers_template.xlsx', b'PK')
    """
    book = load_book()
    return f"{which}_template.xlsx", template(which, item_names(book), tuple(book.conditions))


def item_names(book: Book) -> tuple[str, ...]:
    """Fruits and their parts, then goods, each by the alphabet: what may stand in the column `item`."""
    return (*sorted(book.fruits), *sorted(book.ingredients))


def everything(store: Store, *, at: datetime | None = None) -> tuple[str, bytes]:
    """Name and bytes of the zip with all of the current kitchen.

    It holds the site folder (`site.toml`, `stock.csv`, `offers.csv`; `bring_in_folder` takes it back), the history of
    prices, bookings, batches and jars, suppliers, the recipes as JSON, and `datapackage.json`, which describes the
    tables. A kitchen comes back from it without its history; a backup brings back all.
    """
    at = at or datetime.now(UTC)
    state = needed_state(store)
    more = {"site.toml": state.site_toml.encode()}
    for recipe in store.recipes(state.kitchen):
        kept = {
            "code": recipe.code,
            "product": recipe.product,
            "at": recipe.at.isoformat(),
            "who": recipe.who,
            "request": recipe.request,
            "inputs": recipe.inputs,
            "recipe": recipe.document,
        }
        more[f"recipes/{_file_name(recipe.code)}.json"] = (
            json.dumps(kept, indent=1, ensure_ascii=False) + "\n"
        ).encode()
    tables = list(_tables(store, state))
    name = f"{_file_name(state.kitchen.name)}_{at:%Y-%m-%d}.zip"
    return name, write_archive(state.kitchen.name, tables, more, made_at=at)


def _tables(store: Store, state: State) -> Iterable[ArchivedTable]:
    kitchen = state.kitchen
    titles: Mapping[Which, str] = {"stock": "What is on hand", "offers": "What could be bought"}
    for which, title in titles.items():
        columns = columns_of(which)
        rows = [[line.cells.get(name, "") for name in columns] for line in state.lines(which)]
        yield ArchivedTable(name=which, title=title, fields=fields_as_typed(columns), rows=rows, key=(CODE[which],))
    yield _price_history(store, kitchen)
    yield ArchivedTable(
        name="bookings",
        title="Every booking, oldest first; a booking is never changed, it is taken back by another",
        fields=(
            Field(name="id", type="integer"),
            Field(name="at", type="datetime", description="UTC"),
            Field(name="who"),
            Field(name="kind"),
            Field(name="said", description="What was done"),
            Field(name="undoes", type="integer", description="The booking that this one takes back"),
        ),
        rows=[
            [str(b.id), _moment(b.at), b.who, b.kind, b.said, "" if b.undoes is None else str(b.undoes)]
            for b in reversed(store.bookings(kitchen, most=_EVERY))
        ],
        key=("id",),
    )
    yield _movements(store, kitchen)
    batches = store.batches(kitchen)
    yield from _batch_tables(batches)
    yield _suppliers(state, batches)


def _movements(store: Store, kitchen: Kitchen) -> ArchivedTable:
    return ArchivedTable(
        name="movements",
        title="So much more or less of a lot, oldest first; what is on hand is the sum of these",
        fields=(
            Field(name="id", type="integer"),
            Field(name="booking", type="integer", description="The booking it belongs to"),
            Field(name="lot"),
            Field(name="amount", type="integer", description="In the unit of the next column; negative: less"),
            Field(name="unit", description="g or piece"),
            Field(name="kind", description="What happened"),
            Field(name="corrects", type="integer", description="The movement whose amount this one corrects"),
            Field(name="why"),
        ),
        rows=[
            [
                str(m.id), str(m.booking), m.lot, str(m.amount), m.unit, m.kind,
                "" if m.corrects is None else str(m.corrects), m.why,
            ]
            for m in store.movements(kitchen)
        ],
        key=("id",),
    )  # fmt: skip


def _price_history(store: Store, kitchen: Kitchen) -> ArchivedTable:
    return ArchivedTable(
        name="price_history",
        title="Prices as they were heard; a price is price_minor for price_amount of unit",
        fields=(
            Field(name="date", type="date"),
            Field(name="item"),
            Field(name="offer"),
            Field(name="supplier"),
            Field(name="currency"),
            Field(name="price_minor", type="integer", unit="hundredths of the currency"),
            Field(name="price_amount", type="integer", description="In the unit of the next column"),
            Field(name="unit", description="g or piece"),
            Field(name="pack", description="As typed"),
            Field(name="least_packs", description="As typed"),
            Field(name="breaks", description="As typed"),
        ),
        rows=[
            [
                p.date.isoformat(), p.item, p.offer, p.supplier, p.currency, str(p.price_minor), str(p.price_amount),
                p.unit, p.pack, p.least_packs, p.breaks,
            ]
            for p in store.price_history(kitchen)
        ],
    )  # fmt: skip


def _batch_tables(batches: Sequence[Batch]) -> Iterable[ArchivedTable]:
    whole = Field(name="amount", type="integer", description="In the unit of the next column")
    yield ArchivedTable(
        name="batches",
        title="Batches",
        fields=(
            Field(name="batch"),
            Field(name="product"),
            Field(name="recipe", description="Its file is in recipes/"),
            Field(name="state", description="open, finished or undone"),
            Field(name="opened_at", type="datetime", description="UTC"),
            Field(name="finished_at", type="datetime", description="UTC"),
            Field(name="made", type="integer", unit="g"),
            Field(name="who"),
        ),
        rows=[
            [
                b.code, b.product, b.recipe, b.state, _moment(b.opened_at), _moment(b.finished_at),
                "" if b.made_g is None else str(b.made_g), b.who,
            ]
            for b in batches
        ],
        key=("batch",),
    )  # fmt: skip
    yield ArchivedTable(
        name="batch_uses",
        title="What went into each batch",
        fields=(
            Field(name="batch"), Field(name="lot"), Field(name="item"), Field(name="supplier"),
            whole, Field(name="unit"),
        ),
        rows=[
            [b.code, use.lot, use.item, use.supplier, str(use.amount), use.unit]
            for b in batches
            for use in (*b.uses, *b.packaging)
        ],
    )  # fmt: skip
    yield ArchivedTable(
        name="readings",
        title="What was read at the pan",
        fields=(
            Field(name="batch"), Field(name="at", type="datetime", description="UTC"), Field(name="figure"),
            Field(name="value", type="number"), Field(name="unit"), Field(name="who"),
        ),
        rows=[
            [b.code, _moment(reading.at), reading.figure, f"{reading.value:.15g}", reading.unit, reading.who]
            for b in batches
            for reading in b.readings
        ],
    )  # fmt: skip
    yield ArchivedTable(
        name="jars",
        title="Jars filled",
        fields=(Field(name="jars"), Field(name="batch"), Field(name="name"), Field(name="count", type="integer")),
        rows=[[jars.code, b.code, jars.name, str(jars.count)] for b in batches for jars in b.jars],
    )


def _suppliers(state: State, batches: Sequence[Batch]) -> ArchivedTable:
    named = [line.cells.get("supplier", "") for line in (*state.stock, *state.offers)]
    named += [use.supplier for batch in batches for use in batch.uses]
    rows = [[name] for name in sorted({name for name in named if name})]
    return ArchivedTable(
        name="suppliers", title="Suppliers", fields=(Field(name="supplier"),), rows=rows, key=("supplier",)
    )


def _moment(at: datetime | None) -> str:
    return "" if at is None else at.astimezone(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")


def _file_name(text: str) -> str:
    """Letters, digits and hyphens of a name; never a path.

    >>> _file_name("../Ombrey Hollow (invented)")
    'Ombrey_Hollow_invented'
    """
    words = "".join(letter if letter.isalnum() or letter == "-" else " " for letter in text).split()
    return "_".join(words)[:80] or "kitchen"


def write_to(store: Store, to: Path, *, decimal_comma: bool = False) -> tuple[Path, ...]:
    """Write the kitchen to a folder, everything to a file that ends in .zip, or one table by the file's name.

    Raises
    ------
    InputFault
        A file of another name: it says which can be written.
    """
    ending, which = to.suffix.lower(), to.stem.lower()
    if not ending or to.is_dir():
        return write_folder(store, to, decimal_comma=decimal_comma)
    if ending == ".zip":
        _, content = everything(store)
    elif ending in (".csv", ".xlsx") and which in ("stock", "offers"):
        kind: Format = "csv" if ending == ".csv" else "xlsx"
        _, content = table_file(store, "stock" if which == "stock" else "offers", kind, decimal_comma=decimal_comma)
    else:
        raise InputFault(
            f"{to.name}: name a folder, a file that ends in .zip, or stock.csv, stock.xlsx, offers.csv, offers.xlsx"
        )
    write_whole(to, content)
    return (to,)
