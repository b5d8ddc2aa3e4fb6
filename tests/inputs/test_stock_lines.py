"""Lots as a whole: a full line, weights that are not kg, all faults of a table at once."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from site_folders import LOT, csv_of, faults, load, lot, write

from optimizer.inputs.book import load_book
from optimizer.inputs.files import read_bytes
from optimizer.inputs.goods import Context
from optimizer.inputs.prices import Money
from optimizer.inputs.stock import read_lots

POUND_KG = 0.45359237  # international avoirdupois pound, exact by definition (from memory)


def test_every_column_of_a_full_line(tmp_path: Path) -> None:
    found = lot(
        tmp_path, item="Plum, flesh with skin", condition="sound 20 %, soft 60 %, bruised 20 %", on_hand="90 lb",
        paid="0.35 EUR/kg", worth_uncooked="-0.05 EUR/kg", received="2026-07-03", picked="2026-07-01",
        kept_at="77 degF", brix="12 Brix", ph="3.45", acid="1.2 %", pectin="8 g/kg", spirit_test="Medium", reject="5 %",
        trim="12 %", rot_sorted_out="yes",
    )  # fmt: skip
    assert found.item == "plum, flesh with skin"
    assert found.kind == "fruit"
    assert found.condition == (("sound", 0.2), ("soft", 0.6), ("bruised", 0.2))
    assert found.on_hand_kg == pytest.approx(90 * POUND_KG)
    assert (found.paid_per_kg, found.worth_uncooked_per_kg) == (0.35, -0.05)
    assert (found.received, found.picked) == (date(2026, 7, 3), date(2026, 7, 1))
    assert found.kept_at_C == pytest.approx(25.0)
    measured = (found.brix_fraction, found.ph, found.acid_fraction, found.pectin_fraction, found.spirit_test)
    assert measured == (0.12, 3.45, 0.012, 0.008, "medium")
    assert (found.reject_fraction, found.trim_fraction, found.rot_sorted_out) == (0.05, 0.12, True)
    assert (found.file, found.line, found.code) == ("stock.csv", 2, "A-1")


def test_what_is_not_given_is_not_known(tmp_path: Path) -> None:
    found = lot(tmp_path)
    assert found.condition == (("sound", 1.0),)
    unknown = (found.paid_per_kg, found.brix_fraction, found.ph, found.acid_fraction, found.pectin_fraction)
    assert unknown == (None,) * 5
    assert (found.reject_fraction, found.trim_fraction, found.kept_at_C, found.received) == (None,) * 4


def test_sulphited_pulp_has_a_density_and_may_carry_a_residue(tmp_path: Path) -> None:
    found = lot(tmp_path, item="plum, sulphited pulp", on_hand="100 L", so2="1 g/kg")
    density = load_book().fruits["plum, flesh with skin"].density_kg_per_L.value
    assert found.on_hand_kg == pytest.approx(100 * density)
    assert found.so2_mg_per_kg == pytest.approx(1000.0)


def test_a_bushel_is_weighed_by_a_printed_table_and_said_aloud(tmp_path: Path) -> None:
    # Extension handout "Weights and approximate processed yields for fruits": plum, 50-56 lb a bushel.
    folder = load(write(tmp_path, stock=csv_of({**LOT, "on_hand": "2 bushels"})))
    assert folder.lots[0].on_hand_kg == pytest.approx(2 * 53 * POUND_KG, rel=0.002)
    assert any("bushel of plum" in sentence for sentence in folder.site.defaults_said)


def test_each_second_code_is_named_with_the_line_of_the_first(tmp_path: Path) -> None:
    found = faults(write(tmp_path, stock=csv_of(LOT, {**LOT, "lot": "B"}, LOT, LOT)))
    assert [(fault.line, fault.item, fault.column) for fault in found] == [(4, "A-1", "lot"), (5, "A-1", "lot")]
    assert all("line 2 has the same code" in fault.cure for fault in found)


def test_all_faults_of_a_table_come_at_once_in_the_order_of_lines_and_columns(tmp_path: Path) -> None:
    bad = {**LOT, "item": "plumm", "on_hand": "-1 kg", "brix": "x"}
    found = faults(write(tmp_path, stock=csv_of(bad, {**LOT, "lot": "B", "brix": "12"}, {**bad, "lot": "C"})))
    assert [(fault.line, fault.column) for fault in found] == [
        (line, column) for line in (2, 4) for column in ("item", "on_hand", "brix")
    ]


@given(
    mass=st.floats(0.001, 1e6), unit=st.sampled_from([("kg", 1.0), ("g", 0.001), ("t", 1000.0), ("lb", POUND_KG)]),
    price=st.floats(-10.0, 1e4),
)  # fmt: skip
def test_masses_and_prices_keep_the_money_whatever_the_unit(mass: float, unit: tuple[str, float], price: float) -> None:
    """Mass times price is the same money in kg as in the unit typed."""
    name, kg = unit
    mass, price = round(mass, 6), round(price, 6)  # as typed below
    text = csv_of({**LOT, "on_hand": f"{mass:.6f} {name}", "worth_uncooked": f"{price:.6f} EUR/{name}"})
    context = Context.of(load_book(), Money(currency="EUR"))
    (found,), wrong = read_lots(read_bytes("stock.csv", text.encode(), LOT), context)
    assert wrong == []
    assert found.on_hand_kg is not None
    assert found.on_hand_kg == pytest.approx(mass * kg, rel=1e-6)
    assert found.on_hand_kg * found.worth_uncooked_per_kg == pytest.approx(mass * price, rel=1e-5)
