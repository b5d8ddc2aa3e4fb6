"""The chance that a batch of given amounts lies within all its windows at once, by drawing the figures it rests on.

Each draw is another batch from the same scales: fruit as sweet, as sour and as rich in pectin as it may be. What the
cook puts right at the pan is put right: with a refractometer the batch is boiled to the reading of the recipe, so
sweeter fruit makes more kilograms. Amounts, minutes and temperatures stay as planned; inversion follows the acidity.
Windows are the true ones: a pH bound is not drawn in here, for the draw knows the pH that a meter would miss.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from optimizer.blend.case import Case
from optimizer.blend.draw_errors import Drawn, draw_figures
from optimizer.blend.predict import Prediction
from optimizer.blend.rows import Row
from optimizer.blend.rules import BEFORE_STOCK, rows_of
from optimizer.blend.rules.acidity import draw_in
from optimizer.blend.rules.keeping import storage_C
from optimizer.errors import OutOfRange
from optimizer.physics import acidity, crystals
from optimizer.physics.inversion import INVERT_GAIN
from optimizer.physics.refractometry import ACID_SHORTFALL_SQUARE, INVERT_SHORTFALL
from optimizer.solver.program import Array

_USED = 1e-9  # kg per kg of batch
_ON_THE_BOUND = 1e-6  # relative: a batch that is on its bound by plan holds it where nothing errs
_PH_ON_THE_BOUND = 1e-3
_PASSES = 2  # pH asks for the water, the water for the inversion, the inversion for the pH
WINDOWS = (
    "least_solids", "most_solids", "pectin_strength", "ph_upper", "ph_lower", "least_acid", "most_acid",
    "no_sucrose_crystals",
)  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Chance:
    """Shares of the draws within the windows. A chance that figures err, not that a cook does."""

    draws: int
    all_windows: float
    each: Mapping[str, float]  # by row id, each window alone
    not_computed: int = 0  # draws outside what the physics describes; they count as failed

    @property
    def standard_error(self) -> float:
        """Of `all_windows`, from the number of draws."""
        return math.sqrt(self.all_windows * (1.0 - self.all_windows) / self.draws)


@dataclass(frozen=True, kw_only=True, eq=False)
class _Pan:
    """Draws of one batch; every array (draws,) but those of the streams, (draws, used streams)."""

    case: Case
    drawn: Drawn
    use: Array  # kg, (used,)
    water_added: float
    finished: float

    def of(self, figure: Array) -> Array:
        """kg or mol in the batch of a figure per kg, (used,) or (draws, used)."""
        return np.asarray(figure @ self.use, dtype=float)

    def column(self, name: str) -> Array:
        return np.array([getattr(stream.per_kg, name) for stream in self.drawn.streams], dtype=float)

    @cached_property
    def charge(self) -> float:
        return float(self.use.sum()) + self.water_added

    @cached_property
    def sucrose(self) -> Array:
        return self.of(self.drawn.sweetness * self.column("sucrose_fraction"))

    @cached_property
    def other_sugars(self) -> Array:
        return self.of(self.drawn.sweetness * (self.column("glucose_fraction") + self.column("fructose_fraction")))

    @cached_property
    def disaccharide(self) -> Array:
        return self.of(self.drawn.sweetness * self.column("other_saccharides_fraction"))

    @cached_property
    def reading(self) -> Array:
        return self.of(self.drawn.sweetness * self.column("reading_fraction"))

    @cached_property
    def insoluble(self) -> float:
        return float(self.of(self.column("insoluble_fraction")))

    @cached_property
    def titratable(self) -> Array:
        return self.of(self.drawn.titratable)

    @cached_property
    def water_in(self) -> Array:
        solids = self.of(self.drawn.sweetness * self.column("solids_fraction"))
        return self.charge - self.insoluble - solids

    def liquid(self, inverted: Array, reading_target: float) -> Array:
        """kg of liquid at the end: as planned, or boiled (or thinned) to the reading."""
        if not self.case.site.has_refractometer:
            return np.full(self.sucrose.shape, self.finished - self.insoluble)
        held = self.reading + (INVERT_GAIN * (1.0 - INVERT_SHORTFALL) - 1.0) * inverted * self.sucrose
        # target · L² = held · L + square · acid²
        root = np.sqrt(held**2 + 4.0 * reading_target * ACID_SHORTFALL_SQUARE * self.titratable**2)
        liquid = (held + root) / (2.0 * reading_target)
        return liquid if self.case.product.is_cooked else np.maximum(liquid, self.charge - self.insoluble)

    def water(self, inverted: Array, liquid: Array) -> Array:
        """kg left: more is boiled off where more must go."""
        boiled = self.charge - self.insoluble - liquid
        return self.water_in - (INVERT_GAIN - 1.0) * inverted * self.sucrose - boiled


def ph_of(acid_mol: Mapping[str, Array], strong_ion: Array) -> Array:
    """pH of many mixtures [mol/kg water], (draws,); not a number where the physics does not reach."""
    try:
        found = acidity.free_ph(acid_mol=acid_mol, strong_ion_mol_per_kg=strong_ion).ph
    except OutOfRange:
        size = strong_ion.size
        if size == 1:
            return np.array([np.nan])
        halves = (slice(0, size // 2), slice(size // 2, size))
        return np.concatenate([ph_of({a: m[half] for a, m in acid_mol.items()}, strong_ion[half]) for half in halves])
    return np.asarray(found, dtype=float)


def chance(case: Case, x: Array, predicted: Prediction, rng: np.random.Generator, *, draws: int = 10_000) -> Chance:
    """Share of batches of these amounts within all windows at once, and within each alone.

    Parameters
    ----------
    case : Case
        The batch, settled.
    x : array
        (n + 3,) [kg]: streams, water, boil-off, finished.
    predicted : Prediction
        Of these amounts.
    rng : numpy.random.Generator
        Where the draws come from; the same generator state gives the same answer.
    draws : int
        How many batches, one or more.

    Returns
    -------
    Chance
        Shares of the draws.
    """
    n = len(case.streams)
    used = x[:n] > _USED * case.request.batch_kg
    streams = tuple(stream for stream, is_used in zip(case.streams, used, strict=True) if is_used)
    pan = _Pan(
        case=case,
        drawn=draw_figures(streams, case.book, case.site, rng, draws),
        use=x[:n][used],
        water_added=float(x[n]),
        finished=float(x[n + 2]),
    )
    inverted = np.full(draws, predicted.inverted_in_cook_fraction)
    ph = np.full(draws, predicted.ph)
    for _ in range(_PASSES):
        liquid = pan.liquid(inverted, predicted.reading_fraction)
        water = np.maximum(pan.water(inverted, liquid), 1e-6 * pan.finished)
        mol = {acid: pan.of(per_kg) / water for acid, per_kg in pan.drawn.acid_mol.items()}
        ph = ph_of(mol, pan.of(pan.drawn.strong_ion) / water)
        # First order in sucrose and in hydrogen ions: minutes and temperatures as planned, only the acidity differs.
        faster = 10.0 ** np.clip(predicted.ph - np.nan_to_num(ph, nan=predicted.ph), -4.0, 4.0)
        inverted = 1.0 - (1.0 - predicted.inverted_in_cook_fraction) ** faster
    rows = rows_of(replace(case, cuts=(), assumed=replace(case.assumed, tightened=())), only=BEFORE_STOCK)
    liquid = pan.liquid(inverted, predicted.reading_fraction)
    within = {
        row.id: _within(row, case, _values(row.id, pan, inverted, liquid, ph)) for row in rows if row.id in WINDOWS
    }
    holds = np.logical_and.reduce(list(within.values())) if within else np.ones(draws, dtype=bool)
    return Chance(
        draws=draws,
        all_windows=float(np.mean(holds)),
        each={id_: float(np.mean(inside)) for id_, inside in within.items()},
        not_computed=int(np.isnan(ph).sum()),
    )


def _values(id_: str, pan: _Pan, inverted: Array, liquid: Array, ph: Array) -> Array:
    """What each draw reaches in the unit of a row's bound, (draws,)."""
    finished = liquid + pan.insoluble
    if id_ in ("least_solids", "most_solids"):
        gain = INVERT_GAIN * (1.0 - INVERT_SHORTFALL) - 1.0
        linear = (pan.reading + gain * inverted * pan.sucrose) / liquid
        return linear + ACID_SHORTFALL_SQUARE * (pan.titratable / liquid) ** 2
    if id_ in ("ph_upper", "ph_lower"):
        return ph
    if id_ in ("least_acid", "most_acid"):
        return pan.titratable / finished
    if id_ == "pectin_strength":
        return pan.of(pan.drawn.strength) / finished
    # crystals, at the low end of the inversion
    share = pan.case.book.setting("inversion_low_factor") * inverted
    weight = crystals.SUCROSE_ROW
    load = (
        (1.0 - share) * pan.sucrose
        + weight.invert * (pan.other_sugars + INVERT_GAIN * share * pan.sucrose)
        + weight.disaccharide * pan.disaccharide
        + weight.acid * pan.titratable
    )
    dissolves = float(crystals.sucrose_solubility_kg_per_kg_water(storage_C(pan.case)))
    return load / (dissolves * pan.water(share, liquid))


def _within(row: Row, case: Case, values: Array) -> NDArray[np.bool_]:
    """Whether each draw is inside; what could not be computed is not."""
    if row.shown is not None:
        bound, side = row.shown
        true = bound + (draw_in(case) if side == "upper" else 0.0)
        inside = values <= true + _PH_ON_THE_BOUND if side == "upper" else values >= true - _PH_ON_THE_BOUND
        return np.asarray(inside, dtype=bool)
    bound = row.bound
    if row.id == "pectin_strength" and row.denominator is not None:
        bound *= row.denominator.finished  # strength per kg finished
    room = _ON_THE_BOUND * max(abs(bound), 1e-9)
    return np.asarray(values >= bound - room if row.lower is not None else values <= bound + room, dtype=bool)
