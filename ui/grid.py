"""A table to type in. Every cell is text, and what was typed is read by the program's own readers, never by the grid.

Number columns of the grid turn a pasted `1,5` into 15, cut what lies above a limit and leave out lines with an empty
cell, all without a word; drop-down columns throw away what they do not know. So there are none of these here.
The grid forgets its own edits when the page changes, therefore what stands in it is carried over to a `Draft` after
each edit, and whenever the draft changes by other means the grid starts anew on it, under a new key.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import pandas as pd
import streamlit as st
from streamlit.elements.lib.column_types import ColumnConfig

from ui import session
from ui.draft import Draft, Lines, tidy
from ui.words import _

ROW_PX, HEAD_PX, BORDER_PX = 48, 40, 3  # rows for fingers
LEAST_ROWS_SEEN, MOST_ROWS_SEEN = 5, 13


@dataclass(frozen=True, kw_only=True)
class Head:
    """How one column is shown.

    Attributes
    ----------
    name, label : str
        In the table; on the page.
    tip : str
        What belongs into it, shown at its head.
    is_first : bool
        Shown also where only the most used columns are.
    """

    name: str
    label: str
    tip: str = ""
    width: int = 90  # least [px]; a wide window gives each its share of the rest
    is_first: bool = False
    is_pinned: bool = False
    is_number: bool = False


@dataclass(kw_only=True)
class _Shown:
    """What the grid was given last: all of it stays the same as long as the key stays, or the grid loses its edits."""

    table: pd.DataFrame
    height: int
    number: int
    seen: Lines
    heads: tuple[str, ...]

    def key(self, name: str) -> str:
        return f"{name}_grid_{self.number}"


def show(
    name: str,
    draft: Draft,
    heads: Sequence[Head],
    *,
    fixed: Mapping[str, Sequence[str]],
    alt: str,
    can_write: bool,
) -> Draft:
    """The grid on the page; returns the draft with what was just typed.

    Parameters
    ----------
    name : str
        Of the table; part of its keys.
    draft : Draft
        What stands in the table.
    heads : sequence of Head
        Columns to show, in their order. Those of the draft that are not shown keep what they hold.
    fixed : mapping
        Columns that are worked out and cannot be typed in: name -> a text for each line of the draft.
    alt : str
        What a screen reader says of the whole.
    can_write : bool
        False shows the table for reading only.
    """
    state = f"{name}_grid"
    shown: _Shown | None = session.get(state, None)
    names = tuple(head.name for head in heads)
    is_gone = shown is None or session.get(shown.key(name), None) is None  # back from another page
    if shown is None or is_gone or shown.seen != draft.lines or shown.heads != names:
        number = 1 if shown is None else shown.number + 1
        shown = _Shown(
            table=_frame(draft, fixed, can_write=can_write), number=number, seen=draft.lines, heads=names,
            height=_height(len(draft.lines), can_write=can_write),
        )  # fmt: skip
        session.put(state, shown)
    typed = st.data_editor(
        shown.table,
        key=shown.key(name),
        num_rows="dynamic" if can_write else "fixed",
        disabled=True if not can_write else list(fixed),
        hide_index=True,
        column_order=names,
        column_config={head.name: _config(head, is_fixed=head.name in fixed) for head in heads},
        row_height=ROW_PX,
        height=shown.height,
        placeholder="",
        alt=alt,
    )
    lines = tidy(_lines(typed, draft.columns))
    if lines == shown.seen:
        return draft
    if not any(session.get(shown.key(name), {}).values()):  # typed into before, and now without a single edit
        session.forget(state)  # the grid has forgotten them by itself: nobody took them back
        st.rerun()
    shown.seen = lines
    return draft.edited(lines)


def _frame(draft: Draft, fixed: Mapping[str, Sequence[str]], *, can_write: bool) -> pd.DataFrame:
    """The draft, and an empty line below it: a touch on the grid's own last line opens a cell, and a block pasted then
    would all go into that cell."""
    empty = [("",) * len(draft.columns)] if can_write else []
    table = pd.DataFrame([*draft.lines, *empty], columns=list(draft.columns), dtype=object)
    for column, texts in fixed.items():
        table[column] = [*texts, *("" for _line in empty)]
    return table.astype(object)


def _lines(table: pd.DataFrame, columns: Sequence[str]) -> list[tuple[str, ...]]:
    """Cells exactly as they stand; a cell nobody touched is empty."""
    return [
        tuple(cell if isinstance(cell, str) else "" for cell in row)
        for row in table[list(columns)].itertuples(index=False, name=None)
    ]


def _config(head: Head, *, is_fixed: bool) -> ColumnConfig:
    return st.column_config.TextColumn(
        head.label,
        help=head.tip or None,
        width=head.width,
        disabled=is_fixed,
        pinned=head.is_pinned,
        alignment="right" if head.is_number else "left",
    )


def _height(lines: int, *, can_write: bool) -> int:
    """Room for some new lines; more are scrolled to."""
    least, more = (LEAST_ROWS_SEEN, 2) if can_write else (1, 0)  # an empty line, and one to begin a new one
    rows = min(max(lines + more, least), MOST_ROWS_SEEN)
    return HEAD_PX + rows * ROW_PX + BORDER_PX


def count_of_changes(new: int, changed: int, removed: int) -> str:
    """How much is not saved yet, in words.

    >>> count_of_changes(1, 2, 0)
    '1 new, 2 changed'
    """
    parts = []
    if new:
        parts.append(_("{count} new").format(count=new))
    if changed:
        parts.append(_("{count} changed").format(count=changed))
    if removed:
        parts.append(_("{count} removed").format(count=removed))
    return ", ".join(parts)
