"""Every row of the model against a hand calculation: it holds on one side of the bound and fails on the other."""

from __future__ import annotations

import pytest
from handmade import FRUIT, SUGAR, amounts, case, holds, limit, row, stream
from markets import BOOK

from optimizer.blend.request import FruitShare
from optimizer.inputs.models import Pan, Site
from optimizer.physics import acidity


def test_mass() -> None:
    r = row(case(FRUIT, SUGAR), "mass")
    assert holds(r, amounts(50, 60, water=5, boil_off=15))
    assert not holds(r, amounts(50, 60, water=5, boil_off=14))


def test_least_solids() -> None:
    """5 kg of 50 kg fruit at 10 % and 60 kg of sugar are 65 kg of solids in 100 kg."""
    r = row(case(FRUIT, SUGAR), "least_solids")
    assert r.value(amounts(50, 60)) == pytest.approx(0.65)
    assert holds(r, amounts(50, 60))
    assert not holds(r, amounts(50, 59.9))


def test_least_solids_counts_the_liquid_and_the_inversion() -> None:
    """2 kg of insolubles are no liquid; 30 kg inverted of 60 gain 30 · (1.0526 · 0.978 - 1) = 0.8833 kg of reading."""
    pulp = stream("plum", per_kg={"insoluble_fraction": 0.04})
    r = row(case(pulp, SUGAR, inverted=0.5), "least_solids")
    assert r.value(amounts(50, 60)) == pytest.approx((65 + 30 * (1.0526 * 0.978 - 1)) / 98, abs=1e-6)


def test_most_solids() -> None:
    r = row(case(FRUIT, SUGAR), "most_solids")
    assert holds(r, amounts(50, 63))
    assert not holds(r, amounts(50, 63.1))


def test_least_fruit() -> None:
    r = row(case(FRUIT, SUGAR), "least_fruit")  # no standard: 45 g per 100 g, our default
    assert holds(r, amounts(45, 60))
    assert not holds(r, amounts(44.9, 60))


def test_fruit_mix() -> None:
    """Half strawberry at 350, half passion fruit at 60 g per kg: the mix must hold 205 g, not the harmonic 102."""
    figures = (
        limit("fruit_content", 0.35, "min"),
        limit("fruit_content", 0.06, "min", fruits=("passion fruit",)),
    )
    mix = (stream("strawberry"), stream("passion fruit"), SUGAR)
    of = case(*mix, limits=figures, declared=0.205, fruit_least_fraction=0.0)
    least, share = row(of, "least_fruit"), row(of, "fruit_mix")
    half = amounts(10.25, 10.25, 60)
    assert holds(least, half)
    assert holds(share, half)
    assert not holds(share, amounts(10.35, 10.15, 60))
    assert not holds(least, amounts(10.2, 10.2, 60))


def test_fruit_to_sweetener() -> None:
    """Fruit butter: 5 kg of fruit to 2 kg of sweetener solids."""
    r = row(case(FRUIT, SUGAR, product="butter"), "fruit_to_sweetener")
    assert holds(r, amounts(100, 40))
    assert not holds(r, amounts(100, 40.1))


def test_least_flesh_and_peel() -> None:
    """75 g of flesh and 50 g of peel per kg from a fruit that is two thirds flesh."""
    whole = stream("orange", flesh_fraction=2 / 3, peel_fraction=1 / 3)
    figures = (
        limit("flesh", 0.075, "min", product="marmalade"),
        limit("peel", 0.050, "min", product="marmalade"),
    )
    of = case(whole, SUGAR, product="marmalade", limits=figures)
    assert holds(row(of, "least_flesh"), amounts(11.25, 60))
    assert not holds(row(of, "least_flesh"), amounts(11.2, 60))
    assert holds(row(of, "least_peel"), amounts(15.0, 60))
    assert not holds(row(of, "least_peel"), amounts(14.9, 60))


def test_named_shares() -> None:
    wants = (
        FruitShare(fruit="plum", sense=">=", share_fraction=0.6),
        FruitShare(fruit="apple", sense="<=", share_fraction=0.3),
    )
    of = case(FRUIT, stream("apple"), fruits=wants)
    assert holds(row(of, "least_share:plum"), amounts(60, 40))
    assert not holds(row(of, "least_share:plum"), amounts(59, 41))
    assert holds(row(of, "most_share:apple"), amounts(70, 30))
    assert not holds(row(of, "most_share:apple"), amounts(69, 31))


def test_most_share_of_elderberry() -> None:
    r = row(case(stream("elderberry"), FRUIT), "most_share:elderberry")
    cap = BOOK.settings["most_elderberry_share"].value
    assert holds(r, amounts(100 * cap, 100 * (1 - cap)))
    assert not holds(r, amounts(100 * cap + 1, 100 * (1 - cap) - 1))
    assert not holds(r, amounts(50, 0))  # never alone


def test_condition() -> None:
    soft = stream("plum", condition_shares={"over-ripe": 0.5, "sound": 0.5})
    of = case(soft, stream("apple"), condition_most={"over-ripe": 0.2})
    assert holds(row(of, "condition:over-ripe"), amounts(40, 60))
    assert not holds(row(of, "condition:over-ripe"), amounts(41, 59))


def test_pectin_strength() -> None:
    """Firmness 0.8 of 100 kg at 65 % needs 52 kg of sugar carried: 20 from fruit, 32 from 0.2133 kg of grade 150."""
    fruit = stream("plum", per_kg={"pectin_strength": 0.4})
    powder = stream("pectin", "pectin", per_kg={"pectin_strength": 150.0}, grade_per_kg=150.0)
    r = row(case(fruit, powder), "pectin_strength")
    assert holds(r, amounts(50, 32 / 150))
    assert not holds(r, amounts(50, 0.213))


def test_most_added_pectin() -> None:
    """0.7 % of grade 150 is 0.525 kg of grade 200 in 100 kg."""
    powder = stream("pectin", "pectin", grade_per_kg=200.0)
    r = row(case(FRUIT, powder), "most_added_pectin")
    assert holds(r, amounts(50, 0.525))
    assert not holds(r, amounts(50, 0.526))


def _sour(ph: float, acid_mol: float = 0.1) -> dict:
    """A fruit that is at this pH by itself: strong ions balance the charge, its own water included."""
    demand = acidity.base_demand_mol_per_kg(
        ph, acid_mol_per_kg=acid_mol, strong_ion_mol_per_kg=0.0, acid_mix={"citric": 1.0}
    )
    strong = float(demand) - 0.9 * float(acidity.water_term_mol_per_kg(ph, 0.10))
    return {"acid_mol": acid_mol, "strong_ion_mol": strong, "acid_mix": {"citric": 1.0}}


@pytest.mark.parametrize(("meter", "drawn"), [("yes", 3.35), ("no", 3.30), ("strips", 3.30)])
def test_ph_upper_is_drawn_in(meter: str, drawn: float) -> None:
    """Jam: 3.4 less 0.05 with a meter, 0.10 without; a fruit just below passes alone, one just above does not."""
    site = Site(ph_meter=meter)
    passes = case(stream("plum", per_kg=_sour(drawn - 0.01)), site=site)
    fails = case(stream("plum", per_kg=_sour(drawn + 0.01)), site=site)
    x = amounts(100)
    assert holds(row(passes, "ph_upper"), x)
    assert not holds(row(fails, "ph_upper"), x)


def test_ph_upper_follows_the_setting_speed() -> None:
    of = case(stream("plum", per_kg=_sour(3.3)), site=Site(ph_meter="yes"), speed_ph=3.2)
    assert row(of, "ph_upper").shown == (pytest.approx(3.15), "upper")


def test_ph_lower() -> None:
    x = amounts(100)
    assert holds(row(case(stream("plum", per_kg=_sour(2.81))), "ph_lower"), x)
    assert not holds(row(case(stream("plum", per_kg=_sour(2.79))), "ph_lower"), x)


def test_ph_lower_of_cranberry_alone() -> None:
    assert row(case(stream("cranberry"), SUGAR), "ph_lower").shown == (2.5, "lower")
    assert row(case(stream("cranberry"), FRUIT), "ph_lower").shown == (2.8, "lower")


def test_least_and_most_acid() -> None:
    """Squash: 1.0 to 1.2 % acid."""
    acid = stream("citric", "acid", per_kg={"titratable_acid_fraction": 1.0})
    of = case(FRUIT, acid, product="squash")
    assert holds(row(of, "least_acid"), amounts(25, 1.0))
    assert not holds(row(of, "least_acid"), amounts(25, 0.99))
    assert holds(row(of, "most_acid"), amounts(25, 1.2))
    assert not holds(row(of, "most_acid"), amounts(25, 1.21))


def test_most_added_acid_and_salt() -> None:
    acid = stream("citric", "acid", per_kg={"titratable_acid_fraction": 1.0})
    salt = stream("citrate", "salt")
    of = case(FRUIT, acid, salt)
    assert holds(row(of, "most_added_acid"), amounts(50, 1.5, 0))
    assert not holds(row(of, "most_added_acid"), amounts(50, 1.51, 0))
    assert holds(row(of, "most_buffer_salt"), amounts(50, 0, 0.3))
    assert not holds(row(of, "most_buffer_salt"), amounts(50, 0, 0.31))


def test_no_sucrose_crystals() -> None:
    """At 10 degC 1.893 kg of sucrose stay dissolved per kg of water (Vavrinecz); 35 kg of water carry 66.2 kg."""
    r = row(case(FRUIT, SUGAR), "no_sucrose_crystals")
    # 50 kg fruit bring 45 kg water, 10 boil off: 35 kg of water
    assert holds(r, amounts(50, 66.2, boil_off=10))
    assert not holds(r, amounts(50, 66.4, boil_off=10))


def test_water_activity() -> None:
    """aw 0.85: 2.0432 kg of sucrose per kg of water at aw itself; the row asks for aw - 0.002, so a little more."""
    r = row(case(FRUIT, SUGAR, water_activity_most=0.85), "water_activity")
    assert not holds(r, amounts(50, 2.0432 * 35, boil_off=10))
    assert holds(r, amounts(50, 2.0432 * 35 * 1.02, boil_off=10))


def test_invert_least_and_most() -> None:
    """30 kg inverted of 100 are 31.58 kg of invert in 101.58 kg of sugars: 31.1 %."""
    of = case(FRUIT, SUGAR, inverted=0.3, invert_least_fraction=0.31, invert_most_fraction=0.312)
    x = amounts(0, 100)
    assert holds(row(of, "invert_least"), x)
    assert holds(row(of, "invert_most"), x)
    of = case(FRUIT, SUGAR, inverted=0.3, invert_least_fraction=0.312, invert_most_fraction=0.31)
    assert not holds(row(of, "invert_least"), x)
    assert not holds(row(of, "invert_most"), x)


def test_preservative_limits() -> None:
    """50 mg/kg: 45 kg of pulp may hold 111.1 mg/kg; the higher limit holds once a sulphited lot is on the table."""
    figures = (limit("so2", 50.0), limit("so2", 100.0, condition="sulphited fruit"))
    plain = stream("plum", per_kg={"so2_mg": 111.1})
    assert holds(row(case(plain, limits=figures), "most_so2"), amounts(45))
    assert not holds(row(case(stream("plum", per_kg={"so2_mg": 111.2}), limits=figures), "most_so2"), amounts(45))
    pulp = stream("plum", per_kg={"so2_mg": 222.2}, is_sulphited=True)
    assert holds(row(case(pulp, limits=figures), "most_so2"), amounts(45))


def test_benzoic_sorbic_and_both_together() -> None:
    """Sodium benzoate is 84.7 % benzoic acid: 59 g in 100 kg are 500 mg/kg."""
    benzoate = stream("benzoate", "preservative", per_kg={"benzoic_mg": 847_000.0})
    sorbate = stream("sorbate", "preservative", per_kg={"sorbic_mg": 746_000.0})
    figures = (limit("benzoic", 500.0), limit("sorbic", 1000.0), limit("preservatives_together", 1000.0))
    of = case(FRUIT, benzoate, sorbate, limits=figures)
    assert holds(row(of, "most_benzoic"), amounts(50, 0.0590, 0))
    assert not holds(row(of, "most_benzoic"), amounts(50, 0.0592, 0))
    assert holds(row(of, "most_sorbic"), amounts(50, 0, 0.1340))
    assert not holds(row(of, "most_sorbic"), amounts(50, 0, 0.1342))
    assert not holds(row(of, "preservatives_together"), amounts(50, 0.0590, 0.0680))  # 499.7 + 507.3 mg/kg
    assert holds(row(of, "preservatives_together"), amounts(50, 0.0590, 0.0670))


def test_alternatives_and_least_preservative() -> None:
    """SO2 350 or benzoic 600: shares of the limits add to at most 1, and to at least 0.9 to keep the product."""
    benzoate = stream("benzoate", "preservative", per_kg={"benzoic_mg": 1e6})
    kms = stream("kms", "preservative", per_kg={"so2_mg": 576_000.0})
    figures = tuple(
        limit(parameter, value, product="squash", **more)
        for parameter, value, more in (
            ("so2", 350.0, {}),
            ("benzoic", 600.0, {}),
            ("preservatives_together", 1.0, {"condition": "alternatives"}),
        )
    )
    of = case(FRUIT, benzoate, kms, product="squash", limits=figures, keeps="preservative")
    half_each = amounts(25, 0.030, 0.5 * 0.035 / 0.576)
    assert holds(row(of, "preservatives_together"), half_each)
    assert holds(row(of, "least_preservative"), half_each)
    assert not holds(row(of, "preservatives_together"), amounts(25, 0.031, 0.5 * 0.035 / 0.576))
    assert not holds(row(of, "least_preservative"), amounts(25, 0.0239, 0.5 * 0.035 / 0.576))


def test_sweetener_kinds() -> None:
    syrup = stream("liquid glucose / corn syrup", "sweetener", per_kg={"solids_fraction": 0.8, "reading_fraction": 0.8})
    jaggery = stream("jaggery (gur)", "sweetener", per_kg={"solids_fraction": 0.9, "reading_fraction": 0.9})
    of = case(SUGAR, syrup, jaggery)
    assert holds(row(of, "most_glucose_syrup"), amounts(70, 37.5, 0))  # 30 of 100 kg of solids
    assert not holds(row(of, "most_glucose_syrup"), amounts(70, 37.6, 0))
    assert holds(row(of, "most_jaggery"), amounts(75, 0, 25 / 0.9))
    assert not holds(row(of, "most_jaggery"), amounts(75, 0, 27.9))


def test_water_and_boil_off() -> None:
    of = case(FRUIT, SUGAR)
    assert holds(row(of, "most_added_water"), amounts(0, 0, water=10))
    assert not holds(row(of, "most_added_water"), amounts(0, 0, water=10.1))
    assert holds(row(of, "least_boil_off"), amounts(0, 0, boil_off=5))
    assert not holds(row(of, "least_boil_off"), amounts(0, 0, boil_off=4.9))
    assert holds(row(of, "most_boil_off"), amounts(0, 0, boil_off=60))
    assert not holds(row(of, "most_boil_off"), amounts(0, 0, boil_off=60.1))


def test_pan() -> None:
    """A 60 L pan filled to 60 % at 1.25 kg/L holds 45 kg; two loads 90 kg."""
    site = Site(pans=(Pan(capacity_L=60.0, power_kW=15.0),))
    of = case(FRUIT, SUGAR, site=site, loads=2)
    assert holds(row(of, "pan"), amounts(45, 40, water=5))
    assert not holds(row(of, "pan"), amounts(45, 40, water=5.1))


def test_stock_and_available() -> None:
    """20 kg received at 75 % usable are 15 kg in the pan."""
    lot = stream("plum", usable_fraction=0.75, received_most_kg=20.0)
    bought = stream("apple", origin="offer", received_most_kg=8.0)
    of = case(lot, bought)
    assert holds(row(of, "stock:plum"), amounts(15, 0))
    assert not holds(row(of, "stock:plum"), amounts(15.1, 0))
    assert holds(row(of, "available:apple"), amounts(0, 8))
    assert not holds(row(of, "available:apple"), amounts(0, 8.1))
