"""Many programs of one shape, and their answers, as plain arrays."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from .program import Array, LinearProgram, Status
from .scaling import check_program


@dataclass(frozen=True)
class Draws:
    """Many draws of one program: what differs is given with the draw as its first axis, the rest is that of `base`.

    Parameters
    ----------
    base : LinearProgram
        The program the draws vary; no whole numbers.
    cost, lower, upper : array (draws, n), optional
    matrix : array (draws, m, n), optional
    row_lower, row_upper : array (draws, m), optional

    Raises
    ------
    ValueError
        Shapes that do not fit, numbers of draws that differ, NaN, infinite coefficients, whole numbers.

    Examples
    --------
    >>> lp = LinearProgram(
    ...     cost=np.array([2.0, 3.0]), matrix=np.array([[1.0, 1.0]]), row_lower=np.array([4.0]),
    ...     row_upper=np.array([np.inf]), lower=np.zeros(2), upper=np.array([1.0, 10.0]),
    ... )
    >>> draws = Draws(lp, row_lower=np.array([[4.0], [5.0], [6.0]]))
    >>> len(draws), draws.program(2).row_lower.tolist()
    (3, [6.0])
    """

    base: LinearProgram
    cost: Array | None = None
    matrix: Array | None = None
    row_lower: Array | None = None
    row_upper: Array | None = None
    lower: Array | None = None
    upper: Array | None = None

    def __post_init__(self) -> None:
        check_program(self.base)
        if self.base.is_mixed_integer:
            raise ValueError("draws of whole numbers: solve them one by one")
        counts = {}
        for name in NAMES:
            values = getattr(self, name)
            if values is None:
                continue
            shape = getattr(self.base, name).shape
            if values.shape[1:] != shape:
                wanted = ", ".join(["draws", *map(str, shape)])
                raise ValueError(f"{name} has shape {values.shape}; draws of this program need ({wanted})")
            counts[name] = values.shape[0]
            _check_figures(name, values)
        if not counts:
            raise ValueError("nothing differs between the draws: give at least one array")
        if len(set(counts.values())) > 1:
            raise ValueError(f"the arrays hold different numbers of draws: {counts}")

    def __len__(self) -> int:
        return next(len(values) for name in NAMES if (values := getattr(self, name)) is not None)

    def program(self, draw: int) -> LinearProgram:
        """One draw as a program of its own."""
        return LinearProgram(
            cost=self.of("cost", draw), matrix=self.of("matrix", draw), row_lower=self.of("row_lower", draw),
            row_upper=self.of("row_upper", draw), lower=self.of("lower", draw), upper=self.of("upper", draw),
        )  # fmt: skip

    def of(self, name: str, draws: int | slice | NDArray[np.int_]) -> Array:
        """An array of some draws; without the first axis where it is the same for all."""
        values: Array | None = getattr(self, name)
        if values is None:
            same: Array = getattr(self.base, name)
            return same
        return np.asarray(values[draws])

    def part(self, draws: slice) -> Draws:
        """Some of the draws, without copying."""
        some = {name: values[draws] for name in NAMES if (values := getattr(self, name)) is not None}
        return Draws(self.base, **some)


NAMES = tuple(field.name for field in fields(Draws) if field.name != "base")


def _check_figures(name: str, values: Array) -> None:
    """As `check_program`, for all draws in one go."""
    with np.errstate(all="ignore"):
        total = float(np.sum(values))  # not finite if any figure is not; cheaper than looking at each
    if np.isfinite(total):
        return
    wrong = ~np.isfinite(values)
    if name in ("lower", "row_lower"):
        wrong &= values != -np.inf
    elif name in ("upper", "row_upper"):
        wrong &= values != np.inf
    if wrong.any():
        draw, *place = (int(i) for i in np.argwhere(wrong)[0])
        raise ValueError(f"{name} of draw {draw} holds {values[draw, *place]} at {place}; give a finite figure")


@dataclass(frozen=True, kw_only=True)
class Answers:
    """Answers to many draws, in their order. Read values only where `has_answer`; elsewhere they are NaN.

    Every optimum has passed the same certificate as a single solve, and every "infeasible" is shown by Farkas prices,
    where `certified` says so.
    """

    status: NDArray[np.object_]  # (draws,) of Status
    objective: Array  # (draws,) [money]
    x: Array | None  # (draws, n), if asked for
    row_price: Array | None  # (draws, m), if asked for
    certified: NDArray[np.bool_]  # (draws,)
    basic_sets: int  # different optimal basic sets met by the array way
    steps: int  # changes of basis of all draws together
    by_solver: int  # draws left to the solver: open columns, or too many steps
    resolved: int  # answers refused by the certificate and solved again cold
    seconds: float

    @property
    def has_answer(self) -> NDArray[np.bool_]:
        return np.asarray(self.status == Status.OPTIMAL, dtype=bool)

    @property
    def infeasible(self) -> int:
        """Number of draws without an answer."""
        return int((self.status == Status.INFEASIBLE).sum())

    def __len__(self) -> int:
        return self.objective.size


def joined(parts: Sequence[Answers]) -> Answers:
    """Answers to blocks of draws, one after the other; basic sets of different blocks are counted apart."""

    if len(parts) == 1:
        return parts[0]

    def together(name: str) -> Array | None:
        arrays = [getattr(part, name) for part in parts]
        return None if any(array is None for array in arrays) else np.concatenate(arrays)

    return Answers(
        status=np.concatenate([part.status for part in parts]),
        objective=np.concatenate([part.objective for part in parts]),
        x=together("x"),
        row_price=together("row_price"),
        certified=np.concatenate([part.certified for part in parts]),
        basic_sets=sum(part.basic_sets for part in parts),
        steps=sum(part.steps for part in parts),
        by_solver=sum(part.by_solver for part in parts),
        resolved=sum(part.resolved for part in parts),
        seconds=sum(part.seconds for part in parts),
    )
