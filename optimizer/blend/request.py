"""What a user asks for: one batch of one product."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Literal

Keeps = Literal["preservative", "heat", "cold"]
Aim = Literal["least-cost", "value-saved", "margin"]
Solver = Literal["highs", "cbc"]


@dataclass(frozen=True, kw_only=True)
class FruitShare:
    """A named fruit: alone (`share` None), or at least / at most a share of the fruit."""

    fruit: str  # fruit name, or an item of the book
    sense: Literal["only", ">=", "<="] = "only"
    share_fraction: float | None = None


@dataclass(frozen=True, kw_only=True)
class Request:
    """One batch. Bounds left at None take the default of product and standard, whichever is tighter.

    With the aims "value-saved" and "margin" `batch_kg` is the most that may be made; what is made pays.

    Examples
    --------
    >>> Request(product="jam", batch_kg=50.0, on=date(2026, 7, 4)).batch_kg
    50.0
    """

    product: str
    batch_kg: float
    on: date
    aim: Aim = "least-cost"
    confidence: float = 0.5  # chance that each row with a margin holds; 0.5: at the mean of the figures
    standard: str | None = None  # None: the site's
    legal_name: str | None = None  # "extra jam": another class of the same product
    fruits: tuple[FruitShare, ...] = ()
    keeps: Keeps = "heat"
    within_days: float | None = None
    solids_least_fraction: float | None = None  # refractometer reading; never below the standard
    solids_most_fraction: float | None = None
    fruit_least_fraction: float | None = None  # per kg finished; may lower our floor, never the standard
    firmness: float | None = None
    ph_upper: float | None = None
    ph_lower: float | None = None
    water_activity_most: float | None = None
    invert_least_fraction: float | None = None
    invert_most_fraction: float | None = None
    acid_least_fraction: float | None = None
    acid_most_fraction: float | None = None
    condition_most: dict[str, float] = field(default_factory=dict)  # over-ripe -> most of the fruit
    most_fruits: int | None = None  # kinds of fruit in the blend
    # Received kg of a lot or offer, if it is used at all: by code, item or fruit; "fruit" stands for every fruit lot.
    least_kg_if_used: Mapping[str, float] = field(default_factory=dict)
    whole_packs: bool = False  # offers with a pack are bought in whole packs, and count so
    loads: int | None = None  # cook in so many pans; None: as many as needed
    solver: Solver = "highs"

    @property
    def only_fruits(self) -> tuple[str, ...]:
        return tuple(share.fruit for share in self.fruits if share.sense == "only")

    @property
    def named_fruits(self) -> frozenset[str]:
        return frozenset(share.fruit.split(", ")[0] for share in self.fruits)
