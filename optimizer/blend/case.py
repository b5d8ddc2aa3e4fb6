"""Everything the rules of one batch may look at: streams as columns, product, standard, what is assumed of the cook."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from optimizer.blend.cuts import Cut
from optimizer.blend.decided import Decided
from optimizer.blend.request import Request
from optimizer.blend.rows import Form
from optimizer.blend.standard import ProductLimits
from optimizer.inputs.models import Book, Product, Site
from optimizer.physics.inversion import INVERT_GAIN
from optimizer.physics.refractometry import INVERT_SHORTFALL
from optimizer.prepare.stream import Composition, Stream
from optimizer.solver.program import Array

Mask = NDArray[np.bool_]


@dataclass(frozen=True, kw_only=True)
class Assumed:
    """What a round of the solve takes from the last prediction."""

    inverted_fraction: float = 0.20  # of the sucrose, in the cook
    ionic_strength_mol_per_kg: float = 0.10  # of the water phase
    boil_C: float = 104.0  # mean while boiling off
    tightened: tuple[tuple[str, float], ...] = ()  # row id -> how far its bound is drawn in


@dataclass(frozen=True, kw_only=True, eq=False)
class Case:
    """One batch as columns (n streams) and parameters."""

    streams: tuple[Stream, ...]
    product: Product
    limits: ProductLimits
    request: Request
    site: Site
    book: Book
    assumed: Assumed
    declared_fruit_fraction: float | None = None  # k of the mixed-fruit rule
    ph_upper_of_pectin: float | None = None  # the setting speed's own limit
    is_group_mix: bool = False  # 21 CFR 150.160: a mix with a Group II fruit, at the milder ratio
    moved_bounds: tuple[tuple[str, float], ...] = ()  # row id -> bound tried instead (pH rows: as pH)
    decided: Decided | None = None  # by a search over whole numbers; None: a plain linear program
    cuts: tuple[Cut, ...] = ()  # margins at the confidence asked for; none: rows hold at the mean

    def column(self, figure: Callable[[Composition], float]) -> Array:
        """One figure of the composition for all streams, (n,)."""
        return np.array([figure(stream.per_kg) for stream in self.streams], dtype=float)

    def mask(self, test: Callable[[Stream], bool]) -> Mask:
        return np.array([test(stream) for stream in self.streams], dtype=bool)

    def form(self, streams: Array | Sequence[float], **others: float) -> Form:
        return Form(streams=np.asarray(streams, dtype=float), **others)

    @cached_property
    def is_fruit(self) -> Mask:
        return self.mask(lambda s: s.kind == "fruit")

    @cached_property
    def is_sweetener(self) -> Mask:
        return self.mask(lambda s: s.kind == "sweetener")

    @cached_property
    def finished(self) -> Form:
        return self.form(np.zeros(len(self.streams)), finished=1.0)

    # Sugar and water after inversion: each kg of sucrose inverted takes up 0.0526 kg of water. --------------------

    def sucrose(self, inverted_fraction: float) -> Form:
        return self.form(self.column(lambda c: c.sucrose_fraction) * (1.0 - inverted_fraction))

    def invert(self, inverted_fraction: float) -> Form:
        gained = INVERT_GAIN * inverted_fraction * self.column(lambda c: c.sucrose_fraction)
        return self.form(self.column(lambda c: c.glucose_fraction + c.fructose_fraction) + gained)

    def water(self, inverted_fraction: float) -> Form:
        taken = (INVERT_GAIN - 1.0) * inverted_fraction * self.column(lambda c: c.sucrose_fraction)
        return self.form(self.column(lambda c: c.water_fraction) - taken, water=1.0, boil_off=-1.0)

    @cached_property
    def disaccharide(self) -> Form:
        return self.form(self.column(lambda c: c.other_saccharides_fraction))

    @cached_property
    def acid(self) -> Form:
        """Titratable acid, as kg of anhydrous citric."""
        return self.form(self.column(lambda c: c.titratable_acid_fraction))

    @cached_property
    def acids(self) -> dict[str, Array]:
        """Mol of each acid per kg of each stream, (n,)."""
        names = sorted({name for s in self.streams for name in s.per_kg.acid_mix})
        held = [s.per_kg for s in self.streams]
        return {name: np.array([c.acid_mol * c.acid_mix.get(name, 0.0) for c in held]) for name in names}

    @cached_property
    def insoluble(self) -> Form:
        return self.form(self.column(lambda c: c.insoluble_fraction))

    @cached_property
    def reading(self) -> Form:
        """kg that the refractometer sees, inversion gain included (invert reads a little low)."""
        gain = INVERT_GAIN * (1.0 - INVERT_SHORTFALL) - 1.0
        inverted = self.assumed.inverted_fraction * self.column(lambda c: c.sucrose_fraction)
        return self.form(self.column(lambda c: c.reading_fraction) + gain * inverted)

    @cached_property
    def fruit(self) -> Form:
        """Fruit as a standard counts it."""
        return self.form(self.column(lambda c: c.fruit_equivalent) * self.is_fruit)

    @cached_property
    def sweetener_solids(self) -> Form:
        return self.form(self.column(lambda c: c.solids_fraction) * self.is_sweetener)

    @cached_property
    def solids_not_fruit(self) -> Form:
        """In fruit-to-sweetener rules every solid that is not fruit counts as sweetener."""
        return self.form(self.column(lambda c: c.solids_fraction) * ~self.is_fruit)
