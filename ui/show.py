"""Results as tables and words for the pages; every figure comes ready from a service, here it is only written."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from zlib import crc32

import pandas as pd
import streamlit as st

from optimizer.errors import Fault
from optimizer.services.windows import Window
from ui.charts import Bullet, bullet_lines
from ui.look import figures_key
from ui.plain import plain, shortened
from ui.words import N_, _, capital, cited, said, show_number

__all__ = ["bullets", "faults_table", "listed", "plain", "product_name", "result_table", "shortened"]


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
    cells = [[plain(cell) for cell in row] for row in rows]
    with st.container(key=figures_key(f"{crc32(alt.encode()):x}", tuple(right))):
        st.table(pd.DataFrame(cells, columns=list(head)), border="horizontal", hide_index=True, alt=alt)


def listed(sentences: Iterable[str]) -> str:
    """Sentences of the program, each once, in the reader's language, as a Markdown list."""
    return "\n".join(f"- {plain(capital(said(sentence)), most=900)}" for sentence in dict.fromkeys(sentences))


def bullets(sentences: Iterable[str]) -> None:
    """Sentences of the program as a list; nothing where there are none."""
    lines = listed(sentences)
    if lines:
        st.markdown(lines)


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


def product_name(title: str) -> str:
    """A product or legal name in the reader's language."""
    return said(title)


WINDOW_NAMES = {
    "solids": N_("Sugar thickness (°Brix)"),
    "ph": N_("Sourness (pH)"),
    "fruit": N_("Fruit (g per 100 g)"),
    "fruit_to_sweetener": N_("Fruit to sugar (kg per kg)"),
    "acid": N_("Acid (as citric, %)"),
    "set": N_("Setting power (% of need)"),
    "lm_pectin": N_("Calcium-setting pectin (%)"),
    "calcium": N_("Calcium (mg per g pectin)"),
    "crystals": N_("Crystals (% of saturation)"),
    "water_activity": N_("Free water (water activity)"),
    "invert": N_("Invert sugar (% of sugars)"),
    "so2": N_("Sulphite (SO2, mg/kg)"),
    "benzoic": N_("Benzoate (mg/kg)"),
    "sorbic": N_("Sorbate (mg/kg)"),
    "added_pectin": N_("Added pectin (%)"),
    "added_acid": N_("Added acid (%)"),
    "added_water": N_("Added water (kg per 100 kg)"),
    "boil_off": N_("Boiled off (kg per 100 kg)"),
}
STATES = {"inside": N_("inside"), "at the limit": N_("at the limit"), "outside": N_("outside")}


def _figure(window: Window, value: float | None) -> str:
    return show_number(value, "figure", places=window.places)


def windows_chart(windows: Sequence[Window]) -> None:
    """Limits as bullet lines, and the same as a table for who prefers to read."""
    bullets_ = [
        Bullet(
            name=_(WINDOW_NAMES[window.id]),
            word=f"{_figure(window, window.value)}  {_(STATES[window.state])}",
            state=window.state,
            value=window.value,
            least=window.least,
            most=window.most,
            least_text=_figure(window, window.least),
            most_text=_figure(window, window.most),
        )
        for window in windows
    ]
    sentence = "; ".join(f"{bullet.name}: {bullet.word}" for bullet in bullets_)
    bullet_lines(bullets_, _("Limits and where the batch lies. {lines}").format(lines=sentence))


def windows_table(windows: Sequence[Window]) -> None:
    """All limits with their bounds and where the tighter one comes from."""
    rows = [
        [
            _(WINDOW_NAMES[window.id]),
            _figure(window, window.least),
            _figure(window, window.value),
            _figure(window, window.most),
            _(STATES[window.state]),
            cited(window.source),
        ]
        for window in windows
    ]
    head = [_("Limit"), _("At least"), _("Found"), _("At most"), _("Lies"), _("Source of the nearer bound")]
    result_table(rows, head, alt=_("All limits of this batch"), right=(1, 2, 3))
