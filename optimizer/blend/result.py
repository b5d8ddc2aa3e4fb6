"""The recipe: frozen, no solver object inside, refers to no input."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from optimizer.blend.chance import Chance
from optimizer.blend.decided import PackCount
from optimizer.blend.predict import Prediction
from optimizer.prepare.stream import LeftOut, Stream


@dataclass(frozen=True, kw_only=True)
class Amount:
    """A stream that is used, and how much."""

    stream: Stream
    pan_kg: float
    received_kg: float
    cost: float  # at the decision price
    paid: float | None  # at what was paid; None where that is not known


@dataclass(frozen=True, kw_only=True)
class RowReport:
    """One rule in the recipe: where the batch lies, and what one unit more is worth."""

    id: str
    meaning: str
    unit: str
    value: float
    lower: float | None
    upper: float | None
    binding: bool
    price: float | None  # change of total cost for one `price_unit` more of the bound
    price_unit: str
    price_holds: tuple[float, float] | None  # bounds between which the price stays, in the unit of the bound
    reason: str
    source: str
    status: str
    margin: float | None = None  # what the value at the mean lies beyond the bound by, for the confidence
    if_moved: tuple[float, float] | None = None  # pH rows: a bound further out, and the change of the total cost then


@dataclass(frozen=True, kw_only=True)
class WouldChange:
    """A price at which the recipe would change. Prices per received kg."""

    id: str
    item: str
    used: bool
    price_per_kg: float
    enters_below_per_kg: float | None = None  # of a stream that is not used
    then_kg: float | None = None  # received kg it would take just below that price
    same_from: float | None = None  # of a stream that is used: the recipe stays the same between these prices
    same_to: float | None = None
    note: str = ""


@dataclass(frozen=True, kw_only=True)
class Relief:
    """A change that makes a recipe possible; tried by solving again."""

    change: str
    amount: float
    unit: str
    cost_after: float
    id: str = ""


@dataclass(frozen=True, kw_only=True)
class Worth:
    """What knowing one figure saves on this batch, in money."""

    id: str  # lot, or "site" for an instrument
    figure: str  # pectin, brix, acid, ph; refractometer, pH meter
    saves: float


@dataclass(frozen=True, kw_only=True)
class JarCount:
    name: str
    net_kg: float
    count: int


@dataclass(frozen=True, kw_only=True)
class CautionText:
    id: str
    text: str
    blocks: bool = False


@dataclass(frozen=True, kw_only=True)
class Costs:
    """Money of the batch, at decision prices; `paid_total` at what was paid."""

    total: float
    paid_total: float | None
    per_finished_kg: float
    per_jar: float | None
    parts: Mapping[str, float]


@dataclass(frozen=True, kw_only=True)
class Recipe:
    """An answer: status `optimal` with amounts, or `none` with the clash and the reliefs."""

    status: Literal["optimal", "none"]
    certified: bool
    product: str
    title: str
    legal_name: str
    standard: str
    aim: str
    confidence: float = 0.5
    chance: Chance | None = None  # of meeting all windows at once, by seeded draws
    whole_numbers: bool = False  # they decide: fruits, lots, packs; rules have no price then
    gap: float | None = None  # how far above `bound` the cost may lie, as a share of it
    bound: float | None = None  # no other choice of them costs less (brings more, if the aim is that)
    packs: tuple[PackCount, ...] = ()  # bought whole
    gained: float | None = None  # aims other than least cost: cash in less all that the batch takes
    currency: str
    altitude_m: float
    site: str
    batch_kg: float
    amounts: tuple[Amount, ...] = ()
    water_added_kg: float = 0.0
    boil_off_kg: float = 0.0
    finished_kg: float = 0.0
    filled_kg: float = 0.0
    jars: tuple[JarCount, ...] = ()
    costs: Costs | None = None
    predicted: Prediction | None = None
    rows: tuple[RowReport, ...] = ()
    would_change: tuple[WouldChange, ...] = ()
    worth_measuring: tuple[Worth, ...] = ()
    left_out: tuple[LeftOut, ...] = ()
    clash: tuple[RowReport, ...] = ()
    reliefs: tuple[Relief, ...] = ()
    why: tuple[str, ...] = ()
    cautions: tuple[CautionText, ...] = ()
    warnings: tuple[str, ...] = ()
    defaults: tuple[str, ...] = ()
    fruit_shares: Mapping[str, float] = field(default_factory=dict)
    rounds: int = 0
