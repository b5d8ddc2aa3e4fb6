"""From a recipe to a batch: a summary of what will be booked, then one button for the batch and the goods it needs."""

from __future__ import annotations

from collections.abc import Hashable

import streamlit as st

from optimizer.blend.request import Request
from optimizer.blend.result import Recipe
from optimizer.errors import InputFault
from optimizer.services.batches import ToComeIn, cook, to_come_in
from optimizer.services.weighing import Weighed
from ui import session
from ui.plain import plain
from ui.show import result_table
from ui.words import _, ngettext, said, show_mass, show_weight

_MAKING = "recipe_making"


def make_batch(recipe: Recipe, request: Request, weighed: Weighed, inputs: Hashable, *, is_old: bool) -> None:
    """The button, the summary behind it, and what it books."""
    if not session.can_write():
        st.caption(_("You may look only: a batch is made by somebody who may write."))
        return
    if session.get(_MAKING, None) != inputs:
        st.button(
            _("Make this batch"), type="primary", key="recipe_make", disabled=is_old, icon=":material/skillet:",
            on_click=session.put, args=(_MAKING, inputs),
        )  # fmt: skip
        return
    received = {amount.id: amount.received_kg for amount in weighed.amounts}
    try:
        goods = to_come_in(session.store(), recipe, received_kg=received)
    except InputFault as fault:
        st.warning(plain(said(str(fault))))
        return
    st.markdown(f"**{_('This will be booked')}**")
    _uses(weighed)
    if goods:
        _goods(goods)
    yes, no = st.columns([2, 1])
    label = _("They are here: take in and make the batch") if goods else _("Book this batch")
    yes.button(
        label, type="primary", key="recipe_book", width="stretch", disabled=is_old, on_click=_book,
        args=(recipe, request, received, goods),
    )  # fmt: skip
    no.button(_("Not now"), key="recipe_not_now", width="stretch", on_click=session.forget, args=(_MAKING,))


def _uses(weighed: Weighed) -> None:
    rows = [
        [amount.id, said(amount.item), show_weight(amount.received_kg, weighed.step_kg)]
        for amount in weighed.amounts
        if amount.origin == "stock"
    ]
    if rows:
        head = [_("Lot"), _("What"), _("Taken from the shelf")]
        result_table(rows, head, alt=_("Lots that this batch takes"), right=(2,))


def _goods(goods: tuple[ToComeIn, ...]) -> None:
    st.write(
        _("These goods are on offer, not on the shelf. Once they have come, they are taken in as whole packs first:")
    )
    rows = [
        [one.offer, said(one.item), show_mass(one.needed_g / 1000.0), show_mass(one.comes_g / 1000.0), one.lot]
        for one in goods
    ]
    head = [_("Offer"), _("What"), _("Needed"), _("Comes in"), _("As lot")]
    result_table(rows, head, alt=_("Goods that come in before the batch is made"), right=(2, 3))


def _book(recipe: Recipe, request: Request, received: dict[str, float], goods: tuple[ToComeIn, ...]) -> None:
    """Goods and batch, whole or not at all; what stands in the way is said."""
    try:
        batch = cook(session.store(), recipe, request, received_kg=received, goods=goods, who=session.who())
    except InputFault as fault:
        session.notice(said(str(fault)), is_good=False)
        return
    session.forget(_MAKING)
    count = len(batch.uses)
    session.notice(
        ngettext(
            "Batch {code} is open; {count} lot was taken from the shelf.",
            "Batch {code} is open; {count} lots were taken from the shelf.",
            count,
        ).format(code=batch.code, count=count)
    )
