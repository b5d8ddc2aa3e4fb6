"""Results as tables and words for the pages; every figure comes ready from a service, here it is only written."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import streamlit as st

from optimizer.errors import Fault
from ui.plain import plain, shortened
from ui.words import _, capital, said

__all__ = ["bullets", "faults_table", "plain", "result_table", "shortened"]


def result_table(rows: Sequence[Sequence[str]], head: Sequence[str], *, alt: str, right: Iterable[int] = ()) -> None:
    """A table of results: cells as plain text, figures flush right, a name for screen readers.

    Parameters
    ----------
    rows : sequence of rows, each as long as `head`
        Text; figures already written by `ui.words`.
    head : sequence of str
        Our own words; units stand here.
    alt : str
        What the table shows.
    right : columns by index
        Those of figures.
    """
    import pandas as pd

    frame = pd.DataFrame([[plain(cell) for cell in row] for row in rows], columns=list(head))
    columns = [head[at] for at in right]
    styled = frame.style.set_properties(subset=columns, **{"text-align": "right"}) if columns else frame
    st.table(styled, border="horizontal", hide_index=True, alt=alt)


def bullets(sentences: Iterable[str]) -> None:
    """Sentences of the program, each once, in the reader's language."""
    lines = [f"- {plain(capital(said(sentence)), most=900)}" for sentence in dict.fromkeys(sentences)]
    if lines:
        st.markdown("\n".join(lines))


def nothing(text: str) -> None:
    """An empty state: what is missing and what to do."""
    st.info(text or _("Nothing here yet."))


def faults_table(faults: Sequence[Fault]) -> None:
    """All faults of tables: where, what was typed, what to do."""
    rows = [
        [
            fault.file if fault.line is None else _("{file}, line {line}").format(file=fault.file, line=fault.line),
            ", ".join(part for part in (fault.item, fault.column) if part),
            fault.value or "",
            said(fault.cure),
        ]
        for fault in faults
    ]
    head = [_("Where"), _("What"), _("Typed"), _("What to do")]
    result_table(rows, head, alt=_("Lines that need mending, and what to do"))
