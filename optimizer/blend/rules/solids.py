"""Mass and soluble solids."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from optimizer.blend.case import Case
from optimizer.blend.rows import Row


def mass_balance(case: Case) -> Iterable[Row]:
    """Σ use + water - boil_off - finished = 0 [kg]."""
    yield Row(
        id="mass",
        meaning="what goes in, less what boils off, is what comes out",
        unit="kg",
        numerator=case.form(np.ones(len(case.streams)), water=1.0, boil_off=-1.0, finished=-1.0),
        lower=0.0,
        upper=0.0,
        price_unit="kg finished",
        reason="mass is kept",
        source="conservation of mass",
        status="read",
        is_fixed_by_nature=True,
    )


def least_solids(case: Case) -> Iterable[Row]:
    """Σ reading · use ≥ least · (finished - Σ insoluble · use): what the refractometer sees in the liquid."""
    window = case.product.reading_fraction
    law = case.limits.single("soluble_solids", "min")
    least = case.request.solids_least_fraction
    source, status, who = window.source, window.status, f"{case.product.title}, our default"
    if least is None:
        least = window.least
    else:
        source, status, who = "asked for", "judgement", "asked for"
    if law is not None and (least is None or law.value >= least):
        least, source, status, who = law.value, law.source, law.status, case.limits.legal_name
    is_law = law is not None and least == law.value
    if least is not None:
        yield Row(
            id="least_solids",
            meaning=f"at least {least * 100:.1f} % on the refractometer",
            unit="fraction of the liquid",
            numerator=case.reading,
            denominator=case.finished - case.insoluble,
            lower=least,
            price_unit="kg of solids",
            reason=f"{who}: soluble solids of at least {least * 100:.1f} %",
            source=source,
            status=status,
            is_law=is_law,
        )


def most_solids(case: Case) -> Iterable[Row]:
    """Σ reading · use ≤ most · (finished - Σ insoluble · use)."""
    window = case.product.reading_fraction
    asked = case.request.solids_most_fraction
    law = case.limits.single("soluble_solids", "max")
    most = window.most if asked is None else asked
    source, status = (window.source, window.status) if asked is None else ("asked for", "judgement")
    is_law = law is not None and (most is None or law.value <= most)
    if law is not None and is_law:
        most, source, status = law.value, law.source, law.status
    who = case.limits.legal_name if is_law else case.product.title
    if most is not None:
        yield Row(
            id="most_solids",
            meaning=f"at most {most * 100:.1f} % on the refractometer",
            unit="fraction of the liquid",
            numerator=case.reading,
            denominator=case.finished - case.insoluble,
            upper=most,
            price_unit="kg of solids",
            reason=f"{who}: soluble solids of at most {most * 100:.1f} %",
            source=source,
            status=status,
            is_law=is_law,
        )
