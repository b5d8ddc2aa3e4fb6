"""Water activity and the linear row that stands for it."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimizer.errors import OutOfRange
from optimizer.physics.activity import (
    LEAST_ACTIVITY_FOR_GROWTH,
    organisms_that_can_grow,
    solute_kg_per_kg_water,
    water_activity,
)

SOLUTES = ("sucrose_kg", "invert_kg", "disaccharide_kg", "citric_kg", "malic_kg", "tartaric_kg")
masses = st.floats(0.0, 1.0)
mixtures = st.tuples(*[masses for _ in SOLUTES]).filter(lambda parts: sum(parts) > 1e-3)


def of_jam(solids: float, invert_share: float, temperature_C: float = 25.0) -> float:
    """A jam whose solids are 1.2 % acid and else sugar."""
    sugar = solids * (1.0 - 0.012)
    return water_activity(
        water_kg=1.0 - solids,
        sucrose_kg=sugar * (1.0 - invert_share),
        invert_kg=sugar * invert_share,
        citric_kg=solids * 0.012,
        temperature_C=temperature_C,
    )


# Worked out apart from this program when the model was chosen, at invert shares of 0, 20, 35 and 50 %; not printed.
@pytest.mark.parametrize(
    ("solids", "calculated"),
    [
        (0.60, (0.894, 0.882, 0.873, 0.865)),
        (0.65, (0.864, 0.850, 0.840, 0.830)),
        (0.68, (0.842, 0.827, 0.816, 0.805)),
        (0.70, (0.824, 0.808, 0.797, 0.785)),
        (0.75, (0.769, 0.751, 0.738, 0.725)),
    ],
)
def test_jams_against_a_separate_calculation(solids: float, calculated: tuple[float, ...]) -> None:
    found = [of_jam(solids, share) for share in (0.0, 0.20, 0.35, 0.50)]
    assert found == pytest.approx(calculated, abs=0.0006)


@pytest.mark.parametrize(("limit", "solids"), [(0.85, 0.637), (0.80, 0.697), (0.75, 0.741), (0.62, 0.82)])
def test_solids_that_reach_the_limits_of_growth(limit: float, solids: float) -> None:
    """Separate calculation, 35 % invert; the last is given to whole percents."""
    step = 0.0005 if limit > 0.7 else 0.005
    assert of_jam(solids + step, 0.35) < limit < of_jam(solids - step, 0.35)


@given(mixtures, st.floats(0.2, 1.0), st.floats(0.0, 110.0))
def test_more_of_any_solute_lowers_the_activity(parts: tuple[float, ...], scale: float, temperature_C: float) -> None:
    total = sum(parts)
    masses_kg = {name: part / total * scale for name, part in zip(SOLUTES, parts, strict=True)}
    before = water_activity(water_kg=0.5, **masses_kg, temperature_C=temperature_C)
    assert 0.0 < before < 1.0
    for name in SOLUTES:
        more = masses_kg | {name: masses_kg[name] + 0.01}
        assert water_activity(water_kg=0.5, **more, temperature_C=temperature_C) < before


@given(mixtures, st.floats(1e-3, 1e3))
def test_only_proportions_count(parts: tuple[float, ...], factor: float) -> None:
    water_kg = 1.0
    masses_kg = dict(zip(SOLUTES, parts, strict=True))
    if sum(parts) > 5.0:
        return
    scaled = {name: factor * mass for name, mass in masses_kg.items()}
    assert water_activity(water_kg=factor * water_kg, **scaled) == pytest.approx(
        water_activity(water_kg=water_kg, **masses_kg), rel=1e-9
    )


def test_dilute_solutions_follow_raoult() -> None:
    """In a very thin solution the activity is the mole fraction of water, whatever the solute."""
    for name, g_per_mol in zip(SOLUTES, (342.297, 180.156, 342.297, 192.124, 134.087, 150.087), strict=True):
        moles = 0.001 / g_per_mol / (1.0 / 18.01528 + 0.001 / g_per_mol)
        assert 1.0 - water_activity(water_kg=1.0, **{name: 0.001}) == pytest.approx(moles, rel=0.003)


@pytest.mark.parametrize(
    ("solute", "g_per_mol", "constant"),
    [
        ("invert_kg", 180.156, 2.25),
        ("disaccharide_kg", 342.297, 4.54),
        ("citric_kg", 192.124, 6.17),
        ("malic_kg", 134.087, 1.82),
        ("tartaric_kg", 150.087, 4.68),
    ],
)
@pytest.mark.parametrize("kg", [0.05, 0.5, 1.5])
def test_constants_of_the_literature_come_back(solute: str, g_per_mol: float, constant: float, kg: float) -> None:
    """Norrish constants at 25 degC (R. S. Norrish, J. Chirife; from memory): K = -ln(aw/x_w)/x²."""
    solute_mol, water_mol = kg / g_per_mol, 1.0 / 18.01528
    x = solute_mol / (solute_mol + water_mol)
    found = water_activity(water_kg=1.0, **{solute: kg})
    assert -np.log(found / (1.0 - x)) / x**2 == pytest.approx(constant, rel=1e-6)


@pytest.mark.parametrize("kg", [0.5, 2.0, 4.0])
@pytest.mark.parametrize("temperature_C", [25.0, 100.0])
def test_constant_of_sucrose_falls_with_concentration_as_published(kg: float, temperature_C: float) -> None:
    """Starzak and Peacock 1998: Q = 17638 J/mol, a = -1.0038, b = -0.24653."""
    x = kg / 342.297 / (kg / 342.297 + 1.0 / 18.01528)
    found = water_activity(water_kg=1.0, sucrose_kg=kg, temperature_C=temperature_C)
    published = 17638.0 / (8.314462618 * (temperature_C + 273.15)) * (1.0 - 1.0038 * x - 0.24653 * x**2)
    assert -np.log(found / (1.0 - x)) / x**2 == pytest.approx(published, rel=1e-6)


def test_arrays_broadcast_and_give_what_floats_give() -> None:
    sucrose = np.array([0.3, 0.5, 0.65])
    temperature = np.array([[10.0], [100.0]])
    found = water_activity(water_kg=0.35, sucrose_kg=sucrose, invert_kg=0.1, temperature_C=temperature)
    assert found.shape == (2, 3)
    for (row, column), value in np.ndenumerate(found):
        single = water_activity(
            water_kg=0.35, sucrose_kg=sucrose[column], invert_kg=0.1, temperature_C=temperature[row, 0]
        )
        assert type(single) is float
        assert value == pytest.approx(single, rel=1e-14)


@pytest.mark.parametrize(
    ("masses_kg", "word"),
    [
        ({"water_kg": 0.0, "sucrose_kg": 1.0}, "water_kg=0"),
        ({"water_kg": 0.0}, "water_kg=0"),
        ({"water_kg": 0.149, "sucrose_kg": 0.851}, "solids_fraction=0.851"),
        ({"water_kg": 0.02, "sucrose_kg": 0.98}, "solids_fraction=0.98"),
        ({"water_kg": 1.0, "citric_kg": -0.01}, "citric_kg=-0.01"),
        ({"water_kg": 1.0, "temperature_C": 111.0}, "temperature_C=111"),
        ({"water_kg": 1.0, "sucrose_kg": float("nan")}, "sucrose_kg=nan"),
        ({"water_kg": np.array([1.0, 0.1]), "sucrose_kg": np.array([1.0, 0.9])}, "solids_fraction=0.9"),
    ],
)
def test_what_the_model_does_not_know_is_refused(masses_kg, word: str) -> None:
    with pytest.raises(OutOfRange, match=word):
        water_activity(**masses_kg)


# ---- the linear row --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("activity", "calculated"),
    [
        (0.90, (1.4348, 0.9312, 1.5640, 0.8189)),
        (0.85, (2.0432, 1.3813, 2.2466, 1.1594)),
        (0.80, (2.6449, 1.8393, 2.9160, 1.4881)),
    ],
)
def test_numbers_of_the_row_against_a_separate_calculation(activity: float, calculated: tuple[float, ...]) -> None:
    limits = solute_kg_per_kg_water(activity, margin=0.0)
    found = (limits.sucrose, limits.invert, limits.disaccharide, limits.acid)
    assert found == pytest.approx(calculated, abs=0.0001)


@given(st.floats(0.80, 0.98), st.floats(0.0, 0.02))
def test_each_pure_solute_reaches_the_activity_less_the_margin(activity: float, margin: float) -> None:
    limits = solute_kg_per_kg_water(activity, margin)
    for name, mass in zip(SOLUTES, (limits.sucrose, limits.invert, limits.disaccharide, limits.acid), strict=False):
        assert water_activity(water_kg=1.0, **{name: mass}) == pytest.approx(activity - margin, abs=1e-10)


@pytest.mark.parametrize("activity", [0.80, 0.82, 0.85, 0.88, 0.90, 0.93, 0.98])
def test_a_mixture_that_meets_the_row_meets_the_limit(activity: float) -> None:
    """Σ solute/m ≥ water is sufficient: 6000 random mixtures of four solutes on the edge of the row, any acid."""
    rng = np.random.default_rng(20240607)
    limits = solute_kg_per_kg_water(activity)
    shares = np.concatenate([rng.dirichlet(np.full(4, alpha), 2000) for alpha in (0.3, 1.0, 3.0)])
    sucrose, invert, disaccharide, acid = (
        shares * np.array([limits.sucrose, limits.invert, limits.disaccharide, limits.acid])
    ).T
    left = sucrose / limits.sucrose + invert / limits.invert + disaccharide / limits.disaccharide + acid / limits.acid
    assert left == pytest.approx(np.ones(6000))
    for acid_name in ("citric_kg", "malic_kg", "tartaric_kg"):
        found = water_activity(
            water_kg=1.0, sucrose_kg=sucrose, invert_kg=invert, disaccharide_kg=disaccharide, **{acid_name: acid}
        )
        assert np.max(found) <= activity


def test_the_margin_is_two_thousandths_unless_said() -> None:
    assert solute_kg_per_kg_water(0.85) == solute_kg_per_kg_water(0.848, margin=0.0)


def test_without_the_margin_the_row_would_not_be_sufficient() -> None:
    limits = solute_kg_per_kg_water(0.80, margin=0.0)
    half = water_activity(water_kg=1.0, sucrose_kg=limits.sucrose / 2.0, citric_kg=limits.acid / 2.0)
    assert 0.80 < half < 0.802


@pytest.mark.parametrize(("activity", "brix_too_many"), [(0.80, 0.23), (0.85, 0.31), (0.90, 0.48)])
def test_what_the_margin_costs(activity: float, brix_too_many: float) -> None:
    """Separate calculation for jams (invert up to half of the sugars); half a Brix for any, as promised."""
    limits = solute_kg_per_kg_water(activity)
    for share in np.linspace(0.0, 1.0, 21):
        sugar = 1.0 / ((1.0 - share) / limits.sucrose + share / limits.invert)
        low, high = 0.0, sugar
        for _ in range(40):
            middle = (low + high) / 2.0
            wet = water_activity(water_kg=1.0, sucrose_kg=middle * (1.0 - share), invert_kg=middle * share) > activity
            low, high = (middle, high) if wet else (low, middle)
        cost = 100.0 * (sugar / (1.0 + sugar) - high / (1.0 + high))
        assert 0.0 <= cost <= (brix_too_many + 0.005 if share <= 0.5 else 0.5)


@pytest.mark.parametrize(("activity", "margin"), [(0.799, 0.002), (0.981, 0.002), (0.85, -0.001), (0.85, 0.0201)])
def test_rows_outside_the_tried_range_are_refused(activity: float, margin: float) -> None:
    with pytest.raises(OutOfRange):
        solute_kg_per_kg_water(activity, margin)


# ---- what grows --------------------------------------------------------------------------------


def test_a_jam_of_68_percent_is_not_proof_against_moulds_and_yeasts() -> None:
    growing = organisms_that_can_grow(of_jam(0.68, 0.35))
    assert {"most moulds", "xerophilic moulds", "osmophilic yeasts"} <= set(growing)
    assert "most yeasts" not in growing
    assert "Clostridium botulinum (growth with pH > 4.6)" not in growing


@given(st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_a_wetter_product_feeds_no_fewer(one: float, other: float) -> None:
    dry, wet = sorted((one, other))
    assert set(organisms_that_can_grow(dry)) <= set(organisms_that_can_grow(wet))


def test_at_the_end_points_of_the_list() -> None:
    assert organisms_that_can_grow(0.59) == ()
    assert set(organisms_that_can_grow(1.0)) == set(LEAST_ACTIVITY_FOR_GROWTH)
    with pytest.raises(OutOfRange):
        organisms_that_can_grow(1.01)
