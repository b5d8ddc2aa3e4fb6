"""A rule of the blend as data: a ratio of two linear forms that must stay above or below a bound.

Every rule of this model reads "numerator / denominator ≥ bound" or "≤ bound", with a denominator that is positive in
any recipe: fruit per kg finished, solids per kg of liquid, kilograms from a lot. Written as
numerator - bound · denominator it is linear, and a person can be told the value, the bound and the margin.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from optimizer.solver.program import Array


@dataclass(frozen=True, kw_only=True, eq=False)
class Form:
    """A linear form over the columns of a blend [kg]: streams, then water added, boiled off, finished."""

    streams: Array  # (n,)
    water: float = 0.0
    boil_off: float = 0.0
    finished: float = 0.0

    def coefficients(self) -> Array:
        """All coefficients in the order of the columns, (n + 3,)."""
        n = self.streams.size
        found = np.empty(n + 3)
        found[:n] = self.streams
        found[n], found[n + 1], found[n + 2] = self.water, self.boil_off, self.finished
        return found

    def at(self, x: Array) -> float:
        """Value of the form for an answer x, (n + 3,)."""
        return float(self.coefficients() @ x)

    def __add__(self, other: Form) -> Form:
        return self._with(other, 1.0)

    def __sub__(self, other: Form) -> Form:
        return self._with(other, -1.0)

    def __mul__(self, factor: float) -> Form:
        return Form(
            streams=self.streams * factor,
            water=self.water * factor,
            boil_off=self.boil_off * factor,
            finished=self.finished * factor,
        )

    __rmul__ = __mul__

    def _with(self, other: Form, factor: float) -> Form:
        return Form(
            streams=self.streams + factor * other.streams,
            water=self.water + factor * other.water,
            boil_off=self.boil_off + factor * other.boil_off,
            finished=self.finished + factor * other.finished,
        )


@dataclass(frozen=True, kw_only=True, eq=False)
class Row:
    """One rule: lower ≤ numerator / denominator ≤ upper, or the numerator alone where there is no denominator.

    Only one side is given, except for a balance (both sides equal, no denominator). `price_unit` names the unit in
    which the row's price is quoted: the unit of the numerator.
    """

    id: str
    meaning: str
    unit: str
    numerator: Form
    denominator: Form | None = None
    lower: float | None = None
    upper: float | None = None
    price_unit: str
    reason: str
    source: str
    status: str = "judgement"
    is_fixed_by_nature: bool = False  # a balance or a physical limit: no relief is offered
    is_law: bool = False  # the standard's figure: past it the product may not bear its name
    shown: tuple[float, str] | None = None  # the bound as a person thinks of it (pH rows), with its unit
    is_cut: bool = False  # a tangent to the margin of the row of the same id

    @property
    def bound(self) -> float:
        """The one bound of the row."""
        bound = self.lower if self.lower is not None else self.upper
        if bound is None:
            raise ValueError(f"row {self.id} has no bound")
        return bound

    def moved(self, bound: float) -> Row:
        """The same rule with another bound."""
        return replace(self, lower=bound) if self.lower is not None else replace(self, upper=bound)

    def linear(self) -> tuple[Array, float, float]:
        """Coefficients (n + 3,), lower and upper of the row as the solver sees it."""
        if self.denominator is None:
            lower = -np.inf if self.lower is None else self.lower
            upper = np.inf if self.upper is None else self.upper
            return self.numerator.coefficients(), lower, upper
        form = self.numerator - self.denominator * self.bound
        return (
            form.coefficients(),
            0.0 if self.lower is not None else -np.inf,
            0.0 if self.upper is not None else np.inf,
        )

    def value(self, x: Array) -> float:
        """What the recipe x reaches, in the unit of the bound."""
        top = self.numerator.at(x)
        if self.denominator is None:
            return top
        bottom = self.denominator.at(x)
        return top / bottom if abs(bottom) > 1e-12 else 0.0
