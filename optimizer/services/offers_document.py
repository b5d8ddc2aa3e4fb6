"""The buyer's answer as the document `panwise/offers/1`, for programs."""

from __future__ import annotations

from optimizer.market.entry import Entry
from optimizer.services.offers import AT_STATE, Offers

SCHEMA = "panwise/offers/1"


def offers_document(found: Offers) -> dict[str, object]:
    """The answer as plain data; its schema is `data/schemas/offers.schema.json`."""
    order = found.order
    return {
        "schema": SCHEMA,
        "site": found.site,
        "on": found.on.isoformat(),
        "currency": found.currency,
        "batches": [{"product": b.product, "finished_kg": b.batch_kg} for b in order.job.batches],
        "jars": order.jars,
        "total_cost": order.total,
        "parts": dict(order.parts),
        "bound": order.bound,
        "gap": order.gap,
        "order": _order(found),
        "offers": _offers(found),
        "lots": [
            {"id": id_, "kg": kg} for id_, kg in order.taken.items() if id_ not in order.terms
        ],
        "ladders": [
            {
                "item": ladder.item,
                "exact": ladder.exact,
                "price_now": ladder.price_now,
                "price_tolerance": ladder.price_tolerance,
                "kg_tolerance": ladder.kg_tolerance,
                "said": list(ladder.said) + ([AT_STATE] if ladder.exact else []),
                "steps": [
                    {"price_from": s.price_from, "price_to": s.price_to, "kg": s.kg} for s in ladder.steps
                ],
            }
            for ladder in found.ladders
        ],
        "worth_of_one_more": [
            {
                "id": w.id, "unit": f"{found.currency} per kg", "value": w.value, "there": w.there,
                "holds_from": w.holds_from, "holds_to": w.holds_to,
            }
            for w in found.worth
        ],
        "pays_from_jars": [
            {
                "offer": b.id, "against": b.against, "jars": b.jars, "first_jars": b.first_jars,
                "kg_per_jar": b.units_per_jar, "against_kg_per_jar": b.against_units_per_jar,
                "most_jars_tried": b.most_jars,
            }
            for b in found.pays_from
        ],
        "packaging": [
            {"item": n.item, "used": n.used, "on_hand": n.on_hand, "to_buy": n.to_buy} for n in order.packaging
        ],
        "left_out": [{"id": out.id, "item": out.item, "why": out.why} for out in order.left_out],
        "not_comparable": [{"id": out.id, "item": out.item, "why": out.why} for out in found.not_comparable],
        "notes": list(found.notes),
        "defaults": list(found.defaults),
    }  # fmt: skip


def _order(found: Offers) -> list[dict[str, object]]:
    lines: list[dict[str, object]] = []
    for line in found.order.lines:
        saving = found.saves.get(line.offer)
        lines.append(
            {
                "offer": line.offer,
                "supplier": line.supplier,
                "item": line.item,
                "packs": line.packs,
                "pack": line.pack,
                "unit": line.unit,
                "kg": line.amount,
                "price": line.price,
                "delivery": line.delivery,
                "delivery_days": line.delivery_days,
                "cost": line.cost,
                "used": line.used,
                "left_over": line.left_over,
                "keeps_days": line.keeps_days,
                "keeps": line.keeps,
                "saves": None if saving is None else saving.saves,
                "instead": [] if saving is None else [{"id": id_, "kg": kg} for id_, kg in saving.instead],
            }
        )
    return lines


def _offers(found: Offers) -> list[dict[str, object]]:
    landed = {one.id: one for one in found.landed}
    mix = {one.id: one for one in found.mix_entries}
    rows: list[dict[str, object]] = []
    for offer in found.order.job.offers:
        code = offer.offer
        if code not in found.order.terms:
            continue
        one, entry = landed.get(code), found.entry.get(code)
        rows.append(
            {
                "id": code,
                "supplier": offer.supplier,
                "item": offer.item,
                "unit": offer.unit,
                "list_price_per_kg": offer.price,
                "priced_on": offer.priced_on,
                "useful_unit": None if one is None else one.useful_unit,
                "useful_per_kg": None if one is None else one.useful_per_received,
                "list_per_useful_unit": None if one is None else one.list_per_useful_unit,
                "landed_per_useful_unit": None if one is None else one.landed_per_useful_unit,
                "landed_for_kg": None if one is None else one.amount,
                "landed_for_packs": None if one is None else one.packs,
                "taken_kg": found.order.taken.get(code, 0.0),
                **_entry(entry),
                "by_the_kilogram": None if code not in mix else _entry(mix[code]),
                "said": [] if one is None else list(one.said),
            }
        )
    return rows


def _entry(entry: Entry | None) -> dict[str, object]:
    """Entry price, and the prices between which the amount taken stays."""
    if entry is None:
        return {"entry_price_per_kg": None, "holds_from": None, "holds_to": None, "then_kg": None, "how": None}
    return {
        "entry_price_per_kg": entry.enters_below,
        "taken_at_any_price": entry.at_any_price,
        "then_kg": entry.then_taken,
        "holds_from": entry.same_from,
        "holds_to": entry.same_to,
        "how": entry.how,
        "price_tolerance": entry.tolerance,
    }
