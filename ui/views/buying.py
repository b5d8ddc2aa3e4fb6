"""Buying: which offers to take and how much, at what price to change one's mind, what one more kg is worth."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from typing import Any

import streamlit as st

from optimizer.blend.request import Request
from optimizer.inputs.models import Book, SiteFolder
from optimizer.services.buying import NoOrder, first_answer, with_prices
from optimizer.services.keeping import OLD_PRICE_DAYS, age_days
from optimizer.services.kitchen import OpenKitchen
from optimizer.services.offers import Offers
from ui import (
    buying_form,
    buying_history,
    buying_ladder,
    buying_offers,
    buying_order,
    buying_sure,
    buying_what_if,
    session,
)
from ui.jobs import Job
from ui.plain import plain
from ui.waiting import wait_for
from ui.words import N_, _, ngettext, said, show_time

ORDER, PRICES = "buying_order", "buying_prices"
_SECTIONS = {
    "order": N_("Order list"),
    "offers": N_("Side by side"),
    "prices": N_("Three prices"),
    "ladder": N_("Ladder and map"),
    "what_if": N_("What if"),
    "sure": N_("How sure"),
    "history": N_("History"),
}
_NEEDS_PRICES = {"offers", "prices", "ladder"}


def page() -> None:
    """Draw the page."""
    opened, folder = session.need_kitchen()
    st.title(_("Buying"), anchor=False)
    _freshness(opened)
    session.show_notice()
    if not folder.offers:
        st.subheader(_("Nothing on offer yet"), anchor=False)
        st.write(_("Type or bring in what you could buy, as it is offered. Then this page says what to take."))
        session.link("stock", _("To stock and prices"), icon=":material/inventory_2:")
        return
    batches = buying_form.wishes(folder, session.book(), session.today())
    if batches is None:
        return
    inputs = (session.state_key(), repr(batches))
    job = session.job(ORDER, inputs, _order(folder, batches, session.book()))
    job.wait(0.5)
    if job.is_running or job.was_stopped:
        wait_for(job, ORDER, N_("Working out the order"))
    elif job.fault is not None:
        st.warning(plain(said(str(job.fault))))
        return
    elif job.has_failed:
        st.warning(_("This order could not be worked out. The log tells more; another batch size may help."))
        return
    answer: Offers | NoOrder | None = job.result if job.is_done else _before()
    if answer is None:
        return
    is_old = not job.is_done
    if is_old:
        st.caption(_("Below: the answer of before your last change."))
    with st.container(key="before_buying" if is_old else "now_buying"):
        if isinstance(answer, NoOrder):
            buying_order.no_order(answer)
            buying_history.section(opened)
        else:
            _answer(answer, opened, inputs, is_old=is_old)


def _freshness(opened: OpenKitchen) -> None:
    parts = [opened.kitchen.name]
    age = age_days(opened.prices_as_of, on=session.today())
    if opened.prices_as_of is not None and age is not None:
        if age > OLD_PRICE_DAYS:
            parts.append(ngettext("prices are {count} day old", "prices are {count} days old", age).format(count=age))
        else:
            parts.append(_("prices of {time}").format(time=show_time(opened.prices_as_of)))
    st.caption(plain(" · ".join(parts)))


def _order(folder: SiteFolder, batches: tuple[Request, ...], book: Book) -> Callable[[Job], Offers | NoOrder]:
    return lambda job: first_answer(folder, batches, book, job.report)


def _before() -> Any | None:
    """The answer to other inputs, with its prices where they were worked out."""
    order = session.result_before(ORDER)
    jobs: dict[str, Job] = session.get(session.JOBS, {})
    prices = jobs.get(PRICES)
    whole = prices.result if prices is not None and prices.is_done else session.result_before(PRICES)
    if isinstance(order, Offers) and isinstance(whole, Offers) and whole.order is order.order:
        return whole
    return order


def _answer(found: Offers, opened: OpenKitchen, inputs: Hashable, *, is_old: bool) -> None:
    buying_order.figures(found)
    waits: Job | None = None
    is_whole = bool(found.savings or found.entries or found.mix_entries)
    if not is_old:
        first = found
        prices = session.job(PRICES, inputs, lambda job: with_prices(first, job.report))
        prices.wait(0.1)
        if prices.is_done:
            found, is_whole = prices.result, True
        else:
            waits = prices
    name = st.segmented_control(
        _("What do you want to know?"), list(_SECTIONS), default="order", required=True, key="buying_section",
        format_func=lambda key: _(_SECTIONS[key]), bind="query-params",
    )  # fmt: skip
    if waits is not None and name in (*_NEEDS_PRICES, "order"):
        if waits.is_running or waits.was_stopped:
            wait_for(waits, PRICES, N_("Working out the prices at which the order changes: {done} of {total} steps"))
        else:
            st.warning(_("The prices at which this order changes could not be worked out. The log tells more."))
    if name == "order":
        buying_order.section(found, is_whole=is_whole, is_old=is_old)
    elif name == "offers":
        buying_offers.side_by_side(found, is_whole=is_whole)
    elif name == "prices":
        if is_whole:
            buying_offers.three_prices(found)
    elif name == "ladder":
        buying_ladder.section(found, inputs, is_old=is_old)
    elif name == "what_if":
        buying_what_if.section(found, inputs, is_old=is_old)
    elif name == "sure":
        buying_sure.section(found, inputs, is_old=is_old)
    else:
        buying_history.section(opened)


page()
