"""What keeps a jar: preservatives, hot filling, process times, and who decides where they end."""

import math

import numpy as np
import pytest

from optimizer.errors import OutOfRange
from optimizer.physics import heat_treatment, preservatives
from optimizer.physics.acids import ACIDS


# Handbook constants, percent undissociated; SO2 from memory; figures by hand: 1/(1 + 10^(pH - pKa)).
@pytest.mark.parametrize(
    ("acid", "percent"), [("benzoic", (94, 83, 61)), ("sorbic", (98, 95, 85)), ("so2", (6.8, 2.2, 0.7))]
)
def test_undissociated_share_at_ph_3_and_3_5_and_4(acid: str, percent: tuple[float, ...]) -> None:
    found = 100.0 * preservatives.undissociated_fraction(acid, np.array([3.0, 3.5, 4.0]))
    assert found == pytest.approx(percent, abs=0.5 if acid != "so2" else 0.05)


def test_undissociated_share_of_a_constant() -> None:
    assert preservatives.undissociated_fraction(4.19, 4.19) == 0.5
    assert preservatives.undissociated_fraction("benzoic", 3.3) == preservatives.undissociated_fraction(4.19, 3.3)


def test_salts_hold_what_their_formulae_say() -> None:
    """Atomic masses (IUPAC): SO2 64.064, K2S2O5 222.32, Na2S2O5 190.11, C7H5NaO2 144.105, C6H7KO2 150.218."""
    by_mass = {
        "potassium metabisulphite": 2 * 64.064 / 222.32,
        "sodium metabisulphite": 2 * 64.064 / 190.11,
        "sodium benzoate": 1e3 * ACIDS["benzoic"].molar_mass_kg_per_mol / 144.105,
        "potassium sorbate": 1e3 * ACIDS["sorbic"].molar_mass_kg_per_mol / 150.218,
    }
    for salt, fraction in by_mass.items():
        assert preservatives.SALTS[salt].active_fraction == pytest.approx(fraction, abs=5e-4)
    assert all(salt.active in preservatives.PKA for salt in preservatives.SALTS.values())


def test_cautions_appear_with_their_cause() -> None:
    say = preservatives.preservative_cautions
    assert say(ph=3.2, sorbic_mg_per_kg=800.0) == ()
    assert "dissolve" in say(ph=3.2, sorbic_mg_per_kg=900.0)[0]
    assert "benzene" in say(ph=3.2, benzoic_mg_per_kg=200.0, has_added_ascorbic=True)[0]
    assert say(ph=3.2, so2_mg_per_kg=9.9) == ()
    assert "allergen" in say(ph=3.2, so2_mg_per_kg=10.0)[0]
    assert "tins" in say(ph=3.2, so2_mg_per_kg=5.0, is_tinned=True)[0]
    assert len(say(ph=5.0, benzoic_mg_per_kg=100.0, sorbic_mg_per_kg=100.0)) == 2
    assert say(ph=5.0) == ()


# USDA Complete Guide to Home Canning, Guide 7: 5 min to 1000 ft, 10 to 6000 ft, 15 above.
@pytest.mark.parametrize(
    ("feet", "minutes"), [(0, 5), (1000, 5), (1001, 10), (6000, 10), (6001, 15), (8000, 15), (10000, 15)]
)
def test_process_times(feet: int, minutes: int) -> None:
    assert heat_treatment.process_minutes(0.3048 * feet) == minutes


@pytest.mark.parametrize(("feet", "minutes"), [(0, 10), (1000, 11), (3500, 14), (9000, 19)])
def test_jars_that_are_not_sterile_take_longer(feet: int, minutes: int) -> None:
    """Michigan State University Extension 1997: 10 min at sea level, one more per 1000 ft; begun ones count here."""
    assert heat_treatment.process_minutes(0.3048 * feet, is_jar_sterile=False) == minutes


def test_a_jar_that_is_not_sterile_never_takes_less() -> None:
    for altitude_m in range(-400, 3049, 50):
        sterile = heat_treatment.process_minutes(float(altitude_m))
        assert heat_treatment.process_minutes(float(altitude_m), is_jar_sterile=False) >= max(10.0, sterile)


def test_where_no_time_is_published() -> None:
    with pytest.raises(OutOfRange, match=r"altitude_m=3100.*process authority"):
        heat_treatment.process_minutes(3100.0)
    with pytest.raises(OutOfRange, match=r"jar_mL=500.*process authority"):
        heat_treatment.process_minutes(100.0, jar_mL=500.0)
    with pytest.raises(OutOfRange, match="altitude_m=nan"):
        heat_treatment.process_minutes(math.nan)
    assert heat_treatment.process_minutes(100.0, jar_mL=473.0) == 5.0


def test_filling_temperature() -> None:
    """Small-scale guidance after FAO: 82 to 85 degC."""
    assert heat_treatment.fill_cautions(82.0) == heat_treatment.fill_cautions(85.0) == ()
    assert "below 82" in heat_treatment.fill_cautions(75.0)[0]
    assert "above 85" in heat_treatment.fill_cautions(95.0)[0]


# 21 CFR 114.3: low-acid needs both pH above 4.6 and water activity above 0.85.
@pytest.mark.parametrize(
    ("ph", "activity", "low"), [(4.6, 0.95, False), (4.61, 0.95, True), (4.61, 0.85, False), (5.5, 0.80, False)]
)
def test_the_line_of_the_law(ph: float, activity: float, low: bool) -> None:
    assert heat_treatment.is_low_acid(ph, activity) is low


@pytest.mark.parametrize(("ph", "solids", "reasons"), [(4.2, 0.60, 0), (4.21, 0.60, 1), (3.3, 0.59, 1), (4.5, 0.45, 2)])
def test_who_decides(ph: float, solids: float, reasons: int) -> None:
    found = heat_treatment.process_authority_reasons(ph=ph, solids_fraction=solids)
    assert len(found) == reasons
    assert heat_treatment.needs_process_authority(ph, solids) is bool(reasons)


@pytest.mark.parametrize(
    ("call", "name"),
    [
        (lambda: preservatives.undissociated_fraction("salicylic", 3.0), "salicylic.*benzoic"),
        (lambda: preservatives.undissociated_fraction("benzoic", 10.1), "ph=10.1"),
        (lambda: preservatives.undissociated_fraction(-1.0, 3.0), "pKa=-1"),
        (lambda: preservatives.salt_kg("table salt", 1.0), "table salt.*potassium metabisulphite"),
        (lambda: preservatives.salt_kg("sodium benzoate", -1.0), "active_kg=-1"),
        (lambda: preservatives.preservative_cautions(ph=3.0, so2_mg_per_kg=-1.0), "so2_mg_per_kg=-1"),
        (lambda: heat_treatment.fill_cautions(130.0), "temperature_C=130"),
        (lambda: heat_treatment.needs_process_authority(math.nan, 0.6), "ph=nan"),
        (lambda: heat_treatment.is_low_acid(4.0, 1.1), "water_activity=1.1"),
    ],
)
def test_refusals(call, name: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(OutOfRange, match=name):
        call()
