"""Errors of figures as lines of a matrix, and the tangent cuts that keep a row whole when its figures err.

Σ ā_i x_i - z ‖E x‖ ≥ b asks for a row to hold at a confidence; E has one line per source of error. For any direction u
of length one ‖E x‖ ≥ u · E x, so Σ (ā_i - z Σ_k u_k E_ki) x_i ≥ b follows from it and is linear. A cut stores u by the
key of each source, so it stays true whatever streams stand beside, and at whatever state the row is written anew.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from optimizer.blend.rows import Form, Row
from optimizer.prepare.stream import Stream
from optimizer.solver.program import Array

# The figure whose error moves a row, and the figure of the composition which that error is relative to.
_FIGURES: Mapping[str, tuple[str, str]] = {
    "pectin_strength": ("pectin_strength", "pectin_strength"),
    "least_solids": ("solids_fraction", "reading_fraction"),
}


@dataclass(frozen=True, kw_only=True)
class Cut:
    """A tangent to the margin of one row."""

    row_id: str
    z: float  # standard deviations that the row must bear
    direction: Mapping[str, float]  # by the key of the error; of length one or less


def error_lines(row: Row, streams: Sequence[Stream]) -> tuple[tuple[str, ...], Array]:
    """Keys of the sources of error of a row, and E: one standard deviation of its numerator per kg.

    Parameters
    ----------
    row : Row
        A row whose figures may err; n streams.
    streams : sequence of Stream
        The columns.

    Returns
    -------
    keys : tuple of str
        The s sources of error; a figure of the book is one source for all lots of that row.
    lines : array
        (s, n), in units of the numerator per kg; (0, n) where nothing errs.
    """
    wanted, relative_to = _FIGURES.get(row.id, ("", ""))
    lines: dict[str, Array] = {}
    for column, stream in enumerate(streams):
        coefficient = float(row.numerator.streams[column])
        base = getattr(stream.per_kg, relative_to) if relative_to else 0.0
        if coefficient == 0.0 or base <= 0.0:
            continue
        for error in stream.errors:
            if error.figure == wanted and error.sd_per_kg > 0.0:
                line = lines.setdefault(error.key, np.zeros(len(streams)))
                line[column] += coefficient * error.sd_per_kg / base
    return tuple(lines), np.array(list(lines.values())).reshape(len(lines), len(streams))


def with_cuts(row: Row, cuts: Sequence[Cut], streams: Sequence[Stream]) -> tuple[Row, ...]:
    """A row, and behind it the cuts that belong to it; they keep its id, bound and reason."""
    own = [cut for cut in cuts if cut.row_id == row.id]
    if not own:
        return (row,)
    keys, lines = error_lines(row, streams)
    cut_rows = []
    for cut in own:
        slope = np.array([cut.direction.get(key, 0.0) for key in keys]) @ lines
        cut_rows.append(replace(row, numerator=row.numerator - Form(streams=cut.z * slope), is_cut=True))
    return (row, *cut_rows)
