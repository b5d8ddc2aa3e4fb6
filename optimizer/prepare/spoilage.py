"""How fast surplus fruit spoils: what is still usable after some days, and what a lot is worth tomorrow.

Losses of a sorted lot start slowly, then run: a Weibull curve of shape 2.5, fixed so that one tenth is lost when the
fruit is as old as its life. Warmth speeds the clock (Q10); below the coldest temperature of the fruit nothing is
gained. Most lives are storage lives of handbooks and most conditions are judgement: take the days as within a third
(judgement), look at the fruit, and put your own records in its place.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np
from numpy.typing import NDArray

from optimizer.errors import InputFault, OutOfRange
from optimizer.inputs.models import Book, Condition, Decay, Holding, Lot
from optimizer.prepare.fruit import SULPHITED

SHAPE = 2.5  # of the Weibull curve: fits strawberries at ambient (tests/published/checks/decay_strawberry.csv)
LOST_AT_LIFE = 0.10  # share lost when the fruit is as old as its life
LIFE_TO_SCALE = (-math.log1p(-LOST_AT_LIFE)) ** (-1.0 / SHAPE)  # 2.46
KEPT_AT_UNKNOWN_C = 20.0  # judgement: a room
COLDEST_C, WARMEST_C = -40.0, 50.0  # outside, no fruit is kept
_LEAST_LIFE_DAYS = 1e-6  # of a condition whose life factor is 0: gone at once

FloatOrArray = float | NDArray[np.float64]


def decay_of(fruit: str, book: Book) -> Decay:
    """How fast a fruit spoils, by its name or by the item name of one of its parts.

    Raises
    ------
    InputFault
        `decay.csv` has no line for it.

    Examples
    --------
    >>> from optimizer.inputs.book import load_book
    >>> decay_of("plum, flesh with skin", load_book()).life_days
    21.0
    """
    part = book.fruits.get(fruit)
    name = fruit.removesuffix(SULPHITED) if part is None else part.fruit
    found = book.decays.get(fruit) or book.decays.get(name)
    if found is None:
        raise InputFault(
            f"decay.csv: nothing says how fast {fruit} spoils; add a line, or name in `like` what it is like"
        )
    return found


@dataclass(frozen=True, kw_only=True)
class _Course:
    """How one lot spoils: its clock, and the lives and shares of its conditions."""

    pace: float  # equivalent days per day
    age_days: float  # days before it was sorted
    lives: NDArray[np.float64]  # by condition, equivalent days
    shares: NDArray[np.float64]  # by condition when it was sorted, sum 1

    def log_shares(self, days: FloatOrArray) -> NDArray[np.float64]:
        """ln of what is left of each condition `days` after sorting, shape (..., conditions)."""
        before = self.pace * self.age_days
        after = self.pace * (self.age_days + np.asarray(days, dtype=float)[..., None])
        scale = LIFE_TO_SCALE * self.lives
        left: NDArray[np.float64] = (before / scale) ** SHAPE - (after / scale) ** SHAPE
        return left

    def usable(self, days: FloatOrArray) -> Any:
        """Share of the sorted lot that is left."""
        return np.exp(self.log_shares(days)) @ self.shares

    def usable_of_now(self, now: float, later: FloatOrArray) -> Any:
        """Share of what is left at `now` that is left at `later`; exact also where next to nothing is left."""
        logs = self.log_shares(now)
        top = logs.max()
        return (np.exp(self.log_shares(later) - top) @ self.shares) / (np.exp(logs - top) @ self.shares)

    def days_until_lost(self, now: float, lost_fraction: float) -> float:
        """Days from `now` until `lost_fraction` of what is left at `now` is lost."""
        equivalent = self.pace * (self.age_days + now)
        reach = LIFE_TO_SCALE * self.lives * (-math.log1p(-lost_fraction)) ** (1.0 / SHAPE)
        alone = (equivalent**SHAPE + reach**SHAPE) ** (1.0 / SHAPE) / self.pace - self.age_days - now
        low, high = float(alone.min()), float(alone.max())  # a mixture lies between its parts
        while high - low > 1e-9 * max(high, 1.0):
            middle = 0.5 * (low + high)
            if self.usable_of_now(now, now + middle) > 1.0 - lost_fraction:
                low = middle
            else:
                high = middle
        return 0.5 * (low + high)


def _fresh(
    fruit: str, condition: Sequence[tuple[Condition, float]], temperature_C: float, age_days: float, book: Book
) -> _Course:
    if not COLDEST_C <= temperature_C <= WARMEST_C:
        raise OutOfRange(f"temperature_C={temperature_C:g}: the formula holds from {COLDEST_C:g} to {WARMEST_C:g} degC")
    decay = decay_of(fruit, book)
    factors = np.array([book.conditions[name].life_factor for name, _ in condition])
    shares = np.array([share for _, share in condition])
    return _Course(
        pace=decay.q10 ** ((max(temperature_C, decay.coldest_C) - decay.life_at_C) / 10.0),
        age_days=age_days,
        lives=np.maximum(decay.life_days * factors, _LEAST_LIFE_DAYS),
        shares=shares / shares.sum(),
    )


def usable_share(
    fruit: str,
    condition: Sequence[tuple[Condition, float]],
    days: FloatOrArray,
    temperature_C: float,
    *,
    days_since_picking: float = 0.0,
    book: Book,
) -> Any:
    """Share of a sorted lot that is still usable: Σ share · exp((A₀/2.46 L)^2.5 - (A/2.46 L)^2.5) over the conditions.

    A is the age in equivalent days, A₀ the age when the lot was sorted, L the life of the fruit times the life factor
    of the condition. With A₀ = 0, 0.90 is left when A = L. What was sorted out does not count: the share is 1 at
    0 days.

    Parameters
    ----------
    fruit : str
        Name of a fruit, or of one of its parts (`plum`, `plum, flesh with skin`).
    condition : sequence of (condition, share)
        When it was sorted; shares, or kg.
    days : float or array
        Since the lot was sorted [d], 0 or more.
    temperature_C : float
        Kept at [degC], -40 to 50; below the coldest of the fruit it counts as that (see `cold_caution`).
    days_since_picking : float
        From picking to sorting [d], 0 or more, counted at the same temperature.
    book : Book
        Lives by fruit, life factors by condition.

    Returns
    -------
    float or array
        0 to 1, shape of `days`.

    Raises
    ------
    InputFault
        The book does not say how fast this fruit spoils.
    OutOfRange
        A negative time, or a temperature at which no fruit is kept.

    References
    ----------
    .. [1] Lives, Q10 and coldest temperature: data/decay.csv with sources. Shape 2.5 from percent decayed of
       strawberries at ambient. Life factors: data/conditions.csv, mostly judgement.

    Examples
    --------
    >>> from optimizer.inputs.book import load_book
    >>> book = load_book()
    >>> float(usable_share("guava", [("sound", 1.0)], 7.0, 20.0, book=book).round(2))
    0.9
    >>> usable_share("guava", [("sound", 0.5), ("bruised", 0.5)], np.array([0.0, 7.0]), 20.0, book=book).round(2)
    array([1.  , 0.79])
    """
    for name, value in (("days", days), ("days_since_picking", days_since_picking)):
        if not np.all(np.asarray(value) >= 0.0):
            raise OutOfRange(f"{name}: the formula holds from 0 days")
    return _fresh(fruit, condition, temperature_C, days_since_picking, book).usable(days)


def held_as(lot: Lot, book: Book) -> Holding | None:
    """The way a fruit lot is held over where it is not fresh: in the freezer, as sulphited pulp; None for fresh fruit.

    A lot counts as frozen where it is kept at the warmest temperature of the freezer or colder.
    """
    freezer = book.holdings.get("freezer")
    if freezer and freezer.warmest_C is not None and lot.kept_at_C is not None and lot.kept_at_C <= freezer.warmest_C:
        return freezer
    return book.holdings.get("sulphited pulp") if lot.item.endswith(SULPHITED) else None


def _course(lot: Lot, book: Book, on: date) -> tuple[_Course, float]:
    """How a lot of fruit spoils, and the days since it was received."""
    received = lot.received or on
    kept_days = float(max(0, (on - received).days))  # bought ahead: as on the day it comes
    held = held_as(lot, book)
    if held is not None and held.days_least is not None:
        return _Course(
            pace=1.0, age_days=0.0, lives=np.array([max(held.days_least, _LEAST_LIFE_DAYS)]), shares=np.ones(1)
        ), kept_days
    temperature_C = KEPT_AT_UNKNOWN_C if lot.kept_at_C is None else lot.kept_at_C
    age_days = float(max(0, (received - (lot.picked or received)).days))
    return _fresh(lot.item, lot.condition, temperature_C, age_days, book), kept_days


def usable_tomorrow_share(lot: Lot, book: Book, on: date) -> float:
    """Share of what is usable today that is still usable tomorrow.

    Kept at 20 degC, picked when received, received today, each where the lot does not say. Frozen lots and sulphited
    pulp keep by `holding.csv`, whatever their condition; what is no fruit keeps.

    Parameters
    ----------
    lot : Lot
        Its `condition` is that of the day it was received and sorted.
    book : Book
        Lives and life factors.
    on : date
        Today.

    Returns
    -------
    float
        0 to 1.

    Raises
    ------
    InputFault
        The book does not say how fast this fruit spoils.
    OutOfRange
        Kept at a temperature at which no fruit is kept.

    Examples
    --------
    >>> from optimizer.inputs.book import load_book
    >>> lot = Lot(lot="B-1", item="strawberry, whole berry", kind="fruit", on_hand_kg=40.0,
    ...           worth_uncooked_per_kg=0.5, received=date(2026, 7, 3), kept_at_C=20.0)
    >>> round(usable_tomorrow_share(lot, load_book(), date(2026, 7, 4)), 2)
    0.74
    """
    if lot.kind != "fruit":
        return 1.0
    course, kept_days = _course(lot, book, on)
    return float(course.usable_of_now(kept_days, kept_days + 1.0))


def keeps_days(lot: Lot, book: Book, on: date) -> float:
    """Days from today until one tenth of what is usable today is lost; infinite for what is no fruit.

    Defaults and errors as in `usable_tomorrow_share`.

    Examples
    --------
    >>> from optimizer.inputs.book import load_book
    >>> lot = Lot(lot="G-1", item="guava, flesh, ripe", kind="fruit", on_hand_kg=40.0, worth_uncooked_per_kg=0.1)
    >>> round(keeps_days(lot, load_book(), date(2026, 7, 4)), 1)
    7.0
    """
    if lot.kind != "fruit":
        return math.inf
    course, kept_days = _course(lot, book, on)
    return course.days_until_lost(kept_days, LOST_AT_LIFE)


def worth_tomorrow_per_kg(lot: Lot, book: Book, on: date) -> float:
    """What a kg left over today is worth tomorrow: worth uncooked x share still usable [site currency per kg].

    A negative worth (it must be carted off) stays as it is: spoilt fruit is carted off too.

    Examples
    --------
    >>> from optimizer.inputs.book import load_book
    >>> lot = Lot(lot="S-1", item="cane/beet sugar, white", kind="sweetener", on_hand_kg=40.0,
    ...           worth_uncooked_per_kg=0.9)
    >>> worth_tomorrow_per_kg(lot, load_book(), date(2026, 7, 4))
    0.9
    """
    worth = lot.worth_uncooked_per_kg
    return worth if worth <= 0.0 else worth * usable_tomorrow_share(lot, book, on)


def cold_caution(lot: Lot, book: Book) -> str:
    """A sentence where a fresh lot is kept colder than its fruit stands; empty else.

    Examples
    --------
    >>> from optimizer.inputs.book import load_book
    >>> lot = Lot(lot="M-1", item="mango, flesh, ripe", kind="fruit", on_hand_kg=40.0, worth_uncooked_per_kg=0.1,
    ...           kept_at_C=4.0)
    >>> cold_caution(lot, load_book())
    'M-1: mango kept at 4 degC is chilled: below 10 degC it keeps no longer, its skin pits and it rots sooner'
    """
    if lot.kind != "fruit" or lot.kept_at_C is None or held_as(lot, book) is not None:
        return ""
    decay = decay_of(lot.item, book)
    if lot.kept_at_C >= decay.coldest_C:
        return ""
    where = f"{lot.code}: {decay.fruit} kept at {lot.kept_at_C:g} degC"
    if decay.coldest_C > 0.0:
        return (
            f"{where} is chilled: below {decay.coldest_C:g} degC it keeps no longer, its skin pits and it rots sooner"
        )
    return (
        f"{where} may freeze slowly and go soft; counted as kept at {decay.coldest_C:g} degC: warm the store, "
        "or freeze the lot through at -18 degC"
    )
