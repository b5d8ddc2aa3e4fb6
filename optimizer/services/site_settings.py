"""The settings of a kitchen: fields for a form, checked and saved as `site.toml` text."""

from __future__ import annotations

import tomllib

from optimizer.errors import BadTable, Fault
from optimizer.inputs.book import load_book
from optimizer.inputs.site import read_site
from optimizer.services.kitchen_state import models_of, needed_state
from optimizer.services.site_form import (
    JarFields,
    NamedText,
    PanFields,
    SiteSettings,
    name_faults,
    settings_of,
    toml_of,
)
from optimizer.store import Booking, Change, Store

__all__ = ["JarFields", "NamedText", "PanFields", "SiteSettings", "save_site_settings", "site_settings", "site_text"]


def site_settings(store: Store) -> SiteSettings:
    """Every field of the kitchen's settings as typed; an empty one is not given.

    Raises
    ------
    InputFault
        There is no kitchen yet.
    """
    state = needed_state(store)
    try:
        return settings_of(state.site_toml)
    except tomllib.TOMLDecodeError:
        return SiteSettings()


def site_text(store: Store) -> str:
    """The kitchen's settings as the text of `site.toml`."""
    return needed_state(store).site_toml


def save_site_settings(store: Store, settings: SiteSettings | str, *, who: str = "") -> Booking | None:
    """Check and book settings, from the form or as the text of `site.toml`; None where nothing changes.

    Raises
    ------
    BadTable
        All faults: of the settings, and of prices in stock and offers that could no longer be read under them (another
        currency without a rate, say).
    """
    state = needed_state(store)
    if isinstance(settings, str):
        toml, faults = settings, []
    else:
        toml, faults = toml_of(settings), name_faults(settings)
        if not faults and settings == site_settings(store):
            return None  # the text keeps its comments
    if not faults and toml == state.site_toml:
        return None
    site, money, more = read_site(toml, load_book())
    faults += more
    if not faults:
        _, of_tables = models_of(state.kitchen.name, site, money, state.stock, state.offers)
        faults += _left_unreadable(of_tables, state.faults)
    if faults:
        raise BadTable(faults)
    return store.book(
        state.kitchen, Change(site_toml=toml), who=who, kind="site", said="Settings changed", expect=state.version
    )


def _left_unreadable(faults: list[Fault], before: tuple[Fault, ...]) -> list[Fault]:
    """Faults that the tables would have under the new settings and do not have now."""
    known = set(before)
    return [fault for fault in faults if fault not in known]
