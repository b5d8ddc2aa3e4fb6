"""The pages of panwise: the menu, and one guard around each page. Started by `panwise open`."""

from __future__ import annotations

import logging
from pathlib import Path

import streamlit as st

from optimizer.errors import InputFault
from optimizer.services.paths import places
from ui import look, session
from ui.jobs import log_trace
from ui.pages import menu
from ui.plain import plain
from ui.words import _, said

log = logging.getLogger("panwise.pages")
# A file of our own: a built-in icon would be fetched from another machine.
ICON = str(Path(__file__).with_name("icon.svg"))


def main() -> None:
    """Draw the menu and the page that was asked for."""
    st.set_page_config(page_title="panwise", page_icon=ICON, layout="wide")
    look.put_on()
    try:
        session.person()  # before anything is read
        session.put(session.HAS_FRAME, True)
        st.navigation(menu(), position="top").run()
    except Exception as error:
        calm(error)


def calm(error: Exception) -> None:
    """What went wrong in words; where it went wrong in the log."""
    if isinstance(error, InputFault):
        st.warning(plain(said(str(error))))
        return
    log_trace(log, "A page could not be drawn", error)
    st.warning(
        _(
            "This page could not be drawn. What you saved is safe. Load the page anew; if it happens again, the log "
            "tells more to whoever looks after this program."
        )
    )
    st.caption(_("The log: {place}").format(place=plain(str(places().log))))


if __name__ == "__main__":
    main()
