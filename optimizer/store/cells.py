"""Cells and documents as JSON text: the same value always gives the same text."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from optimizer.store.faults import StoreFault


def to_text(value: Mapping[str, Any]) -> str:
    """Deterministic JSON; a number that JSON does not know is refused.

    >>> to_text({"b": 1, "a": "Süßkirsche"})
    '{"a":"Süßkirsche","b":1}'
    """
    try:
        text = json.dumps(value, sort_keys=True, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
        text.encode()
    except (TypeError, ValueError) as trouble:
        raise StoreFault(
            f"this cannot be kept as JSON ({trouble}); give numbers, text, lists and names only"
        ) from trouble
    return text


def from_text(text: str) -> dict[str, Any]:
    """Back from JSON text."""
    value: dict[str, Any] = json.loads(text)
    return value
