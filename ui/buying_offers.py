"""Offers side by side, and the three prices that are easily mixed up, each under its own name with its range."""

from __future__ import annotations

from collections.abc import Sequence

import streamlit as st

from optimizer.market.entry import Entry
from optimizer.market.landed import Landed
from optimizer.services.offers import Offers
from optimizer.services.offers_sheet import compared_sheet
from ui.buying_parts import amount, downloads, item_name, money_figure, names_of, units_of
from ui.plain import plain
from ui.show import result_table
from ui.words import N_, _, ngettext, said, show_mass, show_number

_USES = {
    "fruit": N_("Fruit, per edible kg"), "sugar": N_("Sugar, per kg of solids"),
    "acid": N_("Acid, per kg of pure citric acid"), "HM pectin": N_("Pectin, per kg of sugar it sets"),
    "LM pectin": N_("Calcium-setting pectin, per kg"), "preservative": N_("Preservative, per kg active"),
    "buffer salt": N_("Buffer salt, per kg pure"), "calcium": N_("Calcium salt, per kg of calcium"),
    "jar": N_("Packaging, per filled jar"),
}  # fmt: skip
_SMALL = 0.0005  # money per kg: less shows as nothing


def side_by_side(found: Offers, *, is_whole: bool) -> None:
    """All offers, those that do the same in one table, the cheapest to use first."""
    st.subheader(_("Which offer is cheapest to use?"), anchor=False)
    st.caption(
        plain(
            _(
                "Listed: the price as it is asked, in {currency}. Landed: what one useful unit costs in whole packs, "
                "delivered, less what fruit brings besides. The recipe decides, not the landed price alone."
            ).format(currency=found.currency)
        )
    )
    for use, title in _USES.items():
        mine = [one for one in found.landed if one.use == use]
        if mine:
            _of_use(_(title), mine, found, is_whole=is_whole)
    downloads(compared_sheet(found), "buying_offers", with_xlsx=True)
    left_out(found)


def _of_use(title: str, mine: Sequence[Landed], found: Offers, *, is_whole: bool) -> None:
    units = units_of(found)
    rows = []
    for one in mine:
        unit, entry = units[one.id], found.entry.get(one.id)
        taken = found.order.taken.get(one.id, 0.0)
        rows.append(
            [
                one.id, item_name(one.item), f"{money_figure(one.list_price)}\u00a0/\u00a0{_unit(unit)}",
                money_figure(one.list_per_useful_unit), money_figure(one.landed_per_useful_unit),
                _taken(taken, unit, one, found), _enters(entry, taken) if is_whole else "…",
                _range(entry) if is_whole else "…",
            ]
        )  # fmt: skip
    st.markdown(f"**{title}**")
    head = [
        _("Code"), _("Offer"), _("Listed"), _("Useful, as listed"), _("Useful, landed"), _("Taken"),
        _("Buy below"), _("Holds between"),
    ]  # fmt: skip
    result_table(rows, head, alt=_("Offers side by side: {use}").format(use=title), right=(2, 3, 4, 5, 6, 7))
    for one in mine:
        if one.said and one.use in ("fruit", "acid"):
            st.caption(plain(f"{one.id}: {'; '.join(said(text) for text in one.said)}"))


def _unit(unit: str) -> str:
    return _("kg") if unit == "kg" else _("piece")


def _taken(taken: float, unit: str, one: Landed, found: Offers) -> str:
    if taken <= 0.0:
        return "–"
    packs = next((line.packs for line in found.order.lines if line.offer == one.id), None)
    text = amount(taken, unit)
    if packs is None:
        return text
    return ngettext("{amount} ({count} pack)", "{amount} ({count} packs)", packs).format(amount=text, count=packs)


def _enters(entry: Entry | None, taken: float) -> str:
    if entry is None:
        return ""
    if entry.at_any_price:
        return _("any price")
    if entry.enters_below is None:
        return _("not even free") if taken <= 0.0 else ""
    return money_figure(entry.enters_below)


def _range(entry: Entry | None) -> str:
    """Between which prices the amount taken stays as it is."""
    if entry is None:
        return ""
    low, high = entry.same_from, entry.same_to
    if entry.taken <= 0.0:
        return "" if low is None else _("{low} and up").format(low=money_figure(low))
    if high is None:
        return _("{low} and up").format(low=money_figure(low or 0.0))
    return f"{money_figure(low or 0.0)} – {money_figure(high)}"


def left_out(found: Offers) -> None:
    """Offers and lots that are not in it, and why."""
    rows = [[out.id, item_name(out.item), said(out.why)] for out in found.order.left_out]
    rows += [[out.id, item_name(out.item), said(out.why)] for out in found.not_comparable]
    if rows:
        st.subheader(_("What was left out, and why?"), anchor=False)
        result_table(rows, [_("Code"), _("What"), _("Why")], alt=_("Offers and lots left out, and why"))


# ---- three prices ----------------------------------------------------------------------------------------------------


def three_prices(found: Offers) -> None:
    """Each with its one sentence, so that none is taken for another."""
    _buy_below(found)
    _worth(found)
    _pays_from(found)


def _buy_below(found: Offers) -> None:
    st.subheader(_("1. Buy below: at what price do I change my mind?"), anchor=False)
    st.caption(
        plain(
            _(
                "The entry price of an offer, in {currency} per kg or piece: below it the cheapest order takes the "
                "offer, above it does not. All other prices stay as they are; packs and deliveries count."
            ).format(currency=found.currency)
        )
    )
    items, units = names_of(found), units_of(found)
    rows = [
        [
            entry.id, item_name(items[entry.id]), money_figure(entry.price), _enters(entry, entry.taken),
            amount(entry.then_taken, units[entry.id]) if entry.then_taken > 0.0 else "", _range(entry),
            _("taken") if entry.taken > 0.0 else _("not taken"),
        ]
        for entry in sorted(found.entries, key=lambda entry: entry.taken > 0.0)
    ]  # fmt: skip
    if not rows:
        st.write(_("No offer goes into these batches."))
        return
    head = [
        _("Code"), _("Offer"), _("Price now"), _("Buy below"), _("Then buys"), _("Same order between"), _("Now"),
    ]  # fmt: skip
    result_table(
        rows, head, alt=_("Entry price of each offer and the range in which the order stays"), right=(2, 3, 4, 5)
    )
    loose = [
        f"{entry.id} {money_figure(entry.enters_below)}" for entry in found.mix_entries
        if entry.enters_below is not None and entry.taken == 0.0
    ]  # fmt: skip
    if loose:
        st.caption(
            plain(
                _("If any amount could be had without packs and delivery, it would be below: {prices}.").format(
                    prices=", ".join(loose)
                )
            )
        )


def _worth(found: Offers) -> None:
    st.subheader(_("2. One more kilogram: what is it worth?"), anchor=False)
    st.caption(
        plain(
            _(
                "What one kg more of something scarce would save, in {currency}, were it simply there, while the order "
                "stays as it is. It is no price to pay for a whole pack."
            ).format(currency=found.currency)
        )
    )
    items = names_of(found)
    rows = [
        [
            one.id, item_name(items.get(one.id, "")), show_mass(one.there), show_number(one.value, "price"),
            _("without end") if one.holds_to is None
            else _("{low} to {high}").format(low=show_mass(max(0.0, one.holds_from or 0.0)),
                                             high=show_mass(one.holds_to)),
        ]
        for one in found.worth
        if one.value >= _SMALL
    ]  # fmt: skip
    if not rows:
        st.write(_("Nothing is scarce: more of it would change nothing."))
        return
    head = [_("Code"), _("What"), _("There is"), _("One kg more saves"), _("Holds while there is")]
    result_table(rows, head, alt=_("Worth of one more kilogram of what is scarce"), right=(2, 3, 4))


def _pays_from(found: Offers) -> None:
    st.subheader(_("3. Pays from so many jars: when is the bigger pack worth it?"), anchor=False)
    st.caption(
        ngettext(
            "Jars of one order from which another offer costs no more than the one taken now, packs and deliveries "
            "counted; now {count} jar. What is left over counts for nothing.",
            "Jars of one order from which another offer costs no more than the one taken now, packs and deliveries "
            "counted; now {count} jars. What is left over counts for nothing.",
            found.order.jars,
        ).format(count=show_number(found.order.jars, "kg", places=0))
    )
    items = names_of(found)
    rows = []
    for one in found.pays_from:
        most = _("not up to {count}").format(count=show_number(one.most_jars, "kg", places=0))
        rows.append(
            [
                one.id, item_name(items[one.id]), one.against,
                "" if one.first_jars is None else show_number(one.first_jars, "kg", places=0),
                most if one.jars is None else show_number(one.jars, "kg", places=0),
            ]
        )  # fmt: skip
    if not rows:
        st.write(_("No pack, delivery or step of a price stands between offers that do the same."))
        return
    head = [_("Code"), _("Offer"), _("Against"), _("Cheaper first at, jars"), _("Cheaper from then on, jars")]
    result_table(rows, head, alt=_("Jars from which another offer pays"), right=(3, 4))
    st.caption(
        _("Between the two it wins and loses by turns, as whole packs fall. A rule of the recipe may forbid it.")
    )
