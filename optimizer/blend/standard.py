"""What the chosen standard asks of one product, looked up once per request."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property

from optimizer.errors import InputFault
from optimizer.inputs.models import Book, FigureStatus, Limit, Product

STANDARDS = ("codex", "eu-2001", "eu-2026", "uk", "us", "india", "canada", "anz", "none")
EU_CHANGE = date(2026, 6, 14)
_SOURCE_OF_EU_DATE = "Directive (EU) 2024/1438: applies from 14 June 2026"


@dataclass(frozen=True, kw_only=True)
class Bound:
    """A figure with where it comes from."""

    value: float
    source: str
    status: FigureStatus

    @classmethod
    def of(cls, limit: Limit) -> Bound:
        if limit.value is None:
            raise ValueError(f"{limit.standard} {limit.parameter}: a rule in words has no bound")
        return cls(value=limit.value, source=limit.source, status=limit.status)


def resolve_standard(name: str, on: date) -> str:
    """The key of a standard; for `eu` the date decides between the two texts.

    Raises
    ------
    InputFault
        Unknown name.

    Examples
    --------
    >>> resolve_standard("eu", date(2026, 6, 13)), resolve_standard("eu", date(2026, 6, 14))
    ('eu-2001', 'eu-2026')
    """
    key = name.strip().lower()
    if key == "eu":
        return "eu-2026" if on >= EU_CHANGE else "eu-2001"
    if key not in STANDARDS:
        raise InputFault(f'standard "{name}" is not known; known are eu, {", ".join(STANDARDS)}')
    return key


@dataclass(frozen=True, kw_only=True)
class ProductLimits:
    """The limits of one standard on one product under one legal name."""

    standard: str
    product: str
    legal_name: str
    limits: tuple[Limit, ...]

    @cached_property
    def _by_parameter(self) -> dict[str, list[Limit]]:
        found: dict[str, list[Limit]] = {}
        for limit in self.limits:
            found.setdefault(limit.parameter, []).append(limit)
        return found

    def _all(self, parameter: str) -> Sequence[Limit]:
        return self._by_parameter.get(parameter, ())

    def _for_fruit(self, parameter: str, fruit: str) -> Bound | None:
        general = None
        for limit in self._all(parameter):
            if limit.value is None:
                continue
            if fruit in limit.fruits:
                return Bound.of(limit)
            if not limit.fruits and not limit.condition:
                general = general or Bound.of(limit)
        return general

    def single(self, parameter: str, kind: str, condition: str = "") -> Bound | None:
        """The general figure of a parameter (no fruit named)."""
        for limit in self._all(parameter):
            if limit.kind == kind and not limit.fruits and limit.condition == condition and limit.value is not None:
                return Bound.of(limit)
        return None

    def fruit_content(self, fruit: str) -> Bound | None:
        """Least kg of this fruit per kg finished."""
        return self._for_fruit("fruit_content", fruit)

    def fruit_to_sweetener(self, fruit: str) -> Bound | None:
        """Least kg of this fruit per kg of sweetener solids."""
        return self._for_fruit("fruit_per_sweetener_solids", fruit)

    def mixed_fruit_to_sweetener(self) -> Bound | None:
        """The milder ratio of a mix that holds at least one fruit of the milder group (21 CFR 150.160)."""
        return self.single("fruit_per_sweetener_solids", "min", "mixed fruit with any of Group II")

    def least_share_of_mix(self, fruit: str) -> Bound | None:
        """Least share of one fruit in a mix: its own figure, or that of all."""
        return self._share(fruit, "min")

    def most_share_of_mix(self, fruit: str) -> Bound | None:
        return self._share(fruit, "max")

    def _share(self, fruit: str, kind: str) -> Bound | None:
        general = None
        for limit in self._all("fruit_share"):
            if limit.kind != kind or limit.value is None:
                continue
            if fruit in limit.fruits:
                return Bound.of(limit)
            if not limit.fruits:
                general = Bound.of(limit)
        return general

    def juice_factor(self, fruit: str) -> Bound | None:
        """kg of juice per kg of its natural solids, where a standard counts juice so."""
        return self._for_fruit("juice_factor", fruit)

    def preservative(self, which: str, *, sulphited: bool) -> Bound | None:
        """Most mg/kg of so2, benzoic or sorbic; a sulphited lot may have a figure of its own."""
        own = self.single(which, "max", "sulphited fruit") if sulphited else None
        return own or self.single(which, "max")

    def words(self, parameter: str) -> tuple[Limit, ...]:
        """Rules in words: bans on mixing, fruits without a standard."""
        return tuple(limit for limit in self._all(parameter) if limit.value is None or limit.kind == "text")


def limits_for(product: Product, book: Book, standard: str, legal_name: str | None = None) -> ProductLimits:
    """Limits of a resolved standard on a product.

    Raises
    ------
    InputFault
        The legal name is not one that the standard has for this product.
    """
    mine = [limit for limit in book.limits if limit.standard == standard and limit.product == product.name]
    names = list(dict.fromkeys(limit.legal_name for limit in mine if limit.legal_name))
    if legal_name is None:
        default = next((limit.legal_name for limit in mine if limit.is_default_name and limit.legal_name), "")
        legal_name = default or product.title
    elif legal_name not in names:
        known = ", ".join(names) or "none"
        raise InputFault(f'"{legal_name}" is no name for {product.title} under {standard}; known: {known}')
    kept = tuple(limit for limit in mine if limit.legal_name in ("", legal_name))
    return ProductLimits(standard=standard, product=product.name, legal_name=legal_name, limits=kept)
