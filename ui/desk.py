"""The unsaved work of one table in this window: found again after a reload, kept after each change, joined to others'.

What is typed lives in the session; a copy lies in a file (`optimizer.services.drafts`), so that neither a reload of the
tab nor a restart of the machine loses it. What no open window holds any more is taken over by the next that opens.
"""

from __future__ import annotations

import logging
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from streamlit.runtime import exists as has_server
from streamlit.runtime import get_instance
from streamlit.runtime.scriptrunner import get_script_run_ctx

from optimizer.services import drafts
from ui import session
from ui.draft import Difference, Draft, Lines, differences, joined, tidy

log = logging.getLogger("panwise.pages")


@dataclass(frozen=True, kw_only=True)
class Met:
    """What somebody else saved while something was being typed here.

    Attributes
    ----------
    theirs : tuple of Difference
        All of it.
    both : tuple of Difference
        What was changed here too; the text typed here stands in the table.
    """

    theirs: tuple[Difference, ...] = ()
    both: tuple[Difference, ...] = ()


@dataclass(kw_only=True)
class OpenDesk:
    """A table that is being typed in, with where its unsaved work is kept.

    Attributes
    ----------
    draft : Draft
        As it stands.
    found_at : datetime or None
        The work was typed before this window opened, last at this time.
    has_just_met : bool
        Somebody else's work came in during this very run: look at it before anything is saved.
    is_kept : bool
        False where the file could not be written.
    """

    place: drafts.Desk
    code: str
    draft: Draft
    met: Met
    found_at: datetime | None = None
    has_just_met: bool = False
    is_kept: bool = True

    @property
    def key(self) -> str:
        return f"desk_{self.place.kitchen}_{self.place.table}_{self.place.who}"

    def put(self, draft: Draft) -> None:
        """Take a new state of the table, and keep it."""
        if draft == self.draft:
            return
        is_same = (draft.lines, draft.saved, draft.version) == (self.draft.lines, self.draft.saved, self.draft.version)
        self.draft = draft
        if not is_same:
            self._keep()
        if not draft.is_changed:
            self.met = Met()
        session.put(self.key, self)

    def saved(self) -> None:
        """All of it is in the store now: the next look begins from there."""
        self._drop()
        session.forget(self.key)

    def _keep(self) -> None:
        if not self.draft.is_changed:
            self._drop()
            return
        try:
            drafts.keep_draft(self.place, _holder(), _content(self.draft))
            self.is_kept = True
        except OSError:
            log.warning("Unsaved work could not be kept in a file")
            self.is_kept = False

    def _drop(self) -> None:
        try:
            drafts.drop_draft(self.place, _holder())
            self.is_kept = True
        except OSError:
            log.warning("Unsaved work could not be dropped from its file")


def open_desk(
    place: drafts.Desk, columns: Sequence[str], code: str, saved: Sequence[Sequence[str]], *, version: int
) -> OpenDesk:
    """The desk of a table: what was being typed, on top of what is saved now.

    Parameters
    ----------
    place : drafts.Desk
        Whose work on what.
    columns : sequence of str
        Of the table.
    code : str
        Column by which lines are known.
    saved : sequence of lines
        The table as the store has it now.
    version : int
        Its last booking.
    """
    lines = tidy(saved)
    fresh = Draft.of(columns, lines, version=version)
    desk = OpenDesk(place=place, code=code, draft=fresh, met=Met())
    found: OpenDesk | None = session.get(desk.key, None)
    if found is None or found.draft.columns != fresh.columns:
        found = _left_behind(desk) or desk
        session.put(desk.key, found)
    found.has_just_met = False
    if found.draft.version != version:
        _catch_up(found, lines, fresh)
    return found


def _catch_up(desk: OpenDesk, lines: Lines, fresh: Draft) -> None:
    """Something was booked since: by the person here, by somebody else, or a batch that used a lot."""
    before = desk.draft
    if not before.is_changed:
        desk.put(fresh)
        return
    new, both = joined(before, desk.code, lines, version=fresh.version)
    theirs = differences(before.columns, desk.code, before.saved, lines)
    if theirs:
        desk.met = Met(theirs=(*desk.met.theirs, *theirs), both=(*desk.met.both, *both))
        desk.has_just_met = True
    desk.put(new)


def _left_behind(desk: OpenDesk) -> OpenDesk | None:
    """The latest work that no open window holds; it is taken over."""
    for kept in drafts.kept_drafts(desk.place):
        if kept.holder != _holder() and _is_open(kept.holder):
            continue
        draft = _draft_of(kept.content, desk.draft.columns)
        if draft is None or not draft.is_changed:
            continue
        taken = OpenDesk(place=desk.place, code=desk.code, draft=draft, met=Met(), found_at=kept.at)
        taken._keep()
        if taken.is_kept and kept.holder != _holder():
            drafts.drop_draft(desk.place, kept.holder)
        return taken
    return None


def held_elsewhere(place: drafts.Desk) -> bool:
    """Whether another open window of the same person holds unsaved work on this table."""
    return any(kept.holder != _holder() and _is_open(kept.holder) for kept in drafts.kept_drafts(place))


# ---- JSON ------------------------------------------------------------------------------------------------------------


def _content(draft: Draft) -> dict[str, Any]:
    return {
        "columns": list(draft.columns),
        "saved": [list(line) for line in draft.saved],
        "lines": [list(line) for line in draft.lines],
        "version": draft.version,
    }


def _draft_of(content: Mapping[str, Any], columns: tuple[str, ...]) -> Draft | None:
    """The draft that was kept, under today's columns; None where it holds something else."""
    try:
        kept = [str(column) for column in content["columns"]]
        saved, lines = (
            tuple(tuple(str(dict(zip(kept, line, strict=True)).get(name, "")) for name in columns) for line in table)
            for table in (content["saved"], content["lines"])
        )
        return Draft.of(columns, saved, version=int(content["version"]), lines=lines)
    except (KeyError, TypeError, ValueError):
        return None


# ---- windows ---------------------------------------------------------------------------------------------------------


def _holder() -> str:
    """This window's own name."""
    context = get_script_run_ctx()
    return re.sub(r"[^A-Za-z0-9-]", "-", context.session_id if context else "no-window")[:64]


def _is_open(holder: str) -> bool:
    return has_server() and get_instance().is_active_session(holder) is True
