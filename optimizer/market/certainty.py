"""What certainty is worth: testing a lot or an offer, or a supplier's guarantee of Brix, acid, pectin or grade.

Without it the job is made with the figure of the book, its spread carried as a margin where the rules ask for one.
With a test the job is made again for each reading that may come, at the figure read; with a guarantee at the mean and
spread of what the guarantee leaves possible. What is saved is the worth, and the most that a test may cost or that an
offer may be dearer for it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from statistics import NormalDist
from typing import Literal

from optimizer.blend.margins import standard_deviations
from optimizer.blend.measuring import FIGURES, readings
from optimizer.blend.recipe import best_settled
from optimizer.errors import InputFault, PanwiseError
from optimizer.inputs.models import Figure, Lot, Offer
from optimizer.inputs.names import nearest
from optimizer.market.job import Job, NoRecipe, Priced, cases, cost_of, no_recipe, received_kg
from optimizer.market.resettled import received_prices
from optimizer.prepare.stream import FigureError, Stream

What = Literal["brix", "acid", "pectin", "ph", "grade"]
Goods = Lot | Offer

_STREAM_FIGURE = {
    "brix": "solids_fraction", "acid": "titratable_acid_fraction", "pectin": "pectin_strength",
    "grade": "pectin_strength",
}  # fmt: skip
_FIELDS: dict[str, tuple[str, float, float]] = {
    **{name: (field, least, most) for field, (name, least, most) in FIGURES.items()},
    "grade": ("grade", 1.0, 400.0),
}
_MOST_SDS = 4.0  # a guarantee further out than this is not a figure of this goods
_PREMIUM_ROUNDS = 12
_SAME = 1e-6  # of the money: what settling leaves open


@dataclass(frozen=True, kw_only=True)
class Worth:
    """What knowing one figure of one lot or offer saves on the job."""

    id: str
    figure: str
    saves: float  # money, on the whole job; never below 0
    kg: float  # received kg that the job takes of it as things stand
    cost_without: float
    cost_with: float  # of a test: mean over its readings


@dataclass(frozen=True, kw_only=True)
class Guaranteed(Worth):
    """The same for a guarantee, and by how much dearer the offer may be for it."""

    mean: float  # of the figure, under the guarantee
    sd: float
    kg_with: float  # received kg that the job takes of it at the same price, guaranteed
    premium_per_kg: float  # the job costs the same where the guaranteed offer is dearer by this; 0: not taken anyway


def worth_of_tests(
    job: Job, codes: Sequence[str], *, figures: Sequence[What] = ("brix", "acid", "pectin", "ph"),
    grade_sd: float | None = None,
) -> tuple[Worth, ...]:  # fmt: skip
    """The saving to expect from testing lots and offers before they are used, best first; 0 where nothing hangs on it.

    For each of five possible readings the job is settled again with the goods so measured. A reading that leaves no
    recipe counts as no saving. The Brix of fruit is not asked where a refractometer says when the pan is done.

    Parameters
    ----------
    job : Job
    codes : sequence of str
        Lots and offers to ask about.
    figures : sequence of str
        Which figures; "grade" is of bought pectin.
    grade_sd : float, optional
        How far the grade of a pectin may lie from what is stated [deg USA-SAG]; needed to ask about grades.

    Raises
    ------
    InputFault
        A code is unknown.
    NoRecipe
        The job has no recipe.

    References
    ----------
    .. [1] Expected value of sample information; readings as in `optimizer.blend.measuring`.
    """
    found = []
    for code in codes:
        goods = _goods(job, code)
        for what in figures:
            prior = _prior(job, goods, what, grade_sd)
            if prior is None or (what == "brix" and job.site.has_refractometer):
                continue
            field, least, most = _FIELDS[what]
            without = _made(job, _spread(goods, what, prior.value, prior.sd) if what == "grade" else None)
            mean = 0.0
            for value, weight in zip(*readings(prior, least, most), strict=True):
                cost = _cost_at(_with(job, goods, {field: float(value)}))
                mean += float(weight) * (without.cost if cost is None else cost)
            found.append(
                Worth(
                    id=code, figure=what, saves=_saved(without.cost, mean), kg=without.kg_of(code),
                    cost_without=without.cost, cost_with=mean,
                )
            )  # fmt: skip
    return tuple(sorted(found, key=lambda worth: -worth.saves))


def worth_of_guarantee(
    job: Job, code: str, what: What, *, least: float | None = None, sd: float | None = None,
    grade_sd: float | None = None,
) -> Guaranteed:  # fmt: skip
    """What a supplier's word is worth: a least value, a smaller spread, or both.

    Parameters
    ----------
    job : Job
    code : str
        A lot or an offer.
    what : str
        brix, acid, pectin (fractions) or grade.
    least : float, optional
        The figure is guaranteed to be this or more: what the book expects, cut off below it.
    sd : float, optional
        The figure is guaranteed with this standard deviation instead of the book's.
    grade_sd : float, optional
        As for `worth_of_tests`.

    Raises
    ------
    InputFault
        Nothing is guaranteed, the figure is measured already or not known of these goods, or no goods are like that.
    NoRecipe
        The job has no recipe.
    """
    goods = _goods(job, code)
    prior = _prior(job, goods, what, grade_sd)
    if what == "ph" or prior is None:
        raise InputFault(f"{code}: a guarantee of {what} changes nothing: it is measured, or no figure of these goods")
    if least is None and sd is None:
        raise InputFault(f"{code}: say what is guaranteed: a least {what}, or how far it may lie off")
    field, low, high = _FIELDS[what]
    if least is not None and not low <= least <= high:
        raise InputFault(f"{code}: {what} of at least {least:g}: give {low:g} to {high:g}")
    mean, spread = prior.value, prior.sd if sd is None else min(sd, prior.sd)
    if least is not None:
        mean, spread = above(mean, spread, least, z=max(standard_deviations(r.confidence) for r in job.batches))
    without = _made(job, _spread(goods, what, prior.value, prior.sd) if what == "grade" else None)
    guaranteed = _with(job, goods, {field: mean})
    tighter = _spread(goods, what, mean, spread)
    with_it = _made(guaranteed, tighter)
    saves = _saved(without.cost, with_it.cost)
    return Guaranteed(
        id=code, figure=what, saves=saves, kg=without.kg_of(code), cost_without=without.cost, cost_with=with_it.cost,
        mean=mean, sd=spread, kg_with=with_it.kg_of(code),
        premium_per_kg=_premium(guaranteed, code, tighter, without.cost, with_it) if saves else 0.0,
    )  # fmt: skip


def above(mean: float, sd: float, least: float, *, z: float = 0.0) -> tuple[float, float]:
    """Mean and spread of a normal figure of which only what is at least so much can come.

    The spread is never so large that `z` of it reach below the least value.

    Raises
    ------
    InputFault
        Hardly anything is like that.

    Examples
    --------
    The upper half of a normal distribution: mean σ √(2/π), variance σ² (1 - 2/π).

    >>> mean, sd = above(10.0, 2.0, 10.0)
    >>> round(mean, 4), round(sd, 4)
    (11.5958, 1.2056)
    """
    if sd <= 0.0:
        if least > mean:
            raise InputFault(f"at least {least:g}: the figure is known to be {mean:g}")
        return mean, 0.0
    a = (least - mean) / sd
    if a > _MOST_SDS:
        raise InputFault(f"at least {least:g}: next to nothing is like that (mean {mean:g}, spread {sd:g})")
    normal = NormalDist()
    hazard = normal.pdf(a) / normal.cdf(-a)
    inside_mean, inside_sd = mean + sd * hazard, sd * math.sqrt(max(0.0, 1.0 + a * hazard - hazard**2))
    return inside_mean, min(inside_sd, (inside_mean - least) / z) if z > 0.0 else inside_sd


def _goods(job: Job, code: str) -> Goods:
    both: tuple[Goods, ...] = (*job.lots, *job.offers)
    for goods in both:
        if goods.code == code:
            return goods
    raise InputFault(f'"{code}" is on neither table; {nearest(code, [goods.code for goods in both])}')


def _prior(job: Job, goods: Goods, what: What, grade_sd: float | None) -> Figure | None:
    """What is thought of a figure now; None where it is measured, or no figure of these goods."""
    if what == "grade":
        ingredient = job.book.ingredients.get(goods.item)
        if ingredient is None or ingredient.pectin_grade is None:
            return None
        if grade_sd is None or grade_sd < 0.0:
            raise InputFault(f"{goods.code}: say how far its grade may lie from what is stated, such as 5")
        stated = ingredient.pectin_grade.value if goods.grade is None else goods.grade
        return Figure(value=stated, sd=grade_sd, source="stated by the supplier", status="offer")
    part, field = job.book.fruits.get(goods.item), _FIELDS[what][0]
    if part is None or getattr(goods, field) is not None or (what == "pectin" and goods.spirit_test is not None):
        return None
    return part.ph if what == "ph" else getattr(part, f"{what}_fraction")


def _with(job: Job, goods: Goods, update: dict[str, float]) -> Job:
    """The job with other figures of one lot or offer."""
    return replace(
        job,
        lots=tuple(lot.model_copy(update=update) if lot is goods else lot for lot in job.lots),
        offers=tuple(offer.model_copy(update=update) if offer is goods else offer for offer in job.offers),
    )


Change = Callable[[Stream], Stream]


def _spread(goods: Goods, what: What, value: float, sd: float) -> Change:
    """Streams of these goods with this spread of one figure, whatever the instrument's is."""
    figure = _STREAM_FIGURE[what]

    def change(stream: Stream) -> Stream:
        if stream.id != goods.code:
            return stream
        held = {
            "solids_fraction": stream.per_kg.reading_fraction,
            "titratable_acid_fraction": stream.per_kg.titratable_acid_fraction,
            "pectin_strength": stream.per_kg.pectin_strength,
        }[figure]
        own = FigureError(key=f"lot:{stream.id}:{figure}", figure=figure, sd_per_kg=held * sd / value)
        return replace(stream, errors=(*(e for e in stream.errors if e.figure != figure), own))

    return change


def _made(job: Job, change: Change | None) -> Priced:
    """What the job costs and buys; with changed streams batch by batch.

    Raises
    ------
    NoRecipe
        There is none.
    """
    if change is None:
        return cost_of(job)
    found = []
    for case in cases(job)[0]:
        best, stuck = best_settled(replace(case, streams=tuple(change(stream) for stream in case.streams)))
        if best is None:
            raise NoRecipe(no_recipe(case, stuck))
        found.append(best)
    return Priced(cost=sum(one.cost for one in found), received_kg=received_kg(found))


def _premium(job: Job, code: str, change: Change, cost_without: float, now: Priced) -> float:
    """How much dearer per received kg the guaranteed goods may be before the job costs what it costs without.

    Cost is concave in the price, so a tangent never overshoots: steps walk up to the answer from below.
    """
    price = received_prices(job).get(code)
    if price is None or now.kg_of(code) <= 0.0:
        return 0.0
    premium, made = 0.0, now
    for _ in range(_PREMIUM_ROUNDS):
        kg, open_ = made.kg_of(code), cost_without - made.cost
        if kg <= 0.0 or open_ <= _SAME * abs(cost_without):
            break
        premium += open_ / kg
        made = _made(job.at({code: price + premium}), change)
    return premium


def _saved(without: float, with_it: float) -> float:
    """Never below 0: nobody has to use what he knows; less than settling leaves open is nothing."""
    saved = without - with_it
    return saved if saved > _SAME * max(1.0, abs(without)) else 0.0


def _cost_at(job: Job) -> float | None:
    """A cost; None where the figures contradict each other or leave no recipe."""
    try:
        return cost_of(job).cost
    except PanwiseError:
        return None
