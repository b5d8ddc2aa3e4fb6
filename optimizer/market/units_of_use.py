"""What a buyer pays for: the useful unit of each kind of goods, and how much of it a received kg (piece) brings."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from optimizer.inputs.models import Book, Offer, Product
from optimizer.prepare.fruit import FruitCase, fruit_stream, part_of
from optimizer.prepare.goods import goods_stream
from optimizer.prepare.stream import LeftOut, Stream

Use = Literal["sugar", "acid", "HM pectin", "LM pectin", "fruit", "preservative", "buffer salt", "calcium", "jar"]

UNITS: dict[Use, str] = {
    "sugar": "kg of solids",
    "acid": "kg of acid, as anhydrous citric",
    "HM pectin": "kg of sugar it sets (grade x purity)",
    "LM pectin": "kg of low-methoxyl pectin",
    "fruit": "edible kg",
    "preservative": "kg active",
    "buffer salt": "kg pure",
    "calcium": "kg of calcium",
    "jar": "filled jar",
}
_MG_PER_KG = 1e6


@dataclass(frozen=True, kw_only=True)
class Useful:
    """What one received kg (piece) of an offer is good for.

    `credits` are what fruit brings beside its edible weight, per received kg, in the units of those kinds.
    """

    use: Use
    per_received: float
    credits: tuple[tuple[Use, float], ...] = ()
    said: tuple[str, ...] = ()

    @property
    def unit(self) -> str:
        return UNITS[self.use]


def useful(offer: Offer, book: Book, *, breakage: float, product: Product | None = None) -> Useful | str:
    """The useful unit of an offer, or why it has none: a figure of its composition lacks.

    Parameters
    ----------
    offer : Offer
        As offered; figures that are not given are those of the book.
    breakage : float
        Share of jars that are never filled.
    product : Product, optional
        Fruit is sorted and trimmed for it; jam where none is given, or where it takes no pulp.

    Examples
    --------
    >>> from optimizer.inputs.book import load_book
    >>> sugar = Offer(offer="S", supplier="", item="cane/beet sugar, white", kind="sweetener", price=0.92,
    ...     brix_fraction=0.999)
    >>> found = useful(sugar, load_book(), breakage=0.0075)
    >>> found.use, found.per_received
    ('sugar', 0.999)
    """
    if offer.kind == "packaging":
        return Useful(use="jar", per_received=1.0 - breakage, said=(f"{breakage * 100:g} % break (common practice)",))
    if offer.kind == "fruit":
        return _fruit(offer, book, product)
    item = book.ingredients.get(offer.item)
    if item is None:
        return f'"{offer.item}" is not known'
    # Low-methoxyl pectin and calcium are taken by a spread alone, other pectin by jam.
    wants = book.products["spread" if item.pectin_type == "LM" or item.calcium_fraction > 0.0 else "jam"]
    stream = goods_stream(offer, item, wants, book, wants_preservative=True)
    if isinstance(stream, LeftOut):
        return stream.why
    per_kg = stream.per_kg
    if item.kind == "sweetener":
        return _positive("sugar", per_kg.solids_fraction, "dry matter: fill in `brix`")
    if item.kind == "acid":
        return _acid(stream)
    if item.kind == "pectin":
        if stream.is_lm_pectin:
            return _positive("LM pectin", offer.purity_fraction or 1.0, "purity")
        return _positive("HM pectin", stream.grade_per_kg, "grade: fill in `grade`")
    if item.kind == "preservative":
        active = (per_kg.so2_mg + per_kg.benzoic_mg + per_kg.sorbic_mg) / _MG_PER_KG
        return _positive("preservative", active, "purity")
    if stream.is_calcium_salt:
        return _positive("calcium", per_kg.calcium_mg / _MG_PER_KG, "calcium")
    return _positive("buffer salt", offer.purity_fraction or 1.0, "purity")


def _positive(use: Use, per_received: float, figure: str) -> Useful | str:
    if per_received <= 0.0:
        return f"no {figure}"
    return Useful(use=use, per_received=per_received)


def _acid(stream: Stream) -> Useful | str:
    found = _positive("acid", stream.per_kg.titratable_acid_fraction, "acid: fill in `acid`")
    solids = stream.per_kg.solids_fraction - stream.per_kg.titratable_acid_fraction
    if isinstance(found, Useful) and "juice" in stream.item and solids > 0.0:
        return Useful(use="acid", per_received=found.per_received, credits=(("sugar", solids),))
    return found


def _fruit(offer: Offer, book: Book, product: Product | None) -> Useful | str:
    """Edible kg as pulp: received, less reject, trim and refuse; what it brings is that of the pulp."""
    found = part_of(offer.item, book)
    if found is None:
        return f'"{offer.item}" is not known'
    part, is_sulphited = found
    case = FruitCase(id=offer.code, item=offer.item, source=offer, part=part, is_sulphited=is_sulphited)
    sorted_for = product if product is not None and product.preparation == "pulp" else book.products["jam"]
    stream = fruit_stream(case, sorted_for, book)
    if isinstance(stream, LeftOut):
        return stream.why
    edible, per_kg = stream.usable_fraction, stream.per_kg
    sugar = per_kg.solids_fraction - per_kg.titratable_acid_fraction
    said = [f"sorted and trimmed as for {sorted_for.title}", "hand work of preparing it is not counted"]
    if offer.priced_on == "accepted":
        said.append("price per accepted kg")
    return Useful(
        use="fruit", per_received=edible,
        credits=(
            ("sugar", edible * max(0.0, sugar)), ("acid", edible * per_kg.titratable_acid_fraction),
            ("HM pectin", edible * per_kg.pectin_strength),
        ),
        said=tuple(said),
    )  # fmt: skip
