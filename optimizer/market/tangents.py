"""Tangents of margins that several ways of one batch share: kept once, and only while an answer lies on them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from optimizer.blend.case import Case
from optimizer.blend.cuts import Cut
from optimizer.blend.margins import cut_rows
from optimizer.solver import Outcome

_TOUCHES = 1e-4  # of all that the row of a tangent adds up


@dataclass(frozen=True, eq=False)
class _Same:
    """A tangent, equal to another with the same direction."""

    cut: Cut

    def _key(self) -> tuple[object, ...]:
        direction = tuple(sorted((key, round(value, 12)) for key, value in self.cut.direction.items()))
        return self.cut.row_id, round(self.cut.z, 12), direction

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Same) and self._key() == other._key()

    def __hash__(self) -> int:
        return hash(self._key())


def each_once(cuts: Iterable[Cut]) -> tuple[Cut, ...]:
    """Tangents without those that say the same.

    >>> cut = Cut(row_id="pectin_strength", z=1.28, direction={"a": 0.6, "b": 0.8})
    >>> len(each_once([cut, Cut(row_id="pectin_strength", z=1.28, direction={"b": 0.8, "a": 0.6})]))
    1
    """
    return tuple(same.cut for same in dict.fromkeys(map(_Same, cuts)))


def touching(case: Case, outcome: Outcome) -> tuple[Cut, ...]:
    """The tangents that an answer lies on: the others only make the program large."""
    assert outcome.x is not None
    kept = []
    for cut in case.cuts:
        for row in cut_rows(case, [cut]):
            coefficients, lower, _ = row.linear()
            size = float(np.abs(coefficients) @ np.abs(outcome.x)) or 1.0
            if float(coefficients @ outcome.x) - lower <= _TOUCHES * size:
                kept.append(cut)
    return tuple(kept)
