"""The four cards of Today, each the answer to one question; figures come ready from the services."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import streamlit as st

from optimizer.blend.request import Request
from optimizer.blend.result import Recipe
from optimizer.inputs.models import Site
from optimizer.services.cost_parts import cost_parts, sale_per_jar
from optimizer.services.today import Choice, Today
from ui import session
from ui.plain import plain
from ui.show import product_name
from ui.words import (
    N_,
    _,
    capital,
    ngettext,
    said,
    show_keeping,
    show_mass,
    show_money,
    show_number,
    show_percent,
    show_price,
)

PARTS = {
    "fruit": N_("fruit"),
    "sugar": N_("sugar"),
    "acid": N_("acid"),
    "pectin": N_("pectin"),
    "other": N_("other"),
    "fuel": N_("fuel"),
    "jars": N_("jars"),
    "labour": N_("work"),
}
_MOST_LINES = 4


@dataclass(frozen=True, kw_only=True)
class Answer:
    """What Today says: the ranking, and the first choice told in full."""

    found: Today
    request: Request | None
    recipe: Recipe | None


def fruit_words(shares: tuple[tuple[str, float], ...]) -> str:
    """Fruits of a choice with their shares.

    >>> fruit_words((("apple", 0.7), ("pear", 0.3))), fruit_words((("plum", 1.0),))
    ('apple 70\\xa0%, pear 30\\xa0%', 'plum')
    """
    if len(shares) == 1:
        return said(shares[0][0])
    return ", ".join(f"{said(fruit)} {show_percent(share, 'share')}" for fruit, share in shares)


def cards(answer: Answer, site: Site, *, is_old: bool) -> None:
    """All four; on a wide screen two and two."""
    best = answer.found.choices[0]
    for left, right in ((_cook, _jar), (_buy, _stops)):
        first, second = st.columns(2, border=True)
        with first:
            left(answer, best, site, is_old)
        with second:
            right(answer, best, site, is_old)


def _card(question: str, reply: str) -> None:
    st.caption(question)
    st.subheader(plain(reply), anchor=False)


def _lines(lines: Iterator[str] | list[str]) -> None:
    st.markdown("  \n".join(lines))


def _cook(answer: Answer, best: Choice, site: Site, is_old: bool) -> None:
    found = answer.found
    _card(
        _("What do I cook?"),
        _("{product}, {mass}").format(product=capital(product_name(best.title)), mass=show_mass(best.finished_kg)),
    )
    lines = [plain(_("from {fruit}").format(fruit=fruit_words(best.fruit_shares)))]
    if best.jars and site.jars:
        lines.append(
            plain(
                ngettext("{count} jar of {name}", "{count} jars of {name}", best.jars).format(
                    count=show_number(best.jars, "kg", places=0), name=site.jars[0].name
                )
            )
        )
    lines.append(
        plain(
            _("saves {money} over cooking nothing").format(money=show_money(best.value_saved, found.currency)),
        )
    )
    soonest = min(best.lots, key=lambda use: use.keeps_days, default=None)
    if soonest is not None:
        lines.append(
            plain(_("uses {lot}, which keeps: {time}").format(lot=soonest.id, time=show_keeping(soonest.keeps_days)))
        )
    _lines(lines)
    if st.button(_("Cook this"), type="primary", key="today_cook", disabled=is_old, icon=":material/skillet:"):
        open_recipe(answer.request)


def open_recipe(request: Request | None) -> None:
    """Turn to the recipe of a request."""
    session.put(session.TODAY_CHOICE, request)
    session.go("recipe")


def _jar(answer: Answer, best: Choice, site: Site, is_old: bool) -> None:
    currency, recipe = answer.found.currency, answer.recipe
    if best.cost_per_jar is None:
        _card(_("What does a jar cost?"), _("No jars are set up"))
        session.link("settings", _("To settings: jars"))
        return
    _card(_("What does a jar cost?"), show_money(best.cost_per_jar, currency))
    if recipe is None:
        return
    sale = sale_per_jar(recipe, site)
    lines = []
    if sale is not None:
        lines.append(plain(_("sells at {money}").format(money=show_money(sale, currency))))
    parts = [
        f"{_(PARTS[part.id])}\u00a0{show_price(part.per_jar)}"
        for part in cost_parts(recipe)
        if part.per_jar is not None
    ]
    lines.append(plain(" · ".join(parts)))
    lines.append(plain(_("fruit on hand counts at what it would still be worth tomorrow")))
    _lines(lines)


def _buy(answer: Answer, best: Choice, site: Site, is_old: bool) -> None:
    found = answer.found
    if not best.buy:
        _card(_("What do I buy?"), _("Nothing"))
        st.write(_("All that this batch needs is on the shelf."))
        return
    _card(
        _("What do I buy?"),
        ngettext("{count} thing for {money}", "{count} things for {money}", len(best.buy)).format(
            count=len(best.buy), money=show_money(best.goods_cost, found.currency)
        ),
    )
    same_to = {change.id: change.same_to for change in answer.recipe.would_change} if answer.recipe else {}
    lines = []
    for purchase in best.buy[:_MOST_LINES]:
        line = _("{mass} {item} ({code})").format(
            mass=show_mass(purchase.kg), item=said(purchase.item), code=purchase.id
        )
        upper = same_to.get(purchase.id)
        if upper is not None:
            line += ": " + _("the same recipe up to {price} {currency}/kg").format(
                price=show_price(upper), currency=found.currency
            )
        lines.append(plain(line))
    if len(best.buy) > _MOST_LINES:
        lines.append(plain(_("and {count} more").format(count=len(best.buy) - _MOST_LINES)))
    _lines(lines)


def _stops(answer: Answer, best: Choice, site: Site, is_old: bool) -> None:
    stops = list(_what_stops(answer, best))
    reply = (
        ngettext("{count} thing to know", "{count} things to know", len(stops)).format(count=len(stops))
        if stops
        else _("Nothing")
    )
    _card(_("What stops me?"), reply)
    st.markdown("\n".join(f"- {plain(line)}" for line in stops))


def _what_stops(answer: Answer, best: Choice) -> Iterator[str]:
    late = max(best.buy, key=lambda purchase: purchase.delivery_days, default=None)
    if late is not None and late.delivery_days > 0.0:
        yield _("What must be bought is here in {time}, {code} last").format(
            time=show_keeping(late.delivery_days), code=late.id
        )
    if best.needs_measured_ph:
        yield _("Fruit low in acid: no jar leaves before its pH is measured at 4.0 or less")
    recipe = answer.recipe
    if recipe is not None:
        release = [caution for caution in recipe.cautions if caution.blocks]
        if release:
            yield ngettext(
                "{count} check before any jar leaves: see the recipe",
                "{count} checks before any jar leaves: see the recipe",
                len(release),
            ).format(count=len(release))
        for sentence in recipe.why[:2]:
            yield said(sentence)
