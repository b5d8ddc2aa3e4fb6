"""What the parts of the buyer's page share: a question that is worked out on demand, tables with a file beside them."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from optimizer.errors import BadTable
from optimizer.exports.cells import Sheet
from optimizer.services.buying_sheets import sheet_file
from optimizer.services.offers import Offers
from ui import session
from ui.jobs import Job
from ui.plain import plain
from ui.show import faults_table
from ui.stock_files import XLSX, has_decimal_comma
from ui.waiting import wait_for
from ui.words import _, said, show_mass, show_number


def names_of(found: Offers) -> dict[str, str]:
    """Code -> item of every offer and lot."""
    job = found.order.job
    return {lot.lot: lot.item for lot in job.lots} | {offer.offer: offer.item for offer in job.offers}


def units_of(found: Offers) -> dict[str, str]:
    """Code -> kg or piece."""
    return {offer.offer: offer.unit for offer in found.order.job.offers}


def item_name(item: str) -> str:
    """An item in the reader's language."""
    return said(item)


def amount(units: float, unit: str) -> str:
    """Kilograms, or pieces."""
    if unit == "kg":
        return show_mass(units) if units > 1e-6 else _("none")
    return _("{count} pieces").format(count=show_number(units, "kg", places=0))


def money_figure(value: float | None) -> str:
    """A price without its unit: three places below ten, so that a tenth of a cent still shows."""
    return show_number(value, "price", places=3 if value is not None and abs(value) < 10.0 else 2)


def downloads(sheet: Sheet, key: str, *, with_xlsx: bool = False) -> None:
    """The table as a file."""
    comma = has_decimal_comma()
    with st.container(horizontal=True):
        st.download_button(
            _("As CSV"), lambda: sheet_file(sheet, "csv", decimal_comma=comma), f"{sheet.name}.csv", "text/csv",
            key=f"{key}_csv", on_click="ignore", icon=":material/download:",
        )  # fmt: skip
        if with_xlsx:
            st.download_button(
                _("As XLSX"), lambda: sheet_file(sheet, "xlsx"), f"{sheet.name}.xlsx", XLSX, key=f"{key}_xlsx",
                on_click="ignore", icon=":material/download:",
            )  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Reply:
    """A result with the offers it was worked out for; `is_before`: for other inputs than those on the page."""

    result: Any
    found: Offers
    is_before: bool


def on_demand(
    name: str, inputs: Hashable, work: Callable[[Job], Any], words: str, found: Offers, *, button: str = "",
    is_old: bool = False,
) -> Reply | None:  # fmt: skip
    """What takes some seconds: a button (or none: begun at once), progress and Stop, the result.

    What was worked out for other inputs stays, and is marked as such. None while there is no result at all.
    """
    asked = session.get(f"{name}_asked", None)
    before: Reply | None = session.get(f"{name}_last", None)
    if button and asked != inputs:
        st.button(
            button, key=f"{name}_ask", disabled=is_old, on_click=session.put, args=(f"{name}_asked", inputs),
            icon=":material/calculate:",
        )  # fmt: skip
        return _of_before(before)
    if is_old:
        return _of_before(before)
    job = session.job(name, inputs, work)
    job.wait(0.3)
    if job.is_running or job.was_stopped:
        wait_for(job, name, words)
        return _of_before(before)
    if job.fault is not None:
        if isinstance(job.fault, BadTable):
            faults_table(job.fault.faults)
        else:
            st.warning(plain(said(str(job.fault))))
        return None
    if not job.is_done:
        st.warning(_("This could not be worked out. The log tells more."))
        return None
    reply = Reply(result=job.result, found=found, is_before=False)
    session.put(f"{name}_last", reply)
    return reply


def _of_before(before: Reply | None) -> Reply | None:
    if before is None:
        return None
    st.caption(_("Below: the answer to what was asked before."))
    return replace(before, is_before=True)


def drawn_in(name: str, reply: Reply) -> DeltaGenerator:
    """The place of a result: paler where it answers what was asked before."""
    return st.container(key=f"before_{name}" if reply.is_before else f"now_{name}")


def sentences(texts: Sequence[str]) -> None:
    """Sentences of the program in one small paragraph."""
    if texts:
        with st.expander(_("How it was worked out"), icon=":material/info:"):
            st.write(plain(" ".join(said(text) for text in texts), most=1500))
