"""What a search over whole numbers settled: from then on the batch is a linear program again."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True, kw_only=True)
class Decided:
    """Fruits that are out have left the case; each fruit that stayed holds the standard's share of a mix."""

    least_received_kg: Mapping[str, float] = field(default_factory=dict)  # stream id -> least, where it is used at all
    packs: Mapping[str, int] = field(default_factory=dict)  # stream id -> packs bought


@dataclass(frozen=True, kw_only=True)
class PackCount:
    """Packs of one offer that are bought whole."""

    id: str
    item: str
    packs: int
    pack_kg: float
    cost: float  # of all packs, used or not
    left_over_kg: float
