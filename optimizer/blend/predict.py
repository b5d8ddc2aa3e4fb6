"""What a recipe will be: worked out again from its amounts with the full physics, not read from the rows."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from optimizer.blend.case import Case
from optimizer.blend.cook import CookPlan, fuel_used, heat_form, plan_cook, pressure_kPa
from optimizer.blend.rules.keeping import storage_C, sucrose_load
from optimizer.blend.rules.pectin import firmness_of
from optimizer.physics import acidity, crystals, inversion, pectin
from optimizer.physics.acids import ACIDS
from optimizer.physics.activity import water_activity
from optimizer.physics.boiling import boiling_point_C
from optimizer.physics.inversion import INVERT_GAIN
from optimizer.physics.refractometry import ACID_SHORTFALL_SQUARE
from optimizer.solver.program import Array

_REST_C = 25.0  # water activity and pH are quoted here


@dataclass(frozen=True, kw_only=True)
class CookStep:
    """A stretch of the cook at one temperature and acidity."""

    minutes: float
    temperature_C: float
    reading_fraction: float
    ph: float


@dataclass(frozen=True, kw_only=True)
class Prediction:
    """The finished batch. Fractions are of the finished mass unless the name says otherwise."""

    soluble_solids_fraction: float  # true, of the liquid
    reading_fraction: float  # what the refractometer shows
    ph: float
    ph_before_acid: float
    titratable_acid_fraction: float
    water_activity: float
    pectin_strength_ratio: float | None  # to the strength needed; None where there is no row
    invert_share_fraction: float  # of sugars
    inverted_in_cook_fraction: float  # of the sucrose
    end_point_C: float
    cook: tuple[CookStep, ...]
    cook_plan: CookPlan
    fuel: tuple[float, str] | None
    heat_kJ: float
    sucrose_saturation: float
    glucose_saturation: float | None
    ionic_strength_mol_per_kg: float
    water_kg: float
    fruit_fraction: float
    warnings: tuple[str, ...] = ()

    @property
    def cook_minutes(self) -> float:
        return self.cook_plan.minutes


@dataclass(frozen=True, kw_only=True)
class _Masses:
    """kg of the batch at a share of sucrose inverted."""

    water: float
    sucrose: float
    invert: float
    disaccharide: float
    insoluble: float
    acid_mol: Mapping[str, float]
    strong_ion_mol: float


class _Contents:
    """What is in the pan before any sugar inverts; sums over the streams are taken once."""

    def __init__(self, case: Case, x: Array) -> None:
        use = x[: len(case.streams)]
        self._water, self._sucrose = case.water(0.0).at(x), float(case.column("sucrose_fraction") @ use)
        self._invert = float((case.column("glucose_fraction") + case.column("fructose_fraction")) @ use)
        self._disaccharide, self._insoluble = case.disaccharide.at(x), case.insoluble.at(x)
        self._acid_mol = {acid: float(mol @ use) for acid, mol in case.acids.items()}
        self._strong_ion = float(case.column("strong_ion_mol") @ use)

    def at(self, inverted: float) -> _Masses:
        gained = INVERT_GAIN * inverted * self._sucrose
        return _Masses(
            water=self._water - (INVERT_GAIN - 1.0) * inverted * self._sucrose,
            sucrose=self._sucrose * (1.0 - inverted),
            invert=self._invert + gained,
            disaccharide=self._disaccharide,
            insoluble=self._insoluble,
            acid_mol=self._acid_mol,
            strong_ion_mol=self._strong_ion,
        )


def _ph(masses: _Masses) -> acidity.PhAnswer:
    return acidity.free_ph(
        acid_mol={acid: mol / masses.water for acid, mol in masses.acid_mol.items() if mol > 0.0},
        strong_ion_mol_per_kg=masses.strong_ion_mol / masses.water,
    )


def predict(case: Case, x: Array) -> Prediction:
    """Predict a batch from its amounts x [kg]: streams, water, boil-off, finished.

    Inversion feeds on the end point and the pH, and both on inversion: a few rounds settle it.

    Raises
    ------
    OutOfRange
        The batch lies outside what the physics describes (for example hardly any water left).
    """
    n = len(case.streams)
    charge = float(x[:n].sum() + x[n])
    boil_off, finished = float(x[n + 1]), float(x[n + 2])
    plan = plan_cook(case, charge_kg=charge, boil_off_kg=boil_off)
    pressure = pressure_kPa(case)
    without_acid = x.copy()
    without_acid[:n][case.mask("acid", lambda s: s.kind == "acid")] = 0.0
    contents, early = _Contents(case, x), _Contents(case, without_acid)
    late = min(case.book.setting("late_acid_min"), plan.minutes)
    fill_C, fill_min = case.book.setting("fill_temperature_C"), case.book.setting("fill_min")

    inverted = case.assumed.inverted_fraction if case.product.is_cooked else 0.0
    steps: tuple[CookStep, ...] = ()
    warnings: list[str] = []
    for _ in range(12):
        now = contents.at(inverted)
        answer = _ph(now)
        # Before the acid goes in: its ions are not there yet. The water is that of the batch, since what a late
        # lemon juice brings has been allowed for in the boil.
        before = replace(early.at(inverted), water=now.water)
        ph_before = float(_ph(before).ph) if before.acid_mol else float(answer.ph)
        acid_kg = sum(mol * ACIDS[acid].molar_mass_kg_per_mol for acid, mol in now.acid_mol.items())
        end_C = float(
            boiling_point_C(
                water_kg=now.water,
                sucrose_kg=now.sucrose,
                invert_kg=now.invert,
                disaccharide_kg=now.disaccharide,
                citric_kg=acid_kg,
                pressure_kPa=pressure,
            )
        )
        liquid = finished - now.insoluble
        solids = 1.0 - now.water / liquid
        if not case.product.is_cooked:
            break
        steps = tuple(
            CookStep(minutes=minutes, temperature_C=temperature, reading_fraction=solids, ph=ph)
            for minutes, temperature, ph in (
                (plan.minutes - late, end_C, ph_before),
                (late, end_C, float(answer.ph)),
                (fill_min, fill_C, float(answer.ph)),
            )
            if minutes > 0.0
        )
        new = float(
            inversion.inverted_fraction([(s.minutes, s.temperature_C, s.ph, s.reading_fraction) for s in steps])
        )
        settled = abs(new - inverted) < 1e-9
        inverted = new
        if settled:
            break

    warnings += answer.warnings
    settled_case = replace(case, assumed=replace(case.assumed, inverted_fraction=inverted))
    acid_fraction = case.acid.at(x) / liquid
    reading = settled_case.reading.at(x) / liquid + ACID_SHORTFALL_SQUARE * acid_fraction**2
    firmness = firmness_of(case)
    strength = float(case.column("pectin_strength") @ x[:n])
    heat = heat_form(case).at(x)
    sugars = now.sucrose + now.invert
    low = case.book.setting("inversion_low_factor") * inverted
    solubility = float(crystals.sucrose_solubility_kg_per_kg_water(storage_C(case)))
    return Prediction(
        soluble_solids_fraction=solids,
        reading_fraction=reading,
        ph=float(answer.ph),
        ph_before_acid=ph_before,
        titratable_acid_fraction=case.acid.at(x) / finished,
        water_activity=float(
            water_activity(
                water_kg=now.water,
                sucrose_kg=now.sucrose,
                invert_kg=now.invert,
                disaccharide_kg=now.disaccharide,
                citric_kg=now.acid_mol.get("citric", 0.0) * ACIDS["citric"].molar_mass_kg_per_mol,
                malic_kg=now.acid_mol.get("malic", 0.0) * ACIDS["malic"].molar_mass_kg_per_mol,
                tartaric_kg=now.acid_mol.get("tartaric", 0.0) * ACIDS["tartaric"].molar_mass_kg_per_mol,
                temperature_C=_REST_C,
            )
        ),
        pectin_strength_ratio=strength / (float(pectin.required_strength_per_kg(firmness)) * finished)
        if firmness
        else None,
        invert_share_fraction=now.invert / sugars if sugars > 0.0 else 0.0,
        inverted_in_cook_fraction=inverted,
        end_point_C=end_C,
        cook=tuple(
            CookStep(minutes=s.minutes, temperature_C=s.temperature_C, reading_fraction=reading, ph=s.ph) for s in steps
        ),
        cook_plan=plan,
        fuel=fuel_used(case, heat),
        heat_kJ=heat,
        sucrose_saturation=sucrose_load(settled_case).at(x) / (solubility * case.water(low).at(x)),
        glucose_saturation=_glucose_saturation(case, x, inverted),
        ionic_strength_mol_per_kg=float(answer.ionic_strength_mol_per_kg),
        water_kg=now.water,
        fruit_fraction=case.fruit.at(x) / finished,
        warnings=tuple(warnings),
    )


def _glucose_saturation(case: Case, x: Array, inverted: float) -> float | None:
    """Load of glucose on the water at the high end of the predicted inversion; None outside the table of the rule."""
    share = min(1.0, case.book.setting("inversion_high_factor") * inverted)
    use = x[: len(case.streams)]
    sucrose = case.sucrose(0.0).at(x)
    half = 0.5 * INVERT_GAIN * share * sucrose
    at = storage_C(case)
    if not 5.0 <= at <= 25.0:
        return None
    c2, k2 = crystals.glucose_row(at)
    glucose = float(case.column("glucose_fraction") @ use) + half
    fructose = float(case.column("fructose_fraction") @ use) + half
    return (glucose + float(k2) * (sucrose * (1.0 - share) + fructose)) / (float(c2) * case.water(share).at(x))
