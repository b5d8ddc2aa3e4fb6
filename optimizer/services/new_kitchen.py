"""A new kitchen in the store: empty, or filled whole from tables that were found sound."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from optimizer.errors import BadTable, Fault
from optimizer.inputs.book import load_book
from optimizer.inputs.files import Cell
from optimizer.inputs.numbers import DecimalMark
from optimizer.inputs.site import read_site
from optimizer.services.kitchen_state import context_for
from optimizer.services.preview import Which, judge
from optimizer.services.site_form import SiteSettings, settings_of, toml_of
from optimizer.services.table_changes import change_of
from optimizer.store import Change, Kitchen, Store


@dataclass(frozen=True, kw_only=True)
class NewTable:
    """Rows as typed, and where they come from."""

    rows: Sequence[Mapping[str, Cell]] = ()
    file: str = ""
    lines: Sequence[int] = ()
    mark: DecimalMark | None = "."


def make_empty_kitchen(
    store: Store,
    name: str,
    *,
    currency: str = "EUR",
    altitude: str = "0 m",
    standard: str = "codex",
    who: str = "",
) -> Kitchen:
    """A kitchen with nothing on hand; it becomes the current one.

    Raises
    ------
    BadTable
        A field cannot be used: all of them.
    """
    name = " ".join(name.split())
    settings = SiteSettings(name=name, currency=currency, altitude=altitude, standard=standard)
    toml = toml_of(settings)
    _, _, faults = read_site(toml, load_book())
    if not name:
        faults = [Fault(file="site.toml", item="[place]", column="name", cure="give the kitchen a name"), *faults]
    if faults:
        raise BadTable(faults)
    return store.make_kitchen(name, site_toml=toml, who=who)


def make_kitchen_from(
    store: Store,
    *,
    name: str,
    site_toml: str,
    stock: NewTable,
    offers: NewTable,
    said: str,
    on: date,
    is_invented: bool = False,
    who: str = "",
) -> Kitchen:
    """A kitchen with these tables; they are checked whole before anything is made.

    Raises
    ------
    BadTable
        All faults of settings and tables.
    """
    book = load_book()
    _, money, faults = read_site(site_toml, book)
    changes: dict[Which, Change] = {}
    taken: dict[str, str] = {}
    named: tuple[tuple[Which, NewTable], ...] = (("stock", stock), ("offers", offers))
    for which, table in named:
        judged = judge(
            which,
            (),
            table.rows,
            context_for(money, book),
            replaces=False,
            file=table.file,
            numbers=table.lines,
            mark=table.mark,
            taken=taken,
        )
        faults += judged.faults
        if not judged.faults:
            changes[which] = change_of(which, judged, (), currency=money.currency, on=on)
            taken |= dict.fromkeys(judged.new, f"a lot in {table.file or which}")
    if faults:
        raise BadTable(faults)
    change = replace(changes["stock"], offers=changes["offers"].offers)
    return store.make_kitchen(
        _free_name(store, name), site_toml=site_toml, is_invented=is_invented, who=who, change=change, said=said
    )


def _free_name(store: Store, name: str) -> str:
    """The name, with a number where another kitchen has it already."""
    taken = {kitchen.name for kitchen in store.kitchens()}
    number, free = 1, name
    while free in taken:
        number += 1
        free = f"{name} {number}"
    return free


def named_in(site_toml: str, otherwise: str) -> str:
    """The name that a sound site file gives its place."""
    return settings_of(site_toml).name or otherwise
