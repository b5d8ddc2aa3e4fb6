"""Vertices met so far, where only prices differ: the cheapest known one is mostly the answer already."""

from __future__ import annotations

import numpy as np

from .certify_many import Whole, columns
from .many_walks import Start, Walked
from .program import Array, LinearProgram
from .scaling import power_of_two, row_unit

MOST = 400  # beyond, comparing with all of them costs more than a few steps of a walk


class KnownVertices:
    """Optimal vertices of draws that share all rows and bounds: each is feasible for every other draw.

    The row prices of a vertex follow from its basic set and the costs of the draw; the certificate then says whether
    the vertex is the answer to this draw too. Where it is not, its basic set is a good place to begin.
    """

    def __init__(self, lp: LinearProgram) -> None:
        m, n = lp.matrix.shape
        self._lp, self._factor = lp, power_of_two(row_unit(lp.matrix))
        self._wide = np.hstack([lp.matrix * self._factor[:, None], -np.eye(m)])
        self._number: dict[bytes, int] = {}
        self._x = np.zeros((0, n))
        self._members = np.zeros((0, m), dtype=np.intp)
        self._inverse = np.zeros((0, m, m))

    def __len__(self) -> int:
        return self._x.shape[0]

    def learn(self, walked: Walked, which: Whole) -> None:
        """Keep the vertices of these walks that are new."""
        room = MOST - len(self)
        new: list[int] = []
        for i in which.tolist():
            if len(new) >= room:
                break
            at_upper = walked.x[i] == self._lp.upper
            key = walked.members[i].tobytes() + at_upper.tobytes() + (walked.row_price[i] > 0.0).tobytes()
            if key not in self._number:
                self._number[key] = len(self) + len(new)
                new.append(i)
        if not new:
            return
        members = walked.members[new]
        inverse = np.linalg.inv(np.moveaxis(self._wide[:, members], 0, 1))
        self._x = np.concatenate([self._x, walked.x[new]])
        self._members = np.concatenate([self._members, members])
        self._inverse = np.concatenate([self._inverse, inverse])

    def cheapest(self, cost: Array) -> Whole:
        """The known vertex that costs least at each draw's prices."""
        return np.asarray((cost @ self._x.T).argmin(axis=1))

    def answers(self, cost: Array, pick: Whole) -> tuple[Array, Array]:
        """x and row prices of each draw at the vertex picked for it."""
        m, n = self._lp.matrix.shape
        full = np.zeros((pick.size, n + m))
        full[:, :n] = cost
        basic_cost = np.take_along_axis(full, self._members[pick], axis=1)
        return self._x[pick], columns(self._inverse[pick], basic_cost) * self._factor

    def start(self, pick: Whole) -> Start:
        """Each walk begins at the basic set of the vertex picked for it."""
        return lambda draws, matrix: (self._members[pick[draws]], self._inverse[pick[draws]])
