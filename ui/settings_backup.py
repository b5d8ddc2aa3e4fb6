"""Backups: make one now, see which there are, bring one back after a second yes."""

from __future__ import annotations

from pathlib import Path

import streamlit as st

from optimizer.errors import InputFault
from optimizer.services.backup import SmallerBackup, list_backups, make_backup, restore_backup
from optimizer.store import Backup
from ui import session
from ui.plain import plain
from ui.show import result_table
from ui.words import _, ngettext, said, show_number, show_time

_ASKED = "backup_asked"  # the backup that waits for a second yes, and why a third is needed


def part() -> None:
    """The whole part of the page."""
    st.write(
        _(
            "A backup is made by itself on the first visit of each day, and read back to be sure of it. It holds all "
            "kitchens of this machine with their history."
        )
    )
    if session.can_write() and st.button(_("Back up now"), type="primary", key="backup_now",
                                         icon=":material/save_as:"):  # fmt: skip
        _now()
    kept = list_backups(session.store()).backups
    if not kept:
        st.info(_("No backup yet."))
        return
    head = [_("Made"), _("Kitchens"), _("Lots"), _("Batches"), _("Bookings"), _("Size"), _("Sound?")]
    rows = [
        [
            show_time(one.made_at), str(one.kitchens), str(one.lots), str(one.batches), str(one.bookings),
            _size(one), said(one.fault) or _("yes"),
        ]
        for one in kept
    ]  # fmt: skip
    result_table(rows, head, alt=_("Backups, the latest first"), right=range(1, 6))
    st.caption(_("They lie in {place}.").format(place=plain(str(kept[0].path.parent))))
    if session.can_write():
        _bring_back(kept)


def _size(one: Backup) -> str:
    return _("{size} MB").format(size=show_number(one.bytes / 1e6, "figure"))


def _now() -> None:
    with st.spinner(_("Copying, and reading the copy back ...")):
        try:
            made = make_backup(session.store()).made
        except InputFault as fault:
            st.warning(plain(said(str(fault))))
            return
    assert made is not None
    session.notice(_("Backed up and read back: {size} MB.").format(size=show_number(made.bytes / 1e6, "figure")))
    st.rerun()


def _bring_back(kept: tuple[Backup, ...]) -> None:
    sound = {str(one.path): one for one in kept if not one.fault}
    if not sound:
        return
    st.subheader(_("Bring one back"), anchor=False)
    chosen = st.selectbox(_("Which?"), list(sound), format_func=lambda path: _line(sound[path]), key="backup_which")
    with st.container(horizontal=True):
        st.button(_("Bring this one back ..."), key="backup_ask", on_click=session.put, args=(_ASKED, (chosen, "")))
        st.download_button(
            _("Save a copy elsewhere"), lambda: Path(chosen).read_bytes(), Path(chosen).name,
            "application/octet-stream", key="backup_copy", on_click="ignore", icon=":material/download:",
        )  # fmt: skip
    asked, smaller = session.get(_ASKED, ("", ""))
    if asked in sound:
        _second_yes(sound[asked], smaller)


def _line(one: Backup) -> str:
    lots = ngettext("{count} lot", "{count} lots", one.lots).format(count=one.lots)
    batches = ngettext("{count} batch", "{count} batches", one.batches).format(count=one.batches)
    return f"{show_time(one.made_at)} · {lots} · {batches} · {_size(one)}"


def _second_yes(one: Backup, smaller: str) -> None:
    with st.container(border=True):
        st.warning(
            _("Everything that is here now is replaced by the backup of {time}. What is here now is backed up first, "
              "so this can be taken back the same way.").format(time=show_time(one.made_at)),
            icon=":material/warning:",
        )  # fmt: skip
        if smaller:
            st.markdown(f"**{plain(smaller)}**")
        with st.container(horizontal=True):
            yes = _("Yes, bring it back although it holds less") if smaller else _("Yes, bring it back")
            if st.button(yes, type="primary", key="backup_yes"):
                _restore(one, is_sure=bool(smaller))
            st.button(_("No, leave everything as it is"), key="backup_no", on_click=session.forget, args=(_ASKED,))


def _restore(one: Backup, *, is_sure: bool) -> None:
    try:
        restore_backup(session.store(), one.path, even_if_smaller=is_sure)
    except SmallerBackup as fault:
        session.put(_ASKED, (str(one.path), said(str(fault))))
        st.rerun()
    except InputFault as fault:
        st.warning(plain(said(str(fault))))
        return
    session.forget(_ASKED)
    session.notice(_("Brought back: everything is as it was at {time}.").format(time=show_time(one.made_at)))
    st.rerun()
