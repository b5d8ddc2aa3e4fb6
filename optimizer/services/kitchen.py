"""A kitchen in the store: read as models, shown as tables, previewed, saved and taken back.

Cells stay as people typed them; the readers of `optimizer.inputs` make models of them, here as for files, so a page, a
file and the store obey one set of rules.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime

from optimizer.errors import BadTable, Fault
from optimizer.inputs.files import Cell
from optimizer.inputs.goods import columns_of
from optimizer.inputs.models import SiteFolder
from optimizer.inputs.numbers import DecimalMark
from optimizer.services.demo_kitchen import load_demo
from optimizer.services.kitchen_state import context_for, needed_state, state_of
from optimizer.services.new_kitchen import make_empty_kitchen
from optimizer.services.preview import CellChange, RowChange, Which, judge
from optimizer.services.site_folders import bring_in_folder, write_folder
from optimizer.services.site_settings import SiteSettings, save_site_settings, site_settings
from optimizer.services.table_changes import change_of, in_words
from optimizer.services.tables_in import read_upload
from optimizer.store import Booking, Change, Kitchen, MovedOn, Store

__all__ = [
    "CellChange",
    "MovedOn",
    "OpenKitchen",
    "Preview",
    "RowChange",
    "SiteSettings",
    "TextTable",
    "bring_in_folder",
    "load_demo",
    "make_empty_kitchen",
    "open_kitchen",
    "preview",
    "preview_upload",
    "save",
    "save_site_settings",
    "site_settings",
    "table",
    "undo",
    "write_folder",
]


@dataclass(frozen=True, kw_only=True)
class OpenKitchen:
    """The current kitchen, read.

    Attributes
    ----------
    kitchen : Kitchen
        Its name, and whether it is invented.
    folder : SiteFolder | None
        Site, lots of which something is left, and offers (expired ones too); None while a table has faults.
    faults : tuple of Fault
        Every fault of both tables and of the settings.
    version : int
        Id of the last booking, 0 where there is none.
    stock_as_of, prices_as_of : datetime | None
        When stock and offers were last booked (UTC).
    """

    kitchen: Kitchen
    folder: SiteFolder | None
    faults: tuple[Fault, ...]
    version: int
    stock_as_of: datetime | None
    prices_as_of: datetime | None


@dataclass(frozen=True, kw_only=True)
class TextTable:
    """A table as typed, every known column in it; `version` is the state it shows."""

    which: Which
    columns: tuple[str, ...]
    rows: tuple[dict[str, str], ...]
    version: int


@dataclass(frozen=True, kw_only=True)
class Preview:
    """What saving would do, before anything is booked."""

    which: Which
    file: str = ""
    new: tuple[str, ...] = ()
    changed: tuple[RowChange, ...] = ()  # each with its cells, old and new
    untouched: tuple[str, ...] = ()
    removed: tuple[str, ...] = ()
    faults: tuple[Fault, ...] = ()
    said: tuple[str, ...] = ()  # what was left out or taken for granted
    version: int  # the state it was compared with
    change: Change = field(default_factory=Change, repr=False)
    words: str = ""  # for the history

    @property
    def is_change(self) -> bool:
        """Whether anything would be booked."""
        return bool(self.new or self.changed or self.removed)

    @property
    def can_save(self) -> bool:
        """Whether `save` would book something: no fault stands, and something differs."""
        return self.is_change and not self.faults


def open_kitchen(store: Store) -> OpenKitchen | None:
    """The current kitchen as models, None where there is no kitchen yet.

    Examples
    --------
    >>> from optimizer.store import open_store
    >>> import tempfile, pathlib
    >>> with tempfile.TemporaryDirectory() as folder, open_store(pathlib.Path(folder) / "kitchen.db") as store:
    ...     before = open_kitchen(store)
    ...     _ = load_demo(store, today=date(2026, 11, 25))
    ...     found = open_kitchen(store)
    >>> before, found.kitchen.name, len(found.folder.lots), found.folder.lots[0].received
    (None, 'Ombrey Hollow (invented)', 10, datetime.date(2026, 11, 22))
    """
    state = state_of(store)
    if state is None:
        return None
    return OpenKitchen(
        kitchen=state.kitchen,
        folder=state.folder,
        faults=state.faults,
        version=state.version,
        stock_as_of=state.stock_as_of,
        prices_as_of=state.prices_as_of,
    )


def table(store: Store, which: Which) -> TextTable:
    """Stock or offers as typed; what is on hand as weighed by the ledger, where that is no longer what was typed.

    Raises
    ------
    InputFault
        There is no kitchen yet.
    """
    state = needed_state(store)
    columns = tuple(columns_of(which))
    rows = tuple({name: line.cells.get(name, "") for name in columns} for line in state.lines(which))
    return TextTable(which=which, columns=columns, rows=rows, version=state.version)


def preview(
    store: Store,
    which: Which,
    rows: Sequence[Mapping[str, Cell | None]],
    *,
    replaces: bool,
    file: str = "",
    lines: Sequence[int] = (),
    mark: DecimalMark | None = None,
    seen: int | None = None,
) -> Preview:
    """What booking these rows would do; nothing is booked.

    Parameters
    ----------
    store : Store
        With a kitchen.
    which : {"stock", "offers"}
        Which table.
    rows : sequence of mappings
        Column -> cell as typed. Rows without any text are passed over.
    replaces : bool
        True: the rows are the whole table (a grid); stored lines that are missing are removed. False: they add lines
        and change cells (an upload); a column that the rows do not have stays, other words for the same value too.
    file : str
        Name for messages.
    lines : sequence of int
        Line of each row in the file; default 1, 2, 3 ...
    mark : {".", ",", "unknown"}, optional
        Decimal mark of the file.
    seen : int, optional
        `version` of the table that the rows were made from. If somebody has booked since, saving raises MovedOn
        instead of writing over it.

    Raises
    ------
    InputFault
        There is no kitchen yet.
    """
    state = needed_state(store)
    other: Which = "offers" if which == "stock" else "stock"
    judged = judge(
        which,
        state.lines(which),
        rows,
        context_for(state.money),
        replaces=replaces,
        file=file,
        numbers=lines,
        mark=mark,
        taken=state.places(other),
    )
    change = Change()
    if not judged.faults:
        on = date.today()
        change = change_of(which, judged, state.lines(which), currency=state.money.currency, on=on)
    return Preview(
        which=which,
        file=file,
        new=judged.new,
        changed=judged.changed,
        untouched=judged.untouched,
        removed=judged.removed,
        faults=judged.faults,
        said=judged.said,
        version=state.version if seen is None else seen,
        change=change,
        words=in_words(which, judged),
    )


def preview_upload(store: Store, which: Which, name: str, raw: bytes) -> Preview:
    """What bringing in a file would do: `read_upload`, then `preview`."""
    state = needed_state(store)
    upload = read_upload(name, raw, which)
    if upload.faults:
        return Preview(which=which, file=upload.file, faults=upload.faults, version=state.version)
    found = preview(store, which, upload.rows, replaces=False, file=upload.file, lines=upload.lines, mark=upload.mark)
    return replace(found, said=(*upload.said, *found.said))


def save(store: Store, preview: Preview, *, who: str = "") -> Booking | None:
    """Book what a preview shows, whole or not at all; None where there is nothing to book.

    Raises
    ------
    BadTable
        Faults stand: all of them.
    MovedOn
        Somebody has booked since the preview was made; look again, then save.
    """
    if preview.faults:
        raise BadTable(preview.faults)
    if not preview.is_change:
        return None
    kitchen = needed_state(store).kitchen
    return store.book(kitchen, preview.change, who=who, kind=preview.which, said=preview.words, expect=preview.version)


def undo(store: Store, *, who: str = "") -> Booking | None:
    """Take back the last booking by a counter-booking; None where nothing is left to take back."""
    return store.undo(needed_state(store).kitchen, who=who)
