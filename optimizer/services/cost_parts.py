"""What a batch costs, part by part, whole and per jar."""

from __future__ import annotations

from dataclasses import dataclass

from optimizer.blend.result import Recipe
from optimizer.inputs.models import Site

_NOTHING = 5e-4  # of the whole: a part smaller than that is not told


@dataclass(frozen=True, kw_only=True)
class CostPart:
    """One part in money; `per_jar` is None where no jars are counted."""

    id: str  # fruit, sugar, acid, pectin, other, fuel, jars, labour
    total: float
    per_jar: float | None


def cost_parts(recipe: Recipe) -> tuple[CostPart, ...]:
    """The parts that matter, in the order of the work; they add up to the whole but for crumbs.

    Examples
    --------
    >>> from optimizer.services.recipe import recipe_of_demo
    >>> [part.id for part in cost_parts(recipe_of_demo())]
    ['fruit', 'sugar', 'acid', 'pectin', 'fuel', 'jars', 'labour']
    """
    costs = recipe.costs
    if costs is None:
        return ()
    jars = sum(jar.count for jar in recipe.jars)
    return tuple(
        CostPart(id=name, total=value, per_jar=value / jars if jars else None)
        for name, value in costs.parts.items()
        if abs(value) > _NOTHING * abs(costs.total)
    )


def sale_per_jar(recipe: Recipe, site: Site) -> float | None:
    """What one jar sells for; None without jars or without a sale price."""
    price = site.prices.get(recipe.product)
    if price is None or not recipe.jars:
        return None
    return price * recipe.jars[0].net_kg
