"""Fruit content as the chosen standard counts it, named fruit, condition."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from optimizer.blend.case import Case
from optimizer.blend.rows import Form, Row
from optimizer.blend.standard import Bound


def least_content(case: Case, fruit: str) -> Bound | None:
    """Least kg of this fruit per kg finished: the standard's figure, lifted to our floor, or our default.

    Where the standard rules by sweetener solids instead, only our floor is left.
    """
    product, asked = case.product, case.request.fruit_least_fraction
    law = case.limits.fruit_content(fruit)
    floor, default = product.least_fruit_floor.least, product.fruit_per_finished.least
    if asked is not None:
        ours: Bound | None = Bound(value=asked, source="asked for", status="judgement")
    elif law is not None and floor is not None:
        ours = Bound(value=floor, source=product.least_fruit_floor.source, status=product.least_fruit_floor.status)
    elif law is None and case.limits.fruit_to_sweetener(fruit) is not None:
        ours = None
    elif law is None and default is not None:
        ours = Bound(value=default, source=product.fruit_per_finished.source, status=product.fruit_per_finished.status)
    else:
        ours = None
    if law is None or (ours is not None and ours.value > law.value):
        return ours
    return law


def content_by_fruit(case: Case) -> dict[str, Bound]:
    """`least_content` of every fruit among the streams."""
    found = {fruit: least_content(case, fruit) for fruit in case.fruits}
    return {fruit: bound for fruit, bound in found.items() if bound is not None}


def least_fruit(case: Case) -> Iterable[Row]:
    """Σ e · use ≥ c · finished; fruits with different c: Σ e · use ≥ k · finished and Σ c · e · use ≤ k · Σ e · use.

    k is the declared fruit content: with k equal to the real content the two rows are exactly the proportional rule of
    the standards; `recipe` searches over k.
    """
    bounds = content_by_fruit(case)
    if not bounds:
        return
    figures = {bound.value for bound in bounds.values()}
    strictest = max(bounds.values(), key=lambda b: b.value)
    declared = case.declared_fruit_fraction
    if len(figures) == 1 or declared is None:
        bound = strictest
        who = case.limits.legal_name if bound.source != "asked for" else "asked for"
        yield Row(
            id="least_fruit",
            meaning=f"at least {bound.value * 100:.3g} g of fruit per 100 g",
            unit="kg fruit per kg finished",
            numerator=case.fruit,
            denominator=case.finished,
            lower=bound.value,
            price_unit="kg of fruit",
            reason=f"{who}: fruit content of at least {bound.value * 100:.3g} g per 100 g",
            source=bound.source,
            status=bound.status,
            is_law=case.limits.fruit_content(_strictest(bounds)) == bound,
        )
        return
    yield Row(
        id="least_fruit",
        meaning=f"at least {declared * 100:.3g} g of fruit per 100 g, the content declared for this mix",
        unit="kg fruit per kg finished",
        numerator=case.fruit,
        denominator=case.finished,
        lower=declared,
        price_unit="kg of fruit",
        reason=f"{case.limits.legal_name}: the mix must hold the fruit content it declares",
        source=strictest.source,
        status=strictest.status,
        is_law=True,
    )
    asks = case.by_fruit({fruit: bound.value for fruit, bound in bounds.items()})
    yield Row(
        id="fruit_mix",
        meaning="the least content of each fruit, in proportion to its share, is within the declared content",
        unit="kg fruit per kg finished",
        numerator=case.form(asks * case.fruit.streams),
        denominator=case.fruit,
        upper=declared,
        price_unit="kg of fruit",
        reason=f"{case.limits.legal_name}: mixed fruit, minima in proportion to the shares",
        source=strictest.source,
        status=strictest.status,
        is_law=True,
    )


def _strictest(bounds: dict[str, Bound]) -> str:
    return max(bounds, key=lambda fruit: bounds[fruit].value)


def fruit_to_sweetener(case: Case) -> Iterable[Row]:
    """Σ e · use ≥ r · Σ (solids that are not fruit) · use: US jam, jelly and butter, Canadian preserve, our cheese."""
    fruits = case.fruits
    laws = [case.limits.fruit_to_sweetener(fruit) for fruit in fruits]
    found = [bound for bound in laws if bound is not None]
    # Several fruits at different figures: the strictest is sufficient; a mix with the milder group has its own.
    mixed = case.limits.mixed_fruit_to_sweetener() if case.is_group_mix else None
    bound: Bound | None = mixed or (max(found, key=lambda b: b.value) if found else None)
    window = case.product.fruit_per_sweetener_solids
    is_law = bound is not None  # also where our own figure is the same
    if window.least is not None and (bound is None or window.least > bound.value):
        is_law = False
        bound = Bound(value=window.least, source=window.source, status=window.status)
    if bound is None:
        return
    numerator = case.fruit
    by_fruit = {fruit: factor.value for fruit in fruits if (factor := case.limits.juice_factor(fruit)) is not None}
    factors = case.by_fruit(by_fruit)
    if np.any(factors > 0.0):
        # Juice (and fruit for butter) counts as factor x its natural solids, not by the kilogram.
        numerator = case.form(factors * case.column("reading_fraction") * case.is_fruit)
    yield Row(
        id="fruit_to_sweetener",
        meaning=f"at least {bound.value:.3g} kg of fruit per kg of solids that are not fruit",
        unit="kg fruit per kg sweetener solids",
        numerator=numerator,
        denominator=case.solids_not_fruit,
        lower=bound.value,
        price_unit="kg of fruit",
        reason=f"{case.limits.legal_name}: fruit to sweetener solids",
        source=bound.source,
        status=bound.status,
        is_law=is_law,
    )


def mild_group(case: Case) -> frozenset[str]:
    """Fruits of the milder group, where a standard has two groups and both are on the table; else none."""
    mixed = case.limits.mixed_fruit_to_sweetener()
    if mixed is None:
        return frozenset()
    fruits = set(case.fruits)
    figures = {fruit: case.limits.fruit_to_sweetener(fruit) for fruit in fruits}
    mild = frozenset(f for f, bound in figures.items() if bound is not None and bound.value <= mixed.value)
    return mild if mild and mild != fruits else frozenset()


def citrus_parts(case: Case) -> Iterable[Row]:
    """Marmalade: Σ flesh · use ≥ c · finished, and the same for peel where a standard asks for it."""
    parts = {
        "flesh": case.attribute("flesh_fraction"),
        "peel": case.attribute("peel_fraction"),
    }
    for parameter, share in parts.items():
        law = case.limits.single(parameter, "min")
        if law is None:
            continue
        yield Row(
            id=f"least_{parameter}",
            meaning=f"at least {law.value * 100:.3g} g of citrus {parameter} per 100 g",
            unit="kg per kg finished",
            numerator=case.form(case.fruit.streams * share),
            denominator=case.finished,
            lower=law.value,
            price_unit=f"kg of {parameter}",
            reason=f"{case.limits.legal_name}: citrus {parameter}",
            source=law.source,
            status=law.status,
            is_law=True,
        )


def _share_form(case: Case, fruit: str) -> Form:
    mine = case.mask(f"named {fruit}", lambda s: fruit in (s.fruit, s.item) and s.kind == "fruit")
    return case.form(case.fruit.streams * mine)


def named_shares(case: Case) -> Iterable[Row]:
    """Σ e · use of a named fruit ≥ or ≤ share · Σ e · use of all fruit."""
    for share in case.request.fruits:
        if share.sense == "only" or share.share_fraction is None:
            continue
        least = share.sense == ">="
        side = "at least" if least else "at most"
        yield Row(
            id=f"{'least' if least else 'most'}_share:{share.fruit}",
            meaning=f"{share.fruit}: {side} {share.share_fraction * 100:.0f} % of the fruit",
            unit="share of fruit",
            numerator=_share_form(case, share.fruit),
            denominator=case.fruit,
            lower=share.share_fraction if least else None,
            upper=None if least else share.share_fraction,
            price_unit="kg of fruit",
            reason="asked for",
            source="asked for",
        )


def kinds_in_a_mix(case: Case) -> Iterable[Row]:
    """Σ e · use of a fruit ≤ or ≥ share · Σ e · use: elderberry never alone, shares a standard asks for in a mix."""
    fruits = case.fruits
    for fruit in fruits:
        law = case.limits.most_share_of_mix(fruit)
        if law is not None:
            yield _most_share(case, fruit, law, f"{case.limits.legal_name}: share of {fruit} in a mix")
    if "elderberry" in fruits:
        cap = case.book.settings["most_elderberry_share"]
        ours = Bound(value=cap.value, source=cap.source, status=cap.status)
        yield _most_share(case, "elderberry", ours, "elderberry is low in acid and is not cooked alone")
    if case.is_group_mix:
        mild = mild_group(case)
        least = max(b.value for f in mild if (b := case.limits.least_share_of_mix(f)) is not None)
        members = case.mask(f"any of {sorted(mild)}", lambda s: s.fruit in mild and s.kind == "fruit")
        yield Row(
            id="least_share:Group II",
            meaning=f"fruit of Group II: at least {least * 100:.0f} % of the fruit",
            unit="share of fruit",
            numerator=case.form(case.fruit.streams * members),
            denominator=case.fruit,
            lower=least,
            price_unit="kg of fruit",
            reason="the milder ratio of fruit to sweetener holds for a mix with a Group II fruit",
            source="21 CFR 150.160",
            status="read",
        )


def _most_share(case: Case, fruit: str, bound: Bound, reason: str) -> Row:
    return Row(
        id=f"most_share:{fruit}",
        meaning=f"{fruit}: at most {bound.value * 100:.0f} % of the fruit",
        unit="share of fruit",
        numerator=_share_form(case, fruit),
        denominator=case.fruit,
        upper=bound.value,
        price_unit="kg of fruit",
        reason=reason,
        source=bound.source,
        status=bound.status,
        is_fixed_by_nature=True,
    )


def conditions(case: Case) -> Iterable[Row]:
    """Σ share in a condition · e · use ≤ most · Σ e · use, where the user sets a limit."""
    for name, most in case.request.condition_most.items():
        shares = np.array([s.condition_shares.get(name, 0.0) for s in case.streams])
        yield Row(
            id=f"condition:{name}",
            meaning=f"{name} fruit: at most {most * 100:.0f} % of the fruit",
            unit="share of fruit",
            numerator=case.form(case.fruit.streams * shares),
            denominator=case.fruit,
            upper=most,
            price_unit="kg of fruit",
            reason="asked for",
            source="asked for",
        )
