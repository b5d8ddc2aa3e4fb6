"""Thousands of fruits that might have come instead: the program of a recipe at drawn figures of Brix, acid, pH, pectin.

Every coefficient of every rule is linear in the figures of its own stream. So the matrices of all draws follow from
one matrix for each kind of figure, found by building the program once more with that figure moved; no rule is written
a second time here.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from optimizer.blend.case import Case
from optimizer.blend.draw_errors import draw_figures
from optimizer.blend.program import build
from optimizer.prepare.stream import Stream
from optimizer.solver import Draws, LinearProgram
from optimizer.solver.program import Array

BLOCK = 500  # draws made at a time: memory stays flat however many there are

# What a draw moves, and a step that is of the size of the figure: sweetness is a factor, the others are per kg.
_STEPS = {"sweetness": 0.1, "titratable": 0.01, "strength": 1.0, "acid_mol": 0.05, "strong_ion": 0.05}
_WORDS = {
    "solids_fraction": ("Brix", "sweetness"),
    "titratable_acid_fraction": ("acid", "titratable"),
    "pectin_strength": ("pectin", "strength"),
}


@dataclass(frozen=True, kw_only=True)
class Figures:
    """The drawn figures of one stream."""

    sweetness: float
    titratable: float
    strength: float
    acid_mol: float
    strong_ion: float

    @classmethod
    def of(cls, stream: Stream) -> Figures:
        """As the stream is described."""
        held = stream.per_kg
        return cls(
            sweetness=1.0, titratable=held.titratable_acid_fraction, strength=held.pectin_strength,
            acid_mol=held.acid_mol, strong_ion=held.strong_ion_mol,
        )  # fmt: skip


def stream_at(stream: Stream, figures: Figures) -> Stream:
    """A stream whose figures are known to be these: nothing of it errs any more."""
    held, s = stream.per_kg, figures.sweetness
    per_kg = replace(
        held,
        water_fraction=1.0 - held.insoluble_fraction - s * held.solids_fraction,
        solids_fraction=s * held.solids_fraction,
        reading_fraction=s * held.reading_fraction,
        sucrose_fraction=s * held.sucrose_fraction,
        glucose_fraction=s * held.glucose_fraction,
        fructose_fraction=s * held.fructose_fraction,
        other_saccharides_fraction=s * held.other_saccharides_fraction,
        titratable_acid_fraction=figures.titratable,
        acid_mol=figures.acid_mol,
        strong_ion_mol=figures.strong_ion,
        pectin_strength=figures.strength,
    )
    return replace(stream, per_kg=per_kg, errors=())


@dataclass(frozen=True, kw_only=True, eq=False)
class Redraws:
    """Draws of the figures of all streams of a case, and its rows at each of them.

    In a scenario the drawn figures are taken as known: rows hold at them, and no margin is carried any more.
    """

    case: Case  # without cuts
    values: Mapping[str, Array]  # name of a figure -> (draws, u), in the order of the streams of the case

    @classmethod
    def of(cls, case: Case, rng: np.random.Generator, draws: int) -> Redraws:
        """Draw; the same generator state gives the same draws."""
        return draw_together([case], rng, draws)[0]

    def __len__(self) -> int:
        return int(self.values["sweetness"].shape[0])

    def for_case(self, case: Case) -> Redraws:
        """The same draws for a variant of the case: other assumptions, fewer streams."""
        at = {stream.id: column for column, stream in enumerate(self.case.streams)}
        columns = [at[stream.id] for stream in case.streams]
        return Redraws(
            case=replace(case, cuts=()), values={name: values[:, columns] for name, values in self.values.items()}
        )

    @cached_property
    def program(self) -> LinearProgram:
        """The case at the figures its streams are described by, without margins."""
        return build(self.case).lp

    def streams(self, draw: int) -> tuple[Stream, ...]:
        """The streams of one draw, their figures known."""
        return tuple(
            stream_at(stream, Figures(**{name: float(values[draw, column]) for name, values in self.values.items()}))
            for column, stream in enumerate(self.case.streams)
        )

    def moved(self, part: slice) -> tuple[Array, Array]:
        """Rows (d, m, n) and costs (d, n) of some draws."""
        u = len(self.case.streams)
        count = self.values["sweetness"][part].shape[0]
        matrix, cost = np.tile(self.program.matrix, (count, 1, 1)), np.tile(self.program.cost, (count, 1))
        for name, (rows, money) in self._slopes.items():
            away = self.values[name][part] - np.array([getattr(Figures.of(s), name) for s in self.case.streams])
            if rows.any():
                matrix[:, :, :u] += rows * away[:, None, :]
            if money.any():
                cost[:, :u] += money * away
        return matrix, cost

    def blocks(self, size: int = BLOCK) -> Iterator[Draws]:
        """The programs of all draws, so many at a time."""
        for begin in range(0, len(self), size):
            matrix, cost = self.moved(slice(begin, begin + size))
            yield Draws(self.program, matrix=matrix, cost=cost)

    @cached_property
    def _slopes(self) -> dict[str, tuple[Array, Array]]:
        return {name: self._slope(name, step) for name, step in _STEPS.items()}

    def _slope(self, name: str, step: float) -> tuple[Array, Array]:
        """Change of rows (m, u) and costs (u,) per unit of one figure of each stream."""
        u = len(self.case.streams)
        streams = []
        for stream in self.case.streams:
            figures = Figures.of(stream)
            streams.append(stream_at(stream, replace(figures, **{name: getattr(figures, name) + step})))
        moved = build(replace(self.case, streams=tuple(streams))).lp
        rows = (moved.matrix - self.program.matrix)[:, :u] / step
        return rows, (moved.cost - self.program.cost)[:u] / step

    def inputs(self) -> dict[str, Array]:
        """What was drawn, (draws,) for each source of error, by what to call it."""
        found: dict[str, Array] = {}
        for column, stream in enumerate(self.case.streams):
            for error in stream.errors:
                if error.figure in _WORDS and error.sd_per_kg > 0.0:
                    word, name = _WORDS[error.figure]
                    owner = stream.id if error.key.startswith("lot:") else stream.item
                    found.setdefault(f"{word} of {owner}", self.values[name][:, column])
            owner = stream.id if "ph" in stream.measured else stream.item
            found.setdefault(f"pH of {owner}", self.values["strong_ion"][:, column])
        return {name: values for name, values in found.items() if np.ptp(values) > 0.0}


def draw_together(cases: Sequence[Case], rng: np.random.Generator, draws: int) -> list[Redraws]:
    """Draws for several batches of one site: a lot, or a row of the book, errs alike in all of them."""
    first = cases[0]
    streams = [stream for case in cases for stream in case.streams]
    drawn = draw_figures(streams, first.book, first.site, rng, draws)
    acid_mol: Array = sum(drawn.acid_mol.values(), start=np.zeros_like(drawn.sweetness))
    values = {
        "sweetness": drawn.sweetness, "titratable": drawn.titratable, "strength": drawn.strength,
        "acid_mol": acid_mol, "strong_ion": drawn.strong_ion,
    }  # fmt: skip
    found, begin = [], 0
    for case in cases:
        mine = slice(begin, begin + len(case.streams))
        begin = mine.stop
        found.append(
            Redraws(case=replace(case, cuts=()), values={name: figure[:, mine] for name, figure in values.items()})
        )
    return found
