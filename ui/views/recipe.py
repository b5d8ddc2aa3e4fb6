"""Recipe: one batch of one product, what to weigh, inside or outside each limit, why these kilos."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import streamlit as st

from optimizer.blend.request import Request
from optimizer.blend.result import Recipe, Worth
from optimizer.inputs.models import Book, SiteFolder
from optimizer.services.recipe import measuring_for, recipe_of, value_saved
from optimizer.services.weighing import Weighed, weigh_out
from optimizer.services.windows import first_windows
from ui import recipe_form, session
from ui import recipe_parts as parts
from ui.jobs import Job
from ui.make_batch import make_batch
from ui.plain import plain
from ui.show import bullets, listed, result_table, windows_chart, windows_table
from ui.waiting import wait_for
from ui.words import N_, _, said, show_money

JOB, MEASURING = "recipe", "measuring"
_FIGURES = {
    "brix": N_("Brix"),
    "ph": N_("pH"),
    "acid": N_("acid"),
    "pectin": N_("pectin"),
    "refractometer": N_("a refractometer"),
    "pH meter": N_("a pH meter"),
}


@dataclass(frozen=True, kw_only=True)
class Made:
    """A recipe with the request it answers, and as it is weighed."""

    request: Request
    recipe: Recipe
    weighed: Weighed | None


def page() -> None:
    """Draw the page."""
    _opened, folder = session.need_kitchen()
    book = session.book()
    st.title(_("Recipe"), anchor=False)
    session.show_notice()
    session.undo_button("recipe_undo", "batch opened")
    if not folder.lots and not folder.offers:
        st.subheader(_("Nothing on the shelf and nothing on offer"), anchor=False)
        st.write(_("A recipe needs fruit and sugar: type or bring in what you have and what you can buy."))
        session.link("stock", _("To stock and prices"), icon=":material/inventory_2:")
        return
    recipe_form.from_today(book)
    request = recipe_form.wishes(folder, book, session.today())
    if request is None:
        return
    job = session.job(JOB, (session.state_key(), repr(request)), _work(request, folder, book))
    job.wait(1.0)
    if job.is_running or job.was_stopped:
        wait_for(job, JOB, N_("Working out the recipe"))
    elif job.fault is not None:
        _say_fault(str(job.fault))
        return
    elif job.has_failed:
        st.warning(_("This recipe could not be worked out. The log tells more; another batch size may help."))
        return
    made: Made | None = job.result if job.is_done else session.result_before(JOB)
    if made is None:
        return
    if not job.is_done:
        st.caption(_("Below: the recipe of before your last change."))
    with st.container(key="now_recipe" if job.is_done else "before_recipe"):
        if made.recipe.status == "none" or made.weighed is None:
            _none(made)
        else:
            _found(made, made.weighed, folder, is_old=not job.is_done)


def _work(request: Request, folder: SiteFolder, book: Book) -> Callable[[Job], Made]:
    def work(job: Job) -> Made:
        recipe = recipe_of(folder, request, book=book)
        job.report(0, 0)  # to be stopped here, where other wishes came in between
        weighed = weigh_out(recipe, request, folder, book) if recipe.status == "optimal" else None
        return Made(request=request, recipe=recipe, weighed=weighed)

    return work


def _say_fault(text: str) -> None:
    if text.startswith("no sale price"):
        st.warning(_("This aim needs to know what the product sells for, and no sale price is given yet."))
        session.link("settings", _("Give sale prices"), icon=":material/sell:")
        return
    st.warning(plain(said(text)))


def _none(made: Made) -> None:
    parts.no_recipe(made.recipe)
    _expander(_("What was left out, and why"), lambda: parts.left_out(made.recipe))
    if made.recipe.defaults:
        _expander(_("Taken for granted"), lambda: bullets(made.recipe.defaults))


def _found(made: Made, weighed: Weighed, folder: SiteFolder, *, is_old: bool) -> None:
    recipe = made.recipe
    parts.headline(recipe)
    parts.figures(recipe, value_saved(recipe, folder.site))
    st.subheader(_("What to weigh"), anchor=False)
    parts.weigh_table(recipe, weighed)
    parts.label(recipe)
    _decide(made, weighed, is_old=is_old)
    st.subheader(_("Is it inside the limits?"), anchor=False)
    windows_chart(first_windows(weighed.windows))
    parts.how_sure(recipe)
    _expander(_("All limits as a table"), lambda: windows_table(weighed.windows))
    left, right = st.columns(2, gap="large")
    with left:
        st.subheader(_("What does it cost?"), anchor=False)
        parts.cost(recipe)
    with right:
        st.subheader(_("How is it cooked?"), anchor=False)
        parts.cook(recipe, weighed)
        if recipe.warnings:
            bullets(recipe.warnings)
    st.subheader(_("Why these kilos?"), anchor=False)
    if recipe.why:
        bullets(recipe.why)
    else:
        st.write(_("Whole numbers decide here, so no single limit has a price."))
    _expander(_("What would change this recipe"), lambda: parts.would_change(recipe))
    _measuring(made, folder)
    _expander(_("Figures it counts with"), lambda: parts.counted_with(recipe))
    _expander(_("What was left out, and why"), lambda: parts.left_out(recipe))
    if recipe.defaults:
        _expander(_("Taken for granted"), lambda: bullets(recipe.defaults))


def _decide(made: Made, weighed: Weighed, *, is_old: bool) -> None:
    """Safety stands where the decision is made."""
    recipe = made.recipe
    with st.container(border=True):
        must = [caution.text for caution in recipe.cautions if caution.blocks]
        mind = [caution.text for caution in recipe.cautions if not caution.blocks]
        if must:
            st.warning(f"**{_('Before any jar leaves')}**\n" + listed(must))
        if mind:
            st.markdown(f"**{_('Mind')}**\n" + listed(mind))
        inputs = (session.state_key(), repr(made.request))
        make_batch(recipe, made.request, weighed, inputs, is_old=is_old)


def _measuring(made: Made, folder: SiteFolder) -> None:
    """What knowing a figure would save: some seconds of work, so only when asked."""
    inputs = (session.state_key(), repr(made.request))
    asked = session.get("measuring_asked", None) == inputs
    with st.expander(_("What is worth measuring?"), expanded=asked):
        if not asked:
            st.write(_("How much a measurement, or owning an instrument, would save on this batch."))
            st.button(_("Work it out"), key="recipe_measure", on_click=session.put, args=("measuring_asked", inputs))
            return

        book = session.book()

        def work(job: Job) -> tuple[Worth, ...]:
            return measuring_for(folder, made.request, made.recipe, book=book, progress=job.report)

        job = session.job(MEASURING, inputs, work)
        job.wait(0.5)
        if job.is_running or job.was_stopped:
            wait_for(job, MEASURING, N_("Working out what a reading would change: {done} of {total} lots"))
            return
        if not job.is_done:
            st.write(_("This could not be worked out."))
            return
        if not job.result:
            st.write(_("Nothing: no reading would change this batch."))
            return
        rows = [
            [
                _("your kitchen") if worth.id == "site" else worth.id,
                _(_FIGURES.get(worth.figure, worth.figure)),
                show_money(worth.saves, made.recipe.currency),
            ]
            for worth in job.result
        ]
        head = [_("Of"), _("Measure or own"), _("Saves, on average")]
        result_table(rows, head, alt=_("What is worth measuring"), right=(2,))


def _expander(title: str, draw: Callable[[], None]) -> None:
    with st.expander(title):
        draw()


page()
