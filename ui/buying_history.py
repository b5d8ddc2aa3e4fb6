"""What was asked for an item over time, as the store remembers it."""

from __future__ import annotations

from itertools import groupby

import streamlit as st

from optimizer.services.buying_sheets import HeardPrice, heard_prices, history_sheet
from optimizer.services.kitchen import OpenKitchen
from ui import session
from ui.buying_charts import prices_over_time
from ui.buying_parts import downloads, item_name, money_figure
from ui.plain import plain
from ui.show import result_table
from ui.words import _, show_day

_MOST_LINES = 60


def section(opened: OpenKitchen) -> None:
    """A chart and a table of one item."""
    found = heard_prices(session.store(), opened.kitchen)
    st.subheader(_("What was asked for it before?"), anchor=False)
    if not found:
        st.write(_("No history yet: each price that you save is remembered with its day."))
        return
    items = sorted({one.item for one in found})
    item = st.selectbox(
        _("Which item?"), items, key="buying_history_item", format_func=item_name, persist_state="session", width=520
    )
    mine = [one for one in found if one.item == item]
    for (currency, unit), group in groupby(
        sorted(mine, key=lambda one: (one.currency, one.unit)), key=lambda one: (one.currency, one.unit)
    ):
        _draw(item, currency, unit, list(group))
    if len({one.on for one in mine}) < 2:
        st.caption(_("Only one day so far: the line grows with each price that you save."))
    rows = [
        [
            show_day(one.on, year=True),
            one.offer,
            one.supplier,
            f"{money_figure(one.price)} {one.currency} / {_per(one)}",
        ]
        for one in reversed(mine)
    ]
    head = [_("Day"), _("Offer"), _("From"), _("Price")]
    result_table(rows[:_MOST_LINES], head, alt=_("Prices of the item as they were heard"), right=(3,))
    downloads(history_sheet(mine), "buying_history_file", with_xlsx=True)


def _per(one: HeardPrice) -> str:
    return _("kg") if one.unit == "kg" else _("piece")


def _draw(item: str, currency: str, unit: str, mine: list[HeardPrice]) -> None:
    ordered = sorted(mine, key=lambda one: one.on)
    title = _("How did the price of {item} move?").format(item=item_name(item))
    st.markdown(f"**{plain(title)}**")
    told = "; ".join(f"{show_day(one.on)} {one.offer} {money_figure(one.price)}" for one in ordered[-12:])
    per = _("{currency} per kg") if unit == "kg" else _("{currency} per piece")
    prices_over_time(
        [(one.on.isoformat(), one.offer, one.price) for one in ordered], price=per.format(currency=currency),
        alt_text=f"{title} {told}",
    )  # fmt: skip
