"""From how many jars on a fixed charge pays: a delivery, a least order, a bigger pack, a day's overhead."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from optimizer.market.terms import Terms
from optimizer.solver.program import Array

MOST_JARS = 200_000
_EVEN = 1e-9


@dataclass(frozen=True, kw_only=True)
class BreakEven:
    """Jars from which one offer costs no more than another, for the same thing in the jar.

    With whole packs the cheaper one may change to and fro: `first_jars` is where it wins for the first time, `jars`
    where it wins from then on. None: at no number up to the most that was tried.
    """

    id: str
    against: str
    jars: int | None
    first_jars: int | None
    units_per_jar: float  # of this offer, received
    against_units_per_jar: float
    most_jars: int = MOST_JARS


def jars_to_cover(fixed: float, *, gain_per_jar: float) -> int | None:
    """Whole jars whose gain covers a fixed charge; None where a jar gains nothing.

    Parameters
    ----------
    fixed : float
        Money that does not grow with the jars.
    gain_per_jar : float
        Price less what a jar costs by itself.

    Examples
    --------
    >>> jars_to_cover(140.0, gain_per_jar=0.70), jars_to_cover(10.0, gain_per_jar=0.0)
    (200, None)
    """
    if fixed <= 0.0:
        return 0
    return math.ceil(fixed / gain_per_jar - _EVEN) if gain_per_jar > 0.0 else None


def costs(terms: Terms, units: Array) -> Array:
    """What it costs to have so many units of an offer, in whole packs, delivered.

    Parameters
    ----------
    units : array (k,)
        kg received or pieces; 0 costs nothing.
    """
    if terms.pack is None:
        cost = units * terms.base_price + terms.delivery
    else:
        packs = np.maximum(np.ceil(units / terms.pack - _EVEN), terms.tiers[0].least_packs)
        # A few packs more may cost less, where they reach the next step of the price.
        options = [
            np.where(packs <= after - 1, packs, np.inf) * terms.pack * tier.price
            if number == 0
            else np.where(packs <= after - 1, np.maximum(packs, tier.least_packs), np.inf) * terms.pack * tier.price
            for number, (tier, after) in enumerate(zip(terms.tiers, _afters(terms), strict=True))
        ]
        cost = np.min(options, axis=0) + terms.delivery
    if terms.most is not None:
        whole = terms.most if terms.most_packs is None or terms.pack is None else terms.most_packs * terms.pack
        cost = np.where(units > whole * (1.0 + _EVEN), np.inf, cost)
    return np.where(units > 0.0, cost, 0.0)


def cheapest_packs(terms: Terms, units: float) -> int:
    """Whole packs that hold so many units at least cost: a few more where they reach a cheaper step.

    >>> from optimizer.market.terms import Tier
    >>> terms = Terms(id="S", item="sugar", pack=25.0, tiers=(
    ...     Tier(least_packs=1, price=1.0), Tier(least_packs=4, price=0.5)))
    >>> cheapest_packs(terms, 30.0), cheapest_packs(terms, 60.0)
    (2, 4)
    """
    need = terms.packs_for(units)
    options = [need, *(tier.least_packs for tier in terms.tiers if tier.least_packs > need)]
    return min(options, key=lambda packs: (terms.cost(packs), packs))


def _afters(terms: Terms) -> list[float]:
    return [*(float(tier.least_packs) for tier in terms.tiers[1:]), np.inf]


def break_even(
    terms: Terms, units_per_jar: float, against: Terms, against_units_per_jar: float, *, most_jars: int = MOST_JARS
) -> BreakEven:
    """From how many jars on an offer costs no more than another.

    Parameters
    ----------
    units_per_jar, against_units_per_jar : float
        kg received (pieces) of each that a jar takes, so that both do the same.

    Examples
    --------
    A big bag at 0.80 with 45 for the delivery, against small bags at 1.00: it pays from 225 kg on, half a kg a jar.

    >>> from optimizer.market.terms import Tier
    >>> big = Terms(id="big", item="sugar", pack=None, tiers=(Tier(least_packs=1, price=0.8),), delivery=45.0)
    >>> small = Terms(id="small", item="sugar", pack=None, tiers=(Tier(least_packs=1, price=1.0),))
    >>> break_even(big, 0.5, small, 0.5).jars
    450
    """
    jars = np.arange(1.0, most_jars + 1.0)
    mine: Array = costs(terms, np.asarray(jars * units_per_jar))
    other: Array = costs(against, np.asarray(jars * against_units_per_jar))
    with np.errstate(invalid="ignore"):
        wins = (mine <= other + _EVEN * np.where(np.isfinite(other), np.abs(other), 0.0)) & np.isfinite(mine)
    lost = np.flatnonzero(~wins)
    first = np.flatnonzero(wins)
    always = None if lost.size and lost[-1] == most_jars - 1 else int(lost[-1]) + 2 if lost.size else 1
    return BreakEven(
        id=terms.id, against=against.id, jars=always, first_jars=int(first[0]) + 1 if first.size else None,
        units_per_jar=units_per_jar, against_units_per_jar=against_units_per_jar, most_jars=most_jars,
    )  # fmt: skip
