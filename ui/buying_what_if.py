"""What if prices move: several together by hand, thousands of times by chance, or as a table says."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from typing import Final

import streamlit as st

from optimizer.errors import InputFault
from optimizer.market.scenarios import Scenarios
from optimizer.services.buying import items_on_offer
from optimizer.services.buying_sheets import scenarios_sheet
from optimizer.services.buying_what_if import (
    Moved,
    Spreads,
    fruit_scenarios,
    moved_prices,
    order_at,
    parse_spread_wishes,
    spread_scenarios,
    table_scenarios,
)
from optimizer.services.offers import Offers
from optimizer.services.what_if import SCENARIOS, SEED
from ui import session
from ui.buying_charts import shares
from ui.buying_parts import amount, downloads, drawn_in, item_name, money_figure, names_of, on_demand, sentences
from ui.jobs import Job
from ui.plain import plain, shortened
from ui.show import result_table
from ui.words import N_, _, decimal_mark, said, show_money, show_number, show_percent

MOVED, DRAWN = "buying_moved", "buying_scenarios"
_KEEP: Final = "session"
_KINDS = {
    "spreads": N_("Prices that move by chance"),
    "table": N_("Prices from a table"),
    "fruit": N_("Fruit as it may turn out"),
}
_MEANING = {
    0.05: N_("1 in 20 is cheaper"), 0.25: N_("1 in 4 is cheaper"), 0.50: N_("half are cheaper"),
    0.75: N_("1 in 4 is dearer"), 0.95: N_("1 in 20 is dearer"),
}  # fmt: skip
_SMALL = 0.005
_MOST_DRIVERS = 8


def section(found: Offers, inputs: Hashable, *, is_old: bool) -> None:
    """Both questions."""
    _together(found, inputs, is_old=is_old)
    _by_chance(found, inputs, is_old=is_old)


def _fields(found: Offers, chosen: list[str], key: str, placeholder: str) -> dict[str, str]:
    """A text field for each of some items or offers."""
    typed: dict[str, str] = {}
    columns = st.columns(3)
    for at, name in enumerate(chosen):
        label = plain(_label(found, name), most=60)
        text = columns[at % 3].text_input(label, key=f"{key}_{name}", placeholder=placeholder, persist_state=_KEEP)
        typed[name] = text or ""
    return typed


def _label(found: Offers, name: str) -> str:
    items = names_of(found)
    return f"{name}: {item_name(items[name])}" if name in items else item_name(name)


def _choose(found: Offers, label: str, key: str) -> list[str]:
    """Items and codes of this kitchen; what was chosen and is gone is no longer chosen."""
    there = items_on_offer(found)
    before: list[str] = session.get(key, [])
    session.put(key, [name for name in before if name in there])
    chosen: list[str] = st.multiselect(
        label, there, key=key, format_func=lambda name: _label(found, name), persist_state=_KEEP,
        placeholder=_("choose items or offers"),
    )  # fmt: skip
    return chosen


# ---- by hand ---------------------------------------------------------------------------------------------------------


def _together(found: Offers, inputs: Hashable, *, is_old: bool) -> None:
    st.subheader(_("What if several prices move together?"), anchor=False)
    chosen = _choose(found, _("Which prices move?"), "buying_moves")
    if not chosen:
        st.caption(_("For each that you choose, type +10 %, −5 % or the new price; the order is made anew at once."))
        return
    typed = _fields(found, chosen, "buying_move", _("+10 % or 0.95"))
    try:
        prices = moved_prices(found.order.job, typed, decimal_mark())
    except InputFault as fault:
        st.warning(plain(said(str(fault)), most=300))
        return
    if not prices:
        return
    order = found.order
    reply = on_demand(
        MOVED, (inputs, tuple(sorted(prices.items()))), lambda run: order_at(order, prices, run.report),
        N_("Making the order anew"), found, is_old=is_old,
    )  # fmt: skip
    if reply is not None:
        with drawn_in("moved", reply):
            _moved(reply.result, reply.found)


def _moved(result: Moved, found: Offers) -> None:
    currency = found.currency
    one, two, three = st.columns(3)
    one.metric(_("All together now"), show_money(result.now.total, currency))
    two.metric(_("At these prices"), show_money(result.then.total, currency))
    three.metric(_("Dearer by") if result.dearer >= 0.0 else _("Cheaper by"), show_money(abs(result.dearer), currency))
    st.write(_("The same offers are taken.") if result.is_same_choice else _("Other offers are taken: see the table."))
    rows = [
        [
            one.id, item_name(one.item), "" if one.price_now is None else money_figure(one.price_now),
            "" if one.price_then is None else money_figure(one.price_then), _some(one.amount_now, one.unit),
            _some(one.amount_then, one.unit),
        ]
        for one in result.differences
    ]  # fmt: skip
    head = [_("Code"), _("What"), _("Price now"), _("Price then"), _("Takes now"), _("Takes then")]
    result_table(rows, head, alt=_("The order now and at the other prices"), right=(2, 3, 4, 5))


def _some(units: float, unit: str) -> str:
    return amount(units, unit) if units > 0.0 else "–"


# ---- by chance -------------------------------------------------------------------------------------------------------


def _by_chance(found: Offers, inputs: Hashable, *, is_old: bool) -> None:
    st.subheader(_("What may it cost, and what will still be taken?"), anchor=False)
    kind = st.segmented_control(
        _("What moves?"), list(_KINDS), default="spreads", required=True, key="buying_kind", persist_state=_KEEP,
        format_func=lambda key: _(_KINDS[key]),
    )  # fmt: skip
    job, words = found.order.job, N_("Working out scenarios: {done} of {total} steps")
    asked: Hashable
    work: Callable[[Job], Scenarios]
    if kind == "table":
        file = _upload()
        if file is None:
            return
        name, raw = file
        asked, work = (name, raw), lambda run: table_scenarios(job, name, raw, run.report)
    else:
        wishes = _wishes(found, with_spreads=kind == "spreads")
        if wishes is None:
            return
        if kind == "fruit":
            asked, work = (
                ("fruit", wishes.count, wishes.seed),
                lambda run: fruit_scenarios(job, wishes.count, wishes.seed, run.report),
            )
            words = N_("Working out scenarios of the fruit; Stop takes hold at the end")
        else:
            asked, work = wishes, lambda run: spread_scenarios(job, wishes, run.report)
    reply = on_demand(
        DRAWN, (inputs, asked), work, words, found, button=_("Work out the scenarios"), is_old=is_old
    )  # fmt: skip
    if reply is not None:
        with drawn_in("scenarios", reply):
            _scenarios(reply.result, reply.found)


def _upload() -> tuple[str, bytes] | None:
    st.caption(
        _(
            "A CSV or XLSX file: the first line names offers or items, each line below is one set of prices per kg. An "
            "empty cell means that the price stays."
        )
    )
    file = st.file_uploader(_("File with prices"), ["csv", "xlsx", "tsv", "txt", "xls"], key="buying_upload")
    return None if file is None else (shortened(file.name), file.getvalue())


def _wishes(found: Offers, *, with_spreads: bool) -> Spreads | None:
    typed: dict[str, str] = {}
    every, together = "", ""
    for key, value in (("buying_count", str(SCENARIOS)), ("buying_seed", str(SEED)), ("buying_every", "10 %"),
                       ("buying_together", "0")):  # fmt: skip
        if not session.has(key):
            session.put(key, value)
    if with_spreads:
        chosen = _choose(found, _("Which prices have a spread of their own?"), "buying_spreads")
        typed = _fields(found, chosen, "buying_spread", _("spread, such as 10 %"))
    columns = st.columns(4)
    if with_spreads:
        every = columns[0].text_input(_("Spread of all others"), key="buying_every", persist_state=_KEEP) or ""
        together = columns[1].text_input(
            _("Move together, −1 to 1"), key="buying_together", persist_state=_KEEP,
            help=_("The correlation between each two of them: 0 each by itself, 1 all as one."),
        ) or "0"  # fmt: skip
    count = columns[2].text_input(_("How many scenarios?"), key="buying_count", persist_state=_KEEP) or ""
    seed = columns[3].text_input(
        _("Seed"), key="buying_seed", persist_state=_KEEP, help=_("The same seed draws the same scenarios.")
    )
    try:
        return parse_spread_wishes(
            typed, every if with_spreads else "10 %", together or "0", count, seed or "", decimal_mark()
        )
    except InputFault as fault:
        st.warning(plain(said(str(fault)), most=300))
        return None


def _scenarios(result: Scenarios, found: Offers) -> None:
    currency, items = found.currency, names_of(found)
    st.markdown(f"**{_('In what share of scenarios is each offer taken?')}**")
    bars = [
        (_named(one.name, items), one.share,
         show_percent(one.share) + (f", {amount(one.mean_kg_if_taken, 'kg')}" if one.share > 0.0 else ""))
        for one in result.taken
    ]  # fmt: skip
    told = "; ".join(f"{name} {word}" for name, _share, word in bars)
    shares(bars, _("Share of scenarios in which each offer is taken. {lines}").format(lines=told))
    st.caption(_("Beside the share: how much on average where it is taken, by the kilogram, without packs."))
    left, right = st.columns(2, gap="large")
    with left:
        st.markdown(f"**{_('What may it cost?')}**")
        rows = [
            [_(_MEANING[share]), show_money(cost, currency)] for share, cost in result.quantiles if share in _MEANING
        ]
        if result.cost_now is not None:
            rows.append([_("as things stand now"), show_money(result.cost_now, currency)])
        result_table(rows, [_("Scenarios"), _("Lots, offers and fuel")], alt=_("Cost quantiles"), right=(1,))
    with right:
        st.markdown(f"**{_('What hurts most?')}**")
        drivers = [one for one in result.drivers if abs(one.share) >= _SMALL][:_MOST_DRIVERS]
        if drivers:
            rows = [
                [
                    _named(one.what, items),
                    show_percent(one.share, "share"),
                    show_number(one.rank_correlation, "figure"),
                ]
                for one in drivers
            ]
            head = [_("What moves"), _("Of the ups and downs"), _("Goes with the cost")]
            result_table(rows, head, alt=_("What moves the cost most"), right=(1, 2))
        else:
            st.write(_("Nothing that varies here moves the cost."))
    sentences(result.said)
    if result.seed is not None:
        st.caption(_("Seed {seed}: the same seed gives the same scenarios.").format(seed=result.seed))
    downloads(scenarios_sheet(result, items, currency), "buying_scenarios_file")


def _named(name: str, items: dict[str, str]) -> str:
    return shortened(f"{name}: {item_name(items[name])}" if name in items else item_name(name), 40)
