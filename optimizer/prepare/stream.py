"""A stream: one thing that can go into the pan, per kg as it goes in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from optimizer.inputs.models import Kind, Setting


@dataclass(frozen=True, kw_only=True)
class Composition:
    """What one kg in the pan holds. Water, insolubles and soluble solids add up to one.

    `reading_fraction` is what the refractometer makes of the soluble solids before any sugar inverts: invert sugar
    and acid read low, glucose syrup high.
    """

    water_fraction: float
    insoluble_fraction: float
    solids_fraction: float  # true soluble solids
    reading_fraction: float
    sucrose_fraction: float = 0.0
    glucose_fraction: float = 0.0
    fructose_fraction: float = 0.0
    other_saccharides_fraction: float = 0.0
    titratable_acid_fraction: float = 0.0  # as anhydrous citric
    ph: float | None = None
    acid_mol: float = 0.0  # mol per kg
    acid_mix: Mapping[str, float] = field(default_factory=dict)  # shares by mole, sum 1
    strong_ion_mol: float = 0.0  # mol of charge per kg, K+ mostly
    pectin_strength: float = 0.0  # kg of sugar that one kg carries, losses taken off
    fruit_equivalent: float = 0.0  # kg of fruit as a standard counts it
    so2_mg: float = 0.0
    benzoic_mg: float = 0.0
    sorbic_mg: float = 0.0
    calcium_mg: float = 0.0


@dataclass(frozen=True, kw_only=True)
class FigureError:
    """One standard deviation of a figure per kg; figures with the same `key` err together."""

    key: str
    figure: str  # a field of `Composition`
    sd_per_kg: float


@dataclass(frozen=True, kw_only=True)
class Stream:
    """One column of the blend.

    `usable_fraction` is kg in the pan per kg received; money is per received kg, as it is bought.
    """

    id: str  # lot or offer code
    item: str
    kind: Kind
    origin: Literal["stock", "offer"]
    per_kg: Composition
    usable_fraction: float
    price_per_received_kg: float  # what deciding to use it costs: worth uncooked, or the offer's price
    paid_per_received_kg: float | None
    kept_value_per_received_kg: float | None = None  # of a lot that spoils: what it is still worth tomorrow if left
    received_most_kg: float | None  # on hand or on offer; None: not limited
    least_order_kg: float | None = None  # of an offer: pack times least packs
    pack_kg: float | None = None  # of an offer that is sold in packs
    delivery_days: float = 0.0
    fruit: str = ""  # fruit name, for rules on named fruit
    flesh_fraction: float = 1.0  # of the fruit equivalent: citrus flesh
    peel_fraction: float = 0.0
    is_low_acid: bool = False
    needs_measured_ph: bool = False  # taken at a pessimistic pH: release only at a measured one
    is_sulphited: bool = False
    setting: Setting | None = None
    grade_per_kg: float = 0.0  # grade x purity of an added high-methoxyl pectin
    is_lm_pectin: bool = False  # sets with calcium; has no grade
    is_calcium_salt: bool = False  # bought to set low-methoxyl pectin, no buffer salt
    extraction_min: float = 0.0
    limited_conditions: tuple[str, ...] = ()  # used, but the product suits them only in part
    condition_shares: Mapping[str, float] = field(default_factory=dict)  # of what goes into the pan
    measured: tuple[str, ...] = ()
    sources: Mapping[str, str] = field(default_factory=dict)
    errors: tuple[FigureError, ...] = ()
    caution_ids: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def cost_per_pan_kg(self) -> float:
        return self.price_per_received_kg / self.usable_fraction

    @property
    def pan_most_kg(self) -> float | None:
        return None if self.received_most_kg is None else self.received_most_kg * self.usable_fraction


@dataclass(frozen=True, kw_only=True)
class LeftOut:
    """A lot or an offer that cannot go into this product, and why."""

    id: str
    item: str
    why: str
    caution_id: str = ""


@dataclass(frozen=True, kw_only=True)
class Prepared:
    """All streams of a request, and what was left out."""

    streams: tuple[Stream, ...]
    left_out: tuple[LeftOut, ...]
