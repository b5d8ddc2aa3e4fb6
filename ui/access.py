"""Who is at the page, and what may they do: sign-in through an OpenID provider where `[auth]` is set up.

`gate()` runs before anything is read from the store. Without `[auth]` the pages listen on this machine only, and
whoever sits at it may do everything.
"""

from __future__ import annotations

import logging
import os
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import streamlit as st

from optimizer.errors import BadTable
from optimizer.services.access import Access, look_only, read_access
from optimizer.services.paths import access_file
from ui.words import _

if TYPE_CHECKING:
    from optimizer.store import Store

REQUIRED = "PANWISE_SIGN_IN"  # set by ui.start where the pages were started with sign-in
log = logging.getLogger("panwise.access")


@dataclass(frozen=True, kw_only=True)
class Person:
    """Somebody at the page; without sign-in the address is empty."""

    address: str = ""
    name: str = ""
    can_write: bool = True


def is_sign_in_on() -> bool:
    """`[auth]` is in the secrets, or was when the pages were started; a secrets file that cannot be read counts as on.

    So sign-in never goes off by itself: where its settings are gone or broken, nobody gets in.
    """
    if os.environ.get(REQUIRED):
        return True
    try:
        return "auth" in st.secrets
    except FileNotFoundError as error:  # also raised for a file that is there and cannot be read
        return getattr(error, "error_id", "no-secrets-found") != "no-secrets-found"


def who() -> Person | None:
    """The person at the page, or None where they must sign in first or are not on the list.

    Raises
    ------
    BadTable
        `access.toml` has faults.
    """
    if not is_sign_in_on():
        return Person()
    if not st.user.get("is_logged_in"):
        return None
    access = read_access(access_file())
    return _person(access, st.user.to_dict())


def _person(access: Access, claims: Mapping[str, object]) -> Person | None:
    address = str(claims.get("email") or "")
    confirmed = claims.get("email_verified")  # true, or, from some providers, the word
    right = access.right_of(address, is_confirmed=confirmed is True or confirmed == "true")
    if right is None:
        return None
    return Person(address=address, name=str(claims.get("name") or address), can_write=right == "write")


def gate() -> Person:
    """The person at the page; for anybody else the run stops at the way to sign in, or at not being on the list."""
    try:
        person = who()
    except BadTable as bad:
        for fault in bad.faults:  # without what stands there: it may be somebody's address
            log.warning("%s, %s: %s", fault.file, fault.column, fault.cure)
        st.title(_("Closed for now"))
        st.text(_("The list of people who may come in has a fault. Whoever keeps this machine finds it in the log."))
        st.stop()
    if person is None:
        _door()
        st.stop()
    return person


def _door() -> None:
    if not st.user.get("is_logged_in"):
        st.title(_("Who is there?"))
        st.text(_("This kitchen opens to people it knows."))
        for provider in _providers():
            label = _("Sign in") if provider is None else _("Sign in with {provider}").format(provider=provider)
            st.button(label, on_click=st.login, args=(provider,), type="primary", key=f"sign_in_{provider or ''}")
        return
    st.title(_("Not on the list"))
    address = str(st.user.get("email") or "")
    if address:
        st.text(
            _("You are signed in as {address}, and this kitchen does not know that address.").format(address=address)
        )
    else:
        st.text(_("You are signed in, but the sign-in service did not say your address."))
    st.text(_("Ask whoever keeps this kitchen to add you, then load the page anew."))
    sign_out()


def sign_out() -> None:
    """A button to sign out; nothing where there is no sign-in."""
    if is_sign_in_on():
        st.button(_("Sign out"), on_click=st.logout, key="sign_out")


def _providers() -> list[str | None]:
    try:
        auth = st.secrets["auth"]
    except (KeyError, FileNotFoundError):
        return []
    named = [name for name, section in auth.items() if isinstance(section, Mapping) and "client_id" in section]
    return list(named) or [None]


def store_for(person: Person, store: Store) -> Store:
    """The store as the person may use it: whoever may only look gets one that refuses to write, whatever asks it."""
    return store if person.can_write else look_only(store)
