"""Today: what to cook with what is here, what a jar costs, what to buy, what stands in the way."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date

import streamlit as st

from optimizer.blend.request import Keeps
from optimizer.inputs.models import Book, SiteFolder
from optimizer.services.keeping import OLD_PRICE_DAYS, age_days, keeping_of
from optimizer.services.kitchen import OpenKitchen
from optimizer.services.recipe import recipe_of
from optimizer.services.today import NO_PRICE, Choice, Today, rank_today, request_of
from optimizer.services.windows import first_windows, windows_of
from ui import session
from ui.first_start import standard_name
from ui.jobs import Job
from ui.plain import plain
from ui.show import bullets, product_name, result_table, windows_chart
from ui.today_cards import Answer, cards, fruit_words, open_recipe
from ui.waiting import wait_for
from ui.words import (
    N_,
    _,
    capital,
    ngettext,
    said,
    show_day,
    show_keeping,
    show_mass,
    show_money,
    show_number,
    show_time,
)

_SHOWN = 8
_STANDARDS = ("", "codex", "eu", "uk", "us", "india", "canada", "anz", "none")
_KEEPS: dict[Keeps, str] = {"heat": N_("Heat"), "cold": N_("Cold"), "preservative": N_("A preservative")}
_WITHIN: dict[float | None, str] = {
    None: N_("Anything on offer"),
    3.0: N_("What comes within 3 days"),
    1.0: N_("What comes by tomorrow"),
    0.0: N_("Nothing: cook with what is here"),
}
_BEST_USE = {"sell fresh": N_("sell fresh"), "freeze": N_("freeze"), "cart off": N_("cart off")}
JOB = "today"


def page() -> None:
    """Draw the page."""
    opened, folder = session.need_kitchen()
    day = session.today()
    st.title(_("Today, {day}").format(day=show_day(day)), anchor=False)
    _freshness(opened, day)
    session.show_notice()
    if not any(lot.kind == "fruit" and lot.on_hand_kg for lot in folder.lots):
        _no_stock()
        return
    standard, keeps, within = _wishes(folder)
    work = _work(folder, session.book(), day, standard, keeps, within)
    job = session.job(JOB, (session.state_key(), standard, keeps, within), work)
    job.wait(0.2)
    if job.is_running or job.was_stopped:
        wait_for(job, JOB, N_("Working out what pays most: {done} of {total} products"))
    elif job.fault is not None:
        st.warning(plain(said(str(job.fault))))
    elif job.has_failed:
        st.warning(_("Today could not be worked out. The log tells more. Your stock is safe."))
    answer: Answer | None = job.result if job.is_done else session.result_before(JOB)
    if answer is None:
        return
    if not job.is_done:
        st.caption(_("Below: the answer of before your last change."))
    with st.container(key="now_today" if job.is_done else "before_today"):
        _answer(answer, folder, opened, is_old=not job.is_done)


def _freshness(opened: OpenKitchen, day: date) -> None:
    said_of = [opened.kitchen.name]
    if opened.kitchen.is_invented and "(invented)" not in opened.kitchen.name:
        said_of.append(_("an invented example"))
    if opened.stock_as_of is not None:
        said_of.append(_("stock of {time}").format(time=show_time(opened.stock_as_of)))
    age = age_days(opened.prices_as_of, on=day)
    if opened.prices_as_of is not None and age is not None:
        if age > OLD_PRICE_DAYS:
            said_of.append(ngettext("prices are {count} day old", "prices are {count} days old", age).format(count=age))
        else:
            said_of.append(_("prices of {time}").format(time=show_time(opened.prices_as_of)))
    st.caption(plain(" · ".join(said_of)))


def _no_stock() -> None:
    st.subheader(_("No fruit on the shelf yet"), anchor=False)
    st.write(_("Type or bring in what you have. Then this page says what to cook from it."))
    session.link("stock", _("To stock and prices"), icon=":material/inventory_2:")


def _wishes(folder: SiteFolder) -> tuple[str | None, Keeps, float | None]:
    with st.expander(_("Other rules for today"), icon=":material/tune:"):
        first, second, third = st.columns(3)
        keeps = first.selectbox(
            _("What keeps it?"), list(_KEEPS), format_func=lambda key: _(_KEEPS[key]), key="today_keeps",
            persist_state="session",
        )  # fmt: skip
        within = second.selectbox(
            _("What may be bought?"), list(_WITHIN), format_func=lambda key: _(_WITHIN[key]), key="today_within",
            persist_state="session",
        )  # fmt: skip
        standard = third.selectbox(
            _("Whose food law?"), _STANDARDS, key="today_standard", persist_state="session",
            format_func=lambda key: standard_name(key) if key else _("As in settings: {standard}").format(
                standard=standard_name(folder.site.standard)
            ),
        )  # fmt: skip
    return standard or None, keeps, within


def _work(
    folder: SiteFolder, book: Book, day: date, standard: str | None, keeps: Keeps, within: float | None
) -> Callable[[Job], Answer]:
    def work(job: Job) -> Answer:
        found = rank_today(
            folder.site, folder.lots, folder.offers, book, on=day, standard=standard, keeps=keeps, within_days=within,
            progress=job.report,
        )  # fmt: skip
        if not found.choices:
            return Answer(found=found, request=None, recipe=None)
        request = request_of(found.choices[0], found, book, standard=standard, keeps=keeps, within_days=within)
        return Answer(found=found, request=request, recipe=recipe_of(folder, request, book=book))

    return work


def _answer(answer: Answer, folder: SiteFolder, opened: OpenKitchen, *, is_old: bool) -> None:
    found = answer.found
    if not found.choices:
        st.subheader(_("Nothing pays today"), anchor=False)
        st.write(_("No product brings more than the fruit is worth uncooked. Why, product by product:"))
    else:
        cards(answer, folder.site, is_old=is_old)
        _limits(answer)
    if found.choices:
        _others(answer, is_old=is_old)
    _keeping(found, folder)
    _excluded(found)
    notes = [*found.cautions, *found.defaults]
    if notes:
        with st.expander(_("Taken for granted"), icon=":material/info:"):
            bullets(notes)
    st.caption(
        _(
            "Saved is the sale of whole jars, less goods bought, fuel, jars, work, and what the fruit would still be "
            "worth tomorrow. A plan is no proof of safety: the recipe shows the cautions of each batch."
        )
    )


def _limits(answer: Answer) -> None:
    if answer.recipe is None or answer.recipe.status != "optimal":
        return
    st.subheader(_("Is it inside the limits?"), anchor=False)
    windows_chart(first_windows(windows_of(answer.recipe)))


def _others(answer: Answer, *, is_old: bool) -> None:
    found = answer.found
    others = found.choices[1:]
    if not others:
        return
    st.subheader(_("What else could be cooked"), anchor=False)
    head = [_("Product"), _("From"), _("Makes"), _("Jars"), _("A jar costs"), _("Saves")]
    result_table(
        [_row(choice, found) for choice in others[:_SHOWN]], head, alt=_("Other batches by what they save"),
        right=(2, 3, 4, 5),
    )  # fmt: skip
    picked, go = st.columns([2, 1], vertical_alignment="bottom")
    at = picked.selectbox(
        _("Look at another batch"), range(len(others)), key="today_other",
        format_func=lambda index: _named(others[index]),
    )  # fmt: skip
    if go.button(_("To its recipe"), key="today_open_other", disabled=is_old, width="stretch") and answer.request:
        asked = answer.request
        open_recipe(
            request_of(
                others[at], found, session.book(), standard=asked.standard, keeps=asked.keeps,
                within_days=asked.within_days,
            )
        )  # fmt: skip


def _named(choice: Choice) -> str:
    return f"{capital(product_name(choice.title))}: {fruit_words(choice.fruit_shares)}"


def _row(choice: Choice, found: Today) -> list[str]:
    return [
        capital(product_name(choice.title)) + (" (" + _("measure pH") + ")" if choice.needs_measured_ph else ""),
        fruit_words(choice.fruit_shares),
        show_mass(choice.finished_kg),
        show_number(choice.jars, "kg", places=0) if choice.jars else "",
        show_money(choice.cost_per_jar, found.currency),
        show_money(choice.value_saved, found.currency),
    ]


def _keeping(found: Today, folder: SiteFolder) -> None:
    st.subheader(_("Fruit, the softest first"), anchor=False)
    used = {use.id: use.kg for use in found.choices[0].lots} if found.choices else {}
    left = {one.id: one for one in found.not_cooked}
    rows = []
    for lot in keeping_of(folder.lots, session.book(), on=found.on):
        rest = left.get(lot.lot)
        plan = [_("cook {mass}").format(mass=show_mass(used[lot.lot]))] if lot.lot in used else []
        if rest is not None:
            plan.append(
                _("{what} {mass}").format(what=_(_BEST_USE.get(rest.best_use, rest.best_use)), mass=show_mass(rest.kg))
            )
        keeps = _("not known") if lot.days is None else show_keeping(lot.days)
        rows.append([lot.lot, said(lot.item), f"{keeps} !" if lot.is_soon else keeps, ", ".join(plan)])
    head = [_("Lot"), _("Fruit"), _("Keeps"), _("Best use today")]
    result_table(rows, head, alt=_("Lots on hand by how long they keep, and what is best done with each"))
    if any(row[2].endswith("!") for row in rows):
        st.caption(_("! will not keep three days"))


def _excluded(found: Today) -> None:
    if not found.excluded:
        return
    st.subheader(_("Not today"), anchor=False)
    lines = list(_why_not(found))
    if lines:
        st.markdown("\n".join(f"- {line}" for line in lines))
    unpriced = [product_name(out.title) for out in found.excluded if out.why == NO_PRICE]
    if unpriced:
        st.write(
            plain(
                _("No sale price yet, so not ranked: {products}.").format(products=", ".join(unpriced)),
            )
        )
        session.link("settings", _("Give sale prices"), icon=":material/sell:")


def _why_not(found: Today) -> Iterator[str]:
    for out in found.excluded:
        if out.why == NO_PRICE:
            continue
        line = f"**{plain(capital(product_name(out.title)))}**: {plain(said(out.why.rstrip('.')))}."
        if out.help:
            line += " " + plain(_("Smallest help: {change}.").format(change=said(out.help)))
        yield line


page()
