"""Everything the rules of one batch may look at: streams as columns, product, standard, what is assumed of the cook."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, partial
from typing import Any

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
from optimizer.prepare.stream import Stream
from optimizer.solver.program import Array

Mask = NDArray[np.bool_]


class Streams(tuple[Stream, ...]):
    """The streams of a case, with the arrays that hang on them alone: made once, shared by all rounds and variants."""

    @cached_property
    def _kept(self) -> dict[Hashable, NDArray[Any]]:
        return {}

    def once(self, key: Hashable, make: Callable[[], NDArray[Any]]) -> NDArray[Any]:
        """The array of a key; whoever asks first makes it, and nobody may write into it."""
        if key not in self._kept:
            self._kept[key] = make()
            self._kept[key].setflags(write=False)
        return self._kept[key]


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

    def __post_init__(self) -> None:
        if not isinstance(self.streams, Streams):
            object.__setattr__(self, "streams", Streams(self.streams))

    def once(self, key: Hashable, make: Callable[[], NDArray[Any]]) -> NDArray[Any]:
        """An array that hangs on the streams alone; a case with another state of the cook shares it."""
        held: Any = self.streams
        kept: NDArray[Any] = held.once(key, make)
        return kept

    def column(self, figure: str) -> Array:
        """One figure of the composition for all streams, (n,), by its name."""
        return self.once(figure, lambda: np.array([getattr(s.per_kg, figure) for s in self.streams], dtype=float))

    def attribute(self, name: str) -> Array:
        """One figure of the streams themselves, (n,)."""
        return self.once(("stream", name), lambda: np.array([getattr(s, name) for s in self.streams], dtype=float))

    def mask(self, name: str, test: Callable[[Stream], bool]) -> Mask:
        """Which streams pass a test, (n,); the name stands for the test."""
        return self.once(("mask", name), lambda: np.array([test(stream) for stream in self.streams], dtype=bool))

    def form(self, streams: Array | Sequence[float], **others: float) -> Form:
        return Form(streams=np.asarray(streams, dtype=float), **others)

    @property
    def fruits(self) -> tuple[str, ...]:
        """Names of the fruits among the streams, in their order, each once."""
        names = self.once(
            "fruits", lambda: np.array([*dict.fromkeys(s.fruit for s in self.streams if s.fruit)], dtype=str)
        )
        return tuple(names.tolist())

    @property
    def fruit_number(self) -> NDArray[np.int_]:
        """Place of each stream's fruit in `fruits`, (n,); -1 where it is none."""

        def numbers() -> NDArray[np.int_]:
            place = {fruit: number for number, fruit in enumerate(self.fruits)}
            return np.array([place.get(s.fruit, -1) for s in self.streams], dtype=np.intp)

        return self.once("fruit number", numbers)

    def by_fruit(self, figures: Mapping[str, float]) -> Array:
        """A figure of each stream's fruit, (n,); 0 where it has none."""
        return np.array([*(figures.get(fruit, 0.0) for fruit in self.fruits), 0.0])[self.fruit_number]

    @cached_property
    def is_fruit(self) -> Mask:
        return self.mask("fruit", lambda s: s.kind == "fruit")

    @cached_property
    def is_sweetener(self) -> Mask:
        return self.mask("sweetener", lambda s: s.kind == "sweetener")

    @cached_property
    def finished(self) -> Form:
        return self.form(np.zeros(len(self.streams)), finished=1.0)

    # Sugar and water after inversion: each kg of sucrose inverted takes up 0.0526 kg of water. --------------------

    def sucrose(self, inverted_fraction: float) -> Form:
        return self.form(self.column("sucrose_fraction") * (1.0 - inverted_fraction))

    def invert(self, inverted_fraction: float) -> Form:
        gained = INVERT_GAIN * inverted_fraction * self.column("sucrose_fraction")
        return self.form(self.column("glucose_fraction") + self.column("fructose_fraction") + gained)

    def water(self, inverted_fraction: float) -> Form:
        taken = (INVERT_GAIN - 1.0) * inverted_fraction * self.column("sucrose_fraction")
        return self.form(self.column("water_fraction") - taken, water=1.0, boil_off=-1.0)

    @cached_property
    def disaccharide(self) -> Form:
        return self.form(self.column("other_saccharides_fraction"))

    @cached_property
    def acid(self) -> Form:
        """Titratable acid, as kg of anhydrous citric."""
        return self.form(self.column("titratable_acid_fraction"))

    @cached_property
    def acids(self) -> dict[str, Array]:
        """Mol of each acid per kg of each stream, (n,)."""
        names = self.once(
            "acids", lambda: np.array(sorted({name for s in self.streams for name in s.per_kg.acid_mix}), dtype=str)
        )

        def mol(name: str) -> Array:
            held = [s.per_kg for s in self.streams]
            return np.array([c.acid_mol * c.acid_mix.get(name, 0.0) for c in held])

        return {name: self.once(("acid", name), partial(mol, name)) for name in names.tolist()}

    @cached_property
    def insoluble(self) -> Form:
        return self.form(self.column("insoluble_fraction"))

    @cached_property
    def reading(self) -> Form:
        """kg that the refractometer sees, inversion gain included (invert reads a little low)."""
        gain = INVERT_GAIN * (1.0 - INVERT_SHORTFALL) - 1.0
        inverted = self.assumed.inverted_fraction * self.column("sucrose_fraction")
        return self.form(self.column("reading_fraction") + gain * inverted)

    @cached_property
    def fruit(self) -> Form:
        """Fruit as a standard counts it."""
        return self.form(self.column("fruit_equivalent") * self.is_fruit)

    @cached_property
    def sweetener_solids(self) -> Form:
        return self.form(self.column("solids_fraction") * self.is_sweetener)

    @cached_property
    def solids_not_fruit(self) -> Form:
        """In fruit-to-sweetener rules every solid that is not fruit counts as sweetener."""
        return self.form(self.column("solids_fraction") * ~self.is_fruit)
