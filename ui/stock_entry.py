"""One new line by a few fields, for fingers: what a lot or an offer needs at least. It goes into the table, unsaved."""

from __future__ import annotations

import streamlit as st

from optimizer.inputs.goods import columns_of
from optimizer.services.tables_out import item_names
from ui import session
from ui.desk import OpenDesk
from ui.stock_columns import Which, label
from ui.words import N_, _

_FIELDS: dict[Which, tuple[str, ...]] = {
    "stock": ("lot", "item", "condition", "on_hand", "worth_uncooked", "received", "kept_at", "brix", "ph"),
    "offers": ("offer", "item", "supplier", "price", "pack", "delivery_days", "valid_until"),
}
_SUCH_AS = {
    "lot": "L-17", "offer": "O-17", "on_hand": "40 kg", "worth_uncooked": "0.10", "received": "2026-07-03",
    "kept_at": "4 degC", "brix": "13.1", "ph": "3.35", "price": "0.92", "pack": "25 kg", "delivery_days": "2",
    "valid_until": "2026-07-31",
}  # fmt: skip
_CONDITIONS = ("sound", "soft", "bruised", "split", "over-ripe", "under-ripe", "windfall")
_OPEN_COUNT = "stock_entry_count"
_TITLES = {"stock": N_("Add a lot"), "offers": N_("Add an offer")}


def new_line(desk: OpenDesk, which: Which) -> None:
    """The button with its form."""
    with st.popover(_(_TITLES[which]), icon=":material/add:"), st.form(f"{which}_entry", border=False):
        number = session.get(_OPEN_COUNT, 0)  # a new key empties the fields after each line
        typed = {name: _field(name, f"{which}_entry_{name}_{number}") for name in _FIELDS[which]}
        if st.form_submit_button(_("Put it into the table"), type="primary", key=f"{which}_entry_put"):
            line = tuple(typed.get(name, "") for name in columns_of(which))
            if typed["item"] or typed[_FIELDS[which][0]]:
                desk.put(desk.draft.edited([*desk.draft.lines, line]))
                session.put(_OPEN_COUNT, number + 1)
                st.rerun()
            st.warning(_("Give at least a code or an item."))


def _field(name: str, key: str) -> str:
    if name == "item":
        found = st.selectbox(
            label(name), _items(), index=None, accept_new_options=True, key=key,
            placeholder=_("Choose, or type a name"),
        )  # fmt: skip
        return found or ""
    if name == "condition":
        found = st.selectbox(
            label(name), _CONDITIONS, index=None, accept_new_options=True, key=key,
            placeholder=_("Choose one, or type shares: soft 60 %, bruised 40 %"),
        )  # fmt: skip
        return found or ""
    if name == "received":
        return st.text_input(label(name), value=session.today().isoformat(), key=key)
    such_as = _SUCH_AS.get(name)
    hint = _("such as {example}").format(example=such_as) if such_as else None
    return st.text_input(label(name), placeholder=hint, key=key)


def _items() -> tuple[str, ...]:
    return item_names(session.book())
