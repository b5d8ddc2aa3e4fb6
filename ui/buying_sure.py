"""How sure: what a test of a lot is worth, and what a supplier's guarantee."""

from __future__ import annotations

from collections.abc import Hashable
from typing import Final, cast

import streamlit as st

from optimizer.errors import InputFault
from optimizer.inputs.typed import parse_fraction, parse_number
from optimizer.market.certainty import Guaranteed, What
from optimizer.market.certainty import Worth as Certainty
from optimizer.services.buying import guaranteed, may_be_guaranteed, worth_of_each_test
from optimizer.services.offers import Offers
from ui.buying_parts import amount, drawn_in, item_name, money_figure, names_of, on_demand
from ui.plain import plain
from ui.show import result_table
from ui.words import N_, _, decimal_mark, said, show_money, show_number, show_percent

TESTS, GUARANTEE = "buying_tests", "buying_guarantee"
_KEEP: Final = "session"
_FIGURES: dict[What, str] = {
    "brix": N_("Brix"), "acid": N_("acid"), "pectin": N_("pectin"), "ph": N_("pH"), "grade": N_("grade"),
}  # fmt: skip
_SMALL = 0.005


def section(found: Offers, inputs: Hashable, *, is_old: bool) -> None:
    """Both."""
    _tests(found, inputs, is_old=is_old)
    _guarantee(found, inputs, is_old=is_old)


def _tests(found: Offers, inputs: Hashable, *, is_old: bool) -> None:
    st.subheader(_("What is a test worth?"), anchor=False)
    st.caption(
        _(
            "The saving to expect from knowing one figure before the batch is made; the most that the test may cost. "
            "Each of five possible readings is worked out."
        )
    )
    grade = st.text_input(
        _("How far may the grade of a pectin lie from what is stated?"), key="buying_grade_sd", persist_state=_KEEP,
        placeholder=_("degrees, such as 5; empty: not asked"), width=520,
    )  # fmt: skip
    try:
        grade_sd = parse_number(grade, decimal_mark()) if grade and grade.strip() else None
    except InputFault as fault:
        st.warning(plain(said(str(fault)), most=250))
        return
    order = found.order
    reply = on_demand(
        TESTS, (inputs, grade_sd), lambda run: worth_of_each_test(order, run.report, grade_sd=grade_sd),
        N_("Working out what a reading would change: {done} of {total} goods"), found,
        button=_("Work out what tests are worth"), is_old=is_old,
    )  # fmt: skip
    if reply is not None:
        with drawn_in("tests", reply):
            _tests_table(reply.result, reply.found)


def _tests_table(result: tuple[Certainty, ...], found: Offers) -> None:
    items = names_of(found)
    rows = [
        [one.id, item_name(items.get(one.id, "")), _(_FIGURES[cast(What, one.figure)]), amount(one.kg, "kg"),
         show_money(one.saves, found.currency)]
        for one in result if one.saves >= _SMALL
    ]  # fmt: skip
    if not rows:
        st.write(_("Nothing: no single reading would change what is best enough to save a cent."))
        return
    head = [_("Code"), _("What"), _("Test"), _("The batches take"), _("Saves, on average")]
    result_table(rows, head, alt=_("What a test of each lot or offer is worth"), right=(3, 4))


def _guarantee(found: Offers, inputs: Hashable, *, is_old: bool) -> None:
    st.subheader(_("What is a supplier's guarantee worth?"), anchor=False)
    pairs = may_be_guaranteed(found.order)
    if not pairs:
        st.write(_("Every figure of the fruit and pectin here is measured: a guarantee would change nothing."))
        return
    items = names_of(found)
    one, two, three, four = st.columns(4)
    code = one.selectbox(
        _("Of which lot or offer?"), list(pairs), key="buying_guaranteed", persist_state=_KEEP,
        format_func=lambda name: f"{name}: {item_name(items[name])}",
    )  # fmt: skip
    what: What = two.selectbox(
        _("Of what figure?"), pairs[code], key="buying_guaranteed_figure", format_func=lambda key: _(_FIGURES[key])
    )
    least = three.text_input(_("Guaranteed at least"), key="buying_guaranteed_least", persist_state=_KEEP,
                             placeholder=_("such as 12 %"))  # fmt: skip
    sd = four.text_input(_("or this close (spread)"), key="buying_guaranteed_sd", persist_state=_KEEP,
                         placeholder=_("such as 0.3 %"))  # fmt: skip
    try:
        at_least, spread = _read(least or "", what), _read(sd or "", what)
    except InputFault as fault:
        st.warning(plain(said(str(fault)), most=250))
        return
    if at_least is None and spread is None:
        st.caption(_("Type what the supplier would guarantee: a least figure, how close it is, or both."))
        return
    order = found.order
    reply = on_demand(
        GUARANTEE, (inputs, code, what, at_least, spread),
        lambda run: guaranteed(order, code, what, run.report, least=at_least, sd=spread),
        N_("Working out what the guarantee changes"), found, button=_("Work out what it is worth"), is_old=is_old,
    )  # fmt: skip
    if reply is not None:
        with drawn_in("guarantee", reply):
            _guaranteed(reply.result, reply.found)


def _read(text: str, what: What) -> float | None:
    if not text.strip():
        return None
    return parse_number(text, decimal_mark()) if what == "grade" else parse_fraction(text, decimal_mark())


def _guaranteed(result: Guaranteed, found: Offers) -> None:
    is_share = result.figure != "grade"
    one, two, three = st.columns(3)
    one.metric(_("Saves on these batches"), show_money(result.saves, found.currency))
    two.metric(_("It may be dearer by, per kg"), money_figure(result.premium_per_kg))
    mean = show_percent(result.mean) if is_share else show_number(result.mean, "brix")
    around = show_percent(result.sd) if is_share else show_number(result.sd, "brix")
    three.metric(_("Reckoned at"), f"{mean} ± {around}")
    text = _("The batches take {mass} of {code} now, and {other} with the guarantee.")
    st.write(plain(text.format(mass=amount(result.kg, "kg"), code=result.id, other=amount(result.kg_with, "kg"))))
