"""Cautions that go with a recipe, chosen by what is in it; a recipe is never a proof of safety."""

from __future__ import annotations

from collections.abc import Iterator

from optimizer.blend.case import Case
from optimizer.blend.result import CautionText, Recipe
from optimizer.blend.rules.pectin import firmness_of
from optimizer.errors import OutOfRange
from optimizer.physics import heat_treatment, pectin, preservatives
from optimizer.physics.activity import CHECKED_SOLIDS_FRACTION
from optimizer.units import format_mass

_PESSIMISTIC = (
    " Its pH was not measured: a pessimistic one was assumed, and the acid is reckoned for that. Put in half of the "
    "acid, measure the cooled pan, add of the rest what it needs."
)
_JAM_KG_PER_L = 1.3  # hot jam of 65 %, for the volume of a jar given by mass alone


def triggers(recipe: Recipe, case: Case) -> set[str]:
    """Which of the triggers of `data/cautions.csv` this recipe pulls."""
    found = {"every result", "recipe", "ph not measured"}
    predicted = recipe.predicted
    for amount in recipe.amounts:
        found.update(amount.stream.caution_ids)
        found.update(word for word in ("jaggery", "honey") if word in amount.stream.item)
        if amount.stream.per_kg.benzoic_mg > 0.0:
            found.add("benzoate with vitamin C")
    if predicted is None:
        return found
    if case.product.is_cooked:
        found.update(("hot sugar", "reactive pan", "glass", "wax seal"))
    elif case.request.keeps == "heat":
        found.add("cold mix kept by heat")
    if case.request.keeps == "cold":
        found.add("kept cold")
    if predicted.reading_fraction < case.book.setting("low_solids") - 1e-9:
        found.update(("solids under 60", "botulism"))
    if case.site.altitude_m > case.book.setting("altitude_watch_m"):
        found.add("altitude")
    largest = case.book.setting("largest_tested_jar_L")
    if any((jar.brim_volume_L or jar.net_kg / 1.3) > largest for jar in case.site.jars[:1]):
        found.add("jar over 500 mL")
    if case.product.is_set_by_calcium:
        found.add("low-sugar spread")
    elif firmness_of(case) and predicted.ph < case.book.setting("ph_warn_below"):
        found.add("ph below 3.0")
    if predicted.titratable_acid_fraction < case.book.setting("flat_acid"):
        found.add("flat acid")
    if predicted.titratable_acid_fraction > case.book.setting("sharp_acid"):
        found.add("sharp acid")
    if predicted.cook_plan.raw_minutes > 15.0:
        found.add("boil over 15 min")
    so2 = sum(a.pan_kg * a.stream.per_kg.so2_mg for a in recipe.amounts) / recipe.finished_kg
    if so2 > case.book.setting("sulphite_declare_mg_per_kg"):
        found.add("sulphite")
    sorbic = sum(a.pan_kg * a.stream.per_kg.sorbic_mg for a in recipe.amounts) / recipe.finished_kg
    if sorbic > case.book.setting("sorbic_watch_mg_per_kg"):
        found.add("sorbic over 800")
    return found


def cautions_for(recipe: Recipe, case: Case) -> tuple[CautionText, ...]:
    """The cautions of the book that apply, and those of single lots, in the order of the table."""
    pulled = triggers(recipe, case)
    found = [
        CautionText(id=caution.id, text=caution.text, blocks=caution.blocks)
        for caution in case.book.cautions.values()
        if pulled & set(caution.shown)
    ]
    found += _release(recipe, case)
    found += _keeping(recipe, case)
    return tuple(found)


def _keeping(recipe: Recipe, case: Case) -> Iterator[CautionText]:
    """Hot filling and processing at this altitude, doses of preservative, and when a process authority must decide."""
    predicted = recipe.predicted
    if predicted is None:
        return
    reasons = heat_treatment.process_authority_reasons(
        ph=predicted.ph, solids_fraction=min(1.0, predicted.reading_fraction)
    )
    if reasons:
        yield CautionText(id="process_authority", text="Ask a process authority: " + "; ".join(reasons), blocks=True)
    if case.product.is_set_by_calcium and case.request.keeps == "heat":
        yield CautionText(
            id="processing",
            text="Fill at 82 to 85 degC into sterilised jars. The processing times of jam are not proved for little "
            "sugar: take time and method for your jar and altitude from a process authority.",
            blocks=True,
        )
    elif case.product.is_cooked and case.request.keeps == "heat":
        jar = case.site.jars[0] if case.site.jars else None
        millilitres = heat_treatment.HALF_PINT_mL
        if jar is not None:
            millilitres = (jar.brim_volume_L or jar.net_kg / _JAM_KG_PER_L) * 1000.0
        try:
            minutes = heat_treatment.process_minutes(case.site.altitude_m, jar_mL=millilitres)
            text = (
                f"Fill at 82 to 85 degC into sterilised jars, then {minutes:.0f} min in boiling water at "
                f"{case.site.altitude_m:.0f} m; local codes and a process authority go before this figure."
            )
        except OutOfRange:
            text = (
                f"No processing time is published for {case.site.altitude_m:.0f} m and jars of {millilitres:.0f} mL: "
                "ask a process authority."
            )
        yield CautionText(id="processing", text=text)
    dose = {
        which: sum(a.pan_kg * getattr(a.stream.per_kg, f"{which}_mg") for a in recipe.amounts) / recipe.finished_kg
        for which in ("so2", "benzoic", "sorbic")
    }
    for text in preservatives.preservative_cautions(
        ph=predicted.ph,
        so2_mg_per_kg=dose["so2"],
        benzoic_mg_per_kg=dose["benzoic"],
        sorbic_mg_per_kg=dose["sorbic"],
    ):
        yield CautionText(id="preservative_dose", text=text)


def _release(recipe: Recipe, case: Case) -> Iterator[CautionText]:
    """Low-acid fruit and a high pH: no release without a measured pH."""
    at = case.book.setting("low_acid_release_ph")
    low_acid = [a.stream for a in recipe.amounts if a.stream.is_low_acid]
    predicted_ph = recipe.predicted.ph if recipe.predicted is not None else 0.0
    if low_acid or predicted_ph > at:
        names = ", ".join(f"{s.id} ({s.item})" for s in low_acid) or "this product"
        assumed = _PESSIMISTIC if any(s.needs_measured_ph for s in low_acid) else ""
        meter = " A strip is not enough: use a meter." if case.site.ph_meter != "yes" else ""
        yield CautionText(
            id="release_at_measured_ph",
            text=f"Low acid: {names}. Release only at a measured pH of {at:.1f} or less.{assumed}{meter}",
            blocks=True,
        )


def warnings_for(recipe: Recipe, case: Case) -> tuple[str, ...]:
    """What the prediction found worth saying that no row forbids."""
    return tuple(_warnings(recipe, case))


def _warnings(recipe: Recipe, case: Case) -> Iterator[str]:
    predicted = recipe.predicted
    if predicted is None:
        return
    yield from predicted.warnings
    if firmness_of(case):
        try:
            yield from pectin.check_hm_window(predicted.reading_fraction, predicted.ph)
        except OutOfRange as error:
            yield str(error)
    for amount in recipe.amounts:
        yield from amount.stream.notes
        for condition in amount.stream.limited_conditions:
            yield f"{amount.stream.id}: {condition} fruit suits {case.product.title} only in part"
    for amount in recipe.amounts:
        least, days = amount.stream.least_order_kg, amount.stream.delivery_days
        comes = f" and comes in {days:g} day{'s' if days != 1 else ''}" if days else ""
        by_the_pack = any(pack.id == amount.stream.id for pack in recipe.packs)
        if least is not None and not by_the_pack and least > amount.received_kg * (1.0 + 1e-9):
            yield (
                f"{amount.stream.id} ({amount.stream.item}) is sold from {least:g} kg{comes}: this counts only the "
                f"{format_mass(amount.received_kg)} it takes"
            )
        elif days:
            yield f"{amount.stream.id} ({amount.stream.item}) comes in {days:g} day{'s' if days != 1 else ''}"
    if predicted.soluble_solids_fraction > CHECKED_SOLIDS_FRACTION:
        yield (
            f"true solids are {predicted.soluble_solids_fraction * 100:.1f} %: printed boiling points and water "
            f"activities end at {CHECKED_SOLIDS_FRACTION * 100:.0f} %, so end point and water activity are less sure"
        )
    plan = predicted.cook_plan
    if plan.is_capped:
        yield (
            f"{recipe.boil_off_kg:.3g} kg to boil off take {plan.raw_minutes:.0f} min in this pan; a boil over "
            f"{plan.minutes:.0f} min harms colour and pectin: cook the fruit down before the sugar, or in more loads"
        )
    if plan.loads > 1:
        yield f"the charge needs {plan.loads} equal loads of the pan"
    if predicted.sucrose_saturation > 1.0 and case.product.crystals == "warning":
        yield (
            "sucrose reaches "
            f"{predicted.sucrose_saturation * 100:.0f} % of what stays dissolved in store: crystals are to be "
            "expected; some glucose syrup or a longer boil helps"
        )
    if predicted.glucose_saturation is not None and predicted.glucose_saturation > 1.0 and case.product.is_cooked:
        yield (
            "glucose may reach "
            f"{predicted.glucose_saturation * 100:.0f} % of what stays dissolved: a shorter boil or later "
            "acid inverts less"
        )
    low, high = case.book.setting("invert_watch_least"), case.book.setting("invert_watch_most")
    if predicted.reading_fraction > case.book.setting("invert_watch_solids") and not (
        low <= predicted.invert_share_fraction <= high
    ):
        yield (
            "invert sugar is "
            f"{predicted.invert_share_fraction * 100:.0f} % of the sugars; above 68 % solids 30 to 50 % keeps "
            "either sugar dissolved"
        )
    if len(recipe.fruit_shares) > 1:
        for fruit, share in recipe.fruit_shares.items():
            law = case.limits.least_share_of_mix(fruit)
            if law is not None and share < law.value - 1e-6:
                under = f"{case.limits.legal_name} under {case.limits.standard}"
                yield (
                    f"{fruit} is {share * 100:.0f} % of the fruit; {under} asks for at least "
                    f"{law.value * 100:.0f} % of each fruit in a mix: set its share with --fruit"
                )
        kinds = case.limits.single("fruit_kinds", "max", "mixed fruit")
        if kinds is not None and len(recipe.fruit_shares) > kinds.value:
            yield f"{case.limits.standard} allows at most {kinds.value:.0f} fruits in a mix"
