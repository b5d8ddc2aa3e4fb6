"""A low-sugar spread from request to document: set by low-methoxyl pectin and calcium, and not kept by its sugar."""

from __future__ import annotations

from dataclasses import replace

import pytest
from how_many import examples
from hypothesis import assume, given, settings
from markets import BOOK, DAY, Market, fruit_lot, low_sugar_offers, markets, offer, usual_offers

from optimizer.blend.recipe import make_recipe
from optimizer.blend.request import FruitShare, Request
from optimizer.blend.result import Recipe
from optimizer.errors import InputFault
from optimizer.inputs.models import Site
from optimizer.physics import pectin
from optimizer.services.recipe_document import recipe_document

SITE = Site(ph_meter="yes", standard="codex")
BERRIES = (fruit_lot("X", "strawberry, whole berry"),)
OFFERS = (*usual_offers(), *low_sugar_offers())
PRESERVATIVES = (offer("K", "potassium sorbate", 8.0), offer("N", "sodium benzoate", 6.0))
LM = "pectin, low-methoxyl (LM)"
CALCIUM_MG_PER_KG = {  # 40.078 g/mol over the molar mass of the salt (general chemistry)
    "calcium chloride dihydrate": 40.078 / 147.01 * 1e6,
    "calcium lactate pentahydrate": 40.078 / 308.3 * 1e6,
    "strawberry, whole berry": 150.0,  # the book's estimate
}


def _make(lots=BERRIES, offers=OFFERS, **asked) -> Recipe:
    return make_recipe(Request(**{"product": "spread", "batch_kg": 50.0, "on": DAY, **asked}), SITE, lots, offers, BOOK)


def _kg(document: dict, item: str) -> float:
    return sum(s["pan_kg"] for s in document["streams"] if s["item"] == item)


@pytest.mark.parametrize("salt", ["calcium chloride dihydrate", "calcium lactate pentahydrate"])
@pytest.mark.parametrize("berries_kg", [24.0, 300.0])
def test_dose_and_calcium_worked_out_again_from_the_document(salt: str, berries_kg: float) -> None:
    """Dose 0.7 to 1.2 % and 15 to 35 mg of calcium per g, from memory; 30 to 55 % on the refractometer, pH to 3.55."""
    lots = (fruit_lot("X", "strawberry, whole berry", kg=berries_kg),)
    recipe = _make(lots, (*usual_offers(), *low_sugar_offers(salt=salt)))
    assert recipe.status == "optimal"
    assert recipe.certified
    d = recipe_document(recipe)
    powder_kg = _kg(d, LM)
    assert 0.007 - 1e-9 <= powder_kg / d["finished_kg"] <= 0.012 + 1e-9
    calcium_mg = sum(_kg(d, item) * mg for item, mg in CALCIUM_MG_PER_KG.items())
    per_g = calcium_mg / (1000.0 * powder_kg)
    assert 15.0 - 0.02 <= per_g <= 35.0 + 0.02  # the book rounds the salts to 27.3 and 13.0 %
    assert _kg(d, salt) > 0.0  # 45 g of berries in 100 g bring 6.75 mg, 0.7 g of powder asks for 10.5
    p = d["predicted"]
    assert 0.30 - 1e-6 <= p["reading_fraction"] <= 0.55 + 1e-6
    assert p["ph"] <= 3.55 + 1e-3
    assert p["fruit_fraction"] >= 0.45 - 1e-9
    assert p["pectin_strength_ratio"] is None
    assert not any("set will be weak" in warning or "set no jelly" in warning for warning in recipe.warnings)


@settings(max_examples=examples(30))
@given(market=markets())
def test_every_spread_of_random_markets_holds_both_windows(market: Market) -> None:
    request = replace(market.request, product="spread")
    recipe = make_recipe(request, market.site, market.lots, market.offers, BOOK)
    assume(recipe.status == "optimal")
    d = recipe_document(recipe)
    powder_kg = _kg(d, LM)
    per_g = sum(s["pan_kg"] * s["per_kg"]["calcium_mg"] for s in d["streams"]) / (1000.0 * powder_kg)
    assert 0.007 * (1 - 1e-6) <= powder_kg / d["finished_kg"] <= 0.012 * (1 + 1e-6)
    assert 15.0 * (1 - 1e-6) <= per_g <= 35.0 * (1 + 1e-6)


def test_the_window_of_calcium_is_that_of_a_good_gel() -> None:
    """40 to 50 % of the free acid groups bound make a good gel, 80 % and more a brittle one (handbook)."""
    window = BOOK.products["spread"].calcium_mg_per_g
    assert window.least < float(pectin.lm_calcium_mg_per_g(0.40))
    assert float(pectin.lm_calcium_mg_per_g(0.50)) < window.most < float(pectin.lm_calcium_mg_per_g(0.80))
    assert (window.least, window.most) == pectin.LM_CALCIUM_MG_PER_G
    dose = BOOK.products["spread"].lm_pectin
    assert (dose.least, dose.most) == pectin.LM_SPREAD_DOSE_FRACTION


def test_without_calcium_there_is_none_and_the_way_out_is_to_buy_it() -> None:
    """25 kg of berries bring 3 750 mg; 0.35 kg of powder asks for 5 250: 1 500 mg are 5.49 g of a salt of 27.3 %."""
    lots = (fruit_lot("X", "strawberry, whole berry", kg=25.0),)
    fruit_kg = 25.0 * (1.0 - BOOK.fruits["strawberry, whole berry"].refuse_fraction.value)
    short_mg = 0.007 * 50.0 * 1000.0 * 15.0 - fruit_kg * 150.0
    recipe = _make(lots, (*usual_offers(), low_sugar_offers()[0]))
    assert recipe.status == "none"
    assert {"calcium_least", "least_lm_pectin", "stock:X"} <= {row.id for row in recipe.clash}
    assert "15 mg of calcium per g of low-methoxyl pectin" in recipe.why[0]
    buy = next(r for r in recipe.reliefs if r.id == "buy")
    assert "calcium chloride dihydrate" in buy.change
    assert buy.amount == pytest.approx(short_mg / 273_000.0, rel=0.005)
    enough = low_sugar_offers(available=buy.amount)
    assert _make(lots, (*usual_offers(), *enough)).status == "optimal"
    short = low_sugar_offers(available=0.98 * short_mg / 273_000.0)
    assert _make(lots, (*usual_offers(), *short)).status == "none"
    assert not any("calcium_" in r.id for r in recipe.reliefs)  # the window of the gel itself is not for sale


def test_without_low_methoxyl_pectin_there_is_none_and_high_methoxyl_is_no_stand_in() -> None:
    recipe = _make(offers=usual_offers())
    assert recipe.status == "none"
    assert any(r.id == "buy" and LM in r.change for r in recipe.reliefs)
    assert any(left.id == "P" and "below 55 % solids" in left.why for left in recipe.left_out)


@pytest.mark.parametrize("product", sorted(set(BOOK.products) - {"spread"}))
def test_low_methoxyl_pectin_and_calcium_salts_go_into_nothing_else(product: str) -> None:
    lots = (fruit_lot("X", "orange, whole fruit with peel"), fruit_lot("Y", "strawberry, whole berry"))
    recipe = _make(lots, product=product)
    left = {out.id: out.why for out in recipe.left_out}
    assert "sets with calcium at low sugar" in left["LM"]
    assert "low-methoxyl pectin only" in left["CA"]


# GSFA 04.1.2.6 and Regulation (EC) 1333/2008, 04.2.5.1 to 04.2.5.3, from memory: mg/kg as free acid. United States:
# 21 CFR 184.1733 (read), benzoate only. For Canada and Australia the book has no figure.
@pytest.mark.parametrize(
    ("standard", "name", "sorbic", "benzoic"),
    [
        ("codex", None, 1000.0, 1000.0),
        ("eu-2026", None, 1000.0, 1000.0),
        ("eu-2026", "reduced sugar jam", 1000.0, 500.0),
        ("uk", None, 1000.0, 500.0),
        ("us", None, None, 1000.0),
        ("india", None, None, 200.0),
        ("canada", None, None, None),
        ("anz", None, None, None),
        ("none", None, None, None),
    ],
)
@pytest.mark.parametrize("id_", ["K", "N"])
def test_a_preservative_is_used_where_the_standard_allows_it_and_nowhere_else(
    standard: str, name: str | None, sorbic: float | None, benzoic: float | None, id_: str
) -> None:
    mine = tuple(o for o in PRESERVATIVES if o.offer == id_)
    limit, figure, held = (sorbic, "sorbic_mg", 0.746) if id_ == "K" else (benzoic, "benzoic_mg", 0.847)
    recipe = _make(offers=(*OFFERS, *mine), standard=standard, legal_name=name, keeps="preservative")
    if limit is None:
        assert recipe.status == "none"
        assert any(left.id == id_ and "allows none" in left.why for left in recipe.left_out)
        return
    d = recipe_document(recipe)
    dose = sum(s["pan_kg"] * s["per_kg"][figure] for s in d["streams"]) / d["finished_kg"]
    assert 0.5 * limit < dose <= limit * (1 + 1e-6)
    assert dose == pytest.approx(_kg(d, mine[0].item) * held * 1e6 / d["finished_kg"], rel=2e-3)


def test_no_preservative_unless_asked_for() -> None:
    recipe = _make(offers=(*OFFERS, *PRESERVATIVES))
    assert {"K", "N"} <= {left.id for left in recipe.left_out}


@pytest.mark.parametrize(
    ("standard", "name", "most"),
    [("uk", "reduced sugar jam", 50.0), ("india", "reduced sugar jam", 45.0), ("codex", "fruit spread", 55.0)],
)
def test_names_and_solids_under_each_standard(standard: str, name: str, most: float) -> None:
    """UK regulations of 2003 and 2004: 25 to 50 % (read); India: at most 45 % (read, secondary); else our 55 %."""
    recipe = _make(standard=standard, solids_least_fraction=0.40)
    assert recipe.legal_name == name
    bound = next(row for row in recipe.rows if row.id == "most_solids")
    assert bound.upper == pytest.approx(most / 100.0)
    assert _make(standard=standard, solids_least_fraction=most / 100.0 - 0.005).status == "optimal"
    over = _make(standard=standard, solids_least_fraction=most / 100.0 + 0.01)
    assert over.status == "none"
    assert "most_solids" in {row.id for row in over.clash}


@pytest.mark.parametrize("keeps", ["heat", "cold", "preservative"])
def test_what_keeps_a_spread_is_said_and_stops_release(keeps: str) -> None:
    recipe = _make(offers=(*OFFERS, *PRESERVATIVES), keeps=keeps)
    said = {caution.id: caution for caution in recipe.cautions}
    for id_ in ("low_solids", "botulism", "spread_keeping", "process_authority", "measure_ph"):
        assert said[id_].blocks, id_
    assert {"spread_opened", "spread_name", "low_methoxyl_trial"} <= set(said)
    assert "5 degC" in said["spread_opened"].text
    assert "low_ph" not in said  # of high-methoxyl sets
    if keeps == "heat":
        assert "process authority" in said["processing"].text
        assert "min in boiling water" not in said["processing"].text  # the minutes of jam are not for little sugar


def test_cautions_of_a_spread_are_not_shown_with_jam() -> None:
    recipe = _make(product="jam")
    assert recipe.status == "optimal"
    assert not {"spread_keeping", "spread_opened", "spread_name", "low_methoxyl_trial"} & {
        c.id for c in recipe.cautions
    }


@pytest.mark.parametrize("item", ["papaya, flesh, ripe", "banana, flesh, ripe", "mango, flesh, ripe"])
def test_low_acid_fruit_enters_no_spread_before_its_ph_is_measured(item: str) -> None:
    unknown = _make((fruit_lot("X", item),), fruits=(FruitShare(fruit=item),))
    assert unknown.status == "none"
    assert any("until the pH of this lot is measured" in left.why for left in unknown.left_out)
    measured = _make((fruit_lot("X", item, ph=4.4),), fruits=(FruitShare(fruit=item),))
    assert measured.status == "optimal"
    assert measured.predicted.ph <= 3.55 + 1e-3


def test_calcium_lactate_counts_as_base() -> None:
    """Errs towards a higher pH: all lactate is taken to bind acid, 2 mol per mol of salt."""
    chloride, lactate = (
        _make(offers=(*usual_offers(), *low_sugar_offers(salt=f"calcium {salt}")))
        for salt in ("chloride dihydrate", "lactate pentahydrate")
    )
    assert lactate.predicted.ph > chloride.predicted.ph


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"firmness": 1.0}, "leave firmness out"),
        ({"solids_least_fraction": 0.65}, "make jam"),
        ({"solids_most_fraction": 0.05}, "10 % or more"),
    ],
)
def test_what_is_no_spread_is_refused_with_the_cure(asked: dict, said: str) -> None:
    with pytest.raises(InputFault, match=said):
        _make(**asked)
