"""From sugar, acid, pectin, salt or preservative as bought to the stream that goes into the pan."""

from __future__ import annotations

from optimizer.inputs.models import Book, Figure, Ingredient, Lot, Offer, Product
from optimizer.physics import acidity
from optimizer.physics.acids import ACIDS
from optimizer.physics.refractometry import ACID_SHORTFALL, INVERT_SHORTFALL
from optimizer.physics.titration import CITRIC_KG_PER_EQUIVALENT
from optimizer.prepare.stream import Composition, LeftOut, Stream

_HYDRATE_STATED_BELOW = 0.93  # a monohydrate offered at "91.4 %" states its anhydrous share, not its purity


def _sweetener(goods: Lot | Offer, item: Ingredient) -> Composition:
    if item.solids_fraction is None:
        raise ValueError(f"{item.name}: a sweetener of the book has no dry matter")
    book_solids = item.solids_fraction.value
    solids = goods.brix_fraction if goods.brix_fraction is not None else book_solids
    scale = solids / book_solids
    invert = (item.glucose_fraction + item.fructose_fraction) * scale
    insoluble = min(item.insoluble_fraction, 1.0 - solids)
    return Composition(
        water_fraction=1.0 - solids - insoluble,
        insoluble_fraction=insoluble,
        solids_fraction=solids,
        reading_fraction=solids * (1.0 + item.reading_gain) - INVERT_SHORTFALL * invert,
        sucrose_fraction=item.sucrose_fraction * scale,
        glucose_fraction=item.glucose_fraction * scale,
        fructose_fraction=item.fructose_fraction * scale,
        other_saccharides_fraction=item.other_saccharides_fraction * scale,
        strong_ion_mol=item.strong_ion_mol_per_kg,
        so2_mg=item.so2_carried_mg_per_kg,
    )


def _pure_acid_or_salt(goods: Lot | Offer, item: Ingredient) -> Composition:
    """Purity scales all of it; the rest is water."""
    purity = 1.0 if goods.purity_fraction is None else goods.purity_fraction
    if item.anhydrous_fraction < 1.0 and goods.purity_fraction is not None and purity <= _HYDRATE_STATED_BELOW:
        purity /= item.anhydrous_fraction
    solids = item.anhydrous_fraction * purity
    mol = item.acid_mol_per_kg * purity
    is_acid = item.kind == "acid"
    titratable = mol * ACIDS[item.acid].equivalents * CITRIC_KG_PER_EQUIVALENT if is_acid and item.acid else 0.0
    refracts_low = titratable if is_acid else solids
    return Composition(
        water_fraction=1.0 - solids,
        insoluble_fraction=0.0,
        solids_fraction=solids,
        reading_fraction=solids - ACID_SHORTFALL * refracts_low,
        titratable_acid_fraction=titratable,
        acid_mol=mol,
        acid_mix={item.acid: 1.0} if item.acid else {},
        strong_ion_mol=item.strong_ion_mol_per_kg * purity,
        so2_mg=item.so2_fraction * purity * 1e6,
        benzoic_mg=item.benzoic_fraction * purity * 1e6,
        sorbic_mg=item.sorbic_fraction * purity * 1e6,
        calcium_mg=item.calcium_fraction * purity * 1e6,
    )


def _measured_or_book(measured: float | None, figure: Figure | None) -> float | None:
    if measured is not None:
        return measured
    return None if figure is None else figure.value


def _juice(goods: Lot | Offer, item: Ingredient) -> Composition | str:
    """Lemon or lime juice: acid from its pH and titration."""
    ph = _measured_or_book(goods.ph, item.ph)
    titratable = _measured_or_book(goods.acid_fraction, item.titratable_acid_fraction)
    brix = _measured_or_book(goods.brix_fraction, item.solids_fraction)
    if ph is None or titratable is None or brix is None:
        return "pH, acid and Brix are needed: fill in `ph`, `acid` and `brix`"
    mix: dict[str, float] = {item.acid or "citric": 1.0}
    invert = item.glucose_fraction + item.fructose_fraction
    solids = brix + ACID_SHORTFALL * titratable + INVERT_SHORTFALL * invert
    found = acidity.lot_from_measurements(
        ph=ph, titratable_acid_fraction=titratable, water_fraction=1.0 - solids, acid_mix=mix
    )
    return Composition(
        water_fraction=1.0 - solids,
        insoluble_fraction=0.0,
        solids_fraction=solids,
        reading_fraction=brix,
        sucrose_fraction=item.sucrose_fraction,
        glucose_fraction=item.glucose_fraction,
        fructose_fraction=item.fructose_fraction,
        titratable_acid_fraction=titratable,
        ph=ph,
        acid_mol=found.acid_mol_per_kg,
        acid_mix=mix,
        strong_ion_mol=found.strong_ion_mol_per_kg,
    )


def _unfit_pectin(item: Ingredient, product: Product) -> str:
    """Why a product does not take this pectin; empty where it does."""
    if item.pectin_type == "LM":
        return (
            "" if product.is_set_by_calcium else "low-methoxyl pectin sets with calcium at low sugar, not at full sugar"
        )
    if product.is_set_by_calcium:
        return f"{product.title}: high-methoxyl pectin sets nothing below 55 % solids"
    return "" if product.added_pectin.most else f"{product.title} takes no added pectin"


def _pectin(goods: Lot | Offer, item: Ingredient, book: Book) -> tuple[Composition, float]:
    """Pectin goes in late and loses little; its grade is standardised with sugar: all dry matter counts as solids.

    A grade is of high-methoxyl pectin: it does not carry over to low-methoxyl, which has none here.
    """
    grade = goods.grade if goods.grade is not None else (item.pectin_grade.value if item.pectin_grade else 0.0)
    if item.pectin_type == "LM":
        grade = 0.0
    graded = grade * (1.0 if goods.purity_fraction is None else goods.purity_fraction)
    solids = item.solids_fraction.value if item.solids_fraction else 0.9
    return (
        Composition(
            water_fraction=1.0 - solids,
            insoluble_fraction=0.0,
            solids_fraction=solids,
            reading_fraction=solids,
            pectin_strength=graded * (1.0 - book.setting("late_pectin_loss")),
            so2_mg=item.so2_carried_mg_per_kg,
        ),
        graded,
    )


def goods_stream(
    goods: Lot | Offer, item: Ingredient, product: Product, book: Book, *, wants_preservative: bool
) -> Stream | LeftOut:
    """One ingredient that is no fruit, or why this product does not take it."""
    id_ = goods.code

    def out(why: str) -> LeftOut:
        return LeftOut(id=id_, item=goods.item, why=why)

    graded = 0.0
    is_lm = item.pectin_type == "LM"
    is_calcium_salt = item.kind == "salt" and item.calcium_fraction > 0.0 and "carbonate" not in item.name
    if item.kind == "packaging":
        return out("packaging: counted with the jars")
    if item.kind == "preservative" and not wants_preservative:
        return out("preservative: not asked for (`--keeps preservative`)")
    if item.kind == "pectin":
        why = _unfit_pectin(item, product)
        if why:
            return out(why)
        composition, graded = _pectin(goods, item, book)
        if graded <= 0.0 and not is_lm:
            return out("pectin without grade: fill in `grade`")
    elif item.kind == "sweetener":
        composition = _sweetener(goods, item)
    elif is_calcium_salt and not product.is_set_by_calcium:
        return out("calcium salt: for low-methoxyl pectin only")
    elif item.kind == "acid" and item.acid_mol_per_kg <= 0.0:
        juice = _juice(goods, item)
        if isinstance(juice, str):
            return out(juice)
        composition = juice
    else:
        composition = _pure_acid_or_salt(goods, item)
    price = goods.worth_uncooked_per_kg if isinstance(goods, Lot) else goods.price
    cautions = [item.caution] if item.caution else []
    return Stream(
        id=id_,
        item=goods.item,
        kind=item.kind,
        origin="stock" if isinstance(goods, Lot) else "offer",
        per_kg=composition,
        usable_fraction=1.0,
        price_per_received_kg=price,
        paid_per_received_kg=goods.paid_per_kg if isinstance(goods, Lot) else goods.price,
        received_most_kg=goods.on_hand_kg if isinstance(goods, Lot) else goods.available,
        setting=(goods.setting or item.setting or "medium") if item.kind == "pectin" and not is_lm else None,
        grade_per_kg=graded,
        is_lm_pectin=is_lm,
        is_calcium_salt=is_calcium_salt,
        measured=tuple(
            name
            for name, value in (
                ("brix", goods.brix_fraction), ("ph", goods.ph), ("acid", goods.acid_fraction), ("grade", goods.grade),
            )
            if value is not None
        ),
        sources=dict(item.sources),
        notes=tuple(cautions),
    )  # fmt: skip
