"""What standards ask beyond one figure: exceptions, mixes, groups, bans, preservatives; by hand and through recipes.

Hand calculations use fruit of 10 % solids and 100 kg finished, the figures are those of the texts named beside them.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from handmade import SUGAR, amounts, case, holds, row, stream
from markets import BOOK, DAY, fruit_lot, offer, usual_offers

from optimizer.blend.case import Case
from optimizer.blend.recipe import make_recipe
from optimizer.blend.request import FruitShare, Request
from optimizer.blend.result import Recipe, RowReport
from optimizer.blend.rules import rows_of
from optimizer.blend.settle import variants
from optimizer.blend.standard import limits_for
from optimizer.inputs.models import Lot, Site
from optimizer.prepare.stream import Stream

STRAWBERRY = fruit_lot("S", "strawberry, whole berry")
APPLE = fruit_lot("A", "apple, cooking, flesh with skin")
PLUM = fruit_lot("P", "plum, flesh with skin")
PEACH = fruit_lot("E", "peach, flesh, yellow")
PULP = fruit_lot("U", "apricot, sulphited pulp", so2_mg_per_kg=200.0)
PRESERVATIVES = (
    offer("K", "potassium metabisulphite", 5.0),
    offer("Z", "sodium benzoate", 4.0),
    offer("Y", "potassium sorbate", 9.0),
)


def of(standard: str, product: str, name: str | None, *streams: Stream, **asked: object) -> Case:
    """A case under one legal name; `name` None: the default name."""
    found = limits_for(BOOK.products[product], BOOK, standard, name)
    return replace(case(*streams, product=product, standard=standard, **asked), limits=found)


def recipe(*lots: Lot, preservatives: bool = False, **asked: object) -> Recipe:
    """A jam under the EU text of 2026 unless said."""
    base = {"product": "jam", "batch_kg": 100.0, "on": DAY, "standard": "eu-2026"}
    request = Request(**{**base, **asked})
    offers = (*usual_offers(), *PRESERVATIVES) if preservatives else usual_offers()
    return make_recipe(request, Site(ph_meter="yes"), lots, offers, BOOK)


def report(of_: Recipe, id_: str) -> RowReport:
    (found,) = (r for r in of_.rows if r.id == id_)
    return found


def used(of_: Recipe) -> set[str]:
    return {amount.stream.id for amount in of_.amounts}


def shares(**least: float) -> tuple[FruitShare, ...]:
    return tuple(FruitShare(fruit=fruit, sense=">=", share_fraction=share) for fruit, share in least.items())


# ---- exceptions for single fruits [g per 100 g] ---------------------------------------------------------------------


@pytest.mark.parametrize(
    ("standard", "name", "fruit", "grams"),
    [
        ("codex", None, "blackcurrant", 35),  # CXS 296-2009, 3.1.2, from memory
        ("codex", None, "mango", 35),
        ("codex", None, "cranberry", 30),
        ("codex", None, "guava", 25),
        ("codex", None, "passion fruit", 8),
        ("eu-2001", None, "blackcurrant", 25),  # Directive 2001/113/EC, Annex I
        ("eu-2001", None, "passion fruit", 6),
        ("eu-2001", "extra jam", "blackcurrant", 35),
        ("eu-2001", "extra jam", "passion fruit", 8),
        ("eu-2026", None, "blackcurrant", 35),  # as amended by Directive (EU) 2024/1438
        ("eu-2026", None, "passion fruit", 8),
        ("eu-2026", "extra jam", "blackcurrant", 45),  # from memory
        ("eu-2026", "extra jam", "passion fruit", 10),  # from memory
        ("uk", None, "quince", 25),
        ("uk", "extra jam", "passion fruit", 8),
        ("india", None, "raspberry", 25),  # FSS Regulations 2011
        ("india", None, "passion fruit", 8),
        ("canada", None, "blackcurrant", 45),  # no exception
        ("anz", None, "passion fruit", 40),  # no exception
    ],
)
def test_exceptions(standard: str, name: str | None, fruit: str, grams: float) -> None:
    r = row(of(standard, "jam", name, stream(fruit), SUGAR, fruit_least_fraction=0.0), "least_fruit")
    assert holds(r, amounts(grams, 60))
    assert not holds(r, amounts(grams - 0.1, 60))
    assert r.is_law


def test_our_floor_lifts_passion_fruit_until_the_user_lowers_it() -> None:
    """6 g of passion fruit in 100 g would be mostly water; 25 g is our own floor, and no law."""
    r = row(of("eu-2001", "jam", None, stream("passion fruit"), SUGAR), "least_fruit")
    assert (r.bound, r.is_law) == (0.25, False)
    r = row(of("eu-2001", "jam", None, stream("passion fruit"), SUGAR, fruit_least_fraction=0.03), "least_fruit")
    assert (r.bound, r.is_law) == (0.06, True)


# ---- mixed fruit: minima in proportion to the shares ----------------------------------------------------------------


def _meets_at_some_declared(x: np.ndarray) -> bool:
    """Whether any declared content makes amounts of strawberry, passion fruit, sugar lawful (EU 2001)."""
    mix = (stream("strawberry"), stream("passion fruit"), SUGAR)
    for declared in np.linspace(0.06, 0.35, 59):
        under = of("eu-2001", "jam", None, *mix, fruit_least_fraction=0.0, declared=float(declared))
        if holds(row(under, "least_fruit"), x) and holds(row(under, "fruit_mix"), x):
            return True
    return False


def test_half_strawberry_half_passion_fruit_is_205_grams_and_not_the_harmonic_102() -> None:
    """0.5 · 350 + 0.5 · 60 = 205 g per kg; 1 / (0.5 / 350 + 0.5 / 60) = 102.4 g per kg is the trap."""
    assert _meets_at_some_declared(amounts(10.25, 10.25, 60))
    assert not _meets_at_some_declared(amounts(10.2, 10.2, 60))
    assert not _meets_at_some_declared(amounts(5.12, 5.12, 60))
    # 90 of 290 parts strawberry: 0.3103 · 350 + 0.6897 · 60 = 150 g per kg
    assert _meets_at_some_declared(amounts(15 * 90 / 290, 15 * 200 / 290, 60))
    assert not _meets_at_some_declared(amounts(14.9 * 90 / 290, 14.9 * 200 / 290, 60))


@pytest.mark.parametrize(("standard", "plain", "currant"), [("eu-2001", 0.35, 0.25), ("eu-2026", 0.45, 0.35)])
def test_a_mixed_recipe_holds_the_proportional_minimum(standard: str, plain: float, currant: float) -> None:
    lots = (
        fruit_lot("S", "strawberry, whole berry", worth=3.0), fruit_lot("B", "blackcurrant, whole berry", worth=3.0)
    )  # fmt: skip
    made = recipe(*lots, standard=standard, fruits=shares(strawberry=0.4, blackcurrant=0.4))
    asks = made.fruit_shares["strawberry"] * plain + made.fruit_shares["blackcurrant"] * currant
    assert made.predicted is not None
    assert made.predicted.fruit_fraction >= asks - 1e-6
    if made.predicted.fruit_fraction > asks + 1e-5:  # dear fruit: no more than that, but for our limit of added water
        assert report(made, "most_added_water").value == pytest.approx(0.10, abs=1e-9)
        assert standard == "eu-2001"


# ---- the European texts ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("day", "standard", "least"), [(date(2026, 6, 13), "eu-2001", 0.35), (date(2026, 6, 14), "eu-2026", 0.45)]
)
def test_the_day_of_the_cook_chooses_the_text(day: date, standard: str, least: float) -> None:
    made = recipe(fruit_lot("S", "strawberry, whole berry", worth=3.0), standard="eu", on=day)
    assert made.standard == standard
    assert report(made, "least_fruit").lower == least
    assert report(made, "least_fruit").value == pytest.approx(least, rel=1e-6)


@pytest.mark.parametrize("standard", ["eu-2001", "eu-2026", "uk"])
def test_extra_jam_may_not_mix_apple(standard: str) -> None:
    asked = {"standard": standard, "fruits": shares(apple=0.3, strawberry=0.3)}
    assert set(recipe(APPLE, STRAWBERRY, **asked).fruit_shares) == {"apple", "strawberry"}
    assert recipe(APPLE, STRAWBERRY, legal_name="extra jam", **asked).status == "none"
    plums = {"standard": standard, "fruits": shares(plum=0.3, strawberry=0.3)}
    assert set(recipe(PLUM, STRAWBERRY, legal_name="extra jam", **plums).fruit_shares) == {"plum", "strawberry"}
    cheap_apple = APPLE.model_copy(update={"on_hand_kg": 20.0, "worth_uncooked_per_kg": 0.001})  # too little alone
    free = recipe(cheap_apple, STRAWBERRY, standard=standard)
    assert set(free.fruit_shares) == {"apple", "strawberry"}
    extra = recipe(cheap_apple, STRAWBERRY, legal_name="extra jam", standard=standard)
    assert set(extra.fruit_shares) == {"strawberry"}


@pytest.mark.parametrize("standard", ["eu-2001", "eu-2026", "uk"])
def test_extra_jam_takes_no_sulphited_fruit(standard: str) -> None:
    assert used(recipe(PULP, standard=standard)) >= {"U"}
    extra = recipe(PULP, STRAWBERRY, standard=standard, legal_name="extra jam")
    assert [left.id for left in extra.left_out] == ["U"]
    assert "sulphited" in extra.left_out[0].why
    assert "U" not in used(extra)


# ---- the United States ----------------------------------------------------------------------------------------------


def _us(*fruits: str, mix: bool = False) -> Case:
    return replace(of("us", "jam", None, *(stream(fruit) for fruit in fruits), SUGAR), is_group_mix=mix)


def test_us_groups() -> None:
    """21 CFR 150.160: Group I 47 to 55 (0.8545), Group II 45 to 55 (0.8182); one Group II fruit makes it 45 to 55."""
    for fruits, mix, parts in (
        (("strawberry",), False, 47), (("strawberry", "grape"), False, 47), (("peach",), False, 45),
        (("strawberry", "peach"), True, 45),
    ):  # fmt: skip
        r, n = row(_us(*fruits, mix=mix), "fruit_to_sweetener"), len(fruits)
        assert holds(r, amounts(*[(parts + 0.01) / n] * n, 55))
        assert not holds(r, amounts(*[(parts - 0.01) / n] * n, 55))


def test_us_mix_needs_a_fifth_of_group_two() -> None:
    r = row(_us("strawberry", "peach", mix=True), "least_share:Group II")
    assert holds(r, amounts(36.8, 9.2, 55))
    assert not holds(r, amounts(36.9, 9.1, 55))


def test_us_groups_are_separate_cases() -> None:
    """Group I alone at 47, or any mix with a fifth of Group II at 45."""
    strict, mild = variants(_us("strawberry", "peach"))
    assert [s.fruit for s in strict.streams if s.fruit] == ["strawberry"]
    assert [s.fruit for s in mild.streams if s.fruit] == ["strawberry", "peach"]
    assert row(strict, "fruit_to_sweetener").bound == pytest.approx(47 / 55, abs=1e-6)
    assert row(mild, "fruit_to_sweetener").bound == pytest.approx(45 / 55, abs=1e-6)


def test_us_recipes_of_dear_fruit_meet_their_ratio_exactly() -> None:
    lots = [lot.model_copy(update={"worth_uncooked_per_kg": 5.0}) for lot in (STRAWBERRY, PEACH)]
    for asked, parts in ((shares(strawberry=1.0), 47), (shares(strawberry=0.5, peach=0.2), 45)):
        made = recipe(*lots, standard="us", fruits=asked)
        fruit = sum(a.pan_kg for a in made.amounts if a.stream.kind == "fruit")
        sweet = sum(a.pan_kg * a.stream.per_kg.solids_fraction for a in made.amounts if a.stream.kind != "fruit")
        assert fruit / sweet == pytest.approx(parts / 55, rel=1e-6)


def test_us_apple_is_at_most_half_and_never_alone() -> None:
    r = row(_us("apple", "plum"), "most_share:apple")
    assert holds(r, amounts(22.5, 22.5, 55))
    assert not holds(r, amounts(22.6, 22.4, 55))
    assert recipe(APPLE, standard="us").status == "none"
    assert recipe(APPLE, PLUM, standard="us", fruits=shares(apple=0.5)).status == "optimal"
    assert recipe(APPLE, PLUM, standard="us", fruits=shares(apple=0.51)).status == "none"


@pytest.mark.parametrize(
    ("standard", "product", "item", "words"),
    [
        ("us", "jam", "mango, flesh, ripe", "21 CFR 150.160"),
        ("us", "jam", "blackcurrant, whole berry", "21 CFR 150.160"),
        ("us", "jelly", "passion fruit, juice, yellow", "21 CFR 150.140"),
        ("canada", "jam", "apple, cooking, flesh with skin", "apple and rhubarb only in their own class"),
        ("canada", "preserve", "rhubarb, stalk", "rhubarb"),
    ],
)
def test_fruit_without_a_standard_is_left_out_with_the_reason(
    standard: str, product: str, item: str, words: str
) -> None:
    lot = fruit_lot("X", item, worth=0.001, ph=3.4)
    made = recipe(lot, PLUM, standard=standard, product=product)
    assert [left.id for left in made.left_out if words in left.why] == ["X"]
    assert made.status == "optimal"
    assert set(made.fruit_shares) == {"plum"}
    alone = recipe(lot, standard=standard, product=product)
    assert alone.status == "none"
    assert alone.why


# ---- preservatives --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("standard", ["eu-2001", "eu-2026", "uk"])
def test_so2_of_sulphited_fruit(standard: str) -> None:
    """Regulation (EC) 1333/2008, from memory: 50 mg/kg, 100 of sulphited fruit; 5 kg at 1000 mg/kg bring 50."""
    plain = stream("apricot", per_kg={"so2_mg": 1000.0})
    pulp = stream("apricot", is_sulphited=True, per_kg={"so2_mg": 1000.0})
    fresh = row(of(standard, "jam", None, plain, SUGAR), "most_so2")
    assert holds(fresh, amounts(5.0, 60))
    assert not holds(fresh, amounts(5.01, 60))
    sulphited = row(of(standard, "jam", None, pulp, SUGAR), "most_so2")
    assert holds(sulphited, amounts(10.0, 60))
    assert not holds(sulphited, amounts(10.01, 60))


def test_a_sulphited_lot_that_is_not_used_lifts_no_limit() -> None:
    """Too dear to use: the jam of fresh fruit keeps to 50 mg/kg, as it does without that lot on the table."""
    dear = PULP.model_copy(update={"worth_uncooked_per_kg": 20.0})
    alone = recipe(STRAWBERRY, preservatives=True, keeps="preservative")
    beside = recipe(dear, STRAWBERRY, preservatives=True, keeps="preservative")
    for made in (alone, beside):
        assert "U" not in used(made)
        assert "K" in used(made)
        assert report(made, "most_so2").upper == 50.0
        assert report(made, "most_so2").value <= 50.0 + 1e-6
    assert alone.costs is not None
    assert beside.costs is not None
    assert beside.costs.total == pytest.approx(alone.costs.total, rel=1e-9)
    cheap = recipe(PULP.model_copy(update={"worth_uncooked_per_kg": 0.01}), STRAWBERRY)
    assert "U" in used(cheap)
    assert report(cheap, "most_so2").upper == 100.0


def test_india_so2_or_benzoic() -> None:
    """FPO 1955: 40 mg/kg of SO2 or 200 of benzoic acid in jam, 350 or 600 in squash: shares of the limits add to 1."""
    kms = stream("kms", "preservative", per_kg={"so2_mg": 1e6})
    benzoate = stream("benzoate", "preservative", per_kg={"benzoic_mg": 1e6})
    for product, so2, benzoic in (("jam", 40, 200), ("squash", 350, 600)):
        under = of("india", product, None, stream("plum"), kms, benzoate, SUGAR)
        full_so2, full_benzoic = so2 * 1e-4, benzoic * 1e-4  # kg of the free acid in 100 kg
        rows = [row(under, id_) for id_ in ("most_so2", "most_benzoic", "preservatives_together")]
        for s, b, lawful in ((1, 0, True), (0, 1, True), (0.5, 0.5, True), (0.25, 0.75, True), (0.5, 0.51, False)):
            x = amounts(45, s * full_so2, b * full_benzoic, 55)
            assert all(holds(r, x) for r in rows) == lawful
        assert not holds(rows[0], amounts(45, 1.01 * full_so2, 0, 55))
        assert not holds(rows[1], amounts(45, 0, 1.01 * full_benzoic, 55))


@pytest.mark.parametrize(
    ("standard", "out", "kept"),
    [
        ("eu-2026", {"Z", "Y"}, {"K"}),  # full-sugar jam: neither benzoate nor sorbate, from memory
        ("us", {"K", "Y"}, {"Z"}),  # 21 CFR 184.1733: benzoate 0.1 %; the data name no limit of the others
        ("india", {"Y"}, {"K", "Z"}),
        ("codex", set(), {"K", "Z", "Y"}),  # GSFA 04.1.2.5
        ("canada", {"K", "Z", "Y"}, set()),  # the data name no limit
    ],
)
def test_a_preservative_without_a_limit_is_left_out(standard: str, out: set[str], kept: set[str]) -> None:
    made = recipe(STRAWBERRY, preservatives=True, standard=standard, keeps="preservative")
    assert {left.id for left in made.left_out if left.why.startswith(f"{standard} allows none")} == out
    if kept:
        assert made.status == "optimal"
        assert used(made) & {"K", "Z", "Y"}
        assert not used(made) & out
    else:
        assert made.status == "none"
        assert made.why


def test_no_preservative_unless_asked_for() -> None:
    made = recipe(STRAWBERRY, preservatives=True, standard="codex")
    assert not used(made) & {"K", "Z", "Y"}
    assert all("not asked for" in left.why for left in made.left_out)


def test_a_case_without_a_standard_has_no_row_of_law() -> None:
    assert not [r.id for r in rows_of(of("none", "jam", None, stream("plum"), SUGAR)) if r.is_law]
