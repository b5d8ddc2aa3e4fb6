"""Which pages there are: title, picture, file; the address of a page is its name."""

from __future__ import annotations

from pathlib import Path

import streamlit as st

from ui.words import N_, _

VIEWS = Path(__file__).parent / "views"
SECTIONS = {  # pages without a section stand in the bar itself, one touch away
    "": ("stock", "today", "recipe", "buying"),
    N_("Shop"): ("sources", "settings"),
}
_TITLES = {
    "stock": (N_("Stock and prices"), ":material/inventory_2:"),
    "today": (N_("Today"), ":material/wb_sunny:"),
    "recipe": (N_("Recipe"), ":material/skillet:"),
    "buying": (N_("Buying"), ":material/shopping_basket:"),
    "sources": (N_("Fruit and sources"), ":material/menu_book:"),
    "settings": (N_("Settings and backup"), ":material/settings:"),
}


def is_there(name: str) -> bool:
    """Whether this installation has the page."""
    return (VIEWS / f"{name}.py").is_file()


def make_page(name: str) -> st.Page:
    """The page of a name."""
    title, icon = _TITLES[name]
    return st.Page(VIEWS / f"{name}.py", title=_(title), icon=icon, url_path=name, default=name == "today")


def menu() -> dict[str, list[st.Page]]:
    """All pages by section, in the order of a working day."""
    found = {
        _(section) if section else "": [make_page(name) for name in names if is_there(name)]
        for section, names in SECTIONS.items()
    }
    return {section: pages for section, pages in found.items() if pages}
