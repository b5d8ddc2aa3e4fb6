"""What a visit to the pages holds: the store, the kitchen, who is there, what was typed, work that goes on.

The only file that touches Streamlit's session state. What matters lies in the store; here lies only what a reader
would not miss after a restart.
"""

from __future__ import annotations

import logging
import os
from collections.abc import Callable, Hashable
from datetime import date
from typing import Any, TypeVar, cast

import streamlit as st

from optimizer.errors import InputFault
from optimizer.inputs.book import load_book
from optimizer.inputs.models import Book, SiteFolder
from optimizer.services.kitchen import OpenKitchen, open_kitchen
from optimizer.services.kitchen import undo as undo_last
from optimizer.store import Store, open_store
from ui import access, preferences, words
from ui.jobs import Job, Shelf
from ui.pages import is_there, make_page
from ui.plain import plain
from ui.words import _

T = TypeVar("T")
log = logging.getLogger("panwise.pages")

# Keys of the session state; widgets carry keys of their own page.
LANGUAGE, NOTICE, TODAY_CHOICE, HAS_FRAME = "language", "notice", "today_choice", "has_frame"
JOBS, BEFORE = "jobs", "results_before"
_MOST_KEPT = 64  # results of all visits together


# ---- the store and the kitchen ---------------------------------------------------------------------------------------


@st.cache_resource(show_spinner=False)
def _open(where: str) -> Store:
    return open_store(where or None)


def store() -> Store:
    """The store, opened once for the whole server; whoever may only look gets one that refuses to write."""
    return access.store_for(person(), _open(os.environ.get("PANWISE_STORE", "")))


@st.cache_resource(show_spinner=False)
def book() -> Book:
    """The tables of fruits, goods, products and limits."""
    return load_book()


def kitchen() -> OpenKitchen | None:
    """The kitchen in use as it is now, read anew in each run; None where there is none yet."""
    found = open_kitchen(store())
    if found is not None:
        _back_up(os.environ.get("PANWISE_STORE", ""), date.today())
    return found


@st.cache_resource(show_spinner=False, max_entries=1)
def _back_up(where: str, day: date) -> None:
    """The backup of the day, before anything is changed on it; a visit goes on where none can be written."""
    try:
        _open(where).backup_if_due()
    except InputFault as fault:
        log.warning("The backup of the day was not made: %s", fault)


def need_kitchen() -> tuple[OpenKitchen, SiteFolder]:
    """The kitchen with its tables read; where that cannot be, the page says what to do and ends here."""
    from ui import first_start

    found = kitchen()
    if found is None:
        first_start.screen()
        st.stop()
    if found.folder is None:
        first_start.faults_screen(found)
        st.stop()
    return found, found.folder


def today() -> date:
    """The day that decides how old the fruit is."""
    return date.today()


# ---- who is there ----------------------------------------------------------------------------------------------------


def person() -> access.Person:
    """Who is at the page; the run ends with the way to sign in where somebody must."""
    return access.gate()


def who() -> str:
    """The address of the person, for the ledger; empty where nobody signs in."""
    return person().address


def can_write() -> bool:
    """Whether this person may change and book."""
    return person().can_write


# ---- language --------------------------------------------------------------------------------------------------------


def _chosen_language() -> str:
    return str(st.session_state.get(LANGUAGE, "")) or preferences.language()


def choose_language(code: str) -> None:
    """Take a language from now on; on a machine of one's own also after a restart."""
    st.session_state[LANGUAGE] = code
    if not access.is_sign_in_on():
        preferences.keep_language(code)


words.let_choose(_chosen_language)


# ---- small things that pages remember --------------------------------------------------------------------------------


def get(key: str, default: T) -> T:
    """What was remembered under a key, or the default."""
    return cast(T, st.session_state.get(key, default))


def put(key: str, value: object) -> None:
    """Remember until the tab is closed."""
    st.session_state[key] = value


def has(key: str) -> bool:
    """Whether anything is remembered under a key."""
    return key in st.session_state


def forget(key: str) -> None:
    """Remember no longer."""
    st.session_state.pop(key, None)


def notice(text: str, *, is_good: bool = True) -> None:
    """Say something once, at the head of the next page drawn."""
    st.session_state[NOTICE] = (text, is_good)


def show_notice() -> None:
    """What is to be said, once."""
    text, is_good = st.session_state.pop(NOTICE, ("", True))
    if text:
        (st.success if is_good else st.warning)(plain(str(text)))


# ---- moving about ----------------------------------------------------------------------------------------------------


def has_frame() -> bool:
    """Whether the whole program runs, or one page alone (in a test)."""
    return bool(st.session_state.get(HAS_FRAME))


def go(name: str) -> None:
    """Turn to another page; a page that runs alone stays where it is."""
    if has_frame():
        st.switch_page(make_page(name))


def link(name: str, label: str, *, icon: str | None = None) -> None:
    """A link to another page; the bare words where a page runs alone, or where there is no such page."""
    if has_frame() and is_there(name):
        st.page_link(make_page(name), label=label, icon=icon)
    else:
        st.text(label)


# ---- undo ------------------------------------------------------------------------------------------------------------


def undo() -> None:
    """Take back the last booking by a counter-booking, and say so."""
    try:
        booking = undo_last(store(), who=who())
    except InputFault as fault:
        notice(words.said(str(fault)), is_good=False)
        return
    notice(f"{words.said(booking.said)}." if booking else _("There is nothing to take back."))


def undo_button(key: str, *kinds: str) -> None:
    """Offers to take back what was booked last, where it is of one of these kinds, and names it."""
    found = kitchen()
    if found is None or not can_write():
        return
    last = store().last_booking(found.kitchen)
    if last is None or last.undone or last.undoes is not None or last.kind not in kinds:
        return
    label = _("Take back: {what}").format(what=words.said(last.said))
    st.button(plain(label, most=100), key=key, on_click=undo, icon=":material/undo:")


# ---- work that takes longer ------------------------------------------------------------------------------------------


@st.cache_resource(show_spinner=False)
def _shelf() -> Shelf:
    return Shelf(_MOST_KEPT)


def job(name: str, inputs: Hashable, work: Callable[[Job], Any]) -> Job:
    """The work of this name on these inputs: found again where it was done or is under way, else started now.

    Parameters
    ----------
    name : str
        Which work, such as "today".
    inputs : hashable
        All that the result depends on; other inputs stop what runs under the same name and start anew.
    work : callable
        Gets the job, to report progress and see whether it is to stop; its result becomes `job.result`.
    """
    mine: dict[str, Job] = st.session_state.setdefault(JOBS, {})
    now = mine.get(name)
    if now is not None and now.inputs == inputs:
        return now
    if now is not None:
        now.stop()
        if now.is_done:
            st.session_state.setdefault(BEFORE, {})[name] = now.result
    started = Job(work, inputs=inputs, shelf=_shelf(), shelf_key=(name, inputs))
    mine[name] = started
    started.start()
    return started


def again(name: str) -> None:
    """Let work that was stopped begin anew at the next run."""
    st.session_state.get(JOBS, {}).pop(name, None)


def result_before(name: str) -> Any | None:
    """What the same work said of other inputs before: to be shown as such while the new one is worked out."""
    return st.session_state.get(BEFORE, {}).get(name)


def state_key() -> Hashable:
    """What every result rests on besides its own inputs: which store, which kitchen, as of which booking, which day."""
    found = kitchen()
    return (store().where, found.kitchen.id if found else 0, found.version if found else 0, today())
