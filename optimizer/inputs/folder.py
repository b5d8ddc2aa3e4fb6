"""A site folder → site, lots and offers; all faults of all its files at once."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TypeVar

from optimizer.errors import BadTable, Fault, InputFault
from optimizer.inputs.files import RawTable, read_file
from optimizer.inputs.goods import Context, columns_of
from optimizer.inputs.models import Book, Lot, Offer, SiteFolder
from optimizer.inputs.offers import read_offers
from optimizer.inputs.prices import Money
from optimizer.inputs.site import read_site
from optimizer.inputs.stock import read_lots
from optimizer.inputs.text_files import MOST_BYTES, UnreadableError, decoded

T = TypeVar("T")
_ENDINGS = (".csv", ".xlsx", ".xls", ".tsv")


def load_site_folder(path: Path | str, book: Book) -> SiteFolder:
    """Read `site.toml`, `stock` and `offers` (each CSV or XLSX) of one folder.

    Parameters
    ----------
    path : Path or str
        The folder. `site.toml` may be missing: defaults are taken, each said aloud in `site.defaults_said`. `stock`
        may be missing: then nothing is on hand; or `offers`: then nothing can be bought; not both.
    book : Book
        The data.

    Returns
    -------
    SiteFolder
        Complete; a folder with a fault is not loaded at all.

    Raises
    ------
    InputFault
        There is no such folder.
    BadTable
        All faults of all files, each with file, line, item, column, value and cure.

    Examples
    --------
    >>> from optimizer.datafiles import data_folder
    >>> from optimizer.inputs.book import load_book
    >>> found = load_site_folder(data_folder() / "demo" / "ombrey_hollow", load_book())
    >>> found.site.name, len(found.lots), len(found.offers)
    ('Ombrey Hollow (invented)', 10, 12)
    """
    folder = Path(path)
    try:
        files = {entry.name.lower(): entry for entry in sorted(folder.iterdir()) if entry.is_file()}
    except (OSError, ValueError) as error:
        why = "is a file" if isinstance(error, NotADirectoryError) else "cannot be opened"
        raise InputFault(
            f'site folder "{folder}" {why}: give a folder with stock.csv and, if you like, offers.csv and site.toml'
        ) from error
    text, faults = _site_text(files.get("site.toml"))
    site, money, more = read_site(text, book)
    faults += sorted(more, key=lambda fault: fault.line or 0)
    if faults and not more:
        money = Money(is_known=False)  # the site file could not be read: its currency is not blamed on the tables
    context = Context.of(book, money)
    lots, more = _table("stock", files, context, read_lots)
    faults += more
    offers, more = _table("offers", files, context, read_offers)
    faults += more
    if lots is None and offers is None and not faults:
        faults.append(_no_tables(folder))
    faults += _codes_used_twice(lots or (), offers or ())
    if faults:
        raise BadTable(faults)
    said = [*site.defaults_said, *context.said]
    if lots is None:
        said.append("There is no stock.csv: nothing is on hand.")
    if offers is None:
        said.append("There is no offers.csv: nothing can be bought.")
    said += [
        f"{code} is taken as {money.rates[code]:g} {money.currency}, the rate of {money.rates_day}."
        for code in sorted(money.used)
    ]
    return SiteFolder(
        site=site.model_copy(update={"defaults_said": tuple(said)}),
        lots=lots or (),
        offers=offers or (),
        folder=str(folder),
    )


def _codes_used_twice(lots: Sequence[Lot], offers: Sequence[Offer]) -> list[Fault]:
    """A recipe names lots and offers by their codes alone, so a code may stand in one of the tables only."""
    places = {lot.lot: f"{lot.file} line {lot.line}" for lot in lots}
    return [
        Fault(
            file=offer.file,
            line=offer.line or None,
            item=offer.item,
            column="offer",
            value=offer.offer,
            cure=f"is also a lot, {places[offer.offer]}; give one of them another code",
        )
        for offer in offers
        if offer.offer in places
    ]


def _site_text(file: Path | None) -> tuple[str | None, list[Fault]]:
    if file is None:
        return None, []
    try:
        if file.stat().st_size > MOST_BYTES:
            raise UnreadableError(f"the file has more than {MOST_BYTES / 1e6:.0f} MB")
        return decoded(file.read_bytes()), []
    except OSError as error:
        return "", [Fault(file=file.name, cure=f"cannot be opened: {error.strerror or error}")]
    except UnreadableError as error:
        return "", [Fault(file=file.name, cure=str(error))]


def _no_tables(folder: Path) -> Fault:
    columns = ", ".join(name for name, column in columns_of("stock").items() if column.required)
    return Fault(
        file="stock.csv",
        cure=f'neither this nor offers.csv is in "{folder}"; give the folder of your site, or make stock.csv with at '
        f"least the columns {columns} and worth_uncooked",
    )


def _table(
    name: str,
    files: dict[str, Path],
    context: Context,
    read: Callable[[RawTable, Context], tuple[T, list[Fault]]],
) -> tuple[T | None, list[Fault]]:
    """What a table of the folder holds, None where it is not there; and its faults in the order of the lines."""
    found = [files[name + ending] for ending in _ENDINGS if name + ending in files]
    if not found:
        return None, []
    if len(found) > 1:
        names = " and ".join(file.name for file in found)
        return None, [Fault(file=found[0].name, cure=f"there are {names}: keep the one that holds")]
    file = found[0]
    try:
        raw = read_file(file, columns_of(name))
    except UnreadableError as error:
        return None, [Fault(file=file.name, line=error.line, cure=str(error))]
    values, faults = read(raw, context)
    order = {column: at for at, column in enumerate(raw.header)}
    return values, sorted(faults, key=lambda fault: (fault.line or 0, order.get(fault.column, -1)))
