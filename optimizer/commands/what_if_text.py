"""Thousands of scenarios as text: what a job may cost, what is taken how often, what moves the cost."""

from __future__ import annotations

from optimizer.commands.text import paragraph, table
from optimizer.market.scenarios import Scenarios
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
