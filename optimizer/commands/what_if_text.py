"""What if, as text: thousands of scenarios, a map of two prices, what a test is worth."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from optimizer.commands.text import paragraph, table
from optimizer.market.certainty import Worth
from optimizer.market.scenarios import Scenarios
from optimizer.market.two_prices import Map
from optimizer.units import format_mass, format_money

_MOST_DRIVERS = 8
_SMALL_SHARE = 0.005
_MEANING = {0.05: "1 in 20 is cheaper", 0.25: "1 in 4 is cheaper", 0.50: "half are cheaper", 0.75: "1 in 4 is dearer",
            0.95: "1 in 20 is dearer"}  # fmt: skip


def scenarios_text(found: Scenarios, title: str, currency: str) -> str:
    """Cost, what is taken, what moves the cost, and how it was found."""
    costs = [
        [f"P{share * 100:02.0f}", format_money(cost, currency), _MEANING[share]] for share, cost in found.quantiles
    ]
    if found.cost_now is not None:
        costs.append(["now", format_money(found.cost_now, currency), "as things stand"])
    taken = [
        [t.name, f"{t.share * 100:.1f} %", format_mass(t.mean_kg_if_taken) if t.share else "none"] for t in found.taken
    ]
    parts = [
        paragraph(f"{title}: cost of lots, offers and fuel in {found.scenarios} scenarios, by the kilogram"),
        table(["", "cost", ""], costs, right=[1], indent=2),
        table(["OFFER", "taken in", "then on average"], taken, right=[1, 2], indent=2),
    ]
    drivers = [d for d in found.drivers if abs(d.share) >= _SMALL_SHARE][:_MOST_DRIVERS]
    if drivers:
        rows = [[d.what, f"{d.share * 100:.0f} %", f"{d.rank_correlation:+.2f}"] for d in drivers]
        parts.append(
            table(["WHAT MOVES THE COST", "of its variance", "rank correlation"], rows, right=[1, 2], indent=2)
        )
        parts.append(
            paragraph(f"A straight line in all of them explains {found.explained * 100:.0f} % of the variance.")
        )
    elif found.explained == 0.0:
        parts.append(paragraph("Nothing that varies here moves the cost."))
    seed = "" if found.seed is None else f" Seed {found.seed}: the same seed gives the same scenarios."
    parts.append(paragraph(" ".join(found.said) + seed))
    return "\n".join(parts)


def map_text(found: Map, currency: str) -> str:
    """Who wins where: each field of the map with what it takes and the prices it spans, the largest first."""
    first, second = found.items
    rows = []
    for cell in sorted(found.cells, key=lambda cell: -cell.share):
        spans = [f"{min(side):.3g} - {max(side):.3g}" for side in zip(*cell.corners, strict=True)]
        kg = [format_mass(kg) if kg > _NO_KG else "none" for kg in cell.choice.kg]
        rows.append([f"{cell.share * 100:.1f} %", *kg, *spans, " ".join(cell.choice.taken) or "nothing"])
    (low, low_too), (high, high_too) = found.price_from, found.price_to
    title = (
        f"Who wins where: A is {first}, from {low:.3g} to {high:.3g} {currency} per kg; B is {second}, from "
        f"{low_too:.3g} to {high_too:.3g} {currency} per kg; by the kilogram"
    )
    head = ["OF MAP", "buys A", "buys B", "price A", "price B", "offers taken"]
    return "\n".join([
        paragraph(title), table(head, rows, right=[0, 1, 2, 3, 4], indent=2),
        paragraph("Prices are the least and the greatest of each field; fields are polygons (`--json` has corners)."),
        paragraph(" ".join(found.said)),
    ])  # fmt: skip


def certainty_text(found: Sequence[Worth], items: Mapping[str, str], currency: str) -> str:
    """What testing each fruit that is taken saves, the best first."""
    rows = [
        [one.id, items.get(one.id, ""), _FIGURES.get(one.figure, one.figure), format_mass(one.kg),
         format_money(one.saves, currency)]
        for one in found if one.saves > 0.0
    ]  # fmt: skip
    said = (
        "Mean saving on these batches, by the kilogram, over five readings that a test may give: the most that the "
        "test may cost. Nothing is saved where the recipe stays the same whatever is read."
    )
    if not rows:
        return paragraph("WORTH OF A TEST: no test of the fruit that is taken would save anything on these batches.")
    return table(["code", "WORTH OF A TEST", "of", "used", "saves"], rows, right=[3, 4]) + "\n" + paragraph(said)


_NO_KG = 1e-6
_FIGURES = {"brix": "Brix", "ph": "pH"}
