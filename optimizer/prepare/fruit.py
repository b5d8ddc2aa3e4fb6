"""From a fruit lot or a fruit offer to the stream that goes into the pan."""

from __future__ import annotations

from dataclasses import dataclass

from optimizer.errors import BadTable, Fault, OutOfRange
from optimizer.inputs.models import Book, Figure, FruitPart, Lot, Offer, Product
from optimizer.physics import acidity, pectin
from optimizer.physics.refractometry import ACID_SHORTFALL, INVERT_SHORTFALL
from optimizer.prepare.stream import Composition, FigureError, LeftOut, Stream
from optimizer.prepare.usable import Sorted, sort_and_trim

_HIGHEST_PH = 6.0  # the chemistry of acids here ends at it
SULPHITED = ", sulphited pulp"
_STONE_FRUIT = ("plum", "damson", "greengage", "apricot", "peach", "nectarine", "cherry")


@dataclass(frozen=True, kw_only=True)
class FruitCase:
    """A lot or an offer of fruit, with the part of the book it is."""

    id: str
    item: str
    source: Lot | Offer
    part: FruitPart
    is_sulphited: bool
    counts_as_acid: bool = False  # lemon and lime juice: added last, no fruit content


def part_of(item: str, book: Book) -> tuple[FruitPart, bool] | None:
    """The part of the book that an item is, and whether it is sulphited pulp; None where it is no fruit."""
    if item in book.fruits:
        return book.fruits[item], False
    if item.endswith(SULPHITED):
        name = item[: -len(SULPHITED)]
        for part in book.fruits.values():  # of a fruit with several parts: the first row
            if part.fruit == name:
                return part, True
    return None


@dataclass(frozen=True, kw_only=True)
class _Acid:
    """Acid side of a fruit, per kg of fruit."""

    ph: float
    titratable_acid_fraction: float
    acid_mol: float
    strong_ion_mol: float
    is_pessimistic: bool
    notes: tuple[str, ...]


def _fault(case: FruitCase, column: str, value: str, cure: str) -> BadTable:
    where = case.source
    return BadTable(
        [
            Fault(
                file=where.file or "input", line=where.line or None, item=case.id, column=column, value=value, cure=cure
            )
        ]
    )


def _acid(case: FruitCase, water_fraction: float, acid_factor: float, product: Product, book: Book) -> _Acid | str:
    """Acid and strong ions from what was measured and the book; a sentence where that cannot be."""
    lot, part = case.source, case.part
    mix: dict[str, float] = {part.dominant_acid: 1.0}
    ph, pessimistic = lot.ph, False
    if ph is None:
        ph = part.ph.value
        if part.is_low_acid:
            least = product.reading_fraction.least
            if least is None or least < 0.65:
                return (
                    f"low-acid fruit ({part.fruit}, book pH {ph:g}) enters no {product.title} until the pH of this lot "
                    "is measured: botulism can grow where acid and sugar are short"
                )
            ph = min(ph + book.setting("low_acid_sd_factor") * part.ph.sd, _HIGHEST_PH)
            pessimistic = True
    titratable = lot.acid_fraction
    if titratable is None and part.acid_fraction is not None:
        titratable = part.acid_fraction.value * acid_factor
    cap = book.setting("low_acid_strong_ion_cap")

    def capped() -> _Acid:
        found = acidity.lot_from_ph_and_strong_ions(
            ph=ph, strong_ion_mol_per_kg=cap, water_fraction=water_fraction, acid_mix=mix
        )
        follows = acidity.titratable_acid_fraction(
            ph=ph, acid_mol_per_kg=found.acid_mol_per_kg, water_fraction=water_fraction, acid_mix=mix
        )
        return _Acid(
            ph=ph, titratable_acid_fraction=follows, acid_mol=found.acid_mol_per_kg, strong_ion_mol=cap,
            is_pessimistic=pessimistic, notes=("acid not measured: it follows from the pH at capped buffer salts",),
        )  # fmt: skip

    if titratable is None and part.is_low_acid:
        return capped()
    if titratable is None:
        return f"the book has no acid for {part.item}: measure acid (or pH and acid) of this lot"
    try:
        found = acidity.lot_from_measurements(
            ph=ph, titratable_acid_fraction=titratable, water_fraction=water_fraction, acid_mix=mix
        )
    except OutOfRange as error:
        if lot.ph is not None and lot.acid_fraction is not None:
            raise _fault(
                case, "ph and acid", f"{lot.ph:g} and {lot.acid_fraction * 100:.2f} %",
                f"contradict each other ({error}); measure both again",
            ) from error  # fmt: skip
        if part.is_low_acid and lot.acid_fraction is None:
            return capped()  # the book's acid does not go with so high a pH
        which = "acid" if lot.ph is not None else "pH"
        return f"what was measured contradicts the book's {which}: measure {which} of this lot too"
    if part.is_low_acid and lot.acid_fraction is None and found.strong_ion_mol_per_kg > cap:
        return capped()
    notes = []
    if found.strong_ion_mol_per_kg > book.setting("strong_ion_warn"):
        notes.append(
            f"{case.id}: pH {ph:g} with {titratable * 100:.2f} % acid means unusually many buffer salts; measure again"
        )
    return _Acid(
        ph=ph, titratable_acid_fraction=titratable, acid_mol=found.acid_mol_per_kg,
        strong_ion_mol=found.strong_ion_mol_per_kg, is_pessimistic=pessimistic, notes=tuple(notes),
    )  # fmt: skip


def _book_error(case: FruitCase, figure: str, sd_per_kg: float, *, measured: bool) -> FigureError:
    """A measured lot errs by itself; a figure of the book errs for all lots of that row together."""
    owner = f"lot:{case.id}" if measured else f"book:{case.part.item}"
    return FigureError(key=f"{owner}:{figure}", figure=figure, sd_per_kg=sd_per_kg)


def _pectin(case: FruitCase, water_per_kg: float | None, factor: float, book: Book) -> tuple[float, float, str]:
    """Strength per kg in the pan, its standard deviation, and where it comes from."""
    lot, part = case.source, case.part
    dilution = 1.0 + (water_per_kg or 0.0)
    if lot.pectin_fraction is not None:
        strength = pectin.native_strength_per_kg(lot.pectin_fraction) / dilution
        return strength, book.setting("measured_pectin_sd") * strength, "measured"
    is_extract = water_per_kg is not None
    if lot.spirit_test is not None:
        strength = (
            pectin.EXTRACT_STRENGTH[lot.spirit_test]
            if is_extract
            else pectin.native_strength_per_kg(pectin.SPIRIT_TEST_NATIVE_FRACTION[lot.spirit_test])
        )
        return strength, book.setting("spirit_test_sd") * strength, f"spirit test: {lot.spirit_test}"
    if is_extract:
        strength = pectin.EXTRACT_STRENGTH[part.pectin_class] * factor
        return strength, book.setting("extract_strength_sd") * strength, f"pectin class {part.pectin_class}, judgement"
    figure: Figure = part.pectin_fraction
    strength = pectin.native_strength_per_kg(figure.value) * factor
    return strength, strength * figure.sd / figure.value, figure.source


def _citrus_shares(part: FruitPart, book: Book) -> tuple[float, float]:
    """Flesh and peel of the fruit equivalent, for marmalade."""
    if part.is_peel:
        return 0.0, 1.0
    if part.is_whole_citrus:
        flesh = book.setting("whole_citrus_flesh_share")
        return flesh, 1.0 - flesh
    return (0.0, 0.0) if part.is_juice else (1.0, 0.0)


def _sorted_out(case: FruitCase, kept: Sorted, product: Product) -> tuple[str, ...]:
    """What the product does not take is lost to it, and said."""
    if not kept.sorted_out:
        return ()
    lost = sum(share for name, share in case.source.condition if name in kept.sorted_out)
    names = " and ".join(kept.sorted_out)
    return (
        f"{case.id}: {product.title} takes no {names} fruit: {lost * 100:.0f} % of the accepted fruit is sorted out",
    )


def fruit_stream(case: FruitCase, product: Product, book: Book) -> Stream | LeftOut:
    """Pulp or extract of one lot for one product, or why it cannot be.

    Usable kg = received x (1 - reject) x Σ share x (1 - trim) x (1 - refuse) x sieve yield; for jelly 0.60 kg of
    extract per kg of fruit and boiling water, every figure of the fruit diluted.

    Raises
    ------
    BadTable
        Measured pH and acid contradict each other.

    References
    ----------
    .. [1] Refractometer corrections, acid from pH and titration, pectin strength: see `optimizer.physics`.
    """
    lot, part = case.source, case.part

    def out(why: str, caution_id: str = "") -> LeftOut:
        return LeftOut(id=case.id, item=case.item, why=why, caution_id=caution_id)

    if product.preparation == "citrus" and not part.is_citrus:
        return out("marmalade is made of citrus fruit only")
    if part.fruit == "elderberry" and not product.is_cooked:
        return out(f"raw elderberries make people ill: {product.title} is not cooked", "elderberry")
    if case.is_sulphited and lot.so2_mg_per_kg is None:
        return out("sulphited pulp of unknown residue: measure SO2 and fill in `so2`", "sulphite")
    if any(name == "windfall" and share > 0 for name, share in lot.condition) and not lot.rot_sorted_out:
        return out(
            "windfalls may hold patulin, which cooking does not remove: a person must confirm that every rotten fruit "
            "was sorted out (`rot_sorted_out` = yes)",
            "windfall",
        )
    kept: Sorted = sort_and_trim(
        lot.condition, reject_fraction=lot.reject_fraction, trim_fraction=lot.trim_fraction, product=product, book=book
    )
    if kept.kept_fraction <= 0.0:
        return out(f"{product.title} takes no {' or '.join(kept.sorted_out)} fruit")
    book_reading = None if part.brix_fraction is None else part.brix_fraction.value
    brix = lot.brix_fraction if lot.brix_fraction is not None else book_reading
    if brix is None:
        return out(f"the book has no Brix for {part.item}: measure it")

    extraction = None
    if product.preparation == "extract" and not part.is_juice:
        if part.is_peel or part.is_whole_citrus:
            return out("boiling peel out for jelly brings more water than can be boiled off")
        extraction = next((e for e in book.extractions if e.fruit == part.fruit), None) or next(
            (e for e in book.extractions if not e.fruit), None
        )
    book_brix = brix if book_reading is None else book_reading
    insoluble = max(0.0, 1.0 - part.water_fraction.value - book_brix)
    sugar_third = part.total_sugar_fraction.value * brix / book_brix / 3.0
    acid_factor = kept.mean({name: book.conditions[name].acid_factor for name in kept.shares})
    estimate_water = 1.0 - insoluble - brix  # acid shifts it by well under 1 %
    acid = _acid(case, estimate_water, acid_factor, product, book)
    if isinstance(acid, str):
        return out(acid, "low-acid" if part.is_low_acid else "")

    dilution = 1.0 + (extraction.water_kg_per_kg if extraction else 0.0)
    solids = brix + 2.0 * sugar_third * INVERT_SHORTFALL + acid.titratable_acid_fraction * ACID_SHORTFALL
    pectin_factor = kept.mean({name: book.conditions[name].pectin_factor for name in kept.shares})
    strength, strength_sd, strength_source = _pectin(
        case, extraction.water_kg_per_kg if extraction else None, pectin_factor, book
    )
    usable = kept.kept_fraction * (1.0 if case.is_sulphited else 1.0 - part.refuse_fraction.value)
    if extraction:
        usable *= book.setting("extract_yield") * dilution
    elif product.preparation == "sieved" and not case.is_sulphited and not part.is_juice:
        usable *= next(
            (s for s in book.sieve_yields if s.fruit == part.fruit),
            next(s for s in book.sieve_yields if not s.fruit),
        ).yield_fraction
    insoluble_pan = 0.0 if extraction else insoluble
    flesh, peel = _citrus_shares(part, book)

    measured = tuple(
        name
        for name, value in (
            ("brix", lot.brix_fraction), ("ph", lot.ph), ("acid", lot.acid_fraction),
            ("pectin", lot.pectin_fraction), ("spirit_test", lot.spirit_test), ("so2", lot.so2_mg_per_kg),
        )
        if value is not None
    )  # fmt: skip
    brix_figure = part.brix_fraction
    brix_sd = book.setting("measured_brix_sd") if "brix" in measured else (brix_figure.sd if brix_figure else 0.0)
    if "acid" in measured:
        acid_sd = book.setting("measured_acid_sd") * acid.titratable_acid_fraction
    elif part.acid_fraction is not None:
        acid_sd = acid.titratable_acid_fraction * part.acid_fraction.sd / part.acid_fraction.value
    else:
        acid_sd = 0.25 * acid.titratable_acid_fraction
    price = lot.worth_uncooked_per_kg if isinstance(lot, Lot) else lot.price
    paid = lot.paid_per_kg if isinstance(lot, Lot) else lot.price
    if isinstance(lot, Offer) and lot.priced_on == "accepted":
        price *= 1.0 - (lot.reject_fraction or 0.0)
        paid = price
    cautions = [
        name
        for name, shown in (
            ("low-acid", part.is_low_acid),
            ("elderberry", part.fruit == "elderberry"),
            ("sulphite", case.is_sulphited),
            ("windfall", "windfall" in kept.shares),
            ("apple or pear", part.fruit in ("apple", "crab apple", "pear", "quince")),
            ("raw pineapple or papaya", part.fruit in ("pineapple", "papaya")),
            ("stones", part.fruit.split(",")[0] in _STONE_FRUIT),
            ("spirit test", "spirit_test" in measured),
        )
        if shown
    ]  # fmt: skip
    return Stream(
        id=case.id,
        item=case.item,
        kind="acid" if case.counts_as_acid else "fruit",
        origin="stock" if isinstance(lot, Lot) else "offer",
        per_kg=Composition(
            water_fraction=1.0 - insoluble_pan - solids / dilution,
            insoluble_fraction=insoluble_pan,
            solids_fraction=solids / dilution,
            reading_fraction=brix / dilution,
            sucrose_fraction=sugar_third / dilution,
            glucose_fraction=sugar_third / dilution,
            fructose_fraction=sugar_third / dilution,
            titratable_acid_fraction=acid.titratable_acid_fraction / dilution,
            ph=acid.ph,
            acid_mol=acid.acid_mol / dilution,
            acid_mix={part.dominant_acid: 1.0},
            strong_ion_mol=acid.strong_ion_mol / dilution,
            pectin_strength=0.0 if case.counts_as_acid else strength,
            fruit_equivalent=0.0 if case.counts_as_acid else 1.0 / dilution,
            so2_mg=(lot.so2_mg_per_kg or 0.0) / dilution,
            calcium_mg=part.calcium_mg_per_kg.value / dilution,
        ),
        usable_fraction=usable,
        price_per_received_kg=price,
        paid_per_received_kg=paid,
        received_most_kg=lot.on_hand_kg if isinstance(lot, Lot) else lot.available,
        fruit="" if case.counts_as_acid else part.fruit,
        flesh_fraction=flesh,
        peel_fraction=peel,
        is_low_acid=part.is_low_acid,
        needs_measured_ph=acid.is_pessimistic,
        is_sulphited=case.is_sulphited,
        extraction_min=extraction.minutes if extraction else 0.0,
        limited_conditions=kept.limited,
        condition_shares={str(name): share for name, share in kept.shares.items()},
        measured=measured,
        sources={
            "reading_fraction": "measured" if "brix" in measured else (brix_figure.source if brix_figure else ""),
            "ph": "measured" if lot.ph is not None else part.ph.source,
            "titratable_acid_fraction": "measured"
            if "acid" in measured
            else (part.acid_fraction.source if part.acid_fraction else "follows from pH"),
            "pectin_strength": strength_source,
        },
        errors=(
            _book_error(case, "solids_fraction", brix_sd / dilution, measured="brix" in measured),
            _book_error(case, "titratable_acid_fraction", acid_sd / dilution, measured="acid" in measured),
            _book_error(
                case, "pectin_strength", strength_sd, measured="pectin" in measured or "spirit_test" in measured
            ),
        ),
        caution_ids=tuple(cautions),
        notes=(*acid.notes, *_sorted_out(case, kept, product)),
    )
