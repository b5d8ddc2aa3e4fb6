"""The parts of a recipe on the page: what to weigh, what it costs, why, what would change it, what it rests on."""

from __future__ import annotations

from collections.abc import Iterator

import streamlit as st

from optimizer.blend.result import Recipe, WouldChange
from optimizer.prepare.stream import Stream
from optimizer.services.cost_parts import cost_parts
from optimizer.services.weighing import Weighed
from ui.charts import cost_steps
from ui.first_start import standard_name
from ui.plain import plain
from ui.show import bullets, product_name, result_table
from ui.today_cards import PARTS, fruit_words
from ui.words import (
    N_,
    _,
    capital,
    ngettext,
    said,
    show_mass,
    show_money,
    show_number,
    show_percent,
    show_price,
    show_weight,
)

_SHOWN = 8
_WINDOW_NAMES = {
    "least_solids": N_("thickness"),
    "most_solids": N_("thickness"),
    "pectin_strength": N_("set"),
    "ph_upper": N_("pH low enough"),
    "ph_lower": N_("pH high enough"),
    "least_acid": N_("acid"),
    "most_acid": N_("acid"),
    "no_sucrose_crystals": N_("no crystals"),
}
_FIGURES = (  # column of the stock table, figure of a stream, its error, name, factor and places for people
    ("brix", "reading_fraction", "solids_fraction", N_("Brix"), 100.0, 1),
    ("acid", "titratable_acid_fraction", "titratable_acid_fraction", N_("Acid, %"), 100.0, 2),
    ("pectin", "pectin_strength", "pectin_strength", N_("Carries sugar, kg per kg"), 1.0, 2),
)


def headline(recipe: Recipe) -> None:
    """Name, mass, and how good the answer is."""
    name = capital(product_name(recipe.legal_name or recipe.title))
    st.subheader(plain(_("{product}, {mass}").format(product=name, mass=show_mass(recipe.finished_kg))), anchor=False)
    st.write(plain(_verdict(recipe)))


def _verdict(recipe: Recipe) -> str:
    if not recipe.certified:
        return _("A good recipe, but not proved the best.")
    if recipe.aim == "least-cost":
        best = _("The cheapest recipe that keeps all limits.")
    elif recipe.aim == "value-saved":
        best = _("Of all batches up to the mass you gave, the one that saves most.")
    else:
        best = _("Of all batches up to the mass you gave, the one that earns most.")
    if not recipe.whole_numbers:
        return best
    if recipe.gap is None:
        return _("A good recipe; that no other choice of fruits, lots and packs is cheaper was not proved in time.")
    if recipe.gap < 1e-5:
        return best
    return _("A good recipe; another one could be cheaper by {share} at most.").format(share=show_percent(recipe.gap))


def figures(recipe: Recipe, saved: float | None) -> None:
    """The four figures that are asked for first."""
    costs, currency = recipe.costs, recipe.currency
    if costs is None:
        return
    jar = recipe.jars[0] if recipe.jars else None
    columns = st.columns(4)
    if costs.per_jar is not None:
        columns[0].metric(_("A jar costs"), show_money(costs.per_jar, currency))
    else:
        columns[0].metric(_("A kg costs"), show_money(costs.per_finished_kg, currency))
    columns[1].metric(_("The batch costs"), show_money(costs.total, currency))
    if jar is not None:
        columns[2].metric(
            plain(_("Jars of {name}").format(name=jar.name), most=40), show_number(jar.count, "kg", places=0)
        )
    if recipe.aim != "least-cost" and saved is not None:
        columns[3].metric(_("Saves") if recipe.aim == "value-saved" else _("Earns"), show_money(saved, currency))
    elif recipe.chance is not None:
        columns[3].metric(_("Chance of all limits"), show_percent(recipe.chance.all_windows, "share"))


def weigh_table(recipe: Recipe, weighed: Weighed) -> None:
    """What to take and what goes into the pan, in the step of the scales."""
    step = weighed.step_kg
    rows = []
    for amount in weighed.amounts:
        differs = abs(amount.received_kg - amount.pan_kg) > step
        item = said(amount.item) + (" " + _("(strained juice)") if amount.is_extract else "")
        rows.append(
            [
                item,
                amount.id,
                _("on the shelf") if amount.origin == "stock" else _("to buy"),
                show_weight(amount.received_kg, step) if differs else "",
                show_weight(amount.pan_kg, step),
                show_money(amount.cost, recipe.currency),
            ]
        )
    if weighed.water_kg > 0.0:
        rows.append([_("water"), "", "", "", show_weight(weighed.water_kg, step), ""])
    if weighed.boil_off_kg > step:
        rows.append([_("boils off"), "", "", "", f"−{show_weight(weighed.boil_off_kg, step)}", ""])
    rows.append([_("finished"), "", "", "", show_weight(weighed.finished_kg, step), ""])
    head = [_("What"), _("Code"), _("Where"), _("Take"), _("Into the pan"), _("Counts at")]
    result_table(rows, head, alt=_("What to weigh for this batch"), right=(3, 4, 5))
    note = _("Rounded to {step}, the step of your scales; the limits below were checked again after rounding.").format(
        step=show_weight(step, step)
    )
    st.caption(plain(note))
    if weighed.predicted is None or weighed.outside:
        st.warning(
            _("Rounding to the step of your scales leaves a limit: weigh the small amounts on finer scales."),
        )


def label(recipe: Recipe) -> None:
    """The name it may bear, and the fruit in its order."""
    name = product_name(recipe.legal_name or recipe.title)
    law = standard_name(recipe.standard)
    lines = [_("May be sold as: {name} ({law})").format(name=name, law=law)]
    if recipe.fruit_shares:
        shares = tuple(recipe.fruit_shares.items())
        lines.append(_("Fruit, in the order of the label: {fruit}").format(fruit=fruit_words(shares)))
    st.markdown("  \n".join(plain(line) for line in lines))


def cook(recipe: Recipe, weighed: Weighed) -> None:
    """End point, time, loads, fuel, jars."""
    p = weighed.predicted or recipe.predicted
    if p is None:
        return
    lines = []
    if not p.cook:
        lines.append(_("Mixed cold, not boiled."))
    else:
        lines.append(
            _("Boil to {reading} on the refractometer (a cooled drop); that decides. About {degrees} °C here.").format(
                reading=show_percent(p.reading_fraction, "brix"), degrees=show_number(p.end_point_C, "degrees")
            )
        )
        minutes = _("About {minutes} minutes after the sugar.").format(minutes=show_number(p.cook_minutes, "minutes"))
        if p.cook_plan.loads > 1:
            minutes = _("About {minutes} minutes after the sugar, in each of {loads} equal loads.").format(
                minutes=show_number(p.cook_minutes, "minutes"), loads=p.cook_plan.loads
            )
        lines.append(minutes)
        if any(amount.kind == "acid" for amount in weighed.amounts):
            lines.append(_("The acid goes in during the last 2 minutes."))
        if p.fuel is not None:
            lines.append(
                _("Fuel: about {amount} {unit}.").format(amount=show_number(p.fuel[0], "brix"), unit=said(p.fuel[1]))
            )
    filled = _("Fills {mass}.").format(mass=show_mass(recipe.filled_kg))
    if recipe.jars:
        filled = ngettext(
            "Fills {mass}: {count} jar of {name}.", "Fills {mass}: {count} jars of {name}.", recipe.jars[0].count
        ).format(mass=show_mass(recipe.filled_kg), count=recipe.jars[0].count, name=recipe.jars[0].name)
    lines.append(filled)
    st.markdown("\n".join(f"- {plain(line)}" for line in lines))


def cost(recipe: Recipe) -> None:
    """Parts of the cost as steps, and what is behind them."""
    costs, currency = recipe.costs, recipe.currency
    if costs is None:
        return
    parts = [(capital(_(PARTS[part.id])), part.total, show_money(part.total, currency)) for part in cost_parts(recipe)]
    whole = (_("The batch"), costs.total, show_money(costs.total, currency))
    told = "; ".join(f"{name} {text}" for name, _value, text in (*parts, whole))
    cost_steps(parts, whole, _("What the batch costs, part by part: {parts}").format(parts=told))
    lines = [_("A finished kg costs {money}.").format(money=show_money(costs.per_finished_kg, currency))]
    if costs.paid_total is not None:
        lines.append(_("At what was paid: {money}.").format(money=show_money(costs.paid_total, currency)))
    if recipe.aim == "value-saved":
        lines.append(_("Fruit on hand counts at what it would still be worth tomorrow."))
    else:
        lines.append(_("Fruit on hand counts at what it would fetch uncooked."))
    lines += [
        _("{packs} packs of {mass} of {code} are paid for, {left} is left over.").format(
            packs=pack.packs, mass=show_mass(pack.pack_kg), code=pack.id, left=show_mass(pack.left_over_kg)
        )
        for pack in recipe.packs
    ]
    st.caption(plain(" ".join(lines)))


def how_sure(recipe: Recipe) -> None:
    """The chance of all windows at once, and which are weak."""
    found = recipe.chance
    if found is None:
        return
    weak = ", ".join(
        f"{_(_WINDOW_NAMES.get(id_, id_))} {show_percent(share, 'share')}"
        for id_, share in found.each.items()
        if share < 0.995
    )
    sentence = _(
        "If the figures of fruit and goods err as they may, {share} of such batches lie within all limits at once."
    ).format(share=show_percent(found.all_windows, "share"))
    if weak:
        sentence += " " + _("The weakest: {windows}. Measuring helps.").format(windows=weak)
    st.write(plain(sentence))


def would_change(recipe: Recipe) -> None:
    """Prices at which something would enter, and between which all stays as it is."""
    entering = sorted((c for c in recipe.would_change if _enters(c)), key=_distance)
    if entering:
        rows = [
            [
                said(c.item), c.id, show_price(c.price_per_kg), show_price(c.enters_below_per_kg),
                show_mass(c.then_kg) if c.then_kg else "",
            ]
            for c in entering[:_SHOWN]
        ]  # fmt: skip
        head = [
            _("Not used now"), _("Code"), _("{currency} per kg").format(currency=recipe.currency), _("Enters below"),
            _("Then takes"),
        ]  # fmt: skip
        result_table(rows, [plain(text) for text in head], alt=_("Prices at which something enters"), right=(2, 3, 4))
    used = [c for c in recipe.would_change if c.used]
    if used:
        rows = [
            [said(c.item), c.id, show_price(c.price_per_kg), show_price(c.same_from), show_price(c.same_to)]
            for c in used
        ]
        head = [
            _("Used now"), _("Code"), _("{currency} per kg").format(currency=recipe.currency), _("The same from"),
            _("The same up to"),
        ]  # fmt: skip
        alt_text = _("Prices between which nothing changes")
        result_table(rows, [plain(text) for text in head], alt=alt_text, right=(2, 3, 4))
    if not entering and not used:
        st.write(_("No single price changes this recipe."))


def _enters(change: WouldChange) -> bool:
    return not change.used and change.enters_below_per_kg is not None


def _distance(change: WouldChange) -> float:
    return abs(change.price_per_kg - (change.enters_below_per_kg or 0.0))


def counted_with(recipe: Recipe) -> None:
    """Figures of the fruit: measured or from the book, and how far they may err."""
    rows = [row for amount in recipe.amounts if amount.stream.kind == "fruit" for row in _figure_rows(amount.stream)]
    head = [_("Lot"), _("Figure"), _("Value"), _("May err by"), _("From")]
    result_table(rows, head, alt=_("Figures of the fruit that this recipe counts with"), right=(2, 3))


def _figure_rows(stream: Stream) -> Iterator[list[str]]:
    spread = {error.figure: error.sd_per_kg for error in stream.errors}
    ph = _("measured") if "ph" in stream.measured else _("assumed high") if stream.needs_measured_ph else _("the book")
    yield [stream.id, _("pH"), show_number(stream.per_kg.ph, "ph"), "", ph]
    for column, figure, error, name, factor, places in _FIGURES:
        value = getattr(stream.per_kg, figure)
        known = column in stream.measured or (column == "pectin" and "spirit_test" in stream.measured)
        around = show_number(spread[error] * factor, "figure", places=places) if error in spread else ""
        shown = show_number(value * factor, "figure", places=places)
        yield [stream.id, _(name), shown, around and f"± {around}", _("measured") if known else _("the book")]


def left_out(recipe: Recipe) -> None:
    """Lots and offers that are not in it, and why."""
    shown = [out for out in recipe.left_out if not out.why.startswith("packaging")]
    if not shown:
        st.write(_("Nothing was left out."))
        return
    rows = [[said(out.item), out.id, said(out.why)] for out in shown]
    result_table(rows, [_("What"), _("Code"), _("Why")], alt=_("What was left out, and why"))


def no_recipe(recipe: Recipe) -> None:
    """The clash, and the smallest changes that help."""
    name = product_name(recipe.legal_name or recipe.title)
    st.subheader(plain(_("No recipe for {product}").format(product=name)), anchor=False)
    st.write(_("No recipe keeps all limits with what is here and on offer."))
    bullets(recipe.why)
    if recipe.reliefs:
        st.subheader(_("Smallest help"), anchor=False)
        rows = [
            [capital(said(relief.change)), show_money(relief.cost_after, recipe.currency)] for relief in recipe.reliefs
        ]
        head = [_("Any one of these makes it possible"), _("The batch then costs")]
        result_table(rows, head, alt=_("Changes that make a recipe possible, each tried"), right=(1,))
        st.caption(_("Each was tried by working the recipe out again."))
