"""Why there is no recipe, and the smallest changes that would make one; each was tried by solving again."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

import numpy as np

from optimizer.blend.case import Case
from optimizer.blend.margins import settle_with_margins
from optimizer.blend.program import Program, build
from optimizer.blend.result import Recipe, Relief, RowReport
from optimizer.blend.rows import Row
from optimizer.blend.rules.acidity import draw_in
from optimizer.blend.rules.pectin import firmness_of
from optimizer.blend.settle import Settled, Stuck
from optimizer.errors import OutOfRange, SolverTrouble
from optimizer.inputs.models import Offer
from optimizer.prepare.goods import goods_stream
from optimizer.prepare.stream import LeftOut, Stream
from optimizer.solver import Outcome, solve_arrays
from optimizer.solver.infeasible import Side, clashing_rows, least_relief
from optimizer.solver.program import Array
from optimizer.units import format_mass

_BEYOND = (1e-4, 1e-3, 1e-2, 0.1, 0.5, 1.5)  # tries beyond what the linear program asks for
_HALVINGS = 4
_MARGIN = 1e-4  # a batch is tried this share below the largest
_USEFUL_KG = 1e-6
# What any kitchen can buy, and how dear one kg of it is beside sugar (judgement; only ranks ways out).
_GOODS = {
    "cane/beet sugar, white": 1.0,
    "citric acid": 3.0,
    "pectin, HM (powder, grade 150)": 20.0,
    "pectin, low-methoxyl (LM)": 25.0,
    "calcium chloride dihydrate": 3.0,
    "trisodium citrate dihydrate": 5.0,
}
_PRESERVATIVES = {"potassium sorbate": "sorbic", "sodium benzoate": "benzoic", "potassium metabisulphite": "so2"}
_HIGHEST_PH = 4.6
_HIGHEST_WATER_ACTIVITY = 0.95
_LEAST_SET_SOLIDS = 0.60


def explain_none(base: Recipe, case: Case, stuck: Sequence[Stuck]) -> Recipe:
    """Fill a recipe of status "none": the clash, the reliefs, and the sentences."""
    if not any(stream.kind in ("fruit",) for stream in case.streams):
        return replace(base, why=("No fruit on the tables can go into this product: see what was left out.",))
    if not stuck:
        return replace(base, why=("No combination of the fruits on the tables is allowed under this name.",))
    clashing = [s for s in stuck if not s.outside]
    if not clashing:
        return replace(base, why=(stuck[0].outside,))
    # The variant with the widest choice tells most: the first of those with most streams.
    program = max((s.program for s in clashing), key=lambda p: len(p.case.streams))
    clashing_now = [program.rows[index] for index in clashing_rows(program.lp) if index < len(program.rows)]
    first = {row.id: row for row in reversed(program.rows) if not row.is_cut}  # a cut is told as its row
    clash = [first[id_] for id_ in dict.fromkeys(row.id for row in clashing_now)]
    reliefs = sorted(_reliefs(program, clash), key=_by_use)
    return replace(
        base,
        clash=tuple(_report(row) for row in clash),
        reliefs=tuple(reliefs),
        why=(_sentence(clash), *_left_out_for_want(base), *_alone(clash), *_no_relief(reliefs)),
    )


def _left_out_for_want(base: Recipe) -> Iterator[str]:
    """Lots that a measurement or a look would bring in: often the true reason."""
    for out in base.left_out:
        if any(word in out.why for word in ("measure", "rot_sorted_out")):
            yield f"{out.id} ({out.item}) was left out: {out.why}."


def _alone(clash: Sequence[Row]) -> tuple[str, ...]:
    if any(row.id == "most_share:elderberry" for row in clash):
        return ("Elderberry is not cooked alone: name another fruit too, for at least half of the fruit.",)
    return ()


def _by_use(relief: Relief) -> tuple[int, float]:
    """What a buyer or cook can do comes before what bends a rule; within each the cheaper first."""
    kind = relief.id.partition(":")[0]
    order = ("buy", "stock", "available", "batch", "confidence")
    return (order.index(kind) if kind in order else len(order), relief.cost_after)


def _sentence(clash: Sequence[Row]) -> str:
    named = [row.meaning for row in clash if row.id != "mass"]
    if not named:
        return "The request cannot be met."
    return "These cannot hold together: " + "; ".join(named) + "."


def _no_relief(reliefs: Sequence[Relief]) -> tuple[str, ...]:
    return () if reliefs else ("No single change was found that makes it possible; ask for a smaller or other batch.",)


def _report(row: Row) -> RowReport:
    lower, upper = row.lower, row.upper
    if row.shown is not None:
        bound, side = row.shown
        lower, upper = (bound, None) if side == "lower" else (None, bound)
    return RowReport(
        id=row.id, meaning=row.meaning, unit=row.unit, value=float("nan"), lower=lower, upper=upper, binding=True,
        price=None, price_unit=row.price_unit, price_holds=None, reason=row.reason, source=row.source,
        status=row.status,
    )  # fmt: skip


def _reliefs(program: Program, clash: Sequence[Row]) -> Iterator[Relief]:
    yield from _smaller_batch(program)
    yield from _buy(program)
    yield from _less_sure(program)
    for row in clash:
        if row.is_fixed_by_nature:
            continue
        relief = _ph(program, row) if row.shown is not None else _move(program, row)
        if relief is not None:
            yield relief


def _settled(case: Case) -> Settled | None:
    try:
        found = settle_with_margins(case, case.request.confidence)
    except (SolverTrouble, OutOfRange):
        return None
    return found if isinstance(found, Settled) else None


def _move(program: Program, row: Row) -> Relief | None:
    """The least move of one bound that makes a recipe, in the unit of the bound."""
    index = program.rows.index(row)
    side: Side = "lower" if row.lower is not None else "upper"
    amount = least_relief(program.lp, index, side)
    if amount is None:
        return None
    size = 1.0
    if row.denominator is not None:
        x = _relieved(program, index, amount)
        if x is None:
            return None
        size = max(abs(row.denominator.at(x)), 1e-12)
    by = amount / size

    def bound_at(beyond: float) -> float:
        step = by * (1.0 + beyond) + 1e-9
        return row.bound - step if side == "lower" else row.bound + step

    if row.id == "least_solids" and firmness_of(program.case) and bound_at(0.0) < _LEAST_SET_SOLIDS:
        return None  # no set with full sugar there
    if side == "lower" and bound_at(0.0) <= 0.0:
        return None  # "none at all" is another request, not a way out of this one
    if row.id == "water_activity":
        return _water_activity(program.case)

    def at(beyond: float) -> Settled | None:
        moved = (*program.case.moved_bounds, (row.id, bound_at(beyond)))
        return _settled(replace(program.case, moved_bounds=moved, declared_fruit_fraction=None))

    least = _smallest(at)
    if least is None:
        return None
    beyond, found = least
    bound = bound_at(beyond)
    step = abs(bound - row.bound)
    kind, _, id_ = row.id.partition(":")
    if kind in ("stock", "available"):
        return Relief(
            id=row.id, change=f"have {format_mass(step)} more of {id_}", amount=step, unit="kg received",
            cost_after=found.cost,
        )  # fmt: skip
    word = "ask for less" if side == "lower" else "allow more"
    lawful = "; then it may not be sold under this name" if row.is_law else ""
    return Relief(
        id=row.id, change=f"{word}: {_bound_in_words(program.case, row, bound)} (not: {row.meaning}){lawful}",
        amount=step, unit=row.unit, cost_after=found.cost,
    )  # fmt: skip


def _smallest(at: Callable[[float], Settled | None]) -> tuple[float, Settled] | None:
    """The smallest share beyond what the linear program asks for at which the whole recipe settles.

    The linear program knows neither the cook nor margins that further cuts ask for, so more may be needed.
    """
    failed = 0.0
    for beyond in _BEYOND:
        found = at(beyond)
        if found is None:
            failed = beyond
            continue
        best = (beyond, found)
        for _ in range(_HALVINGS if failed else 0):
            middle = 0.5 * (failed + best[0])
            found = at(middle)
            if found is None:
                failed = middle
            else:
                best = (middle, found)
        return best
    return None


def _less_sure(program: Program) -> Iterator[Relief]:
    """The highest confidence at which there is a recipe, where margins are what stands in the way."""
    request = program.case.request
    if request.confidence <= 0.5:
        return

    def at(confidence: float) -> Settled | None:
        return _settled(replace(program.case, cuts=(), request=replace(request, confidence=confidence)))

    best = at(0.5)
    if best is None:
        return
    good, bad = 0.5, request.confidence
    for _ in range(6):
        middle = round(0.5 * (good + bad), 3)
        found = at(middle)
        if found is None:
            bad = middle
        else:
            good, best = middle, found
    yield Relief(
        id="confidence", change=f"be content with a confidence of {good:.2f} instead of {request.confidence:.2f}",
        amount=good, unit="confidence", cost_after=best.cost,
    )  # fmt: skip


def _water_activity(case: Case) -> Relief | None:
    """The lowest water activity that makes a recipe: bisection, since the limit sits in every coefficient."""
    asked = case.request.water_activity_most
    if asked is None:
        return None

    def at(limit: float) -> Case:
        return replace(case, request=replace(case.request, water_activity_most=limit))

    bad, good = asked, _HIGHEST_WATER_ACTIVITY
    for _ in range(12):
        middle = 0.5 * (good + bad)
        has_answer = solve_arrays(build(at(middle)).lean).status.has_answer
        good, bad = (middle, bad) if has_answer else (good, middle)
    limit = math.ceil(good * 1000.0) / 1000.0
    found = _settled(at(limit))
    if found is None:
        return None
    return Relief(
        id="water_activity", change=f"allow a higher water activity: {limit:.3f} (not: {asked:.2f})",
        amount=limit - asked, unit="water activity", cost_after=found.cost,
    )  # fmt: skip


def _bound_in_words(case: Case, row: Row, bound: float) -> str:
    if row.id == "pectin_strength":
        return f"firmness {(firmness_of(case) or 0.0) * bound:.2f}"
    if "mg per kg" in row.unit:
        return f"{bound:.0f} mg/kg"
    if row.unit.startswith("kg fruit per kg sweetener"):
        return f"{bound:.2f} kg per kg"
    if row.unit == "kg":
        return format_mass(bound)
    if "boil_off" in row.id or row.id == "most_added_water":
        return f"{bound * 100:.3g} kg per 100 kg"
    if row.id in ("least_fruit", "least_flesh", "least_peel"):
        return f"{bound * 100:.3g} g per 100 g"
    return f"{bound * 100:.3g} %"


def _relieved(program: Program, index: int, amount: float) -> Array | None:
    """A recipe of the program with one row's bound moved by the amount."""
    lower, upper = program.lp.row_lower.copy(), program.lp.row_upper.copy()
    slack = amount * (1.0 + 1e-9) + 1e-12
    if np.isfinite(lower[index]):
        lower[index] -= slack
    if np.isfinite(upper[index]):
        upper[index] += slack
    return solve_arrays(replace(program.lp, row_lower=lower, row_upper=upper)).x


def _ph(program: Program, row: Row) -> Relief | None:
    """The nearest pH bound that makes a recipe: bisection, since the bound sits in every coefficient."""
    if row.shown is None:
        return None
    drawn, side = row.shown
    if side == "lower" and firmness_of(program.case):
        return None  # below it a gel weeps
    if side == "lower":
        good, bad = 2.0, drawn
    else:
        good, bad = _HIGHEST_PH, drawn + draw_in(program.case)

    def case(ph: float) -> Case:
        return replace(program.case, moved_bounds=(*program.case.moved_bounds, (row.id, ph)))

    def works(ph: float) -> bool:
        return solve_arrays(build(case(ph)).lean).status.has_answer

    if not works(good):
        return None
    for _ in range(20):
        middle = 0.5 * (good + bad)
        good, bad = (middle, bad) if works(middle) else (good, middle)
    bound = round(good + (0.005 if side == "upper" else -0.005), 2)
    found = _settled(case(bound))
    if found is None:
        return None
    was = bad if side == "upper" else drawn
    word = "allow a higher pH" if side == "upper" else "allow a lower pH"
    return Relief(
        id=row.id, change=f"{word}: {bound:.2f} (not: {row.meaning})",
        amount=abs(bound - was), unit="pH", cost_after=found.cost,
    )  # fmt: skip


def _smaller_batch(program: Program) -> Iterator[Relief]:
    """The largest batch that can be made: all rows but stock scale with the batch."""
    lp = program.lean
    cost = np.zeros_like(lp.cost)
    cost[-1] = -1.0
    lower = lp.lower.copy()
    lower[-1] = 0.0
    outcome: Outcome = solve_arrays(replace(lp, cost=cost, lower=lower))
    if outcome.x is None:
        return
    batch = float(outcome.x[-1]) * (1.0 - _MARGIN)
    asked = program.case.request.batch_kg
    if batch < 0.01 * asked or batch >= asked:
        return
    request = replace(program.case.request, batch_kg=batch)
    found = _settled(replace(program.case, request=request))
    if found is not None:
        yield Relief(
            id="batch", change=f"cook {format_mass(batch)} instead of {format_mass(asked)}", amount=batch, unit="kg",
            cost_after=found.cost,
        )  # fmt: skip


def _usual_goods(case: Case) -> dict[str, float]:
    """Goods that any kitchen can buy, with a weight each; where one is asked for, preservatives the standard knows."""
    goods = dict(_GOODS)
    if case.request.keeps == "preservative":
        goods.update(
            (name, 10.0) for name, which in _PRESERVATIVES.items() if case.limits.single(which, "max") is not None
        )
    return goods


def _bought(case: Case, name: str, setting: str | None) -> Stream | None:
    """An ingredient of the book as if it were on offer for nothing, without limit."""
    item = case.book.ingredients.get(name)
    if item is None:
        return None
    offer = Offer.model_validate(
        {"offer": f"buy: {name}", "supplier": "", "item": name, "kind": item.kind, "price": 0.0, "setting": setting}
    )
    made = goods_stream(offer, item, case.product, case.book, wants_preservative=True)
    return None if isinstance(made, LeftOut) else made


def _buy(program: Program) -> Iterator[Relief]:
    """What to buy: one of the usual goods alone where that is enough, else the fewest kg of several together."""
    case = program.case
    speed = next((s.setting for s in case.streams if s.kind == "pectin"), None) or "medium"
    goods = {name: made for name in _usual_goods(case) if (made := _bought(case, name, speed)) is not None}
    enough = False
    for name, stream in goods.items():
        kg = _least_kg(case, {name: stream})
        if kg is None or kg[name] <= _USEFUL_KG * case.request.batch_kg:
            continue
        relief = _with_goods(case, {name: stream}, kg)
        if relief is not None:
            enough = True
            yield relief
    if not enough and len(goods) > 1:
        relief = _together(case, goods)
        if relief is not None:
            yield relief


def _together(case: Case, goods: dict[str, Stream]) -> Relief | None:
    """What to buy of several goods at once: a recipe with all of them on offer at prices of the usual order."""
    weights = _usual_goods(case)
    priced = tuple(replace(stream, price_per_received_kg=weights[name]) for name, stream in goods.items())
    found = _settled(replace(case, streams=(*case.streams, *priced)))
    if found is None:
        return None
    first = len(found.case.streams) - len(priced)
    bought = {name: float(kg) for name, kg in zip(goods, found.x[first : first + len(priced)], strict=True)}
    wanted = {name: kg for name, kg in bought.items() if kg > _USEFUL_KG * case.request.batch_kg}
    if not wanted:
        return None
    parts = " and ".join(f"{format_mass(kg)} of {name}" for name, kg in wanted.items())
    spent = sum(weights[name] * kg for name, kg in wanted.items())
    return Relief(
        id="buy", change=f"buy {parts} (their price comes on top)", amount=sum(wanted.values()), unit="kg",
        cost_after=found.cost - spent,
    )  # fmt: skip


def _least_kg(case: Case, goods: dict[str, Stream]) -> dict[str, float] | None:
    """Fewest kg of the goods that make a recipe; None where they do not."""
    n = len(case.streams)
    program = build(replace(case, streams=(*case.streams, *goods.values())))
    cost = np.zeros_like(program.lean.cost)
    weights = _usual_goods(case)
    cost[n : n + len(goods)] = [weights[name] for name in goods]
    x = solve_arrays(replace(program.lean, cost=cost)).x
    return None if x is None else {name: float(kg) for name, kg in zip(goods, x[n:], strict=False)}


def _with_goods(case: Case, goods: dict[str, Stream], kg: dict[str, float]) -> Relief | None:
    """Cost with just these kg on hand for nothing: what they may cost is for the buyer to add."""

    def at(beyond: float) -> Settled | None:
        streams = tuple(replace(stream, received_most_kg=kg[name] * (1.0 + beyond)) for name, stream in goods.items())
        return _settled(replace(case, streams=(*case.streams, *streams)))

    least = _smallest(at)
    if least is None:
        return None
    beyond, found = least
    parts = " and ".join(f"{format_mass(kg[name] * (1.0 + beyond))} of {name}" for name in goods)
    total = sum(kg[name] * (1.0 + beyond) for name in goods)
    return Relief(
        id="buy", change=f"buy {parts} (its price comes on top)", amount=total, unit="kg", cost_after=found.cost
    )
