"""From lots to the pan, by hand: yields, dilution, acid, pectin; and what is kept out."""

from __future__ import annotations

import pytest
from markets import BOOK, DAY, fruit_lot

from optimizer.errors import BadTable
from optimizer.inputs.models import Lot
from optimizer.physics import acidity
from optimizer.prepare.stream import LeftOut, Stream
from optimizer.prepare.streams import prepare_streams

PLUM = "plum, flesh with skin"


def _prepare(lot: Lot, product: str = "jam", **more) -> Stream | LeftOut:
    found = prepare_streams([lot], [], BOOK.products[product], BOOK, on=DAY, **more)
    return (*found.streams, *found.left_out)[0]


def _stream(lot: Lot, product: str = "jam", **more) -> Stream:
    made = _prepare(lot, product, **more)
    assert isinstance(made, Stream), made
    return made


def _left_out(lot: Lot, product: str = "jam", **more) -> str:
    made = _prepare(lot, product, **more)
    assert isinstance(made, LeftOut), made
    return made.why


def test_losses_are_chained() -> None:
    """100 kg: 5 % rejected; sound 40 %, bruised 60 % with 8 % trim; 6 % stones: 0.95 · (0.4 + 0.6 · 0.92) · 0.94."""
    lot = fruit_lot("X", PLUM, condition=(("sound", 0.4), ("bruised", 0.6)), reject_fraction=0.05)
    assert _stream(lot).usable_fraction == pytest.approx(0.95 * (0.4 + 0.6 * 0.92) * 0.94)


def test_a_trim_that_was_found_replaces_the_default() -> None:
    lot = fruit_lot("X", PLUM, condition=(("bruised", 1.0),), trim_fraction=0.02)
    assert _stream(lot).usable_fraction == pytest.approx(0.98 * 0.94)


def test_what_the_product_does_not_take_is_sorted_out_and_lost() -> None:
    lot = fruit_lot("X", PLUM, condition=(("sound", 0.7), ("over-ripe", 0.3)))
    assert _stream(lot, "preserve").usable_fraction == pytest.approx(0.7 * 0.94)
    assert "takes no over-ripe fruit" in _left_out(fruit_lot("X", PLUM, condition=(("over-ripe", 1.0),)), "preserve")


def test_pectin_and_acid_follow_the_condition() -> None:
    """Plum: 0.8 % pectin · 70 = 0.56 kg of sugar per kg; bruised keeps 0.8 of it. Under-ripe: 1.35 of the acid."""
    assert _stream(fruit_lot("X", PLUM)).per_kg.pectin_strength == pytest.approx(0.56)
    bruised = _stream(fruit_lot("X", PLUM, condition=(("bruised", 1.0),)))
    assert bruised.per_kg.pectin_strength == pytest.approx(0.56 * 0.8)
    under = _stream(fruit_lot("X", PLUM, condition=(("under-ripe", 1.0),)))
    assert under.per_kg.titratable_acid_fraction == pytest.approx(0.014 * 1.35)
    assert under.per_kg.pectin_strength == pytest.approx(0.56 * 1.15)


def test_measured_figures_take_the_place_of_the_book() -> None:
    lot = fruit_lot("X", PLUM, brix_fraction=0.132, ph=3.35, acid_fraction=0.016, pectin_fraction=0.01)
    stream = _stream(lot)
    assert stream.per_kg.reading_fraction == 0.132
    assert stream.per_kg.ph == 3.35
    assert stream.per_kg.titratable_acid_fraction == 0.016
    assert stream.per_kg.pectin_strength == pytest.approx(0.7)
    assert stream.measured == ("brix", "ph", "acid", "pectin")
    own = {error.figure: error for error in stream.errors}
    assert own["solids_fraction"].key == "lot:X:solids_fraction"
    assert own["solids_fraction"].sd_per_kg == pytest.approx(0.003)
    # sugars scale with Brix: 9.92 % at 14.3 becomes 9.157 % at 13.2, a third of each
    assert stream.per_kg.sucrose_fraction == pytest.approx(0.0992 * 13.2 / 14.3 / 3)


def test_lots_of_one_row_of_the_book_err_together() -> None:
    first, second = _stream(fruit_lot("X", PLUM)), _stream(fruit_lot("Y", PLUM))
    assert [e.key for e in first.errors] == [e.key for e in second.errors]
    assert all(e.key.startswith("book:plum, flesh with skin") for e in first.errors)


def test_one_kilogram_is_water_insolubles_and_solids() -> None:
    for item, part in BOOK.fruits.items():
        if part.brix_fraction is None:
            continue
        ph = part.ph.value if part.is_low_acid else None
        held = _stream(fruit_lot("X", item, ph=ph), "marmalade" if part.is_citrus else "jam").per_kg
        assert held.water_fraction + held.insoluble_fraction + held.solids_fraction == pytest.approx(1.0)
        sugars = held.sucrose_fraction + held.glucose_fraction + held.fructose_fraction
        assert sugars + held.titratable_acid_fraction <= held.solids_fraction + 1e-9


def test_acid_and_strong_ions_give_back_the_measured_ph_and_acid() -> None:
    held = _stream(fruit_lot("X", PLUM, ph=3.35, acid_fraction=0.016)).per_kg
    lot = {"acid_mol_per_kg": held.acid_mol, "acid_mix": held.acid_mix}
    demand = acidity.base_demand_mol_per_kg(3.35, strong_ion_mol_per_kg=held.strong_ion_mol, **lot)
    hydrogen = acidity.water_term_mol_per_kg(3.35, 0.10) * held.water_fraction
    assert float(demand) == pytest.approx(float(hydrogen), abs=2e-5)


def test_jelly_extract_is_diluted() -> None:
    """Plum: 0.26 kg of water per kg; 0.60 kg of extract per kg of fruit and water; figures divided by 1.26."""
    plum, extract = _stream(fruit_lot("X", PLUM)), _stream(fruit_lot("X", PLUM), "jelly")
    assert extract.usable_fraction == pytest.approx(0.94 * 0.60 * 1.26)
    assert extract.per_kg.reading_fraction == pytest.approx(plum.per_kg.reading_fraction / 1.26)
    assert extract.per_kg.titratable_acid_fraction == pytest.approx(plum.per_kg.titratable_acid_fraction / 1.26)
    assert extract.per_kg.fruit_equivalent == pytest.approx(1 / 1.26)
    assert extract.per_kg.insoluble_fraction == 0.0
    assert extract.per_kg.pectin_strength == pytest.approx(0.9)  # class rich
    assert extract.extraction_min == 17.5


@pytest.mark.parametrize(
    ("clot", "pulp", "extract"), [("rich", 0.70, 0.9), ("medium", 0.42, 0.7), ("poor", 0.175, 0.4)]
)
def test_spirit_test(clot: str, pulp: float, extract: float) -> None:
    """1.0, 0.6 or 0.25 % native pectin in pulp at 70 per kg; 0.9, 0.7 or 0.4 in the extract; both within 40 %."""
    lot = fruit_lot("X", PLUM, spirit_test=clot)
    assert _stream(lot).per_kg.pectin_strength == pytest.approx(pulp)
    made = _stream(lot, "jelly")
    assert made.per_kg.pectin_strength == pytest.approx(extract)
    error = next(e for e in made.errors if e.figure == "pectin_strength")
    assert error.sd_per_kg == pytest.approx(0.4 * extract)
    assert "spirit test" in made.caution_ids


def test_peel_and_whole_citrus_give_no_jelly() -> None:
    assert "more water than can be boiled off" in _left_out(fruit_lot("X", "orange, peel"), "jelly")


def test_marmalade_is_citrus_with_flesh_and_peel_apart() -> None:
    assert "citrus fruit only" in _left_out(fruit_lot("X", PLUM), "marmalade")
    assert _stream(fruit_lot("X", "orange, peel"), "marmalade").peel_fraction == 1.0
    assert _stream(fruit_lot("X", "orange, flesh"), "marmalade").flesh_fraction == 1.0
    whole = _stream(fruit_lot("X", "orange, whole fruit with peel"), "marmalade")
    assert whole.flesh_fraction + whole.peel_fraction == pytest.approx(1.0)


def test_lemon_juice_is_an_acid_unless_it_is_named() -> None:
    lot = fruit_lot("X", "lemon, juice")
    assert _stream(lot, "squash").kind == "acid"
    assert _stream(lot, "squash").per_kg.fruit_equivalent == 0.0
    assert _stream(lot, "squash", named_fruits={"lemon"}).kind == "fruit"


# ---- safety --------------------------------------------------------------------------------------------------------


def test_unmeasured_sulphited_pulp_is_blocked() -> None:
    lot = fruit_lot("X", "plum, sulphited pulp")
    assert "measure SO2" in _left_out(lot)
    measured = _stream(lot.model_copy(update={"so2_mg_per_kg": 90.0}))
    assert measured.is_sulphited
    assert measured.usable_fraction == 1.0  # no stones left in it
    assert measured.per_kg.so2_mg == 90.0


def test_windfalls_wait_for_a_person() -> None:
    lot = fruit_lot("X", "apple, cooking, flesh with skin", condition=(("windfall", 1.0),))
    assert "patulin" in _left_out(lot)
    assert _stream(lot.model_copy(update={"rot_sorted_out": True})).usable_fraction > 0.0


def test_low_acid_fruit_without_its_own_ph() -> None:
    """Papaya, book pH 5.5 with s.d. 0.25: full sugar at 6.0, nothing elsewhere; 0.10 mol/kg of strong ions at most."""
    lot = fruit_lot("X", "papaya, flesh, ripe")
    stream = _stream(lot)
    assert stream.needs_measured_ph
    assert stream.per_kg.ph == pytest.approx(6.0)
    assert stream.per_kg.strong_ion_mol <= 0.10 + 1e-12
    for product in ("butter", "squash"):
        assert "until the pH of this lot is measured" in _left_out(lot, product)
    measured = _stream(lot.model_copy(update={"ph": 5.4}), "butter")
    assert not measured.needs_measured_ph
    assert measured.is_low_acid


def test_elderberry_needs_measurements_the_book_does_not_have() -> None:
    assert "measure it" in _left_out(fruit_lot("X", "elderberry, whole berry"))


def test_ph_and_acid_that_contradict_each_other_are_a_fault() -> None:
    with pytest.raises(BadTable, match="contradict each other"):
        _prepare(fruit_lot("X", PLUM, ph=2.0, acid_fraction=0.0003, file="stock.csv", line=4))
