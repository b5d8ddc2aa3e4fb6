"""A recipe as a person reads it, at 80 columns: what to weigh, what it will be, its cost, why, what would change."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from optimizer.blend.result import Amount, Recipe, RowReport, WouldChange
from optimizer.commands.text import number, paragraph, percent, span, table
from optimizer.units import format_mass, format_money

_KINDS = ("fruit", "sweetener", "pectin", "acid", "salt", "preservative")


def recipe_text(recipe: Recipe, *, full: bool = False) -> str:
    """The whole text; `full` adds every row with its source, and every price."""
    parts = _none(recipe, full=full) if recipe.status == "none" else _found(recipe, full=full)
    return "\n\n".join(part for part in parts if part)


def _title(recipe: Recipe) -> str:
    under = "no standard" if recipe.standard == "none" else recipe.standard
    name = recipe.legal_name or recipe.title
    first = f"{name[:1].upper()}{name[1:]}, {format_mass(recipe.batch_kg)} finished"
    of = ", ".join(f"{fruit} {share * 100:.0f} %" for fruit, share in recipe.fruit_shares.items())
    fruit = f"\n{paragraph(f'Fruit: {of}')}" if of else ""
    return f"{first}\n{paragraph(f'{recipe.site}, {recipe.altitude_m:.0f} m, rules: {under}')}{fruit}"


def _found(recipe: Recipe, *, full: bool) -> Iterator[str]:
    yield _title(recipe)
    yield _weigh(recipe)
    yield _will_be(recipe)
    yield _figures(recipe)
    yield _cook(recipe)
    yield _cost(recipe)
    yield _bullets("Why", recipe.why if full else recipe.why[:6])
    yield _would_change(recipe, full=full)
    yield _worth_measuring(recipe)
    if full:
        yield _rows("Rules and where the batch lies", recipe.rows)
    yield _left_out(recipe, full=full)
    yield _bullets("Note", (*recipe.warnings, *recipe.defaults))
    yield _cautions(recipe)


def _none(recipe: Recipe, *, full: bool) -> Iterator[str]:
    yield _title(recipe)
    yield "NO RECIPE"
    yield "\n".join(paragraph(text) for text in recipe.why)
    if recipe.reliefs:
        head = ["what would help (each tried by solving again)", "cost then"]
        rows = [[r.change, format_money(r.cost_after, recipe.currency)] for r in recipe.reliefs]
        yield table(head, rows, right=[1])
    if full:
        yield _rows("Rules that clash", recipe.clash)
    yield _left_out(recipe, full=True)
    yield _bullets("Note", recipe.defaults)


def _in_order(amounts: Iterable[Amount]) -> list[Amount]:
    return sorted(amounts, key=lambda a: (_KINDS.index(a.stream.kind), -a.pan_kg))


def _weigh(recipe: Recipe) -> str:
    rows = []
    for amount in _in_order(recipe.amounts):
        stream = amount.stream
        differs = abs(amount.received_kg - amount.pan_kg) > 1e-6 * amount.pan_kg
        rows.append(
            [
                stream.id,
                stream.item + (" (extract)" if stream.extraction_min > 0 else ""),
                _weighed(amount.received_kg) if differs else "",
                _weighed(amount.pan_kg),
                format_money(amount.cost, recipe.currency),
            ]
        )
    if recipe.water_added_kg > 1e-6 * recipe.batch_kg:
        rows.append(["", "water", "", _weighed(recipe.water_added_kg), ""])
    if recipe.boil_off_kg > 1e-6 * recipe.batch_kg:
        rows.append(["", "boils off", "", "-" + _weighed(recipe.boil_off_kg), ""])
    rows.append(["", "finished", "", _weighed(recipe.finished_kg), ""])
    return table(["code", "what", "as received", "into the pan", "counts at"], rows, right=[2, 3, 4])


def _weighed(kg: float) -> str:
    """To 10 g from a kilogram on, to a gram or a tenth below."""
    if abs(kg) >= 1.0:
        return f"{kg:.2f} kg"
    return f"{kg * 1000.0:.0f} g" if abs(kg) >= 0.1 else f"{kg * 1000.0:.1f} g"


_FIGURES = (  # column of the stock table, figure of a stream, factor and places for people
    ("brix", "reading_fraction", "solids_fraction", "Brix", 100.0, 1),
    ("acid", "titratable_acid_fraction", "titratable_acid_fraction", "acid %", 100.0, 2),
    ("pectin", "pectin_strength", "pectin_strength", "pectin carries, kg sugar per kg", 1.0, 2),
)


def _figures(recipe: Recipe) -> str:
    """Which figures of the fruit were measured and which come from the book, with their spread."""
    lines = []
    for amount in _in_order(recipe.amounts):
        stream = amount.stream
        if stream.kind != "fruit":
            continue
        spread = {error.figure: error.sd_per_kg for error in stream.errors}
        said = []
        for column, figure, error, name, factor, places in _FIGURES:
            value = getattr(stream.per_kg, figure) * factor
            known = column in stream.measured or (column == "pectin" and "spirit_test" in stream.measured)
            around = f" ± {spread[error] * factor:.{places}f}" if error in spread else ""
            said.append(f"{name} {value:.{places}f}{around} ({'measured' if known else 'book'})")
        ph = "measured" if "ph" in stream.measured else "pessimistic" if stream.needs_measured_ph else "book"
        said.insert(1, f"pH {stream.per_kg.ph:.2f} ({ph})")
        lines.append(f"{stream.id}: " + ", ".join(said))
    return _bullets("Counted with (± one standard deviation)", lines)


def _will_be(recipe: Recipe) -> str:
    p = recipe.predicted
    if p is None:
        return ""
    bounds = {row.id: row for row in recipe.rows}

    def window(low_id: str, high_id: str, places: int, factor: float) -> str:
        low, high = bounds.get(low_id), bounds.get(high_id)
        return span(
            "" if low is None or low.lower is None else number(low.lower * factor, places),
            "" if high is None or high.upper is None else number(high.upper * factor, places),
        )

    rows = [
        ["refractometer, %", percent(p.reading_fraction), window("least_solids", "most_solids", 1, 100.0)],
        ["pH", number(p.ph, 2), window("ph_lower", "ph_upper", 2, 1.0)],
        ["fruit, g per 100 g", percent(p.fruit_fraction), window("least_fruit", "", 1, 100.0)],
        ["acid as citric, %", percent(p.titratable_acid_fraction, 2), window("least_acid", "most_acid", 2, 100.0)],
    ]
    if p.pectin_strength_ratio is not None:
        margin = next((row.margin for row in recipe.rows if row.id == "pectin_strength"), None)
        least = f"from {percent(1.0 + (margin or 0.0), 0)}"
        rows.append(["pectin, of what the set needs, %", percent(p.pectin_strength_ratio, 0), least])
    if "calcium_least" in bounds:
        pectin, calcium = bounds["least_lm_pectin"].value, bounds["calcium_least"].value
        allowed = window("least_lm_pectin", "most_added_pectin", 1, 100.0)
        rows.append(["low-methoxyl pectin, %", percent(pectin, 2), allowed])
        rows.append(["calcium, mg per g of it", number(calcium, 1), window("calcium_least", "calcium_most", 0, 1.0)])
    rows += [
        [
            "sucrose, of what stays dissolved, %",
            percent(p.sucrose_saturation, 0),
            "to 100" if "no_sucrose_crystals" in bounds else "",
        ],
        ["water activity", number(p.water_activity, 3), window("", "", 2, 1.0)],
        ["invert sugar, % of sugars", percent(p.invert_share_fraction, 0), ""],
    ]  # fmt: skip
    shown = table(["it will be", "found", "window"], rows, right=[1, 2])
    return f"{shown}\n\n{_how_sure(recipe)}" if recipe.chance is not None else shown


def _how_sure(recipe: Recipe) -> str:
    found = recipe.chance
    if found is None:
        return ""
    names = {"least_solids": "solids", "most_solids": "solids", "pectin_strength": "set", "ph_upper": "pH low enough",
             "ph_lower": "pH high enough", "least_acid": "acid", "most_acid": "acid",
             "no_sucrose_crystals": "no crystals"}  # fmt: skip
    weak = [f"{names.get(id_, id_)} {share * 100:.0f} %" for id_, share in found.each.items() if share < 0.995]
    each = f" ({', '.join(weak)})" if weak else ""
    set_at = f"Reckoned at a confidence of {recipe.confidence:.2f}. " if recipe.confidence > 0.5 else ""
    return paragraph(
        f"{set_at}If the figures below err as they may, {found.all_windows * 100:.0f} % of such batches lie within all "
        f"windows at once{each}; measuring helps."
    )


def _cook(recipe: Recipe) -> str:
    p = recipe.predicted
    if p is None:
        return ""
    jars = "".join(f", {jar.count} jars of {jar.name}" for jar in recipe.jars)
    if not p.cook:
        return paragraph(f"Mixed cold; fills {format_mass(recipe.filled_kg)}{jars}.")
    loads = f" in each of {p.cook_plan.loads} loads" if p.cook_plan.loads > 1 else ""
    fuel = f", about {p.fuel[0]:.2g} {p.fuel[1]}" if p.fuel else ""
    acid = " Acid in the last 2 min." if any(a.stream.kind == "acid" for a in recipe.amounts) else ""
    text = (
        f"End point about {p.end_point_C:.1f} degC here; the refractometer ({percent(p.reading_fraction)} %, cooled "
        f"drop) decides. About {p.cook_minutes:.0f} min after the sugar{loads}{fuel}.{acid} "
        f"Fills {format_mass(recipe.filled_kg)}{jars}."
    )
    return paragraph(text)


def _cost(recipe: Recipe) -> str:
    costs = recipe.costs
    if costs is None:
        return ""
    parts = ", ".join(f"{name} {value:.2f}" for name, value in costs.parts.items() if abs(value) >= 0.005)
    per_jar = f", {format_money(costs.per_jar, recipe.currency)} a jar" if costs.per_jar is not None else ""
    first = (
        f"Cost {format_money(costs.total, recipe.currency)}: "
        f"{format_money(costs.per_finished_kg, recipe.currency)} per kg{per_jar} ({parts})."
    )
    second = (
        "" if costs.paid_total is None else f" At what was paid: {format_money(costs.paid_total, recipe.currency)}."
    )
    if recipe.whole_numbers:
        second += _whole_numbers(recipe)
    gained = ""
    if recipe.gained is not None:
        what = "saves" if recipe.aim == "value-saved" else "earns"
        gained = f" At the sale price it {what} {format_money(recipe.gained, recipe.currency)} over cooking nothing."
    return paragraph(first + second + gained + " Fruit on hand counts at what it would fetch uncooked.")


def _whole_numbers(recipe: Recipe) -> str:
    """Packs with what is left of them, and how well the choice is proved."""
    said = [
        f" {pack.packs} pack{'s' if pack.packs > 1 else ''} of {pack.pack_kg:g} kg of {pack.id} paid for, "
        f"{format_mass(pack.left_over_kg)} left over."
        for pack in recipe.packs
    ]
    if recipe.gap is None:
        proof = "that no other choice is cheaper was not proved in time"
    elif recipe.gap < 1e-5:
        proof = "no other choice is cheaper"
    else:
        proof = f"another one could be cheaper by {recipe.gap * 100:.2g} % at most"
    said.append(f" Whole numbers decide here (which fruits, lots, packs), so rules have no price; {proof}.")
    return "".join(said)


def _would_change(recipe: Recipe, *, full: bool) -> str:
    """Two tables: prices at which something enters, and (in full) between which prices all stays as it is."""
    entering = [
        c for c in sorted(recipe.would_change, key=_nearness) if not c.used and c.enters_below_per_kg is not None
    ]
    rows = [
        [
            c.id,
            c.item,
            number(c.price_per_kg, 3),
            number(c.enters_below_per_kg, 3),
            format_mass(c.then_kg) if c.then_kg else "",
        ]
        for c in (entering if full else entering[:8])
    ]
    parts = []
    if rows:
        head = ["code", "what would change this recipe", f"{recipe.currency}/kg", "enters below", "then takes"]
        parts.append(table(head, rows, right=[2, 3, 4]))
    used = [c for c in recipe.would_change if c.used]
    if full and used:
        body = [[c.id, c.item, number(c.price_per_kg, 3), number(c.same_from, 3), number(c.same_to, 3)] for c in used]
        head = ["code", "nothing changes between", f"{recipe.currency}/kg", "from", "to"]
        parts.append(table(head, body, right=[2, 3, 4]))
    never = [c for c in recipe.would_change if not c.used and c.enters_below_per_kg is None]
    if full and never:
        parts.append(_bullets("Not at any price", [f"{c.id} ({c.item}): {c.note}" for c in never]))
    return "\n\n".join(parts)


def _worth_measuring(recipe: Recipe) -> str:
    names = {"brix": "Brix", "ph": "pH"}
    rows = [
        ["your site" if w.id == "site" else w.id, names.get(w.figure, w.figure), format_money(w.saves, recipe.currency)]
        for w in recipe.worth_measuring
    ]
    return table(["worth measuring", "or owning", "saves, on average"], rows, right=[2]) if rows else ""


def _nearness(change: WouldChange) -> float:
    if change.enters_below_per_kg is None:
        return float("inf")
    return abs(change.price_per_kg - change.enters_below_per_kg)


def _rows(title: str, rows: Iterable[RowReport]) -> str:
    body = []
    for row in rows:
        value = "" if row.value != row.value else f"{row.value:.4g}"
        price = "" if row.price is None or abs(row.price) < 1e-9 else f"{row.price:.3g} per {row.price_unit}"
        body.append([row.meaning, value, "binds" if row.binding else "", price, f"{row.source} ({row.status})"])
    return f"{title}\n\n" + table(["rule", "found", "", "price", "source"], body, right=[1]) if body else ""


def _left_out(recipe: Recipe, *, full: bool) -> str:
    shown = [out for out in recipe.left_out if full or not out.why.startswith(("packaging", "only "))]
    return _bullets("Left out", tuple(f"{out.id} ({out.item}): {out.why}" for out in shown))


def _cautions(recipe: Recipe) -> str:
    must = _bullets("Before any jar leaves", (c.text for c in recipe.cautions if c.blocks))
    mind = _bullets("Mind", (c.text for c in recipe.cautions if not c.blocks))
    return "\n\n".join(part for part in (must, mind) if part)


def _bullets(title: str, texts: Iterable[str]) -> str:
    lines = [paragraph(f"- {text}", hanging=2) for text in dict.fromkeys(texts)]
    return "\n".join([title, *lines]) if lines else ""
