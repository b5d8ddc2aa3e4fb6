"""Landed prices against arithmetic by hand, two of each kind; the arithmetic stands beside each."""

from __future__ import annotations

import pytest
from markets import BOOK, offer

from optimizer.inputs.models import Offer, PriceBreak
from optimizer.market.landed import Landed, landed_prices
from optimizer.market.terms import Terms
from optimizer.market.units_of_use import Useful, useful

BREAKAGE = 0.0075
SUGAR, SYRUP = "cane/beet sugar, white", "liquid glucose / corn syrup"
PECTIN, LM = "pectin, HM (powder, grade 150)", "pectin, low-methoxyl (LM)"


def landed(*offers: Offer, needs: dict | None = None, amounts: dict | None = None) -> dict[str, Landed]:
    found, out = landed_prices(offers, BOOK, breakage=BREAKAGE, needs=needs, amounts=amounts, currency="cr")
    assert out == ()
    return {one.id: one for one in found}


def packaging(code: str, item: str, price: float, **more: object) -> Offer:
    return Offer(offer=code, supplier="", item=item, kind="packaging", unit="piece", price=price, **more)


def fruit(code: str, item: str, price: float, **more: object) -> Offer:
    return Offer(offer=code, supplier="", item=item, kind="fruit", price=price, **more)


# Offers of the reference's invented scenario A; it prints per useful unit, delivery apart (trade guide 5.3): sugar S1
# 0.921, S2 0.842, glucose syrup 0.919 per kg of solids; P1, P2, P3 0.143, 0.179, 0.154 per kg of sugar set; citric acid
# anhydrous 2.11, monohydrate 2.18 per kg.
S1 = offer("S1", SUGAR, 0.92, brix_fraction=0.999, pack=25.0, delivery_cost=12.0,
           breaks=(PriceBreak(from_packs=20, price=0.9016), PriceBreak(from_packs=40, price=0.874)))  # fmt: skip
S2 = offer("S2", SUGAR, 0.84, brix_fraction=0.998, pack=1000.0, delivery_cost=45.0)
SG = offer("SG", SYRUP, 0.74, brix_fraction=0.805, pack=290.0, delivery_cost=30.0)
P1 = offer("P1", PECTIN, 21.5, grade=150.0, setting="slow", pack=25.0, delivery_cost=15.0)
P2 = offer("P2", PECTIN, 17.9, grade=100.0, setting="medium", pack=1.0, least_packs=6, delivery_cost=6.0)
P3 = offer("P3", PECTIN, 27.0, grade=175.0, setting="rapid", pack=10.0, delivery_cost=15.0)
CA = offer("CA", "citric acid", 2.1, purity_fraction=0.995, pack=25.0, delivery_cost=8.0)
CM = offer("CM", "citric acid monohydrate", 1.98, purity_fraction=0.91, pack=25.0, delivery_cost=8.0)


@pytest.mark.parametrize(
    ("of", "printed", "places"),
    [
        (S1, 0.921, 3), (S2, 0.842, 3), (SG, 0.919, 3), (P1, 0.143, 3), (P2, 0.179, 3), (P3, 0.154, 3),
        (CA, 2.11, 2), (CM, 2.18, 2),
    ],
)  # fmt: skip
def test_price_per_useful_unit_as_the_reference_prints_it(of: Offer, printed: float, places: int) -> None:
    assert round(landed(of)[of.offer].list_per_useful_unit, places) == printed


def test_sugar_in_bags_with_delivery() -> None:
    """60 kg of solids: 60 / 0.999 = 60.06 kg, 3 bags, 75 kg. (75 · 0.92 + 12) / (75 · 0.999) = 81 / 74.925 = 1.0811."""
    one = landed(S1, needs={"sugar": 60.0})["S1"]
    assert (one.packs, one.amount, one.delivered_cost) == (3, 75.0, pytest.approx(81.0))
    assert one.landed_per_useful_unit == pytest.approx(81.0 / 74.925)
    assert one.list_price == 0.92


def test_sugar_at_a_step_of_the_price() -> None:
    """480 kg of solids: 480.5 kg, 20 bags (19.2), at 0.9016: 500 · 0.9016 + 12 = 462.80, over 499.5 kg = 0.92653."""
    one = landed(S1, needs={"sugar": 480.0})["S1"]
    assert (one.packs, one.delivered_cost) == (20, pytest.approx(462.8))
    assert one.landed_per_useful_unit == pytest.approx(462.8 / (500.0 * 0.999))


def test_a_few_bags_more_may_cost_less() -> None:
    """39 bags at 0.9016 are 879.06; 40 at 0.874 are 874.00: forty are bought."""
    one = landed(S1, needs={"sugar": 39 * 25.0 * 0.999})["S1"]
    assert (one.packs, one.delivered_cost) == (40, pytest.approx(874.0 + 12.0))


def test_acid_anhydrous_and_monohydrate() -> None:
    """Anhydrous 99.5 %: (25 · 2.10 + 8) / (25 · 0.995) = 60.5 / 24.875 = 2.43216.

    (The acid is reckoned by its molar mass, 64.04 g an equivalent: the fifth figure may differ.)
    Monohydrate stated as 91.0 % anhydrous holds 0.910 of acid: (25 · 1.98 + 8) / 22.75 = 57.5 / 22.75 = 2.52747.
    """
    both = landed(CA, CM)
    assert both["CA"].landed_per_useful_unit == pytest.approx(60.5 / 24.875, rel=1e-4)
    assert both["CM"].landed_per_useful_unit == pytest.approx(57.5 / 22.75, rel=2e-4)
    assert both["CA"].landed_per_useful_unit < both["CM"].landed_per_useful_unit


def test_lemon_juice_is_credited_with_its_sugar() -> None:
    """4 bottles of 5.17 kg at 1.90 = 39.292; acid 0.049 · 20.68 = 1.01332 kg.

    Solids without the acid: Brix 8.9 read low for acid, so a little more than 0.089 - 0.049 = 0.040 per kg; at least
    0.8 kg of sugar at 1.00 come off.
    """
    lemon = offer(
        "L", "lemon juice, fresh", 1.9, acid_fraction=0.049, brix_fraction=0.089, ph=2.3, pack=5.17, least_packs=4
    )
    sugar = offer("S", SUGAR, 1.0, brix_fraction=1.0)
    one = landed(lemon, sugar)["L"]
    assert one.delivered_cost == pytest.approx(39.292)
    assert 20.68 * 0.040 <= one.credit <= 20.68 * 0.055
    assert one.landed_per_useful_unit == pytest.approx((39.292 - one.credit) / 1.01332)
    assert "as by S" in one.said[-1]


def test_pectin_by_grade() -> None:
    """P1: (25 · 21.5 + 15) / (25 · 150) = 552.5 / 3750 = 0.14733. P2: 6 tubs, (6 · 17.9 + 6) / 600 = 0.18900."""
    both = landed(P1, P2)
    assert both["P1"].landed_per_useful_unit == pytest.approx(552.5 / 3750.0)
    assert both["P2"].landed_per_useful_unit == pytest.approx(113.4 / 600.0)
    assert both["P2"].packs == 6


def test_low_methoxyl_pectin_stands_apart() -> None:
    """30.00 a kg, 5 kg and 10 for the delivery: 160 / 5 = 32.00; at 90 % purity per pure kg 160 / 4.5 = 35.56."""
    pure = offer("L1", LM, 30.0, pack=5.0, delivery_cost=10.0)
    weak = offer("L2", LM, 30.0, pack=5.0, delivery_cost=10.0, purity_fraction=0.9)
    both = landed(pure, weak, P1)
    assert both["L1"].landed_per_useful_unit == pytest.approx(32.0)
    assert both["L2"].landed_per_useful_unit == pytest.approx(160.0 / 4.5)
    assert both["L1"].use == "LM pectin" != both["P1"].use == "HM pectin"


def test_fruit_per_edible_kg_with_its_credits() -> None:
    """Sound plums, 0.40 a kg received, reject 10 %, trim 0, refuse r of the book: edible 0.9 · (1 - r).

    A kg of pulp at 13.2 Brix and 1.6 % acid: what is sugar and acid of it comes off at 0.90 and 2.00.
    """
    plum = fruit("F", "plum, flesh with skin", 0.40, brix_fraction=0.132, acid_fraction=0.016, ph=3.35,
                 reject_fraction=0.10, trim_fraction=0.0)  # fmt: skip
    sugar, acid = offer("S", SUGAR, 0.9, brix_fraction=1.0), offer("A", "citric acid", 2.0)
    one = landed(plum, sugar, acid, needs={"fruit": 100.0})["F"]
    edible = 0.9 * (1.0 - BOOK.fruits["plum, flesh with skin"].refuse_fraction.value)
    assert one.useful_per_received == pytest.approx(edible)
    assert one.list_per_useful_unit == pytest.approx(0.40 / edible)
    # 0.116 kg of sugar (a reading of 13.2 is a little more than that of solids) and 0.016 kg of acid in an edible kg
    assert 0.116 * 0.9 <= one.credit / 100.0 - 0.016 * 2.0 <= 0.126 * 0.9
    assert one.landed_per_useful_unit == pytest.approx(0.40 / edible - one.credit / 100.0)
    assert any("no credit for kg of sugar set" in text for text in one.said)


def test_fruit_priced_by_the_accepted_kg() -> None:
    """Apples 0.30 per accepted kg, 20 % rejected: 0.24 per received kg, so the reject costs nothing: 0.30 / (1 - r)."""
    apple = fruit(
        "F", "apple, cooking, flesh with skin", 0.30, reject_fraction=0.20, trim_fraction=0.0, priced_on="accepted"
    )
    refuse = BOOK.fruits["apple, cooking, flesh with skin"].refuse_fraction.value
    one = landed(apple)["F"]
    assert one.list_per_useful_unit == pytest.approx(0.30 / (1.0 - refuse))
    assert one.useful_per_received == pytest.approx(0.8 * (1.0 - refuse))
    assert "price per accepted kg" in one.said


def test_fruit_is_credited_with_its_pectin() -> None:
    """Pectin at 0.15 per kg of sugar set: the credit grows by 0.15 times the strength of the pulp."""
    apple = fruit(
        "F", "apple, cooking, flesh with skin", 0.30, trim_fraction=0.0, brix_fraction=0.11, acid_fraction=0.01
    )
    pectin = offer("P", PECTIN, 22.5, grade=150.0)
    found = useful(apple, BOOK, breakage=BREAKAGE)
    assert isinstance(found, Useful)
    strength = dict(found.credits)["HM pectin"]
    one = landed(apple, pectin, needs={"fruit": found.per_received})["F"]
    assert one.amount == pytest.approx(1.0)
    assert strength > 0.0
    assert one.credit == pytest.approx(0.15 * strength)


def test_preservatives_per_active_kg() -> None:
    """Metabisulphite of full strength is 0.576 SO2, of 90 % assay 0.5184: 2 tubs of 0.5 kg, 3.20 / 0.5184 = 6.173.

    Sodium benzoate of 99 % is 0.847 · 0.99 = 0.8385 benzoic acid: 2.90 / 0.8385 = 3.458 (shares: trade guide 5.3).
    """
    kms = offer("K", "potassium metabisulphite", 3.2, purity_fraction=0.9, pack=0.5, least_packs=2)
    benzoate = offer("B", "sodium benzoate", 2.9, purity_fraction=0.99, pack=1.0)
    both = landed(kms, benzoate)
    assert both["K"].landed_per_useful_unit == pytest.approx(3.2 / 0.5184, rel=1e-3)
    assert both["B"].landed_per_useful_unit == pytest.approx(2.9 / (0.847 * 0.99), rel=1e-3)


def test_preservatives_second_of_each_kind() -> None:
    """Benzoate as listed holds 122.12 / 144.11 = 0.8474 of benzoic acid (molar masses): 10 kg at 2.40 and 6.00 for the
    delivery are 30.00 / 8.474 = 3.540. Metabisulphite of full assay, 5 kg at 2.70: 13.50 / (5 · 0.576) = 4.6875.
    Potassium sorbate holds 112.13 / 150.22 = 0.7464 of sorbic acid: 7.00 / 0.7464 = 9.378; two kg at 90 %, delivered
    for 3.00: 17.00 / (2 · 0.9 · 0.7464) = 12.653 (shares 0.576 and 0.746: trade guide 5.3).
    """
    benzoate = offer("B", "sodium benzoate", 2.4, pack=10.0, delivery_cost=6.0)
    kms = offer("K", "potassium metabisulphite", 2.7, pack=5.0)
    sorbate = offer("S1", "potassium sorbate", 7.0)
    weak = offer("S2", "potassium sorbate", 7.0, purity_fraction=0.9, pack=1.0, least_packs=2, delivery_cost=3.0)
    all_ = landed(benzoate, kms, sorbate, weak)
    assert all_["B"].landed_per_useful_unit == pytest.approx(30.0 / (10.0 * 122.12 / 144.11), rel=1e-3)
    assert all_["K"].landed_per_useful_unit == pytest.approx(4.6875, rel=1e-3)
    assert all_["S1"].landed_per_useful_unit == pytest.approx(7.0 / (112.13 / 150.22), rel=1e-3)
    assert all_["S2"].landed_per_useful_unit == pytest.approx(17.0 / (1.8 * 112.13 / 150.22), rel=1e-3)


def test_buffer_salt_per_pure_kg() -> None:
    """3.00 a kg, 99 % pure: 3.0303. A sack of 5 kg at 2.60 and 4.00 for the delivery, pure: 17.00 / 5 = 3.40."""
    salt = "trisodium citrate dihydrate"
    both = landed(
        offer("B1", salt, 3.0, purity_fraction=0.99), offer("B2", salt, 2.6, pack=5.0, delivery_cost=4.0)
    )  # fmt: skip
    assert both["B1"].landed_per_useful_unit == pytest.approx(3.0 / 0.99)
    assert both["B2"].landed_per_useful_unit == pytest.approx(3.4)
    assert both["B1"].use == both["B2"].use == "buffer salt"


def test_calcium_salt_per_kg_of_calcium() -> None:
    """CaCl2·2H2O holds 40.078 / 147.01 = 0.27262 of calcium: 4.00 / 0.27262 = 14.673; five kg for 2.00 more: 16.140."""
    salt, share = "calcium chloride dihydrate", 40.078 / 147.01
    both = landed(offer("C1", salt, 4.0), offer("C2", salt, 4.0, pack=5.0, delivery_cost=2.0))
    assert both["C1"].landed_per_useful_unit == pytest.approx(4.0 / share, rel=2e-3)
    assert both["C2"].landed_per_useful_unit == pytest.approx(22.0 / (5.0 * share), rel=2e-3)


def test_jars_by_the_piece() -> None:
    """Loose, 0.45 each, 0.75 % break: 0.45 / 0.9925 = 0.45340; 12.00 for the delivery of 100: 57 / 99.25 = 0.57431."""
    both = landed(
        packaging("J1", "jar 380 mL", 0.45), packaging("J2", "jar 380 mL", 0.45, delivery_cost=12.0),
        amounts={"J2": 100.0},
    )  # fmt: skip
    assert both["J1"].landed_per_useful_unit == pytest.approx(0.45 / 0.9925)
    assert both["J2"].landed_per_useful_unit == pytest.approx(57.0 / 99.25)


def test_jars_per_filled_jar() -> None:
    """0.31 a piece, trays of 24, at least 10; 35 for the delivery; 0.75 % break.

    900 filled jars need 900 / 0.9925 = 906.8 pieces, 38 trays, 912: (912 · 0.31 + 35) / (912 · 0.9925) = 0.35101.
    1200 filled: 1209.1 pieces, 51 trays: 1224 at 0.2852 = 349.08 + 35, over 1214.82 filled = 0.31616.
    """
    jar = packaging("J", "jar 380 mL", 0.31, pack=24.0, least_packs=10, delivery_cost=35.0,
                    breaks=(PriceBreak(from_packs=50, price=0.2852),))  # fmt: skip
    few, many = landed(jar, needs={"jar": 900.0})["J"], landed(jar, needs={"jar": 1200.0})["J"]
    assert (few.packs, many.packs) == (38, 51)
    assert few.landed_per_useful_unit == pytest.approx((912 * 0.31 + 35.0) / (912 * 0.9925))
    assert many.landed_per_useful_unit == pytest.approx((1224 * 0.2852 + 35.0) / (1224 * 0.9925))


def test_what_is_taken_goes_before_the_need() -> None:
    assert landed(S1, needs={"sugar": 60.0}, amounts={"S1": 25.0})["S1"].amount == 25.0


def test_an_offer_without_composition_is_told_with_what_lacks() -> None:
    elder = fruit("F", "plum, sulphited pulp", 0.5)
    found, out = landed_prices([elder], BOOK, breakage=BREAKAGE)
    assert found == ()
    assert "measure SO2" in out[0].why


def test_steps_below_the_least_order_are_its_price() -> None:
    terms = Terms.of(offer("S", SUGAR, 1.0, pack=10.0, least_packs=5, breaks=(PriceBreak(from_packs=3, price=0.8),)))
    assert terms.base_price == 0.8
    assert terms.packs_for(1.0) == 5
