"""The rows of low-sugar spreads against hand calculations; those they share with jam are in `test_rows.py`."""

from __future__ import annotations

import pytest
from handmade import FRUIT, SUGAR, amounts, case, holds, row, stream

from optimizer.blend.case import Case
from optimizer.blend.rules import rows_of

POWDER = stream("low-methoxyl", "pectin", is_lm_pectin=True)
SALT = stream("calcium chloride", "salt", is_calcium_salt=True, per_kg={"calcium_mg": 273_000.0})  # 27.3 % calcium
BERRY = stream("strawberry", per_kg={"calcium_mg": 150.0})  # 15 mg in 100 g


def spread(*streams, **asked) -> Case:
    return case(*streams, product="spread", **asked)


def test_least_lm_pectin() -> None:
    """0.7 % of 100 kg."""
    r = row(spread(BERRY, POWDER), "least_lm_pectin")
    assert holds(r, amounts(45, 0.700))
    assert not holds(r, amounts(45, 0.699))


def test_least_lm_pectin_stands_where_none_is_on_the_tables() -> None:
    """Without any on offer the dose is what fails, and nothing is said of its calcium."""
    of = spread(BERRY, SUGAR)
    assert not holds(row(of, "least_lm_pectin"), amounts(45, 30))
    assert not [r for r in rows_of(of) if r.id.startswith("calcium")]


def test_most_added_pectin_counts_the_powder() -> None:
    """1.2 % of 100 kg; the grade of high-methoxyl pectin plays no part."""
    r = row(spread(BERRY, POWDER), "most_added_pectin")
    assert holds(r, amounts(45, 1.200))
    assert not holds(r, amounts(45, 1.201))


def test_calcium_least() -> None:
    """0.8 kg of powder asks for 12 000 mg; 45 kg of berries bring 6 750, the rest is 5 250 / 273 = 19.23 g of salt."""
    r = row(spread(BERRY, POWDER, SALT), "calcium_least")
    x = amounts(45, 0.8, 0.01924)
    assert holds(r, x)
    assert r.value(x) == pytest.approx((45 * 150 + 0.01924 * 273_000) / 800)
    assert not holds(r, amounts(45, 0.8, 0.01922))
    assert not holds(r, amounts(45, 0.8, 0.0))
    assert holds(r, amounts(80, 0.8, 0.0))  # 80 kg of berries bring all of it


def test_calcium_most() -> None:
    """0.8 kg of powder takes up to 28 000 mg; 45 kg of berries leave 21 250 / 273 = 77.84 g of salt."""
    r = row(spread(BERRY, POWDER, SALT), "calcium_most")
    assert holds(r, amounts(45, 0.8, 0.07783))
    assert not holds(r, amounts(45, 0.8, 0.07785))


def test_water_added_and_boiled_off_brings_and_takes_no_calcium() -> None:
    of = spread(BERRY, POWDER, SALT)
    for id_ in ("calcium_least", "calcium_most"):
        r = row(of, id_)
        assert r.value(amounts(45, 0.8, 0.02)) == r.value(amounts(45, 0.8, 0.02, water=30, boil_off=10))


def test_most_buffer_salt_leaves_calcium_salts_out() -> None:
    """0.3 % of buffer salt, whatever there is of calcium chloride."""
    r = row(spread(BERRY, SALT, stream("citrate", "salt")), "most_buffer_salt")
    assert holds(r, amounts(45, 5.0, 0.300))
    assert not holds(r, amounts(45, 0.0, 0.301))


def test_most_solids_and_least_solids_of_a_spread() -> None:
    """30 to 55 %: 50 kg of fruit at 10 % bring 5 kg."""
    of = spread(FRUIT, SUGAR)
    assert holds(row(of, "least_solids"), amounts(50, 25.0))
    assert not holds(row(of, "least_solids"), amounts(50, 24.9))
    assert holds(row(of, "most_solids"), amounts(50, 50.0))
    assert not holds(row(of, "most_solids"), amounts(50, 50.1))


def test_ph_upper_of_a_spread_and_no_lower() -> None:
    of = spread(FRUIT, SUGAR)
    assert row(of, "ph_upper").shown == (pytest.approx(3.5), "upper")  # 3.6 less 0.10 without a meter
    assert "ph_lower" not in {r.id for r in rows_of(of)}


def test_no_row_of_a_full_sugar_set_is_in_a_spread_nor_the_other_way_round() -> None:
    mine = {r.id for r in rows_of(spread(BERRY, SUGAR, POWDER, SALT))}
    jam = {r.id for r in rows_of(case(BERRY, SUGAR, stream("pectin", "pectin", grade_per_kg=150.0)))}
    assert "pectin_strength" not in mine
    assert {"least_lm_pectin", "calcium_least", "calcium_most"} <= mine
    assert not {"least_lm_pectin", "calcium_least", "calcium_most"} & jam
