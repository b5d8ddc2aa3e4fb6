"""Crystals, water activity, invert sugar, preservatives: what keeps a jar."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from optimizer.blend.case import Case
from optimizer.blend.rows import Form, Row
from optimizer.blend.standard import Bound
from optimizer.physics import activity, crystals

_NAMES = {"so2": "SO2", "benzoic": "benzoic acid", "sorbic": "sorbic acid"}


def storage_C(case: Case) -> float:
    """Temperature at which crystals are judged."""
    return case.site.storage_C if case.site.storage_C is not None else case.book.setting("crystals_temperature_C")


def sucrose_load(case: Case) -> Form:
    """S + 0.47 M + 0.395 D + 0.86 A, at the low end of the predicted inversion."""
    share = case.book.setting("inversion_low_factor") * case.assumed.inverted_fraction
    weight = crystals.SUCROSE_ROW
    return (
        case.sucrose(share)
        + case.invert(share) * weight.invert
        + case.disaccharide * weight.disaccharide
        + case.acid * weight.acid
    )


def no_sucrose_crystals(case: Case) -> Iterable[Row]:
    """S + 0.47 M + 0.395 D + 0.86 A ≤ s0(t) W: sucrose left after inversion stays dissolved in store."""
    if case.product.crystals != "row":
        return
    at = storage_C(case)
    share = case.book.setting("inversion_low_factor") * case.assumed.inverted_fraction
    solubility = float(crystals.sucrose_solubility_kg_per_kg_water(at))
    yield Row(
        id="no_sucrose_crystals",
        meaning=f"sucrose stays dissolved at {at:g} degC",
        unit="share of what dissolves",
        numerator=sucrose_load(case),
        denominator=case.water(share) * solubility,
        upper=1.0,
        price_unit="kg of sucrose",
        reason=f"no sugar crystals in store at {at:g} degC",
        source="solubility after Vavrinecz; mixtures by the symmetric Norrish form (calculated)",
        status="memory",
        is_fixed_by_nature=True,
    )


def water_activity(case: Case) -> Iterable[Row]:
    """S/m_s + M/m_m + D/m_d + A/m_a ≥ W: sufficient for aw ≤ a; only where the user sets a limit."""
    limit = case.request.water_activity_most
    if limit is None:
        return
    share = case.book.setting("inversion_low_factor") * case.assumed.inverted_fraction
    m = activity.solute_kg_per_kg_water(limit)
    yield Row(
        id="water_activity",
        meaning=f"water activity at most {limit:.2f}",
        unit="share of the solutes needed",
        numerator=case.sucrose(share) * (1.0 / m.sucrose)
        + case.invert(share) * (1.0 / m.invert)
        + case.disaccharide * (1.0 / m.disaccharide)
        + case.acid * (1.0 / m.acid),
        denominator=case.water(share),
        lower=1.0,
        price_unit="kg of water bound",
        reason="asked for",
        source="Norrish form; the row is sufficient, up to half a Brix cautious",
    )


def invert_share(case: Case) -> Iterable[Row]:
    """M ≥ and ≤ share · (S + M); only where the user sets a limit."""
    share = case.assumed.inverted_fraction
    sugars = case.sucrose(share) + case.invert(share)
    for id_, bound in (
        ("invert_least", case.request.invert_least_fraction),
        ("invert_most", case.request.invert_most_fraction),
    ):
        if bound is None:
            continue
        least = id_ == "invert_least"
        yield Row(
            id=id_,
            meaning=f"invert sugar: {'at least' if least else 'at most'} {bound * 100:.0f} % of the sugars",
            unit="share of sugars",
            numerator=case.invert(share),
            denominator=sugars,
            lower=bound if least else None,
            upper=None if least else bound,
            price_unit="kg of invert sugar",
            reason="asked for",
            source="asked for",
        )


def _mg(case: Case, which: str) -> Form:
    return case.form(case.column(f"{which}_mg"))


def limit_of(case: Case, which: str) -> Bound | None:
    """The standard's limit [mg/kg]; the higher one for sulphited fruit is decided before the solve."""
    return case.limits.preservative(which, sulphited=bool(case.mask("sulphited", lambda s: s.is_sulphited).any()))


def preservative_limits(case: Case) -> Iterable[Row]:
    """Σ mg · use ≤ limit · finished, as free acid, carry-over counted, nothing assumed to boil off."""
    for which, name in _NAMES.items():
        form, limit = _mg(case, which), limit_of(case, which)
        if limit is None or not np.any(form.streams > 0.0):
            continue
        yield Row(
            id=f"most_{which}",
            meaning=f"at most {limit.value:g} mg/kg {name}",
            unit="mg per kg finished",
            numerator=form,
            denominator=case.finished,
            upper=limit.value,
            price_unit=f"mg of {name}",
            reason=f"{case.limits.legal_name}: {name}",
            source=limit.source,
            status=limit.status,
            is_law=True,
        )


def _of_limits(case: Case) -> Form:
    """Σ over preservatives of mg / limit, for those the standard limits."""
    total = case.form(np.zeros(len(case.streams)))
    for which in _NAMES:
        limit = limit_of(case, which)
        if limit is not None and limit.value > 0.0:
            total = total + _mg(case, which) * (1.0 / limit.value)
    return total


def preservatives_together(case: Case) -> Iterable[Row]:
    """Sum rules: benzoic + sorbic ≤ limit; where two are alternatives Σ mg/limit ≤ 1."""
    together = case.limits.single("preservatives_together", "max")
    acids = _mg(case, "benzoic") + _mg(case, "sorbic")
    alternatives = case.limits.single("preservatives_together", "max", "alternatives")
    if alternatives is not None and np.any(acids.streams > 0.0):
        yield Row(
            id="preservatives_together",
            meaning="preservatives together within their limits (one instead of the other)",
            unit="sum of shares of the limits",
            numerator=_of_limits(case),
            denominator=case.finished,
            upper=alternatives.value,
            price_unit="share of a limit, kg finished",
            reason=f"{case.limits.legal_name}: alternatives",
            source=alternatives.source,
            status=alternatives.status,
            is_law=True,
        )
    elif together is not None and np.any(acids.streams > 0.0):
        yield Row(
            id="preservatives_together",
            meaning=f"benzoic and sorbic acid together at most {together.value:g} mg/kg",
            unit="mg per kg finished",
            numerator=acids,
            denominator=case.finished,
            upper=together.value,
            price_unit="mg",
            reason=f"{case.limits.legal_name}: sum of preservatives",
            source=together.source,
            status=together.status,
            is_law=True,
        )


def least_preservative(case: Case) -> Iterable[Row]:
    """Kept by preservative: Σ mg/limit ≥ 0.9, so that the dose works and still may be sold."""
    if case.request.keeps != "preservative":
        return
    floor = case.book.settings["preservative_least_share"]
    yield Row(
        id="least_preservative",
        meaning=f"preservative at {floor.value * 100:.0f} % of the legal limit or more",
        unit="sum of shares of the limits",
        numerator=_of_limits(case),
        denominator=case.finished,
        lower=floor.value,
        price_unit="share of a limit, kg finished",
        reason="kept by preservative, as asked",
        source=floor.source,
        status=floor.status,
    )
