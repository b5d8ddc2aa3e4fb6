"""Thousands of fruits that might have come instead: the program of a recipe at drawn figures of Brix, acid, pH, pectin.

Every coefficient of every rule is linear in the figures of its own stream. So the matrices of all draws follow from
one matrix for each kind of figure, found by building the program once more with that figure moved; no rule is written
a second time here.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from optimizer.blend.case import Case
from optimizer.blend.draw_errors import Drawn, draw_figures
from optimizer.blend.program import build
from optimizer.prepare.stream import Stream
from optimizer.solver import Draws, LinearProgram
from optimizer.solver.program import Array

BLOCK = 500  # draws made at a time: memory stays flat however many there are

# What a draw moves, and a step that is of the size of the figure: sweetness is a factor, the others are per kg.
_STEPS = {"sweetness": 0.1, "titratable": 0.01, "strength": 1.0, "acid_mol": 0.05, "strong_ion": 0.05}
_WORDS = {"solids_fraction": "Brix", "titratable_acid_fraction": "acid", "pectin_strength": "pectin"}


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
    """Draws of the figures of all streams of a case, and its program at each of them.

    In a scenario the drawn figures are taken as known: rows hold at them, and no margin is carried any more.
    """

    case: Case
    drawn: Drawn  # of the streams of the case, in their order

    @classmethod
    def of(cls, case: Case, rng: np.random.Generator, draws: int) -> Redraws:
        """Draw; the same generator state gives the same draws."""
        case = replace(case, cuts=())
        return cls(case=case, drawn=draw_figures(case.streams, case.book, case.site, rng, draws))

    def __len__(self) -> int:
        return int(self.drawn.sweetness.shape[0])

    @cached_property
    def acid_mol(self) -> Array:
        """Mol of all acids per kg, (draws, u)."""
        total: Array = sum(self.drawn.acid_mol.values(), start=np.zeros_like(self.drawn.sweetness))
        return total

    @cached_property
    def program(self) -> LinearProgram:
        """The case at the figures its streams are described by, without margins."""
        return build(self.case).lp

    def figures(self, draw: int) -> tuple[Figures, ...]:
        """The figures of each stream in one draw."""
        columns = (self.drawn.sweetness, self.drawn.titratable, self.drawn.strength, self.acid_mol,
                   self.drawn.strong_ion)  # fmt: skip
        return tuple(
            Figures(sweetness=s, titratable=t, strength=p, acid_mol=a, strong_ion=i)
            for s, t, p, a, i in zip(*(column[draw].tolist() for column in columns), strict=True)
        )

    def streams(self, draw: int) -> tuple[Stream, ...]:
        """The streams of one draw, their figures known."""
        return tuple(stream_at(s, f) for s, f in zip(self.case.streams, self.figures(draw), strict=True))

    def blocks(self, size: int = BLOCK) -> Iterator[Draws]:
        """The programs of all draws, so many at a time."""
        base, u = self.program, len(self.case.streams)
        now = [Figures.of(stream) for stream in self.case.streams]
        moved = [self._slope(name, step) for name, step in _STEPS.items()]
        values = {
            "sweetness": self.drawn.sweetness, "titratable": self.drawn.titratable, "strength": self.drawn.strength,
            "acid_mol": self.acid_mol, "strong_ion": self.drawn.strong_ion,
        }  # fmt: skip
        for begin in range(0, len(self), size):
            part = slice(begin, begin + size)
            count = values["sweetness"][part].shape[0]
            matrix, cost = np.tile(base.matrix, (count, 1, 1)), np.tile(base.cost, (count, 1))
            for name, (rows, money) in zip(_STEPS, moved, strict=True):
                away = values[name][part] - np.array([getattr(f, name) for f in now])
                if rows.any():
                    matrix[:, :, :u] += rows * away[:, None, :]
                if money.any():
                    cost[:, :u] += money * away
            yield Draws(base, matrix=matrix, cost=cost)

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

    def inputs(self) -> tuple[Array, tuple[str, ...]]:
        """What was drawn, one column for each source of error, (draws, k), and what to call it."""
        found: dict[str, Array] = {}
        by_figure = {
            "solids_fraction": self.drawn.sweetness, "titratable_acid_fraction": self.drawn.titratable,
            "pectin_strength": self.drawn.strength,
        }  # fmt: skip
        for column, stream in enumerate(self.case.streams):
            for error in stream.errors:
                if error.figure in by_figure and error.sd_per_kg > 0.0:
                    owner = stream.id if error.key.startswith("lot:") else stream.item
                    found.setdefault(f"{_WORDS[error.figure]} of {owner}", by_figure[error.figure][:, column])
            owner = stream.id if "ph" in stream.measured else stream.item
            found.setdefault(f"pH of {owner}", self.drawn.strong_ion[:, column])
        varying = {name: values for name, values in found.items() if np.ptp(values) > 0.0}
        return np.array(list(varying.values())).reshape(len(varying), len(self)).T, tuple(varying)


def known_streams(whole: Sequence[Stream], redraws: Redraws, draw: int) -> tuple[Stream, ...]:
    """All streams of a request in one draw: those of the redrawn case known, the others as they are."""
    known = {stream.id: stream for stream in redraws.streams(draw)}
    return tuple(known.get(stream.id, stream) for stream in whole)
