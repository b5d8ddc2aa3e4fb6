"""What a reader sees while there is no kitchen yet, or one whose tables cannot be read."""

from __future__ import annotations

from collections.abc import Callable

import streamlit as st

from optimizer.errors import InputFault
from optimizer.services import kitchen as kitchens
from ui import session
from ui.plain import plain
from ui.show import faults_table
from ui.words import N_, _, said

DEMOS = {
    "ombrey_hollow": N_("Ombrey Hollow: orchard fruit, 420 m, rules of the European Union"),
    "sanduri_flats": N_("Sanduri Flats: mango, guava and papaya, 1650 m, rules of India"),
}
_STANDARDS = ("codex", "eu", "uk", "us", "india", "canada", "anz", "none")
_REFUSED = "first_start_refused"


def standard_name(key: str) -> str:
    """A standard by the place it holds in.

    >>> standard_name("codex")
    'Codex Alimentarius (international)'
    """
    names = {
        "codex": _("Codex Alimentarius (international)"),
        "eu": _("European Union"),
        "eu-2001": _("European Union, rules until 13 June 2026"),
        "eu-2026": _("European Union, rules from 14 June 2026"),
        "uk": _("United Kingdom"),
        "us": _("United States"),
        "india": _("India"),
        "canada": _("Canada"),
        "anz": _("Australia and New Zealand"),
        "none": _("No standard: our own defaults only"),
    }
    return names.get(key, key)


def screen() -> None:
    """Two ways to begin: a kitchen that is invented, to look around, or one's own."""
    st.title(_("Welcome"))
    st.write(
        _(
            "panwise says what to cook from the fruit you have, what a jar costs, what to buy, and what stands in "
            "the way. It needs a kitchen to think about."
        )
    )
    if not session.can_write():
        st.info(_("There is no kitchen yet, and you may only look. Ask somebody who may write to begin."))
        return
    refused = session.get(_REFUSED, "")
    if refused:
        st.warning(plain(refused))
    look, own = st.columns(2, border=True)
    with look:
        st.subheader(_("Look around first"), anchor=False)
        st.write(
            _(
                "An example kitchen with fruit on the shelf. **Everything in it is invented**: the place, the "
                "suppliers, the lots, the prices. You can change all of it and nothing can break."
            )
        )
        site = st.radio(_("Which example?"), list(DEMOS), format_func=lambda key: _(DEMOS[key]), key="first_demo")
        st.button(_("Load the example"), type="primary", key="first_load_demo", on_click=_load_demo, args=(site,))
    with own:
        st.subheader(_("Begin with your own"), anchor=False)
        with st.form("first_own", border=False):
            name = st.text_input(_("Name of your kitchen"), max_chars=80, key="first_name")
            currency = st.text_input(
                _("Currency"), value="EUR", max_chars=8, key="first_currency", help=_("A code in letters, such as EUR.")
            )
            altitude = st.text_input(
                _("Height above the sea"), value="0 m", key="first_altitude",
                help=_("Water boils cooler higher up, and jars are processed longer. For example 420 m or 1400 ft."),
            )  # fmt: skip
            standard = st.selectbox(
                _("Whose food law holds?"), _STANDARDS, format_func=standard_name, key="first_standard"
            )
            if st.form_submit_button(_("Open an empty kitchen"), key="first_make"):
                _make(name, currency, altitude, standard)


def _try(act: Callable[[], object], success: str) -> bool:
    try:
        act()
    except InputFault as fault:
        session.put(_REFUSED, said(str(fault)))
        return False
    session.forget(_REFUSED)
    session.notice(success)
    return True


def _load_demo(site: str) -> None:
    _try(
        lambda: kitchens.load_demo(session.store(), site, today=session.today()),
        _("The example is loaded. Everything in it is invented."),
    )


def _make(name: str, currency: str, altitude: str, standard: str) -> None:
    if not name.strip():
        st.warning(_("Give your kitchen a name, so that a second one can be told from it."))
        return
    made = _try(
        lambda: kitchens.make_empty_kitchen(
            session.store(), name.strip(), currency=currency.strip(), altitude=altitude.strip(), standard=standard
        ),
        _("Your kitchen is open. Type or bring in your stock next."),
    )
    if made and session.has_frame():
        session.go("stock")
    st.rerun()


def faults_screen(found: kitchens.OpenKitchen) -> None:
    """The tables hold something that cannot be read: all of it, and where to mend it."""
    st.title(_("Some lines need mending"))
    st.write(_("Nothing is lost, but nothing can be worked out before these lines can be read:"))
    faults_table(found.faults)
    session.link("stock", _("To stock and prices"))
    session.link("settings", _("To settings"))
