"""From sugar, acid, pectin, salt and preservative as bought to the pan, by hand."""

from __future__ import annotations

from datetime import date

import pytest
from markets import BOOK, DAY, offer

from optimizer.inputs.models import Offer
from optimizer.prepare.stream import LeftOut, Stream
from optimizer.prepare.streams import prepare_streams


def _prepare(goods: Offer, product: str = "jam", **more) -> Stream | LeftOut:
    found = prepare_streams([], [goods], BOOK.products[product], BOOK, **{"on": DAY, **more})
    return (*found.streams, *found.left_out)[0]


def test_sugar_is_solids_of_sucrose() -> None:
    held = _prepare(offer("S", "cane/beet sugar, white", 0.9)).per_kg
    assert held.solids_fraction == pytest.approx(0.999)
    assert held.reading_fraction == pytest.approx(0.999)
    assert held.water_fraction + held.solids_fraction + held.insoluble_fraction == pytest.approx(1.0)


def test_glucose_syrup_reads_high() -> None:
    """80.5 % dry matter reads 1.02 times that."""
    held = _prepare(offer("G", "liquid glucose / corn syrup", 0.7, brix_fraction=0.805)).per_kg
    assert held.solids_fraction == pytest.approx(0.805)
    assert held.reading_fraction == pytest.approx(0.805 * 1.02)
    assert held.other_saccharides_fraction == pytest.approx(0.805)


def test_invert_syrup_reads_low() -> None:
    held = _prepare(offer("I", "invert sugar syrup", 0.7)).per_kg
    invert = held.glucose_fraction + held.fructose_fraction
    assert held.reading_fraction == pytest.approx(held.solids_fraction - 0.022 * invert)


def test_jaggery_brings_buffer_salts_and_no_acid() -> None:
    held = _prepare(offer("J", "jaggery (gur)", 0.5)).per_kg
    assert held.acid_mol == 0.0
    assert held.strong_ion_mol == pytest.approx(0.04)


@pytest.mark.parametrize(
    ("item", "purity", "anhydrous"),
    [
        ("citric acid", None, 1.0),
        ("citric acid", 0.995, 0.995),
        ("citric acid monohydrate", None, 0.9143),
        ("citric acid monohydrate", 0.914, 0.914),  # an anhydrous share of 91.4 % is the same thing said once
        ("citric acid monohydrate", 0.995, 0.9143 * 0.995),  # a purity of the monohydrate
    ],
)
def test_citric_acid_by_its_anhydrous_share(item: str, purity: float | None, anhydrous: float) -> None:
    """Molar mass 192.124 g/mol: 5.205 mol per kg of anhydrous acid."""
    held = _prepare(offer("A", item, 2.0, purity_fraction=purity)).per_kg
    assert held.titratable_acid_fraction == pytest.approx(anhydrous, rel=1e-3)
    assert held.acid_mol == pytest.approx(anhydrous / 0.192124, rel=1e-3)
    assert held.water_fraction == pytest.approx(1.0 - anhydrous, abs=1e-3)
    assert held.reading_fraction == pytest.approx(anhydrous * (1 - 0.1929), rel=1e-3)


def test_malic_and_tartaric_count_by_equivalents() -> None:
    """1.047 kg of malic or 1.172 kg of tartaric acid are as sour as 1 kg of citric acid (trade conversion, read)."""
    assert _prepare(offer("M", "malic acid", 2.0)).per_kg.titratable_acid_fraction == pytest.approx(1 / 1.047, rel=2e-3)
    assert _prepare(offer("T", "tartaric acid", 2.0)).per_kg.titratable_acid_fraction == pytest.approx(
        1 / 1.172, rel=2e-3
    )


def test_citrate_brings_three_charges_per_mol() -> None:
    held = _prepare(offer("B", "trisodium citrate dihydrate", 2.0)).per_kg
    assert held.acid_mol == pytest.approx(1 / 0.29410, rel=1e-4)
    assert held.strong_ion_mol == pytest.approx(3 / 0.29410, rel=1e-4)
    assert held.titratable_acid_fraction == 0.0


def test_pectin_by_grade_and_purity_less_what_the_cook_takes() -> None:
    """Grade 100 at 90 % purity, 5 % lost: 85.5 kg of sugar per kg."""
    stream = _prepare(offer("P", "pectin, HM (powder, grade 150)", 18.0, grade=100.0, purity_fraction=0.9))
    assert stream.per_kg.pectin_strength == pytest.approx(85.5)
    assert stream.grade_per_kg == pytest.approx(90.0)
    assert stream.setting == "medium"  # not given


def test_pectin_has_no_place_where_nothing_sets() -> None:
    assert "takes no added pectin" in _prepare(offer("P", "pectin, HM (powder, grade 150)", 18.0), "squash").why
    assert "low-methoxyl" in _prepare(offer("L", "pectin, low-methoxyl (LM)", 18.0)).why


def test_preservatives_only_where_asked() -> None:
    benzoate = offer("B", "sodium benzoate", 3.0)
    assert "not asked for" in _prepare(benzoate, "squash").why
    assert _prepare(benzoate, "squash", wants_preservative=True).per_kg.benzoic_mg == pytest.approx(847_000, rel=1e-3)


def test_offers_that_ran_out_or_come_late_are_left_out() -> None:
    sugar = offer("S", "cane/beet sugar, white", 0.9, valid_until=date(2026, 7, 3), delivery_days=5.0)
    assert "ran out on 2026-07-03" in _prepare(sugar).why
    late = sugar.model_copy(update={"valid_until": None})
    assert isinstance(_prepare(late), Stream)
    assert "later than asked" in _prepare(late, within_days=2.0).why
