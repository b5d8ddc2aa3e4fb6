"""Lots of fruit from pH and titration, and back."""

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimizer.errors import OutOfRange
from optimizer.physics import acidity

CITRIC = {"citric": 1.0}
mixes = st.lists(st.floats(0.01, 1.0), min_size=3, max_size=3).map(
    lambda w: {kind: part / sum(w) for kind, part in zip(("citric", "malic", "tartaric"), w, strict=True)}
)


@given(
    ph=st.floats(2.4, 5.5), titratable=st.floats(0.004, 0.07), water=st.floats(0.6, 0.97), mix=mixes,
    strength=st.floats(0.02, 0.3),
)  # fmt: skip
def test_round_trip_of_a_lot(
    ph: float, titratable: float, water: float, mix: dict[str, float], strength: float
) -> None:
    """Measured -> acid and strong ions -> the same titratable acid, and the same pH where the row changes sign."""
    try:
        lot = acidity.lot_from_measurements(
            ph=ph, titratable_acid_fraction=titratable, water_fraction=water, acid_mix=mix,
            ionic_strength_mol_per_kg=strength,
        )  # fmt: skip
    except OutOfRange:
        # refused only where free hydrogen ions alone exceed the titration, or nearly all acid is neutralised
        base = titratable / 0.06404
        neutralised = acidity.mix_charge(mix, ph, strength) / acidity.mix_charge(mix, 8.1, strength)
        assert water * 10**-ph / acidity.activity_coefficient(1, strength) > base or base / (1.0 - neutralised) > 1.0
        return
    back = acidity.titratable_acid_fraction(
        ph=ph, acid_mol_per_kg=lot.acid_mol_per_kg, water_fraction=water, acid_mix=mix,
        ionic_strength_mol_per_kg=strength,
    )  # fmt: skip
    assert back == pytest.approx(titratable, rel=1e-9)

    def row(at_ph: float) -> float:
        demand = acidity.base_demand_mol_per_kg(
            at_ph, acid_mol_per_kg=lot.acid_mol_per_kg, strong_ion_mol_per_kg=lot.strong_ion_mol_per_kg,
            acid_mix=mix, ionic_strength_mol_per_kg=strength,
        )  # fmt: skip
        return float(demand - water * acidity.water_term_mol_per_kg(at_ph, strength))

    assert row(ph) == pytest.approx(0.0, abs=1e-12)
    assert row(ph - 0.01) < 0.0 < row(ph + 0.01)


@given(ph=st.floats(2.4, 6.0), strong_ion=st.floats(0.0, 0.10), water=st.floats(0.6, 0.97), mix=mixes)
def test_a_lot_of_unmeasured_acid_round_trips(
    ph: float, strong_ion: float, water: float, mix: dict[str, float]
) -> None:
    lot = acidity.lot_from_ph_and_strong_ions(
        ph=ph, strong_ion_mol_per_kg=strong_ion, water_fraction=water, acid_mix=mix
    )
    assert lot.strong_ion_mol_per_kg == strong_ion
    titratable = acidity.titratable_acid_fraction(
        ph=ph, acid_mol_per_kg=lot.acid_mol_per_kg, water_fraction=water, acid_mix=mix
    )
    again = acidity.lot_from_measurements(
        ph=ph, titratable_acid_fraction=titratable, water_fraction=water, acid_mix=mix
    )
    assert again.acid_mol_per_kg == pytest.approx(lot.acid_mol_per_kg, rel=1e-9)
    assert again.strong_ion_mol_per_kg == pytest.approx(strong_ion, abs=1e-9)


def test_pure_citric_acid_titrates_to_itself() -> None:
    """By hand: 0.05 mol/kg of citric acid takes a little less than 3 x 0.05 mol to pH 8.1, 0.96 % as citric."""
    titratable = acidity.titratable_acid_fraction(ph=2.2, acid_mol_per_kg=0.05, water_fraction=0.99, acid_mix=CITRIC)
    in_water = acidity.free_ph(acid_mol={"citric": 0.05 / 0.99}, strong_ion_mol_per_kg=0.0)
    own = acidity.titratable_acid_fraction(
        ph=in_water.ph, acid_mol_per_kg=0.05, water_fraction=0.99, acid_mix=CITRIC,
        ionic_strength_mol_per_kg=in_water.ionic_strength_mol_per_kg,
    )  # fmt: skip
    assert own == pytest.approx(0.05 * 0.192124, rel=0.015)
    assert titratable > 0.0


def test_measurements_may_be_arrays() -> None:
    ph = np.array([3.2, 3.4, 3.6])
    lot = acidity.lot_from_measurements(ph=ph, titratable_acid_fraction=0.01, water_fraction=0.88, acid_mix=CITRIC)
    single = [
        acidity.lot_from_measurements(
            ph=float(one), titratable_acid_fraction=0.01, water_fraction=0.88, acid_mix=CITRIC
        ).strong_ion_mol_per_kg
        for one in ph
    ]
    assert lot.strong_ion_mol_per_kg == pytest.approx(single, rel=1e-12)


@pytest.mark.parametrize(
    ("ph", "titratable", "word"), [(5.5, 0.02, "more than most fruit has"), (2.3, 0.004, "negative"), (3.4, 0.01, "")]
)
def test_unusual_strong_ions_warn(ph: float, titratable: float, word: str) -> None:
    lot = acidity.lot_from_measurements(ph=ph, titratable_acid_fraction=titratable, water_fraction=0.9, acid_mix=CITRIC)
    assert [word in warning for warning in lot.warnings] == ([True] if word else [])


def measured(**changed: Any) -> acidity.LotAcid:
    figures: dict[str, Any] = {
        "ph": 3.3,
        "titratable_acid_fraction": 0.01,
        "water_fraction": 0.88,
        "acid_mix": CITRIC,
    } | changed
    return acidity.lot_from_measurements(**figures)


@pytest.mark.parametrize(
    ("changed", "names"),
    [
        ({"ph": 8.1}, "ph=8.1"),
        ({"ph": 6.01}, "ph=6.01"),
        ({"ph": 1.79}, "ph=1.79"),
        ({"ph": math.nan}, "ph=nan"),
        ({"titratable_acid_fraction": 0.0}, "above 0"),
        ({"titratable_acid_fraction": -0.01}, "above 0"),
        ({"titratable_acid_fraction": 0.95}, "0.95"),
        ({"titratable_acid_fraction": math.nan}, "nan"),
        ({"ph": 2.0, "titratable_acid_fraction": 0.0003}, "ph=2 and titratable_acid_fraction=0.0003 contradict"),
        ({"ph": np.array([3.0, 2.0]), "titratable_acid_fraction": np.array([0.01, 0.0003])}, "ph=2 and .*0.0003"),
        (
            {"ph": 5.9, "titratable_acid_fraction": 0.06},
            "ph=5.9 and titratable_acid_fraction=0.06 contradict.*potassium",
        ),
        ({"water_fraction": 0.0}, "water_fraction=0"),
        ({"acid_mix": {}}, "add up to 0"),
        ({"acid_mix": {"lemon": 1.0}}, "lemon"),
    ],
)
def test_bad_measurements_are_refused(changed: dict[str, Any], names: str) -> None:
    with pytest.raises(OutOfRange, match=names):
        measured(**changed)


@pytest.mark.parametrize("strong_ion", [-0.01, 0.6, math.nan])
def test_bad_strong_ions_are_refused(strong_ion: float) -> None:
    with pytest.raises(OutOfRange, match="strong_ion_mol_per_kg"):
        acidity.lot_from_ph_and_strong_ions(
            ph=4.0, strong_ion_mol_per_kg=strong_ion, water_fraction=0.9, acid_mix=CITRIC
        )
