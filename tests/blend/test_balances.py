"""Mass, solids, acid, sugar and pectin worked out again from the recipe's document, not read from the model."""

from __future__ import annotations

from datetime import date
from itertools import pairwise

import pytest
from how_many import examples
from hypothesis import assume, given, settings
from markets import BOOK, DAY, Market, fruit_lot, markets, usual_offers

from optimizer.blend.recipe import make_recipe
from optimizer.blend.request import FruitShare, Request
from optimizer.inputs.models import Jar, Pan, Site
from optimizer.physics import acidity
from optimizer.physics.activity import water_activity
from optimizer.services.recipe_document import recipe_document

_INVERT_KG_PER_SUCROSE_KG = round(360.312 / 342.297, 4)  # stoichiometry of sucrose + water, as commonly printed
_MOLAR_KG = {"citric": 0.192124, "malic": 0.134087, "tartaric": 0.150087}  # molar masses, general chemistry


def _solved(market: Market) -> dict:
    recipe = make_recipe(market.request, market.site, market.lots, market.offers, BOOK)
    assume(recipe.status == "optimal")
    return recipe_document(recipe)


def _sum(document: dict, figure: str) -> float:
    return sum(s["pan_kg"] * s["per_kg"][figure] for s in document["streams"])


@settings(max_examples=examples(40))
@given(market=markets())
def test_mass_solids_sugar_acid_and_pectin_balance(market: Market) -> None:
    d = _solved(market)
    charged = sum(s["pan_kg"] for s in d["streams"]) + d["water_added_kg"]
    assert charged == pytest.approx(d["finished_kg"] + d["boil_off_kg"], rel=1e-7)

    p = d["predicted"]
    inverted = p["inverted_in_cook_fraction"]
    sucrose, gained = _sum(d, "sucrose_fraction"), inverted * _sum(d, "sucrose_fraction")
    dry = _sum(d, "solids_fraction") + gained * (_INVERT_KG_PER_SUCROSE_KG - 1.0)
    insoluble = _sum(d, "insoluble_fraction")
    liquid = d["finished_kg"] - insoluble
    assert p["soluble_solids_fraction"] == pytest.approx(dry / liquid, abs=2e-5)

    invert = _sum(d, "glucose_fraction") + _sum(d, "fructose_fraction") + gained * _INVERT_KG_PER_SUCROSE_KG
    assert p["invert_share_fraction"] == pytest.approx(invert / (invert + sucrose - gained), abs=2e-5)
    assert p["titratable_acid_fraction"] == pytest.approx(
        _sum(d, "titratable_acid_fraction") / d["finished_kg"], rel=1e-9
    )
    if p["pectin_strength_ratio"] is not None:
        firmness = BOOK.products[d["product"]].firmness.least
        assert p["pectin_strength_ratio"] == pytest.approx(
            _sum(d, "pectin_strength") / (0.65 * firmness * d["finished_kg"])
        )
        assert p["pectin_strength_ratio"] >= 1.0 - 1e-6

    # Refractometer: solids less what invert (0.022) and acid (0.1929) read low, plus what glucose syrup reads high.
    syrup = sum(0.02 * s["pan_kg"] * s["per_kg"]["solids_fraction"] for s in d["streams"] if "glucose" in s["item"])
    other = _sum(d, "reading_fraction") - (_sum(d, "solids_fraction") + syrup)
    low = other - 0.022 * gained * _INVERT_KG_PER_SUCROSE_KG
    assert p["reading_fraction"] == pytest.approx((dry + syrup + low) / liquid, abs=1e-4)


@settings(max_examples=examples(40))
@given(market=markets())
def test_ph_and_water_activity_are_those_of_the_amounts(market: Market) -> None:
    d = _solved(market)
    p = d["predicted"]
    gained = p["inverted_in_cook_fraction"] * _sum(d, "sucrose_fraction")
    water = (
        _sum(d, "water_fraction") + d["water_added_kg"] - d["boil_off_kg"] - gained * (_INVERT_KG_PER_SUCROSE_KG - 1.0)
    )
    mol: dict[str, float] = {}
    for s in d["streams"]:
        for acid, share in s["per_kg"]["acid_mix"].items():
            mol[acid] = mol.get(acid, 0.0) + s["pan_kg"] * s["per_kg"]["acid_mol"] * share
    answer = acidity.free_ph(
        acid_mol={acid: amount / water for acid, amount in mol.items()},
        strong_ion_mol_per_kg=_sum(d, "strong_ion_mol") / water,
    )
    assert p["ph"] == pytest.approx(float(answer.ph), abs=1e-3)
    for row in d["rows"]:  # the full charge balance meets the bound of the linear row
        if row["id"] == "ph_upper":
            assert p["ph"] <= row["upper"] + 1e-3
            if row["binding"]:
                assert p["ph"] == pytest.approx(row["upper"], abs=1e-3)
        if row["id"] == "ph_lower":
            assert p["ph"] >= row["lower"] - 1e-3
            if row["binding"]:
                assert p["ph"] == pytest.approx(row["lower"], abs=1e-3)
    activity = water_activity(
        water_kg=water,
        sucrose_kg=_sum(d, "sucrose_fraction") - gained,
        invert_kg=_sum(d, "glucose_fraction") + _sum(d, "fructose_fraction") + gained * _INVERT_KG_PER_SUCROSE_KG,
        disaccharide_kg=_sum(d, "other_saccharides_fraction"),
        **{f"{acid}_kg": amount * _MOLAR_KG[acid] for acid, amount in mol.items()},
    )
    assert p["water_activity"] == pytest.approx(float(activity), abs=1e-8)


@settings(max_examples=examples(25))
@given(market=markets())
def test_cost_parts_add_up_to_price_times_amount(market: Market) -> None:
    d = _solved(market)
    goods = sum(s["received_kg"] * s["price_per_received_kg"] for s in d["streams"])
    parts = d["cost"]["parts"]
    bought = parts["fruit"] + parts["sugar"] + parts["acid"] + parts["pectin"] + parts["other"]
    assert bought == pytest.approx(goods, rel=1e-9)
    assert d["cost"]["total"] == pytest.approx(sum(parts.values()), rel=1e-12)
    assert d["cost"]["per_finished_kg"] == pytest.approx(d["cost"]["total"] / d["finished_kg"])


SITE = Site(
    ph_meter="yes", pans=(Pan(capacity_L=60.0, power_kW=15.0, fuel_price=1.4),), jars=(Jar(name="380 mL", net_kg=0.45),)
)


def _plum(batch: float, *, worth: float = 0.2, stock: float = 500.0, other: float = 0.25):
    lots = (
        fruit_lot("X", "plum, flesh with skin", kg=stock, worth=worth),
        fruit_lot("Y", "apple, cooking, flesh with skin", kg=500.0, worth=other),
    )
    request = Request(product="preserve", batch_kg=batch, on=DAY, standard="none", loads=None)
    site = SITE.model_copy(update={"pans": ()})  # minutes do not depend on the size of the batch
    return make_recipe(request, site, lots, usual_offers(), BOOK)


def test_a_batch_twice_as_big_takes_twice_as_much() -> None:
    one, two = _plum(20.0), _plum(40.0)
    assert {a.stream.id for a in one.amounts} == {a.stream.id for a in two.amounts}
    for a, b in zip(one.amounts, two.amounts, strict=True):
        assert b.pan_kg == pytest.approx(2.0 * a.pan_kg, rel=1e-6)
    assert two.costs.parts["fruit"] == pytest.approx(2.0 * one.costs.parts["fruit"], rel=1e-6)


def test_more_stock_never_costs_more() -> None:
    """With rows held fixed: the same settled program, only the stock bound moves."""
    from dataclasses import replace

    from optimizer.blend.program import answer, build
    from optimizer.blend.recipe import prepare_case

    costs = []
    for stock in (1.0, 5.0, 10.0, 20.0, 50.0):
        lots = (
            fruit_lot("X", "plum, flesh with skin", kg=stock, worth=0.05),
            fruit_lot("Y", "apple, cooking, flesh with skin", kg=500.0, worth=0.4),
        )
        case, _ = prepare_case(
            Request(product="jam", batch_kg=40.0, on=DAY, standard="none"), SITE, lots, usual_offers(), BOOK
        )
        costs.append(answer(build(replace(case))).objective)
    assert all(later <= earlier + 1e-9 for earlier, later in pairwise(costs))
    assert costs[-1] < costs[0]


def test_a_dearer_lot_is_never_used_more() -> None:
    from optimizer.blend.program import answer, build
    from optimizer.blend.recipe import prepare_case

    used = []
    for worth in (0.05, 0.2, 0.3, 0.4, 0.6, 1.0):
        lots = (
            fruit_lot("X", "plum, flesh with skin", kg=500.0, worth=worth),
            fruit_lot("Y", "apple, cooking, flesh with skin", kg=500.0, worth=0.3),
        )
        case, _ = prepare_case(
            Request(product="jam", batch_kg=40.0, on=DAY, standard="none"), SITE, lots, usual_offers(), BOOK
        )
        used.append(float(answer(build(case)).x[0]))
    assert all(later <= earlier + 1e-7 for earlier, later in pairwise(used))
    assert used[0] > used[-1]


def test_named_fruit_alone_and_by_share() -> None:
    lots = (
        fruit_lot("X", "plum, flesh with skin", worth=0.9),
        fruit_lot("Y", "apple, cooking, flesh with skin", worth=0.05),
    )

    def shares(*fruits: FruitShare) -> dict[str, float]:
        request = Request(product="jam", batch_kg=40.0, on=date(2026, 7, 4), standard="codex", fruits=fruits)
        return dict(make_recipe(request, SITE, lots, usual_offers(), BOOK).fruit_shares)

    assert shares() == {"apple": pytest.approx(1.0)}
    assert shares(FruitShare(fruit="plum")) == {"plum": pytest.approx(1.0)}
    assert shares(FruitShare(fruit="plum", sense=">=", share_fraction=0.6))["plum"] == pytest.approx(0.6)
    assert shares(FruitShare(fruit="apple", sense="<=", share_fraction=0.3))["apple"] == pytest.approx(0.3)
