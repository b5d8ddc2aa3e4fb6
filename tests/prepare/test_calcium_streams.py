"""Calcium of fruit and salts, and which pectin and which salt a product takes."""

from __future__ import annotations

import pytest
from markets import BOOK, DAY, fruit_lot, offer

from optimizer.inputs.models import Lot, Offer
from optimizer.prepare.stream import LeftOut, Stream
from optimizer.prepare.streams import prepare_streams


def _prepare(goods: Lot | Offer, product: str = "spread") -> Stream | LeftOut:
    lots, offers = ([goods], []) if isinstance(goods, Lot) else ([], [goods])
    found = prepare_streams(lots, offers, BOOK.products[product], BOOK, on=DAY)
    return (*found.streams, *found.left_out)[0]


@pytest.mark.parametrize(("item", "mg"), [("strawberry, whole berry", 150.0), ("rhubarb, stalk", 350.0)])
def test_fruit_brings_the_calcium_of_the_book(item: str, mg: float) -> None:
    assert _prepare(fruit_lot("X", item)).per_kg.calcium_mg == pytest.approx(mg)


def test_extract_is_diluted() -> None:
    """Apples are boiled out with as much water per kg as the table says; calcium goes with the rest."""
    water = next(e for e in BOOK.extractions if e.fruit == "apple").water_kg_per_kg
    held = _prepare(fruit_lot("X", "apple, cooking, flesh with skin"), "jelly").per_kg
    assert held.calcium_mg == pytest.approx(150.0 / (1.0 + water))
    assert held.calcium_mg / 150.0 == pytest.approx(held.fruit_equivalent)


# Molar masses: calcium 40.078, CaCl2.2H2O 147.01, CaCl2 110.98, calcium lactate pentahydrate 308.3, CaCO3 100.09.
@pytest.mark.parametrize(
    ("item", "purity", "share"),
    [
        ("calcium chloride dihydrate", None, 40.078 / 147.01),
        ("calcium chloride dihydrate", 0.98, 0.98 * 40.078 / 147.01),
        ("calcium chloride dihydrate", 0.755, 40.078 / 147.01),  # states the anhydrous share of the dihydrate
        ("calcium lactate pentahydrate", None, 40.078 / 308.3),
        ("calcium carbonate", None, 40.078 / 100.09),
    ],
)
def test_calcium_of_salts(item: str, purity: float | None, share: float) -> None:
    made = _prepare(offer("C", item, 3.0, purity_fraction=purity))
    assert made.per_kg.calcium_mg == pytest.approx(share * 1e6, rel=3e-3)
    assert made.is_calcium_salt == (item != "calcium carbonate")  # that one is bought as a buffer


def test_chloride_is_neutral_and_lactate_a_weak_base() -> None:
    assert _prepare(offer("C", "calcium chloride dihydrate", 3.0)).per_kg.strong_ion_mol == 0.0
    lactate = _prepare(offer("C", "calcium lactate pentahydrate", 3.0)).per_kg
    assert lactate.strong_ion_mol == pytest.approx(2000.0 / 308.3, rel=1e-4)


@pytest.mark.parametrize("given", [{}, {"grade": 120.0}, {"setting": "slow"}])
def test_low_methoxyl_pectin_has_neither_grade_nor_speed(given: dict) -> None:
    made = _prepare(offer("P", "pectin, low-methoxyl (LM)", 30.0, **given))
    assert made.is_lm_pectin
    assert made.setting is None
    assert made.grade_per_kg == made.per_kg.pectin_strength == 0.0


def test_each_pectin_has_its_products() -> None:
    high, low = "pectin, HM (powder, grade 150)", "pectin, low-methoxyl (LM)"
    assert isinstance(_prepare(offer("P", high, 18.0), "jam"), Stream)
    assert "below 55 % solids" in _prepare(offer("P", high, 18.0)).why
    assert "at low sugar" in _prepare(offer("P", low, 18.0), "jam").why
    assert "takes no added pectin" in _prepare(offer("P", high, 18.0), "butter").why
