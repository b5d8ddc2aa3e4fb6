"""Frozen values that everything above `inputs` works with: the book of data, the site, lots and offers.

Units are in the names. Fractions are mass fractions (0 to 1), never percent. `None` means "not known"; it never
means zero. A figure of the book carries its spread, source and status; a measured one carries the instrument's spread.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Literal

from pydantic import BaseModel, ConfigDict

FigureStatus = Literal["read", "memory", "common practice", "judgement", "measured", "offer"]
Acid = Literal["citric", "malic", "tartaric"]
PectinClass = Literal["rich", "medium", "poor"]
Setting = Literal["ultra-rapid", "rapid", "medium", "slow"]
Condition = Literal["sound", "soft", "bruised", "split", "over-ripe", "under-ripe", "windfall"]
Kind = Literal["fruit", "sweetener", "acid", "pectin", "salt", "preservative", "packaging"]


class Frozen(BaseModel):
    """Cannot be changed, refuses unknown keys."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class Figure(Frozen):
    """One number with its spread and where it comes from."""

    value: float
    sd: float = 0.0  # one standard deviation, same unit as the value
    low: float | None = None
    high: float | None = None
    source: str
    status: FigureStatus


class FruitPart(Frozen):
    """One fruit and part of the book, per kg of edible part as prepared."""

    fruit: str  # "plum"
    part: str  # "flesh with skin"
    latin_name: str
    brix_fraction: Figure | None  # refractometer reading; None: the book has none, the lot must be measured
    water_fraction: Figure
    total_sugar_fraction: Figure
    acid_fraction: Figure | None  # titratable to pH 8.1, as anhydrous citric
    ph: Figure
    pectin_fraction: Figure  # native pectin
    refuse_fraction: Figure  # of fruit as bought: stones, peel, stalks
    density_kg_per_L: Figure
    dominant_acid: Acid
    pectin_class: PectinClass
    acid_class: str
    calcium_mg_per_kg: Figure
    is_citrus: bool = False
    is_peel: bool = False
    is_whole_citrus: bool = False  # peel and flesh together
    is_juice: bool = False
    is_low_acid: bool = False  # warnings table, or book pH above 4.2
    is_default_part: bool = True  # the part a bare fruit name means

    @property
    def item(self) -> str:
        return f"{self.fruit}, {self.part}"


class Ingredient(Frozen):
    """Anything but fruit that goes into the pan, per kg as bought; and packaging (kind only)."""

    name: str
    kind: Kind
    solids_fraction: Figure | None = None  # dry soluble matter
    reading_gain: float = 0.0  # refractometer reads (1 + gain) x dry matter: glucose syrup 0.02
    water_fraction: float = 0.0
    insoluble_fraction: float = 0.0
    sucrose_fraction: float = 0.0
    glucose_fraction: float = 0.0
    fructose_fraction: float = 0.0
    other_saccharides_fraction: float = 0.0  # disaccharides and glucose-syrup solids
    titratable_acid_fraction: Figure | None = None  # as anhydrous citric
    acid: Acid | None = None  # the acid it brings
    acid_mol_per_kg: float = 0.0  # of a pure acid or its salt; 0 where it follows from pH and titratable acid
    strong_ion_mol_per_kg: float = 0.0  # Na, K, Ca less strong anions
    ph: Figure | None = None
    pectin_type: Literal["HM", "LM"] | None = None
    pectin_grade: Figure | None = None  # USA-SAG
    setting: Setting | None = None
    so2_fraction: float = 0.0  # kg of SO2 per kg
    benzoic_fraction: float = 0.0  # as free acid
    sorbic_fraction: float = 0.0  # as free acid
    calcium_fraction: float = 0.0
    so2_carried_mg_per_kg: float = 0.0  # residue a law assumes
    density_kg_per_L: float | None = None
    anhydrous_fraction: float = 1.0  # of a hydrate, e.g. citric acid monohydrate 0.9143
    caution: str = ""
    sources: Mapping[str, str] = {}


class Window(Frozen):
    """A default of a product: least and most, either may be absent."""

    least: float | None = None
    most: float | None = None
    source: str = ""
    status: FigureStatus = "judgement"


class Product(Frozen):
    """What the program can make, with its default windows (the tighter of product and standard holds)."""

    name: str  # "jam", "jelly", "marmalade", "preserve", "butter", "cheese", "syrup", "squash", "spread"
    title: str  # "fruit butter"
    preparation: Literal["pulp", "extract", "citrus", "sieved", "juice"]
    reading_fraction: Window
    ph: Window
    acid_fraction: Window  # titratable, as anhydrous citric, of the finished product
    firmness: Window  # `least` is the row; absent: no pectin row
    fruit_per_finished: Window  # kg fruit equivalent per kg finished, where no standard speaks
    fruit_per_sweetener_solids: Window  # kg fruit per kg sweetener solids (butter 2.5, cheese 1)
    least_fruit_floor: Window  # a standard's figure below this is lifted to it (0.25; marmalade 0.20)
    added_pectin: Window  # kg of 150-grade equivalents per kg finished
    added_water: Window  # kg per kg finished
    added_acid: Window  # kg anhydrous citric equivalents per kg finished
    buffer_salt: Window  # kg per kg finished
    boil_off: Window  # kg per kg finished
    crystals: Literal["row", "warning"]
    is_cooked: bool = True
    least_cook_min: float = 0.0
    keeps_by: Literal["solids", "choice"] = "solids"  # "choice": preservative, heat or cold
    fit: Mapping[str, int] = {}  # condition -> 0 no, 1 limited, 2 good
    glucose_syrup_most: Window = Window()  # share of sweetener solids
    jaggery_most: Window = Window()
    lm_pectin: Window = Window()  # kg of low-methoxyl pectin per kg finished; absent: not set by it
    calcium_mg_per_g: Window = Window()  # mg of calcium per g of low-methoxyl pectin

    @property
    def is_set_by_calcium(self) -> bool:
        """Low-methoxyl pectin and calcium make the set, not sugar and acid."""
        return self.lm_pectin.most is not None


class Limit(Frozen):
    """One figure of a standard."""

    standard: str  # codex eu-2001 eu-2026 uk us india canada anz
    product: str  # a product name of ours
    legal_name: str  # "extra jam", "jam", "low fruit jam"
    is_default_name: bool  # what the product means when the user names no class
    parameter: Literal[
        "fruit_content",
        "fruit_per_sweetener_solids",
        "peel",
        "flesh",
        "soluble_solids",
        "so2",
        "benzoic",
        "sorbic",
        "preservatives_together",
        "fruit_share",
        "mixing",
        "acid_fraction",
        "ph",
        "juice_factor",
        "fruit_kinds",
        "pectin",
        "not_standardised",
    ]
    fruits: tuple[str, ...] = ()  # fruit names of the book this figure is for; empty: all others
    condition: str = ""  # "sulphited fruit", "mixed fruit", "alternative to so2" ...
    value: float | None  # in `unit`; None for rules in words
    unit: str  # "kg/kg finished", "kg/kg sweetener solids", "fraction", "mg/kg", "pH", "1"
    kind: Literal["min", "max", "exact", "text"]
    source: str
    status: FigureStatus
    note: str = ""


class ConditionFactor(Frozen):
    condition: Condition
    trim_fraction: float
    pectin_factor: float
    acid_factor: float
    life_factor: float
    source: str
    status: FigureStatus


class Extraction(Frozen):
    """How a fruit is boiled out for jelly; `fruit` empty: any other fruit."""

    fruit: str
    water_kg_per_kg: float
    minutes: float
    source: str
    status: FigureStatus


class SieveYield(Frozen):
    """Share of the prepared fruit that passes the sieve; `fruit` empty: any other fruit."""

    fruit: str
    yield_fraction: float
    source: str
    status: FigureStatus


class Decay(Frozen):
    """How fast one fruit (or one part of it) spoils; `part` empty: every part without its own line."""

    fruit: str
    part: str = ""
    life_days: float  # until one tenth of sound fruit is lost, kept at life_at_C
    life_at_C: float
    q10: float  # times faster 10 degC warmer
    coldest_C: float  # colder gains nothing: chilling harms the fruit, or it freezes
    stand_in: str = ""  # the fruit whose figures these are; empty: its own
    source: str
    status: FigureStatus
    q10_source: str
    q10_status: FigureStatus
    coldest_source: str
    coldest_status: FigureStatus


class Holding(Frozen):
    """One way to hold surplus fruit over; what a table does not say is None."""

    way: str  # "freezer", "sulphited pulp", "evaporative chamber" ...
    keeps: Literal["fruit", "pulp", "fruit or pulp"]
    coldest_C: float | None = None
    warmest_C: float | None = None
    cooler_by_least_C: float | None = None
    cooler_by_most_C: float | None = None
    days_least: float | None = None  # None: days follow from the fruit and the temperature
    days_most: float | None = None
    needs: str = ""
    source: str
    status: FigureStatus


class Caution(Frozen):
    """A warning of the trade, and where it is shown."""

    id: str
    text: str  # a sentence for the person at the pan
    shown: tuple[str, ...]  # "recipe", "every result", "sulphite", "low-acid" ... (triggers the program knows)
    blocks: bool
    source: str
    status: FigureStatus


class Default(Frozen):
    """One default of the model (`settings.csv`): value, unit, source, status."""

    name: str
    value: float
    unit: str
    meaning: str
    source: str
    status: FigureStatus


@dataclass(frozen=True, kw_only=True)
class Book:
    """All tables of `data/`, read once."""

    fruits: Mapping[str, FruitPart]  # item -> part
    ingredients: Mapping[str, Ingredient]  # name -> ingredient
    products: Mapping[str, Product]
    limits: tuple[Limit, ...]
    conditions: Mapping[str, ConditionFactor]
    extractions: tuple[Extraction, ...]
    sieve_yields: tuple[SieveYield, ...]
    cautions: Mapping[str, Caution]
    settings: Mapping[str, Default]
    decays: Mapping[str, Decay] = field(default_factory=dict)  # fruit, or item for a part of its own -> decay
    holdings: Mapping[str, Holding] = field(default_factory=dict)  # way -> holding

    def setting(self, name: str) -> float:
        return self.settings[name].value


# ---- what a user brings --------------------------------------------------------------------------------------------


class Goods(Frozen):
    """What a lot on hand and an offer have in common: what it is, and what was measured on it."""

    item: str  # canonical: an item of the book, "FRUIT, sulphited pulp", an ingredient, or packaging
    kind: Kind
    condition: tuple[tuple[Condition, float], ...] = (("sound", 1.0),)  # shares of the accepted fruit, sum 1
    brix_fraction: float | None = None  # of sugars and syrups: dry matter
    ph: float | None = None
    acid_fraction: float | None = None  # as anhydrous citric
    pectin_fraction: float | None = None
    spirit_test: PectinClass | None = None
    reject_fraction: float | None = None
    trim_fraction: float | None = None
    so2_mg_per_kg: float | None = None
    grade: float | None = None
    setting: Setting | None = None
    purity_fraction: float | None = None
    rot_sorted_out: bool = False  # a person confirms that all rot was sorted out (windfalls)
    file: str = ""
    line: int = 0

    @property
    def code(self) -> str:
        """The user's own code of the lot or offer."""
        raise NotImplementedError


class Lot(Goods):
    """One line of `stock.csv`."""

    lot: str
    on_hand_kg: float | None  # None for packaging counted in pieces
    on_hand_pieces: float | None = None
    paid_per_kg: float | None = None
    worth_uncooked_per_kg: float
    received: date | None = None
    picked: date | None = None
    kept_at_C: float | None = None
    supplier: str = ""  # who it came from

    @property
    def code(self) -> str:
        return self.lot


class PriceBreak(Frozen):
    from_packs: float
    price: float  # per unit of the offer


class Offer(Goods):
    """One line of `offers.csv`; `unit` says what price and available count."""

    offer: str
    supplier: str
    unit: Literal["kg", "piece"] = "kg"
    price: float  # [site currency per unit]
    priced_on: Literal["received", "accepted"] = "received"
    available: float | None = None  # [unit]; None: not limited
    pack: float | None = None  # [unit]
    least_packs: float = 1.0
    breaks: tuple[PriceBreak, ...] = ()
    delivery_cost: float = 0.0
    delivery_days: float = 0.0
    valid_until: date | None = None

    @property
    def code(self) -> str:
        return self.offer


class Pan(Frozen):
    count: int = 1
    capacity_L: float
    power_kW: float  # net heat into the pan
    fuel: Literal["lpg", "wood", "natural gas", "electricity"] = "lpg"
    fuel_price: float = 0.0  # per kg; per kWh for electricity
    efficiency: float = 0.5


class Jar(Frozen):
    name: str  # "380 mL"
    net_kg: float
    brim_volume_L: float | None = None
    cost: float = 0.0
    on_hand: float | None = None


class Labour(Frozen):
    people: float = 1.0
    wage_per_h: float = 0.0
    shift_h: float = 8.0
    hours_per_100kg: float = 0.0
    overhead_per_day: float = 0.0


class Site(Frozen):
    name: str = "your site"
    altitude_m: float = 0.0
    standard: str = "codex"
    currency: str = "EUR"
    rates: Mapping[str, float] = {}  # currency -> units of the site's currency for one of it
    has_refractometer: bool = True
    ph_meter: Literal["yes", "strips", "no"] = "no"
    scale_step_kg: float = 0.005
    pans: tuple[Pan, ...] = ()
    jars: tuple[Jar, ...] = ()
    labour: Labour = Labour()
    stores: Mapping[str, str] = {}
    prices: Mapping[str, float] = {}  # sale price per kg of a product
    risks: Mapping[str, float] = {}
    storage_C: float | None = None  # crystals are judged here; None: the book's 10 degC
    defaults_said: tuple[str, ...] = ()  # one sentence per default that was used because nothing was given


@dataclass(frozen=True, kw_only=True)
class SiteFolder:
    """A site folder as read: site, lots, offers."""

    site: Site
    lots: tuple[Lot, ...]
    offers: tuple[Offer, ...]
    folder: str
