"""From any jar back to lots and suppliers, from any lot forward to jars; as a result and as JSON."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from optimizer.services.kitchen_state import needed_state
from optimizer.store import Batch, JarsKept, Store, Trace, Use


def trace(store: Store, code: str) -> Trace:
    """What stands behind a code of a lot, a batch or jars, and what came of it.

    Raises
    ------
    InputFault
        No such code in the current kitchen, or there is no kitchen.
    """
    return store.trace(needed_state(store).kitchen, " ".join(code.split()))


def trace_document(found: Trace) -> Mapping[str, object]:
    """As JSON, `panwise/trace/1`: `lot`, `batch` or `jar` names what was asked for, the others are null."""
    return {
        "schema": "panwise/trace/1",
        **{key: found.code if found.kind == kind else None for key, kind in _ASKED.items()},
        "suppliers": list(found.suppliers),
        "back": [_use(use) for use in found.back],
        "batches": [_batch(batch) for batch in found.batches],
        "forward": [_jars(jars) for jars in found.forward],
    }


_ASKED = {"lot": "lot", "batch": "batch", "jar": "jars"}


def _use(use: Use) -> dict[str, object]:
    return {"lot": use.lot, "item": use.item, "supplier": use.supplier, "amount": use.amount, "unit": use.unit}


def _batch(batch: Batch) -> dict[str, object]:
    return {
        "code": batch.code,
        "product": batch.product,
        "recipe": batch.recipe,
        "state": batch.state,
        "opened_at": batch.opened_at.isoformat(timespec="seconds"),
        "finished_at": None if batch.finished_at is None else batch.finished_at.isoformat(timespec="seconds"),
        "made_kg": None if batch.made_g is None else batch.made_g / 1000.0,
        "uses": [_use(use) for use in _all(batch)],
    }


def _all(batch: Batch) -> Sequence[Use]:
    return (*batch.uses, *batch.packaging)


def _jars(jars: JarsKept) -> dict[str, object]:
    return {
        "code": jars.code,
        "name": jars.name,
        "batch": jars.batch,
        "product": jars.product,
        "made": jars.made,
        "on_hand": jars.on_hand,
    }
