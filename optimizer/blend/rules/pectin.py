"""Pectin strength of full-sugar sets."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from optimizer.blend.case import Case
from optimizer.blend.rows import Row
from optimizer.physics.pectin import required_strength_per_kg

_REFERENCE_GRADE = 150.0  # "grade 150": the trade's default


def firmness_of(case: Case) -> float | None:
    """Firmness asked for, or the product's; None where no pectin row holds."""
    return case.request.firmness if case.request.firmness is not None else case.product.firmness.least


def pectin_strength(case: Case) -> Iterable[Row]:
    """Σ strength · use ≥ firmness · 0.65 · finished [kg of sugar carried]; for sets of 60 to 70 % solids only."""
    firmness = firmness_of(case)
    if firmness is None or firmness <= 0.0:
        return
    asked = case.request.firmness is not None
    yield Row(
        id="pectin_strength",
        meaning=f"pectin for a set of firmness {firmness:g} (1 = standard jelly)",
        unit="share of the strength needed",
        numerator=case.form(case.column("pectin_strength")),
        denominator=case.finished * float(required_strength_per_kg(firmness)),
        lower=1.0,
        price_unit="kg of sugar carried",
        reason=f"{case.product.title}: firmness {firmness:g}",
        source="asked for" if asked else case.product.firmness.source,
        status="judgement" if asked else case.product.firmness.status,
    )


def most_added_pectin(case: Case) -> Iterable[Row]:
    """Σ grade/150 · use of added pectin ≤ most · finished; low-methoxyl pectin has no grade: its powder counts."""
    low_methoxyl = case.product.is_set_by_calcium
    if low_methoxyl:
        counted, kind = case.attribute("is_lm_pectin"), "low-methoxyl"
    else:
        counted, kind = case.attribute("grade_per_kg") / _REFERENCE_GRADE, "as grade 150"
    law = case.limits.single("pectin", "max")
    window = case.product.lm_pectin if low_methoxyl else case.product.added_pectin
    most, source, status = window.most, window.source, window.status
    if law is not None and (most is None or law.value < most):
        most, source, status = law.value, law.source, law.status
    if most is not None and np.any(counted > 0.0):
        yield Row(
            id="most_added_pectin",
            meaning=f"at most {most * 100:.2f} % of added pectin ({kind})",
            unit="kg per kg finished",
            numerator=case.form(counted),
            denominator=case.finished,
            upper=most,
            price_unit=f"kg of pectin ({kind})",
            reason=f"{case.product.title}: more makes a rubbery set",
            source=source,
            status=status,
        )
