"""pH: constants, the linear row, and the full charge balance against a second solution of it."""

import math
from collections.abc import Mapping

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.optimize import brentq

from optimizer.errors import OutOfRange
from optimizer.physics import acidity

pK = {"citric": (3.128, 4.761, 6.396), "malic": (3.459, 5.097), "tartaric": (3.036, 4.366)}  # from memory, at I = 0
KINDS = tuple(pK)


def log_gamma(charge: int, strength: float) -> float:
    return -0.509 * charge**2 * (math.sqrt(strength) / (1.0 + math.sqrt(strength)) - 0.3 * strength)


def species(acid: str, ph: float, strength: float) -> list[float]:
    """Shares of the anions of charge 0, 1, 2 ..., built up step by step."""
    amounts = [1.0]
    for j, pKa in enumerate(pK[acid], start=1):
        amounts.append(amounts[-1] * 10 ** (ph - pKa - log_gamma(j, strength) + log_gamma(j - 1, strength)))
    return [amount / sum(amounts) for amount in amounts]


def surplus(acids: Mapping[str, float], strong_ion: float, ph: float, strength: float) -> float:
    """Positive less negative charge per kg of water."""
    gamma = 10 ** log_gamma(1, strength)
    negative = sum(m * sum(j * s for j, s in enumerate(species(a, ph, strength))) for a, m in acids.items())
    return strong_ion + 10**-ph / gamma - 10 ** (ph - 13.995) / gamma - negative


def ph_at(acids: Mapping[str, float], strong_ion: float, strength: float) -> float:
    return float(brentq(lambda ph: surplus(acids, strong_ion, ph, strength), 0.0, 14.0, xtol=1e-13))


def ph_and_strength(acids: Mapping[str, float], strong_ion: float) -> tuple[float, float]:
    """The second solution: bisection for pH inside bisection for ionic strength."""

    def too_low(strength: float) -> float:
        ph = ph_at(acids, strong_ion, strength)
        gamma = 10 ** log_gamma(1, strength)
        squares = sum(m * sum(j * j * s for j, s in enumerate(species(a, ph, strength))) for a, m in acids.items())
        return 0.5 * (abs(strong_ion) + (10**-ph + 10 ** (ph - 13.995)) / gamma + squares) - strength

    strength = float(brentq(too_low, 0.0, 1.0, xtol=1e-13))
    return ph_at(acids, strong_ion, strength), strength


mol = st.floats(0.0, 0.25)
mixtures = st.fixed_dictionaries(dict.fromkeys(KINDS, mol))


# Worked out by a second program from the same constants, at 0.10 mol/kg.
@pytest.mark.parametrize(
    ("ph", "citric", "malic", "tartaric"),
    [
        (2.8, 0.3893, 0.2232, 0.4636),
        (3.0, 0.5143, 0.3165, 0.6086),
        (3.2, 0.6486, 0.4306, 0.7660),
        (3.4, 0.7840, 0.5596, 0.9287),
        (3.5, 0.8507, 0.6269, 1.0107),
        (4.0, 1.1821, 0.9588, 1.4111),
    ],
)
def test_mean_charges(ph: float, citric: float, malic: float, tartaric: float) -> None:
    found = [acidity.mean_charge(acid, ph, 0.10) for acid in KINDS]
    assert found == pytest.approx([citric, malic, tartaric], abs=5.1e-5)


@given(ph=st.floats(0.0, 14.0), strength=st.floats(0.0, 1.0), acid=st.sampled_from(KINDS))
def test_mean_charge_is_that_of_the_species(ph: float, strength: float, acid: str) -> None:
    by_species = sum(j * share for j, share in enumerate(species(acid, ph, strength)))
    assert acidity.mean_charge(acid, ph, strength) == pytest.approx(by_species, rel=1e-9, abs=1e-12)


@given(acids=mixtures, strong_ion=st.floats(-0.02, 0.3))
def test_free_ph_agrees_with_a_second_solution(acids: dict[str, float], strong_ion: float) -> None:
    assume(strong_ion < 0.2 + sum(m * len(pK[a]) for a, m in acids.items()))  # else mostly lye
    answer = acidity.free_ph(acid_mol=acids, strong_ion_mol_per_kg=strong_ion)
    ph, strength = ph_and_strength(acids, strong_ion)
    assert answer.ph == pytest.approx(ph, abs=1e-6)
    assert answer.ionic_strength_mol_per_kg == pytest.approx(strength, abs=1e-7)


@given(st.lists(st.tuples(mol, mol, mol, st.floats(0.0, 0.3)), min_size=1, max_size=30))
def test_many_mixtures_at_once_are_the_single_ones(rows: list[tuple[float, float, float, float]]) -> None:
    table = np.array(rows)
    together = acidity.free_ph(
        acid_mol={kind: table[:, k] for k, kind in enumerate(KINDS)}, strong_ion_mol_per_kg=table[:, 3]
    )
    alone = [
        acidity.free_ph(acid_mol=dict(zip(KINDS, row[:3], strict=True)), strong_ion_mol_per_kg=row[3]) for row in rows
    ]
    assert together.ph == pytest.approx([a.ph for a in alone], abs=1e-7)
    assert together.ionic_strength_mol_per_kg == pytest.approx([a.ionic_strength_mol_per_kg for a in alone], abs=1e-8)


def test_arrays_broadcast_and_keep_their_shape() -> None:
    answer = acidity.free_ph(
        acid_mol={"citric": np.array([[0.05], [0.1]])}, strong_ion_mol_per_kg=np.array([0.01, 0.05])
    )
    assert answer.ph.shape == answer.ionic_strength_mol_per_kg.shape == (2, 2)
    assert np.all(np.diff(answer.ph, axis=0) < 0.0)  # more acid
    assert np.all(np.diff(answer.ph, axis=1) > 0.0)  # more potassium
    assert isinstance(acidity.free_ph(acid_mol={"citric": np.array(0.05)}, strong_ion_mol_per_kg=0.05).ph, float)
    assert acidity.free_ph(acid_mol={"citric": np.array([])}, strong_ion_mol_per_kg=0.05).ph.shape == (0,)


lots = st.tuples(
    st.floats(0.5, 60.0),  # kg
    st.floats(0.005, 0.15),  # acid, mol/kg
    st.floats(0.0, 0.08),  # strong ions, mol/kg
    st.lists(st.floats(0.01, 1.0), min_size=3, max_size=3),
)


@given(
    blend=st.lists(lots, min_size=1, max_size=4),
    ph=st.floats(2.6, 4.2),
    strength=st.floats(0.02, 0.3),
    water=st.floats(20.0, 80.0),
)
def test_the_row_is_exact_at_its_bound(
    blend: list[tuple[float, float, float, list[float]]], ph: float, strength: float, water: float
) -> None:
    """Fill up with hydrochloric acid or lye until the row is met with equality: the full balance then gives that pH."""
    row, acids, ions = -water * acidity.water_term_mol_per_kg(ph, strength), dict.fromkeys(KINDS, 0.0), 0.0
    for kg, acid_mol, strong_ion, weights in blend:
        mix = {kind: weight / sum(weights) for kind, weight in zip(KINDS, weights, strict=True)}
        row += kg * acidity.base_demand_mol_per_kg(
            ph,
            acid_mol_per_kg=acid_mol,
            strong_ion_mol_per_kg=strong_ion,
            acid_mix=mix,
            ionic_strength_mol_per_kg=strength,
        )
        ions += kg * strong_ion
        for kind in KINDS:
            acids[kind] += kg * acid_mol * mix[kind]
    per_kg = {kind: amount / water for kind, amount in acids.items()}
    assert ph_at(per_kg, (ions + row) / water, strength) == pytest.approx(ph, abs=1e-6)
    without = ph_at(per_kg, ions / water, strength)
    assert (row >= 0.0) == (without <= ph) or abs(without - ph) < 1e-6  # the sign says on which side of the bound


@given(blend=st.lists(lots, min_size=1, max_size=4), ph=st.floats(2.8, 3.6), water=st.floats(25.0, 60.0))
def test_a_row_rebuilt_at_the_predicted_strength_meets_the_free_ph(
    blend: list[tuple[float, float, float, list[float]]], ph: float, water: float
) -> None:
    acids, ions, strength = dict.fromkeys(KINDS, 0.0), 0.0, 0.10
    for kg, acid_mol, strong_ion, weights in blend:
        ions += kg * strong_ion / water
        for kind, weight in zip(KINDS, weights, strict=True):
            acids[kind] += kg * acid_mol * weight / sum(weights) / water
    assume(max(sum(acids.values()), ions) < 0.3)  # else outside what the model is checked for
    for _ in range(30):
        need = sum(m * acidity.mean_charge(kind, ph, strength) for kind, m in acids.items())
        added = need - ions - acidity.water_term_mol_per_kg(ph, strength)
        answer = acidity.free_ph(acid_mol=acids, strong_ion_mol_per_kg=ions + added)
        if abs(answer.ionic_strength_mol_per_kg - strength) < 1e-9:
            break
        strength = answer.ionic_strength_mol_per_kg
    assert answer.ph == pytest.approx(ph, abs=1e-6)


def test_the_tested_example() -> None:
    """35 kg strawberry, 10 kg apple in 100 kg jam with 34.5 kg water, pH 3.20: figures of a second program."""
    strawberry_mix, apple_mix = {"citric": 0.88, "malic": 0.12}, {"malic": 0.92, "citric": 0.08}
    strawberry = acidity.lot_from_measurements(
        ph=3.45, titratable_acid_fraction=0.0095, water_fraction=0.895, acid_mix=strawberry_mix
    )
    apple = acidity.lot_from_measurements(
        ph=3.35, titratable_acid_fraction=0.0075, water_fraction=0.85, acid_mix=apple_mix
    )
    assert (strawberry.acid_mol_per_kg, apple.acid_mol_per_kg) == pytest.approx((0.07098, 0.07599), abs=5.1e-6)
    assert (strawberry.strong_ion_mol_per_kg, apple.strong_ion_mol_per_kg) == pytest.approx(
        (0.05570, 0.04088), abs=5.1e-6
    )
    demand = [
        acidity.base_demand_mol_per_kg(
            3.20, acid_mol_per_kg=lot.acid_mol_per_kg, strong_ion_mol_per_kg=lot.strong_ion_mol_per_kg, acid_mix=mix
        )
        for lot, mix in ((strawberry, strawberry_mix), (apple, apple_mix))
    ]
    assert demand == pytest.approx([-0.011527, -0.006831], abs=5.1e-7)
    citric = acidity.base_demand_mol_per_kg(
        3.20, acid_mol_per_kg=1 / 0.192124, strong_ion_mol_per_kg=0.0, acid_mix={"citric": 1.0}
    )
    water_term = 34.5 * acidity.water_term_mol_per_kg(3.20)
    citric_kg = (water_term - 35 * demand[0] - 10 * demand[1]) / citric
    assert citric_kg == pytest.approx(0.1480, abs=5.1e-5)

    berry, fruit = 35 * strawberry.acid_mol_per_kg, 10 * apple.acid_mol_per_kg
    acids = {
        "citric": (0.88 * berry + 0.08 * fruit + citric_kg / 0.192124) / 34.5,
        "malic": (0.12 * berry + 0.92 * fruit) / 34.5,
    }
    ions = (35 * strawberry.strong_ion_mol_per_kg + 10 * apple.strong_ion_mol_per_kg) / 34.5
    assert ph_at(acids, ions, 0.10) == pytest.approx(3.2000, abs=5.1e-5)
    answer = acidity.free_ph(acid_mol=acids, strong_ion_mol_per_kg=ions)
    assert answer.ph == pytest.approx(3.212, abs=5.1e-4)
    assert answer.ionic_strength_mol_per_kg == pytest.approx(0.072, abs=5.1e-4)
    assert answer.warnings == ()


@pytest.mark.parametrize(
    ("acid_mol", "strong_ion", "demand"),
    [(1 / 0.29410, 3 / 0.29410, -7.9953), (0.0, 1 / 0.08401, -11.903), (0.0, 2 / 0.10009, -19.982)],
    ids=["trisodium citrate dihydrate", "sodium bicarbonate", "calcium carbonate"],
)
def test_salts_are_bases_in_the_row(acid_mol: float, strong_ion: float, demand: float) -> None:
    """The first two by a second program, the third by hand: 2/0.10009 with its carbon dioxide boiled off."""
    found = acidity.base_demand_mol_per_kg(
        3.2,
        acid_mol_per_kg=acid_mol,
        strong_ion_mol_per_kg=strong_ion,
        acid_mix={"citric": 1.0} if acid_mol else {},
    )
    assert found == pytest.approx(demand, rel=5e-5)


def test_base_demand_takes_arrays() -> None:
    demand = acidity.base_demand_mol_per_kg(
        np.array([[3.0], [3.4]]),
        acid_mol_per_kg=np.array([0.05, 0.08]),
        strong_ion_mol_per_kg=0.02,
        acid_mix={"malic": 1.0},
    )
    assert demand.shape == (2, 2)
    assert np.all(np.diff(demand, axis=0) > 0.0)


@pytest.mark.parametrize(
    ("acids", "strong_ion", "least", "most"),
    [({}, 0.0, 6.9, 7.1), ({"citric": 0.1}, 0.4, 12.5, 13.5), ({"citric": 0.05}, -0.5, 0.2, 0.5)],
    ids=["no acid", "more lye than acid", "strong acid"],
)
def test_extremes_are_answered(acids: dict[str, float], strong_ion: float, least: float, most: float) -> None:
    answer = acidity.free_ph(acid_mol=acids, strong_ion_mol_per_kg=strong_ion)
    assert least < answer.ph < most
    assert bool(answer.warnings) == (not 2.0 <= answer.ph <= 7.0)


def test_many_ions_warn_and_too_many_are_refused() -> None:
    many = acidity.free_ph(acid_mol={"citric": 1.0}, strong_ion_mol_per_kg=0.6)
    assert any("above 0.5" in warning for warning in many.warnings)
    with pytest.raises(OutOfRange, match="ionic_strength_mol_per_kg"):
        acidity.free_ph(acid_mol={"citric": 1.0}, strong_ion_mol_per_kg=1.9)
    with pytest.raises(OutOfRange, match="ionic_strength_mol_per_kg"):
        acidity.free_ph(acid_mol={"citric": np.array([0.1, 1.0])}, strong_ion_mol_per_kg=np.array([0.05, 1.9]))


@pytest.mark.parametrize(
    ("call", "names"),
    [
        (lambda: acidity.free_ph(acid_mol={"oxalic": 0.1}, strong_ion_mol_per_kg=0.0), "oxalic.*citric"),
        (lambda: acidity.free_ph(acid_mol={"citric": -0.1}, strong_ion_mol_per_kg=0.0), "citric.*-0.1"),
        (lambda: acidity.free_ph(acid_mol={"citric": math.nan}, strong_ion_mol_per_kg=0.0), "nan"),
        (lambda: acidity.free_ph(acid_mol={}, strong_ion_mol_per_kg=math.inf), "inf"),
        (lambda: acidity.free_ph(acid_mol={"citric": np.array([0.1, -1.0])}, strong_ion_mol_per_kg=0.0), "-1"),
        (lambda: acidity.mean_charge("citric", 14.1), "14.1"),
        (lambda: acidity.mean_charge("citric", 3.0, 1.2), "1.2"),
        (lambda: acidity.mix_charge({"citric": 0.5, "malic": 0.4}, 3.0), "0.9"),
        (lambda: acidity.mix_charge({"citric": 1.1, "malic": -0.1}, 3.0), "-0.1|1.1"),
        (lambda: acidity.mix_charge({"citric": 1.0, "citrc": 0.0}, 3.0), "citrc"),
        (lambda: acidity.activity_coefficient(1, -0.1), "-0.1"),
        (lambda: acidity.activity_coefficient(5, 0.1), "charge=5"),
        (lambda: acidity.water_term_mol_per_kg(-1.0), "ph=-1"),
        (
            lambda: acidity.base_demand_mol_per_kg(3.0, acid_mol_per_kg=0.1, strong_ion_mol_per_kg=0.0, acid_mix={}),
            "add up to 0",
        ),
    ],
)
def test_refusals_name_the_value(call, names: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(OutOfRange, match=names):
        call()
