"""A preview as the document `panwise/preview/1`, for programs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict

from optimizer.services.kitchen import Preview
from optimizer.store import Booking


def preview_document(found: Preview, booked: Booking | None) -> Mapping[str, object]:
    """What a table would change, its faults, and the booking if one was made."""
    return {
        "schema": "panwise/preview/1",
        "table": found.which,
        "file": found.file,
        "new": list(found.new),
        "changed": [asdict(row) for row in found.changed],
        "untouched": list(found.untouched),
        "removed": list(found.removed),
        "faults": [asdict(fault) for fault in found.faults],
        "said": list(found.said),
        "booked": None if booked is None else booked.id,
    }
