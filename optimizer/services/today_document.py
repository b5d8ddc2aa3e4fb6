"""The answer to "what do I cook today" as the document `panwise/today/1`, for programs."""

from __future__ import annotations

import math

from optimizer.services.today import Choice, Today

SCHEMA = "panwise/today/1"


def _days(days: float) -> float | None:
    return days if math.isfinite(days) else None


def _choice(choice: Choice) -> dict[str, object]:
    return {
        "product": choice.product,
        "name": choice.title,
        "fruit": choice.fruit,
        "fruit_shares": dict(choice.fruit_shares),
        "finished_kg": choice.finished_kg,
        "jars": choice.jars,
        "value_saved": choice.value_saved,
        "cost_per_jar": choice.cost_per_jar,
        "needs_measured_ph": choice.needs_measured_ph,
        "lots": [{"id": u.id, "item": u.item, "kg": u.kg, "keeps_days": _days(u.keeps_days)} for u in choice.lots],
        "buy": [
            {"id": p.id, "item": p.item, "kg": p.kg, "cost": p.cost, "delivery_days": p.delivery_days}
            for p in choice.buy
        ],
    }


def today_document(today: Today) -> dict[str, object]:
    """The ranking as plain data; its schema is `data/schemas/today.schema.json`."""
    return {
        "schema": SCHEMA,
        "site": today.site,
        "on": today.on.isoformat(),
        "currency": today.currency,
        "most_kg": today.most_kg,
        "most_reason": today.most_reason,
        "choices": [_choice(choice) for choice in today.choices],
        "excluded": [{"product": e.product, "name": e.title, "why": e.why, "help": e.help} for e in today.excluded],
        "not_cooked": [
            {
                "id": left.id,
                "item": left.item,
                "kg": left.kg,
                "best_use": left.best_use,
                "value": left.value,
                "keeps_days": _days(left.keeps_days),
            }
            for left in today.not_cooked
        ],
        "buy": _choice(today.choices[0])["buy"] if today.choices else [],
        "cautions": list(today.cautions),
        "defaults": list(today.defaults),
    }
