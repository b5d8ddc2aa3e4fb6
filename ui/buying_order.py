"""What to order: packs, kilograms, cost, what each saves; what is left over; files and a sheet to print."""

from __future__ import annotations

from collections.abc import Iterator

import streamlit as st

from optimizer.market.order import OrderLine
from optimizer.services.buying import NoOrder
from optimizer.services.buying_sheets import sheet_file
from optimizer.services.offers import Offers
from optimizer.services.offers_sheet import order_sheet
from ui import recipe_parts, session
from ui.buying_parts import amount, item_name, names_of
from ui.buying_print import order_html
from ui.plain import plain
from ui.show import bullets, result_table
from ui.stock_files import XLSX, has_decimal_comma
from ui.words import N_, _, said, show_keeping, show_money, show_number, show_percent

_PARTS = {
    "order": N_("Order, delivered"), "lots": N_("Lots on hand, at their worth"), "fuel": N_("Fuel"),
    "jars": N_("Jars on hand, at their cost"), "labour": N_("Work"),
}  # fmt: skip
_PROVED = 1e-6


def figures(found: Offers) -> None:
    """The figures that are asked for first, and how good the answer is."""
    order, currency = found.order, found.currency
    one, two, three = st.columns(3)
    one.metric(_("The order, delivered"), show_money(order.parts["order"], currency))
    two.metric(_("All together, with lots, fuel, jars, work"), show_money(order.total, currency))
    if order.jars:
        three.metric(_("Jars"), show_number(order.jars, "kg", places=0))
    st.write(plain(_proof(found)))


def _proof(found: Offers) -> str:
    order = found.order
    if order.bound is None or order.gap is None:
        return _("A good order; that no other is cheaper was not proved in time.")
    if order.gap <= _PROVED:
        return _("The cheapest order for these recipes: no other choice of packs and deliveries costs less.")
    return _("A good order; another one could be cheaper by {share} at most.").format(share=show_percent(order.gap))


def section(found: Offers, *, is_whole: bool, is_old: bool) -> None:
    """The order list. `is_whole`: what each offer saves is known."""
    order = found.order
    if not order.lines:
        st.subheader(_("Nothing to order: what is on hand does it"), anchor=False)
    else:
        st.subheader(_("What do I order?"), anchor=False)
        _list(found, is_whole=is_whole)
        _files(found, is_old=is_old)
        _left_over(order.lines)
    st.subheader(_("What does it all cost?"), anchor=False)
    rows = [[_(name), show_money(order.parts[id_], found.currency)] for id_, name in _PARTS.items() if order.parts[id_]]
    rows.append([_("All together"), show_money(order.total, found.currency)])
    result_table(rows, [_("Part"), _("Cost")], alt=_("What the batches cost, part by part"), right=(1,))
    bullets([*found.notes])
    if found.defaults:
        with st.expander(_("Taken for granted"), icon=":material/info:"):
            bullets(found.defaults)
    st.caption(
        _(
            "Each offer is its own order with its own delivery. Lowest cost is no proof of safety: the Recipe page "
            "shows the cautions of each batch."
        )
    )


def _list(found: Offers, *, is_whole: bool) -> None:
    rows = []
    for line in found.order.lines:
        saving = found.saves.get(line.offer)
        rows.append(
            [
                line.offer, item_name(line.item), line.supplier, _packs(line), amount(line.amount, line.unit),
                show_keeping(line.delivery_days) if line.delivery_days >= 1.0 else _("at once"),
                show_money(line.cost, found.currency),
                "…" if saving is None else _("needed") if saving.saves is None
                else show_money(saving.saves, found.currency),
            ]
        )  # fmt: skip
    head = [
        _("Code"), _("Order"), _("From"), _("Packs"), _("In all"), _("Comes in"), _("Delivered"), _("Saves"),
    ]  # fmt: skip
    result_table(rows, head, alt=_("The order list: what to order of which offer"), right=(3, 4, 6, 7))
    if not is_whole:
        st.caption(_("What each offer saves is not known yet."))
        return
    st.caption(_("Saves: how much dearer the best order without this offer is. Needed: there is no order without it."))
    lines = list(_instead(found))
    if lines:
        st.markdown("\n".join(f"- {line}" for line in lines))


def _packs(line: OrderLine) -> str:
    if line.packs is None:
        return _("loose")
    return f"{show_number(line.packs, 'kg', places=0)}\u00a0×\u00a0{amount(line.pack or 0.0, line.unit)}"


def _instead(found: Offers) -> Iterator[str]:
    """What would take the place of each offer."""
    items = names_of(found)
    for one in found.savings:
        if one.saves is None or not one.instead:
            continue
        there = ", ".join(f"{amount(units, 'kg')} {id_} ({item_name(items.get(id_, ''))})"
                          for id_, units in one.instead[:3])  # fmt: skip
        yield plain(_("Without {offer}: {instead}.").format(offer=one.offer, instead=there))


def _left_over(lines: tuple[OrderLine, ...]) -> None:
    left = [line for line in lines if line.left_over > 0.0]
    if not left:
        return
    st.subheader(_("What is left over, and how long does it keep?"), anchor=False)
    rows = [[line.offer, item_name(line.item), amount(line.left_over, line.unit), said(line.keeps)] for line in left]
    head = [_("Code"), _("What"), _("Left over"), _("Keeps")]
    result_table(rows, head, alt=_("What is left over of the packs"), right=(2,))


def _files(found: Offers, *, is_old: bool) -> None:
    comma, day = has_decimal_comma(), session.today().isoformat()
    page = order_html(found)
    with st.container(horizontal=True):
        st.download_button(
            _("Order list as CSV"), lambda: sheet_file(order_sheet(found), "csv", decimal_comma=comma),
            f"order_{day}.csv", "text/csv", key="buying_order_csv", on_click="ignore", disabled=is_old,
            icon=":material/download:",
        )  # fmt: skip
        st.download_button(
            _("Order list as XLSX"), lambda: sheet_file(order_sheet(found), "xlsx"), f"order_{day}.xlsx", XLSX,
            key="buying_order_xlsx", on_click="ignore", disabled=is_old, icon=":material/download:",
        )  # fmt: skip
        st.download_button(
            _("Sheet to print"), page.encode(), f"order_{day}.html", "text/html", key="buying_order_print",
            on_click="ignore", disabled=is_old, icon=":material/print:",
        )  # fmt: skip
    st.caption(_("The sheet opens in any browser and is printed there."))


# ---- no order --------------------------------------------------------------------------------------------------------


def no_order(found: NoOrder) -> None:
    """Why nothing can be ordered that would do, and the smallest help, batch by batch."""
    if not found.recipes:
        st.subheader(_("No order serves all batches"), anchor=False)
        st.write(plain(said(found.said)))
        return
    for recipe in found.recipes:
        recipe_parts.no_recipe(recipe)
        if recipe.left_out:
            with st.expander(_("What was left out, and why")):
                recipe_parts.left_out(recipe)
