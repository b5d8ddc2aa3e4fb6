"""A recipe as the document `panwise/recipe/1`, for programs."""

from __future__ import annotations

import math

from optimizer.blend.predict import Prediction
from optimizer.blend.result import Amount, Recipe, RowReport
from optimizer.prepare.stream import Stream

SCHEMA = "panwise/recipe/1"


def _finite(value: float | None) -> float | None:
    return None if value is None or not math.isfinite(value) else value


def _per_kg(stream: Stream) -> dict[str, object]:
    held = stream.per_kg
    return {
        "water_fraction": held.water_fraction,
        "insoluble_fraction": held.insoluble_fraction,
        "solids_fraction": held.solids_fraction,
        "reading_fraction": held.reading_fraction,
        "sucrose_fraction": held.sucrose_fraction,
        "glucose_fraction": held.glucose_fraction,
        "fructose_fraction": held.fructose_fraction,
        "other_saccharides_fraction": held.other_saccharides_fraction,
        "titratable_acid_fraction": held.titratable_acid_fraction,
        "ph": held.ph,
        "acid_mol": held.acid_mol,
        "acid_mix": dict(held.acid_mix),
        "strong_ion_mol": held.strong_ion_mol,
        "pectin_strength": held.pectin_strength,
        "fruit_equivalent": held.fruit_equivalent,
        "so2_mg": held.so2_mg,
        "benzoic_mg": held.benzoic_mg,
        "sorbic_mg": held.sorbic_mg,
        "calcium_mg": held.calcium_mg,
    }


def _amount(amount: Amount) -> dict[str, object]:
    stream = amount.stream
    return {
        "id": stream.id,
        "item": stream.item,
        "kind": stream.kind,
        "from": stream.origin,
        "received_kg": amount.received_kg,
        "pan_kg": amount.pan_kg,
        "cost": amount.cost,
        "price_per_received_kg": stream.price_per_received_kg,
        "paid": amount.paid,
        "per_kg": _per_kg(stream),
        "sd_per_kg": {error.figure: error.sd_per_kg for error in stream.errors},
        "measured": list(stream.measured),
        "sources": dict(stream.sources),
    }


def _predicted(p: Prediction) -> dict[str, object]:
    return {
        "soluble_solids_fraction": p.soluble_solids_fraction,
        "reading_fraction": p.reading_fraction,
        "ph": p.ph,
        "titratable_acid_fraction": p.titratable_acid_fraction,
        "water_activity": p.water_activity,
        "pectin_strength_ratio": p.pectin_strength_ratio,
        "invert_share_fraction": p.invert_share_fraction,
        "inverted_in_cook_fraction": p.inverted_in_cook_fraction,
        "end_point_C": p.end_point_C,
        "cook_minutes": p.cook_minutes,
        "loads": p.cook_plan.loads,
        "fuel": None if p.fuel is None else {"amount": p.fuel[0], "unit": p.fuel[1]},
        "sucrose_saturation": p.sucrose_saturation,
        "glucose_saturation": p.glucose_saturation,
        "ionic_strength_mol_per_kg": p.ionic_strength_mol_per_kg,
        "fruit_fraction": p.fruit_fraction,
        "cook": [
            {
                "minutes": step.minutes,
                "temperature_C": step.temperature_C,
                "reading_fraction": step.reading_fraction,
                "ph": step.ph,
            }
            for step in p.cook
        ],
    }


def _chance(recipe: Recipe) -> dict[str, object]:
    """The chance of meeting all windows at once, and each alone."""
    found = recipe.chance
    if found is None:
        return {"chance_all_windows": None, "chance_each_window": {}, "chance_draws": 0}
    return {
        "chance_all_windows": found.all_windows,
        "chance_each_window": dict(found.each),
        "chance_draws": found.draws,
    }


def _row(row: RowReport) -> dict[str, object]:
    holds = row.price_holds
    return {
        "id": row.id,
        "meaning": row.meaning,
        "unit": row.unit,
        "value": _finite(row.value),
        "lower": row.lower,
        "upper": row.upper,
        "binding": row.binding,
        "price": row.price,
        "price_unit": row.price_unit,
        "margin": row.margin,
        "price_holds": None if holds is None else {"from": _finite(holds[0]), "to": _finite(holds[1])},
        "if_moved": None if row.if_moved is None else {"bound": row.if_moved[0], "cost_change": row.if_moved[1]},
        "reason": row.reason,
        "source": row.source,
        "status": row.status,
    }


def _whole_numbers(recipe: Recipe) -> dict[str, object]:
    """Only where whole numbers decided."""
    if not recipe.whole_numbers:
        return {}
    packs = [
        {
            "id": pack.id,
            "item": pack.item,
            "packs": pack.packs,
            "pack_kg": pack.pack_kg,
            "cost": pack.cost,
            "left_over_kg": pack.left_over_kg,
        }
        for pack in recipe.packs
    ]
    return {"gap": recipe.gap, "bound": recipe.bound, "packs": packs}


def recipe_document(recipe: Recipe) -> dict[str, object]:
    """The recipe as plain data; its schema is `data/schemas/recipe.schema.json`."""
    head: dict[str, object] = {
        "schema": SCHEMA,
        "status": recipe.status,
        "certified": recipe.certified,
        "product": recipe.product,
        "legal_name": recipe.legal_name,
        "standard": recipe.standard,
        "aim": recipe.aim,
        "gained": recipe.gained,
        "confidence": recipe.confidence,
        "currency": recipe.currency,
        "altitude_m": recipe.altitude_m,
        "site": recipe.site,
        "batch_kg": recipe.batch_kg,
    }
    tail: dict[str, object] = {
        "left_out": [{"id": out.id, "item": out.item, "why": out.why} for out in recipe.left_out],
        "why": list(recipe.why),
        "defaults": list(recipe.defaults),
        "cautions": [{"id": c.id, "text": c.text, "blocks": c.blocks} for c in recipe.cautions],
        "warnings": list(recipe.warnings),
    }
    if recipe.status == "none":
        return {
            **head,
            "clash": [_row(row) for row in recipe.clash],
            "reliefs": [
                {"id": r.id, "change": r.change, "amount": r.amount, "unit": r.unit, "cost_after": r.cost_after}
                for r in recipe.reliefs
            ],
            **tail,
        }
    costs, predicted = recipe.costs, recipe.predicted
    if costs is None or predicted is None:
        raise ValueError("an optimal recipe has costs and a prediction")
    return {
        **head,
        "streams": [_amount(amount) for amount in recipe.amounts],
        "water_added_kg": recipe.water_added_kg,
        "boil_off_kg": recipe.boil_off_kg,
        "finished_kg": recipe.finished_kg,
        "filled_kg": recipe.filled_kg,
        "jars": [{"name": jar.name, "net_g": jar.net_kg * 1000.0, "count": jar.count} for jar in recipe.jars],
        "cost": {
            "total": costs.total,
            "paid_total": costs.paid_total,
            "per_finished_kg": costs.per_finished_kg,
            "per_jar": costs.per_jar,
            "parts": dict(costs.parts),
        },
        **_whole_numbers(recipe),
        "predicted": {**_predicted(predicted), **_chance(recipe)},
        "fruit_shares": dict(recipe.fruit_shares),
        "rows": [_row(row) for row in recipe.rows],
        "would_change": [
            {
                "id": c.id,
                "item": c.item,
                "used": c.used,
                "price_per_kg": c.price_per_kg,
                "enters_below_per_kg": c.enters_below_per_kg,
                "then_kg": c.then_kg,
                "same_from": c.same_from,
                "same_to": c.same_to,
                "note": c.note,
            }
            for c in recipe.would_change
        ],
        "worth_measuring": [{"id": w.id, "figure": w.figure, "saves": w.saves} for w in recipe.worth_measuring],
        **tail,
    }
