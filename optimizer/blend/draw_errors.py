"""Draws of the figures that fruit rests on: sweetness, acid, pH, pectin, each with its spread, within physical limits.

A figure of the book is one error for all lots of that row, a measured one errs by itself. Errors are normal; a draw
outside what fruit can be (no pectin left, no water left, a pH outside the chemistry here) is drawn again.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from optimizer.inputs.models import Book, Site
from optimizer.physics.acidity import CITRIC_KG_PER_EQUIVALENT, TITRATION_END_PH, mix_charge, water_term_mol_per_kg
from optimizer.prepare.fruit import part_of
from optimizer.prepare.stream import Stream
from optimizer.solver.program import Array

BRIX_ACID_CORRELATION = -0.3  # of a row of the book: ripe fruit is sweeter and less sour (judgement)
_LEAST_WATER = 0.05  # kg per kg of fruit in the pan that no draw goes below
_PH = (1.8, 6.0)  # where lots are described
_MOST_STRONG_ION = 0.5  # mol/kg, several times that of any fruit (judgement)
_TRIES = 200


@dataclass(frozen=True, kw_only=True, eq=False)
class Drawn:
    """Figures of u streams in many draws, each (draws, u)."""

    streams: tuple[Stream, ...]
    sweetness: Array  # times the solids and the sugars of the stream
    titratable: Array  # kg/kg, as anhydrous citric
    strength: Array  # kg of sugar carried per kg
    acid_mol: Mapping[str, Array]  # mol/kg of each acid
    strong_ion: Array  # mol/kg


class _Sources:
    """Standard normal draws by key, each within limits, drawn once and shared by all streams of the key."""

    def __init__(self, rng: np.random.Generator, draws: int) -> None:
        self._rng, self._draws = rng, draws
        self._limits: dict[str, tuple[float, float]] = {}
        self._drawn: dict[str, Array] = {}

    def ask(self, key: str, low: float, high: float) -> None:
        """Limits in standard deviations; of all streams of a key the narrowest hold."""
        before = self._limits.get(key, (-np.inf, np.inf))
        self._limits[key] = (max(before[0], min(low, 0.0)), min(before[1], max(high, 0.0)))

    def draw(self) -> None:
        """Draw all keys in the order they were asked for; Brix and acid of one owner together."""
        for key in self._limits:
            if key in self._drawn:
                continue
            owner, _, figure = key.rpartition(":")
            partner = f"{owner}:titratable_acid_fraction"
            if figure == "solids_fraction" and owner.startswith("book:") and partner in self._limits:
                self._drawn[key], self._drawn[partner] = self._within((key, partner), BRIX_ACID_CORRELATION)
            elif not (figure == "titratable_acid_fraction" and f"{owner}:solids_fraction" in self._limits) or (
                not owner.startswith("book:")
            ):
                (self._drawn[key],) = self._within((key,), 0.0)

    def _within(self, keys: tuple[str, ...], correlation: float) -> list[Array]:
        low, high = np.array([self._limits[key] for key in keys]).T
        z = np.empty((self._draws, len(keys)))
        wrong = np.arange(self._draws)
        for _ in range(_TRIES):
            fresh = self._rng.standard_normal((wrong.size, len(keys)))
            if len(keys) == 2:
                fresh[:, 1] = correlation * fresh[:, 0] + np.sqrt(1.0 - correlation**2) * fresh[:, 1]
            z[wrong] = fresh
            wrong = wrong[((fresh < low) | (fresh > high)).any(axis=1)]
            if not wrong.size:
                break
        return list(np.clip(z, low, high).T)

    def of(self, key: str) -> Array:
        return self._drawn[key]


@dataclass(frozen=True)
class _Ph:
    """pH of a fruit as it is; unmeasured low-acid fruit is planned with a more pessimistic one."""

    key: str
    mean: float
    sd: float


def _ph_error(stream: Stream, book: Book, site: Site) -> _Ph | None:
    found = part_of(stream.item, book)
    if found is None or stream.per_kg.ph is None:
        return None
    if "ph" in stream.measured:
        sd = book.setting("measured_ph_sd" if site.ph_meter == "yes" else "strips_ph_sd")
        return _Ph(f"lot:{stream.id}:ph", stream.per_kg.ph, sd)
    figure = found[0].ph
    return _Ph(f"book:{found[0].item}:ph", figure.value if stream.needs_measured_ph else stream.per_kg.ph, figure.sd)


def _spread(stream: Stream, figure: str) -> tuple[str, float] | None:
    return next(((e.key, e.sd_per_kg) for e in stream.errors if e.figure == figure and e.sd_per_kg > 0.0), None)


def draw_figures(streams: Sequence[Stream], book: Book, site: Site, rng: np.random.Generator, draws: int) -> Drawn:
    """Draw the figures of streams; those without an error stay as they are.

    Parameters
    ----------
    streams : sequence of Stream
        u streams.
    book, site
        Where the spread of a pH comes from.
    rng : numpy.random.Generator
        Where the draws come from.
    draws : int
        How many.

    Returns
    -------
    Drawn
        Arrays of shape (draws, u).
    """
    sources = _Sources(rng, draws)
    ph_errors = [_ph_error(stream, book, site) for stream in streams]
    for stream, ph in zip(streams, ph_errors, strict=True):
        held = stream.per_kg
        for figure, mean, most in (
            ("solids_fraction", held.reading_fraction, 1.0 - held.insoluble_fraction - _LEAST_WATER),
            ("titratable_acid_fraction", held.titratable_acid_fraction, np.inf),
            ("pectin_strength", held.pectin_strength, np.inf),
        ):
            found = _spread(stream, figure)
            if found is not None and mean > 0.0:
                sources.ask(found[0], -mean / found[1], (most - mean) / found[1])
        if ph is not None and ph.sd > 0.0:
            sources.ask(ph.key, (_PH[0] - ph.mean) / ph.sd, (_PH[1] - ph.mean) / ph.sd)
    sources.draw()

    def relative(stream: Stream, figure: str, mean: float) -> Array:
        found = _spread(stream, figure)
        if found is None or mean <= 0.0:
            return np.ones(draws)
        return 1.0 + found[1] / mean * sources.of(found[0])

    sweetness, titratable, strength, strong_ion, mol = [], [], [], [], []
    for stream, ph in zip(streams, ph_errors, strict=True):
        held = stream.per_kg
        sweeter = relative(stream, "solids_fraction", held.reading_fraction)
        acid = held.titratable_acid_fraction * relative(
            stream, "titratable_acid_fraction", held.titratable_acid_fraction
        )
        real_ph = None if ph is None else ph.mean + (ph.sd * sources.of(ph.key) if ph.sd > 0.0 else np.zeros(draws))
        moles, ions = _acid_and_ions(stream, acid, sweeter, real_ph, book)
        sweetness.append(sweeter)
        titratable.append(acid)
        strength.append(held.pectin_strength * relative(stream, "pectin_strength", held.pectin_strength))
        mol.append(moles)
        strong_ion.append(ions)
    moles_of_all = np.array(mol).reshape(len(streams), draws).T
    names = sorted({name for stream in streams for name in stream.per_kg.acid_mix})
    return Drawn(
        streams=tuple(streams),
        sweetness=np.array(sweetness).reshape(len(streams), draws).T,
        titratable=np.array(titratable).reshape(len(streams), draws).T,
        strength=np.array(strength).reshape(len(streams), draws).T,
        acid_mol={name: moles_of_all * np.array([s.per_kg.acid_mix.get(name, 0.0) for s in streams]) for name in names},
        strong_ion=np.array(strong_ion).reshape(len(streams), draws).T,
    )


def _acid_and_ions(
    stream: Stream, titratable: Array, sweeter: Array, ph: Array | None, book: Book
) -> tuple[Array, Array]:
    """Moles of acid and of strong ions per kg of stream: as planned, moved by what the draw's pH and titration differ.

    A = [T/0.06404 - w (10^-pH - 10^-8.1)/γ] / [z(8.1) - z(pH)], S = A z(pH) - w 10^-pH/γ; where the acid of low-acid
    fruit follows from capped strong ions, S stays and A = (S + w 10^-pH/γ) / z(pH).
    """
    held = stream.per_kg
    planned_mol, planned_ions = np.full(titratable.shape, held.acid_mol), np.full(titratable.shape, held.strong_ion_mol)
    if ph is None or held.ph is None or not held.acid_mix:
        return planned_mol, planned_ions
    fruit = held.fruit_equivalent or 1.0  # kg of fruit per kg of extract; its boiling water is no part of the reading
    capped = (
        stream.is_low_acid
        and "acid" not in stream.measured
        and abs(held.strong_ion_mol / fruit - book.setting("low_acid_strong_ion_cap")) < 1e-9
    )

    def chemistry(ph: Array | float, titratable: Array | float, sweeter: Array | float) -> tuple[Array, Array]:
        water = held.water_fraction - (sweeter - 1.0) * held.solids_fraction - (1.0 - fruit)
        free, at_end = (water * water_term_mol_per_kg(p) for p in (ph, TITRATION_END_PH))
        charge = mix_charge(held.acid_mix, ph)
        if capped:
            ions = np.asarray(held.strong_ion_mol)
            return np.asarray((ions + free) / charge), ions
        base = titratable / CITRIC_KG_PER_EQUIVALENT
        acid = np.maximum((base - free + at_end) / (mix_charge(held.acid_mix, TITRATION_END_PH) - charge), 0.0)
        return np.asarray(acid), np.minimum(acid * charge - free, _MOST_STRONG_ION * fruit)

    drawn = chemistry(ph, titratable, sweeter)
    planned = chemistry(held.ph, held.titratable_acid_fraction, 1.0)
    mol = np.maximum(planned_mol + drawn[0] - planned[0], 0.0)
    return mol, planned_ions + drawn[1] - planned[1]
