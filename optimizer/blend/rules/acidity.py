"""pH, exact at its bound, and acid."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from optimizer.blend.case import Case
from optimizer.blend.rows import Form, Row
from optimizer.physics import acidity

_ROSELLE_AND_CRANBERRY = frozenset({"roselle", "cranberry"})


def ph_form(case: Case, ph: float) -> Form:
    """Base needed to bring the blend to this pH [mol]: Σ c(P) · use - 10^-P/γ · W.

    Positive where the blend is more acid than P, so ≥ 0 means pH ≤ P. W is water after inversion.
    """
    strength = case.assumed.ionic_strength_mol_per_kg
    charge = np.zeros(len(case.streams))
    for acid, mol_per_kg in case.acids.items():
        charge = charge + mol_per_kg * float(acidity.mean_charge(acid, ph, strength))
    demand = charge - case.column("strong_ion_mol")
    term = float(acidity.water_term_mol_per_kg(ph, strength))
    return case.form(demand) - case.water(case.assumed.inverted_fraction) * term


def ph_upper_bound(case: Case) -> tuple[float, str, str] | None:
    """Upper bound of pH before it is drawn in, with its source and status."""
    window, asked = case.product.ph, case.request.ph_upper
    found = (window.most, window.source, window.status) if asked is None else (asked, "asked for", "judgement")
    law = case.limits.single("ph", "max")
    if law is not None and (found[0] is None or law.value < found[0]):
        found = (law.value, law.source, law.status)
    speed = case.ph_upper_of_pectin
    if speed is not None and (found[0] is None or speed < found[0]):
        found = (speed, "setting speed of the pectin bought; from memory", "memory")
    return None if found[0] is None else (found[0], found[1], str(found[2]))


def draw_in(case: Case) -> float:
    """How far the upper pH bound is drawn in: what the site's instrument may miss."""
    return case.book.setting("ph_draw_in_meter" if case.site.ph_meter == "yes" else "ph_draw_in_no_meter")


def ph_upper(case: Case) -> Iterable[Row]:
    """pH ≤ P: Σ c(P) · use - 10^-P/γ · W ≥ 0 [mol of base]."""
    found = ph_upper_bound(case)
    if found is None:
        return
    bound, source, status = found
    bound = dict(case.moved_bounds).get("ph_upper", bound)
    drawn = bound - draw_in(case)
    meter = "a pH meter" if case.site.ph_meter == "yes" else "no pH meter"
    yield Row(
        id="ph_upper",
        meaning=f"pH at most {drawn:.2f} ({bound:.2f} less {draw_in(case):.2f}: {meter})",
        unit="pH",
        numerator=ph_form(case, drawn),
        lower=0.0,
        price_unit="mol of acid",
        reason=f"{case.product.title}: no safe set or taste above pH {bound:.2f}",
        source=source,
        status=status,
        shown=(drawn, "upper"),
    )


def ph_lower(case: Case) -> Iterable[Row]:
    """pH ≥ P: Σ c(P) · use - 10^-P/γ · W ≤ 0 [mol of base]; never drawn in."""
    window, asked = case.product.ph, case.request.ph_lower
    bound = window.least if asked is None else asked
    source = window.source if asked is None else "asked for"
    if bound is None:
        return
    fruits = set(case.fruits)
    if asked is None and fruits and fruits <= _ROSELLE_AND_CRANBERRY:
        sour = case.book.settings["ph_lower_cranberry_roselle"]
        bound, source = min(bound, sour.value), sour.source
    bound = dict(case.moved_bounds).get("ph_lower", bound)
    yield Row(
        id="ph_lower",
        meaning=f"pH at least {bound:.2f}",
        unit="pH",
        numerator=ph_form(case, bound),
        upper=0.0,
        price_unit="mol of base",
        reason=f"{case.product.title}: below pH {bound:.2f} the gel weeps",
        source=source,
        status=window.status,
        shown=(bound, "lower"),
    )


def titratable_acid(case: Case) -> Iterable[Row]:
    """Σ acid · use ≥ and ≤ window · finished (as anhydrous citric)."""
    window = case.product.acid_fraction
    law_least, law_most = case.limits.single("acid_fraction", "min"), case.limits.single("acid_fraction", "max")
    least = window.least if case.request.acid_least_fraction is None else case.request.acid_least_fraction
    most = window.most if case.request.acid_most_fraction is None else case.request.acid_most_fraction
    sources = {"least": (window.source, str(window.status)), "most": (window.source, str(window.status))}
    laws: set[str] = set()
    if law_least is not None and (least is None or law_least.value > least):
        least, sources["least"] = law_least.value, (law_least.source, str(law_least.status))
        laws.add("least")
    if law_most is not None and (most is None or law_most.value < most):
        most, sources["most"] = law_most.value, (law_most.source, str(law_most.status))
        laws.add("most")
    for side, bound in (("least", least), ("most", most)):
        if bound is None:
            continue
        word = "at least" if side == "least" else "at most"
        yield Row(
            id=f"{side}_acid",
            meaning=f"{word} {bound * 100:.2f} % acid, as citric",
            unit="kg per kg finished",
            numerator=case.acid,
            denominator=case.finished,
            lower=bound if side == "least" else None,
            upper=bound if side == "most" else None,
            price_unit="kg of citric acid",
            reason=f"{case.limits.legal_name}: acid" if side in laws else f"{case.product.title}: taste",
            source=sources[side][0],
            status=sources[side][1],
            is_law=side in laws,
        )


def most_added_acid(case: Case) -> Iterable[Row]:
    """Σ acid of added acids and acid juices · use ≤ most · finished."""
    added = case.mask("acid", lambda s: s.kind == "acid")
    most = case.product.added_acid
    if most.most is not None and added.any():
        yield Row(
            id="most_added_acid",
            meaning=f"at most {most.most * 100:.2f} % of added acid, as citric",
            unit="kg per kg finished",
            numerator=case.form(case.acid.streams * added),
            denominator=case.finished,
            upper=most.most,
            price_unit="kg of citric acid",
            reason="more tastes of acid, not of fruit",
            source=most.source,
            status=most.status,
        )


def most_buffer_salt(case: Case) -> Iterable[Row]:
    """Σ buffer salts · use ≤ most · finished; salts bought for their calcium do not count."""
    salt = case.mask("buffer salt", lambda s: s.kind == "salt" and not s.is_calcium_salt)
    most = case.product.buffer_salt
    if most.most is not None and salt.any():
        yield Row(
            id="most_buffer_salt",
            meaning=f"at most {most.most * 100:.2f} % of buffer salt",
            unit="kg per kg finished",
            numerator=case.form(salt.astype(float)),
            denominator=case.finished,
            upper=most.most,
            price_unit="kg of salt",
            reason="more tastes of salt",
            source=most.source,
            status=most.status,
        )
