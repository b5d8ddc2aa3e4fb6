"""How much of an item would be bought at which price, and who wins where over the prices of two."""

from __future__ import annotations

from collections.abc import Hashable
from itertools import groupby

import streamlit as st

from optimizer.market.ladder import Ladder
from optimizer.market.two_prices import Map
from optimizer.services import what_if
from optimizer.services.buying import items_on_offer, ladder_anew, map_about, price_now
from optimizer.services.buying_sheets import ladder_sheet, map_sheet
from optimizer.services.offers import Offers
from ui.buying_charts import Field, Stair, ladder_steps, winners
from ui.buying_parts import downloads, drawn_in, item_name, money_figure, names_of, on_demand, sentences
from ui.plain import plain
from ui.show import result_table
from ui.words import N_, _, said, show_mass, show_percent

LADDER, MAP = "buying_ladder", "buying_map"
_WAYS = {
    "exact": N_("By the kilogram, exact, at the present recipe"),
    "anew": N_("By the kilogram, each step worked out anew (some seconds)"),
    "packs": N_("In whole packs, delivered (up to a minute)"),
}
_MAP_WAYS = {
    "exact": N_("Exact, at the present recipe"),
    "anew": N_("Each corner worked out anew (up to a minute)"),
}
_TIMES_NOW = 3.0  # the drawing ends at so many times the present price; the table goes on
_MOST_FIELDS = 8


def section(found: Offers, inputs: Hashable, *, is_old: bool) -> None:
    """Ladder and map."""
    items = items_on_offer(found)
    if not items:
        st.write(_("Nothing that goes into a pan is on offer in time."))
        return
    _ladder(found, items, inputs, is_old=is_old)
    if len(items) > 1:
        _map(found, items, inputs, is_old=is_old)


def _label(found: Offers, name: str) -> str:
    items = names_of(found)
    return f"{name}: {item_name(items[name])}" if name in items else item_name(name)


def _ladder(found: Offers, items: tuple[str, ...], inputs: Hashable, *, is_old: bool) -> None:
    st.subheader(_("How much would I buy at which price?"), anchor=False)
    one, two = st.columns(2)
    item = one.selectbox(
        _("Of what?"), items, key="buying_ladder_item", format_func=lambda name: _label(found, name),
        persist_state="session",
    )  # fmt: skip
    way = two.selectbox(
        _("How exactly?"), list(_WAYS), key="buying_ladder_way", format_func=lambda key: _(_WAYS[key]),
        persist_state="session",
    )  # fmt: skip
    job = found.order.job
    known = next((ladder for ladder in found.ladders if ladder.item == item), None)
    if way == "exact" and known is not None:
        _draw_ladder(known, found)
        return
    reply = on_demand(
        LADDER, (inputs, item, way),
        (lambda run: what_if.ladder(job, item, anew=False)) if way == "exact"
        else lambda run: ladder_anew(job, item, run.report, packs=way == "packs"),
        N_("Working out the ladder: step {done}, at most {total}"), found, button=_("Work out this ladder"),
        is_old=is_old,
    )  # fmt: skip
    if reply is not None:
        with drawn_in("ladder", reply):
            _draw_ladder(reply.result, reply.found)


def _draw_ladder(ladder: Ladder, found: Offers) -> None:
    currency, name = found.currency, item_name(ladder.item)
    now = ladder.price_now
    steps = [
        (low, high, kg)
        for (kg, low, high) in (
            (run[0].kg, run[0].price_from, run[-1].price_to)
            for run in (list(one) for _word, one in groupby(ladder.steps, key=lambda step: _kg(step.kg)))
        )
    ]
    ends = [low for low, _high, _kg_ in steps[1:]] or [now or 1.0]
    reach = max(_TIMES_NOW * now if now else 0.0, 1.3 * ends[0])
    stairs = [
        Stair(low=low, high=reach if high is None else min(high, reach), kg=kg, word=_kg(kg))
        for low, high, kg in steps
        if low < reach
    ]
    told = "; ".join(f"{_prices(low, high)}: {_kg(kg)}" for low, high, kg in steps[:12])
    title = _("How much {item} is bought at which price?").format(item=name)
    st.markdown(f"**{plain(title)}**")
    ladder_steps(
        stairs, price=_("{currency} per kg").format(currency=currency), kg=_("kg bought"), now=now,
        now_word=_("now {price}").format(price=money_figure(now)), alt_text=f"{title} {told}",
    )  # fmt: skip
    if ladder.exact:
        st.caption(
            _(
                "Exact to the last edge, by the kilogram, for the cook of the present recipe. Other ways of reckoning "
                "are in the list above."
            )
        )
    else:
        text = _("Not exact, but to a tolerance: {sentence}")
        st.caption(plain(text.format(sentence=said(ladder.said[0]) if ladder.said else "")))
    if steps[-1][0] >= reach:
        st.caption(_("The drawing ends at three times the present price; the table goes on."))
    with st.expander(_("The ladder as a table"), icon=":material/table_rows:"):
        rows = [[money_figure(low), _("and up") if high is None else money_figure(high), _kg(kg)]
                for low, high, kg in steps]  # fmt: skip
        head = [_("From, {currency} per kg").format(currency=currency), _("To"), _("Buys")]
        result_table(rows, [plain(text) for text in head], alt=title, right=(0, 1, 2))
        downloads(ladder_sheet(ladder, currency), "buying_ladder_file")
        sentences(ladder.said)


def _kg(kg: float) -> str:
    return show_mass(kg) if kg > 1e-6 else _("none")


def _prices(low: float, high: float | None) -> str:
    return f"{money_figure(low)} – {_('and up') if high is None else money_figure(high)}"


# ---- two prices ------------------------------------------------------------------------------------------------------


def _map(found: Offers, items: tuple[str, ...], inputs: Hashable, *, is_old: bool) -> None:
    st.subheader(_("Two prices against each other: who wins where?"), anchor=False)
    one, two, three = st.columns(3)
    several = [name for name in items if name in names_of(found)] or list(items)
    first = one.selectbox(
        _("This price"), items, key="buying_map_first", index=items.index(several[0]),
        format_func=lambda name: _label(found, name), persist_state="session",
    )  # fmt: skip
    second = two.selectbox(
        _("against this one"), items, key="buying_map_second", index=_second(items, several),
        format_func=lambda name: _label(found, name), persist_state="session",
    )  # fmt: skip
    way = three.selectbox(
        _("How exactly is the map?"), list(_MAP_WAYS), key="buying_map_way", persist_state="session",
        format_func=lambda key: _(_MAP_WAYS[key]),
    )  # fmt: skip
    job = found.order.job
    reply = on_demand(
        MAP, (inputs, first, second, way), lambda run: map_about(job, first, second, run.report, anew=way == "anew"),
        N_("Drawing the map: {done} of at most {total} corners"), found, button=_("Draw this map"), is_old=is_old,
    )  # fmt: skip
    if reply is not None:
        with drawn_in("map", reply):
            _draw_map(reply.result, reply.found)


def _second(items: tuple[str, ...], several: list[str]) -> int:
    """Where the second name of a first map stands."""
    return items.index(several[1] if len(several) > 1 else items[1])


def _draw_map(drawn: Map, found: Offers) -> None:
    first, second = drawn.items
    names = [_label(found, name) for name in (first, second)]
    title = _("Who wins where: {first} against {second}").format(first=names[0], second=names[1])
    choices = list(dict.fromkeys(cell.choice.taken for cell in drawn.cells))
    number = {taken: min(at + 1, _MOST_FIELDS) for at, taken in enumerate(choices)}
    words = {taken: f"{number[taken]}: {', '.join(taken) or _('nothing')}" for taken in choices}
    fields = [
        Field(number=number[cell.choice.taken], corners=cell.corners, share=cell.share, word=words[cell.choice.taken])
        for cell in drawn.cells
    ]
    st.markdown(f"**{plain(title)}**")
    per = _("{name}, {currency} per kg")
    here = (price_now(found.order.job, first), price_now(found.order.job, second))
    told = "; ".join(f"{number[taken]}: {', '.join(taken) or _('nothing is bought')}" for taken in choices)
    winners(
        fields, first=per.format(name=names[0], currency=found.currency),
        second=per.format(name=names[1], currency=found.currency), now=here, now_word=_("now"),
        alt_text=f"{title}. {told}",
    )  # fmt: skip
    rows = [
        [
            str(number[taken]), ", ".join(taken) or _("nothing is bought"),
            show_percent(sum(cell.share for cell in drawn.cells if cell.choice.taken == taken)),
        ]
        for taken in choices
    ]  # fmt: skip
    head = [_("Field"), _("Offers taken there"), _("Share of the map")]
    result_table(rows, head, alt=title, right=(2,))
    if not drawn.exact:
        text = _("To a tolerance: a recipe that saves less than {price} {currency} has no field of its own.")
        st.caption(plain(text.format(price=money_figure(drawn.money_tolerance), currency=found.currency)))
    sentences(drawn.said)
    downloads(map_sheet(drawn, found.currency), "buying_map_file")
