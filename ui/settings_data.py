"""Which kitchen is open, the invented examples, whole kitchens in and out, where everything lies on this machine."""

from __future__ import annotations

import streamlit as st

from optimizer.errors import BadTable, InputFault
from optimizer.services import kitchen as kitchens
from optimizer.services.drafts import drafts_folder
from optimizer.services.kitchen import OpenKitchen
from optimizer.services.paths import places
from ui import first_start, session, stock_files
from ui.plain import plain
from ui.show import faults_table, result_table
from ui.words import _, ngettext, said

_COUNT = "folder_count"


def part(found: OpenKitchen) -> None:
    """The whole part of the page."""
    if session.can_write():
        _which(found)
        left, right = st.columns(2)
        with left.container(border=True):
            _example()
        with right.container(border=True):
            _own()
    with st.container(border=True):
        st.subheader(_("Take everything out"), anchor=False)
        st.write(
            _("Tables, settings, history of prices, bookings, batches and recipes of this kitchen, in open formats.")
        )
        stock_files.all_of_it("settings_all")
    if session.can_write():
        with st.container(border=True):
            _bring_in()
    _where()


def _which(found: OpenKitchen) -> None:
    all_of_them = session.store().kitchens()
    if len(all_of_them) < 2:
        return
    ids = [one.id for one in all_of_them]
    by_id = {one.id: one for one in all_of_them}
    chosen = st.selectbox(
        _("Open kitchen"), ids, index=ids.index(found.kitchen.id), format_func=lambda one: by_id[one].name,
        key=f"settings_kitchen_{found.kitchen.id}",
    )  # fmt: skip
    if chosen != found.kitchen.id:
        session.store().choose(by_id[chosen])
        st.rerun()


def _example() -> None:
    st.subheader(_("Example"), anchor=False)
    st.write(_("**Everything in it is invented.** It opens as a kitchen of its own; yours stays as it is."))
    demos = list(first_start.DEMOS)
    site = st.radio(_("Which example?"), demos, format_func=lambda key: _(first_start.DEMOS[key]), key="demo_which")
    if st.button(_("Load the example"), key="demo_load"):
        try:
            kitchens.load_demo(session.store(), site, today=session.today())
        except InputFault as fault:
            st.warning(plain(said(str(fault))))
            return
        session.notice(_("The example is loaded. Everything in it is invented."))
        st.rerun()


def _own() -> None:
    st.subheader(_("Another kitchen"), anchor=False)
    with st.form("settings_new", border=False):
        name = st.text_input(_("Name of the kitchen"), max_chars=80, key="new_name")
        currency = st.text_input(_("Currency"), value="EUR", max_chars=8, key="new_currency")
        altitude = st.text_input(_("Height above the sea"), value="0 m", key="new_altitude")
        if st.form_submit_button(_("Open an empty kitchen"), key="new_make"):
            try:
                kitchens.make_empty_kitchen(
                    session.store(), name.strip(), currency=currency.strip(), altitude=altitude.strip()
                )
            except InputFault as fault:
                st.warning(plain(said(str(fault))))
                return
            session.notice(_("The kitchen is open. Its settings come first."))
            st.rerun()


def _bring_in() -> None:
    st.subheader(_("Bring in a whole kitchen"), anchor=False)
    st.write(_("A zip with stock, offers and site.toml, such as the one above. It opens as a kitchen of its own."))
    number = session.get(_COUNT, 0)
    file = st.file_uploader(_("Zip of a kitchen"), ["zip"], key=f"settings_zip_{number}")
    if file is None or not st.button(_("Bring it in"), key="settings_zip_book", type="primary"):
        return
    try:
        kitchens.bring_in_folder(session.store(), file.getvalue(), who=session.who())
    except BadTable as refused:
        count = len(refused.faults)
        text = ngettext("Nothing was brought in: {count} place to mend.",
                        "Nothing was brought in: {count} places to mend.", count)  # fmt: skip
        st.error(text.format(count=count), icon=":material/edit_note:")
        faults_table(refused.faults)
        return
    except InputFault as fault:
        st.warning(plain(said(str(fault))))
        return
    session.put(_COUNT, number + 1)
    session.notice(_("The kitchen is brought in and open."))
    st.rerun()


def _where() -> None:
    st.subheader(_("Where it all lies"), anchor=False)
    found, store = places(), session.store()
    rows = [
        [_("Store"), store.where],
        [_("What is not saved yet"), str(drafts_folder(store.where))],
        [_("Settings of the program"), str(found.settings)],
        [_("Log"), str(found.log)],
    ]
    result_table(rows, [_("What"), _("Place")], alt=_("Where things lie on this machine"))
