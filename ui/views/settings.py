"""Settings and backup: the kitchen, its pans, jars and prices; language and files; backups; other kitchens."""

from __future__ import annotations

from typing import Literal

import streamlit as st

from ui import first_start, preferences, session, settings_backup, settings_data, settings_site, stock_files
from ui.plain import plain
from ui.words import LANGUAGES, N_, _, language

Part = Literal["kitchen", "pans", "language", "backup", "data"]
PARTS: dict[Part, str] = {
    "kitchen": N_("Kitchen"),
    "pans": N_("Pans, jars, prices"),
    "language": N_("Language and files"),
    "backup": N_("Backup"),
    "data": N_("Data"),
}


def page() -> None:
    """The page."""
    found = session.kitchen()
    if found is None:
        first_start.screen()
        return
    st.title(_("Settings and backup"))
    session.show_notice()
    st.caption(plain(found.kitchen.name) + (f" · {_('an invented example')}" if found.kitchen.is_invented else ""))
    part: Part = st.segmented_control(
        _("Part"), list(PARTS), default="kitchen", required=True, format_func=lambda one: _(PARTS[one]), key="part",
        bind="query-params",
    )  # fmt: skip
    if part in ("kitchen", "pans"):
        desks = settings_site.open_desks(found)
        head = st.container()
        if part == "kitchen":
            settings_site.single_fields(desks, found)
        else:
            settings_site.small_tables(desks)
        with head:
            settings_site.bar(desks)
    elif part == "language":
        _language()
    elif part == "backup":
        settings_backup.part()
    else:
        settings_data.part(found)


def _language() -> None:
    codes = list(LANGUAGES)
    st.selectbox(
        _("Language"), codes, index=codes.index(language()), format_func=lambda code: LANGUAGES[code],
        key="settings_language", on_change=_speak,
    )  # fmt: skip
    marks = [".", ","]
    st.radio(
        _("CSV files that go out"), marks, index=marks.index("," if stock_files.has_decimal_comma() else "."),
        format_func=lambda mark: _("commas between cells, decimal point: 1.5") if mark == "." else _(
            "semicolons between cells, decimal comma: 1,5"
        ),
        key="settings_mark", on_change=_write,
    )  # fmt: skip
    st.caption(_("Files that come in may be written either way; the program sees which it is."))
    if preferences.language() and session.can_write():
        st.caption(_("Your choice is kept for the next visit."))


def _speak() -> None:
    session.choose_language(session.get("settings_language", "en"))


def _write() -> None:
    stock_files.choose_decimal_mark(session.get("settings_mark", "."))


page()
