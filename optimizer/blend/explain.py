"""Why the recipe is so: what binds, what one unit more is worth, at which price it would change."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from optimizer.blend.case import Case
from optimizer.blend.margins import carries_margin, margin_of, settle_with_margins
from optimizer.blend.program import Program, build, decision_price
from optimizer.blend.result import Amount, Recipe, RowReport, WouldChange
from optimizer.blend.rows import Row
from optimizer.blend.rules.acidity import draw_in
from optimizer.blend.settle import Settled, Stuck, variants
from optimizer.errors import SolverTrouble
from optimizer.physics.pectin import required_strength_per_kg
from optimizer.prepare.stream import Stream
from optimizer.solver import Outcome, solve_arrays
from optimizer.solver.program import Array
from optimizer.solver.ranging import Ranges, ranging
from optimizer.units import format_money

_BINDS = 1e-6  # relative to the size of the bound
_USED_KG = 1e-7  # per kg of batch
_ENTERS_KG = 1e-6  # per kg of batch: less than that is no use, but a corner that gives way
_PH_STEP = 0.10
_STEP = 1e-6  # an offer is tried this far below its entry price, relative to prices about


def row_reports(best: Settled) -> tuple[RowReport, ...]:
    """Every row with its value, whether it binds, and its price with the range in which that holds."""
    program, outcome = best.program, best.outcome
    prices = outcome.row_price
    ranges = None if prices is None else ranging(program.lp, outcome)
    reports = []
    for index, row in enumerate(program.rows):
        if row.is_cut:
            continue  # told with the row it belongs to
        cuts = [i for i, other in enumerate(program.rows) if other.is_cut and other.id == row.id]
        price = None if prices is None or row.id == "fruit_mix" else float(prices[index] + sum(prices[i] for i in cuts))
        if row.id == "least_fruit" and program.row("fruit_mix") is not None:
            price = None  # the declared content is searched for, so it has no price of its own
        value = row.value(best.x)
        lower, upper = row.lower, row.upper
        if row.shown is not None:
            bound, side = row.shown
            value = best.prediction.ph
            lower, upper = (bound, None) if side == "lower" else (None, bound)
        reports.append(
            RowReport(
                id=row.id, meaning=row.meaning, unit=row.unit, value=value, lower=lower, upper=upper,
                binding=_binds(row, best.x, price) or any(_binds(program.rows[i], best.x, None) for i in cuts),
                price=price, price_unit=row.price_unit, margin=_margin(row, best),
                price_holds=None if cuts else _price_holds(row, index, ranges, best),
                if_moved=None if prices is None else _if_moved(row, best), reason=row.reason, source=row.source,
                status=row.status,
            )
        )  # fmt: skip
    return tuple(reports)


def _margin(row: Row, best: Settled) -> float | None:
    """What the value at the mean keeps from the bound so that the row holds at the confidence asked for."""
    confidence = best.case.request.confidence
    if confidence <= 0.5 or not carries_margin(best.case, row.id):
        return None
    return margin_of(best.case, row, best.x, confidence)


def _binds(row: Row, x: Array, price: float | None) -> bool:
    """A bound binds where the batch lies on it; a price says so too."""
    if price is not None and abs(price) > 1e-9:
        return True
    coefficients, lower, upper = row.linear()
    size = float(np.abs(coefficients) @ np.abs(x)) or 1.0
    value = float(coefficients @ x)
    return min(abs(value - lower), abs(upper - value)) <= _BINDS * size


def _price_holds(row: Row, index: int, ranges: Ranges | None, best: Settled) -> tuple[float, float] | None:
    """Bounds between which the price stays: exact where the denominator is fixed (kg finished) or absent."""
    if ranges is None or row.shown is not None or row.id == "mass":
        return None
    low, high = float(ranges.rhs_from[index]), float(ranges.rhs_to[index])
    if row.denominator is None:
        return low, high
    only_finished = not np.any(row.denominator.streams) and not row.denominator.water and not row.denominator.boil_off
    if not only_finished:
        return None
    size = row.denominator.at(best.x)
    return row.bound + low / size, row.bound + high / size


def _if_moved(row: Row, best: Settled) -> tuple[float, float] | None:
    """pH rows: the bound a tenth further out, and what the batch would then cost more or less, by solving again."""
    if row.shown is None or not _binds(row, best.x, None):
        return None
    shown, side = row.shown
    step = _PH_STEP if side == "upper" else -_PH_STEP
    before = shown + (draw_in(best.case) if side == "upper" else 0.0)
    moved = (*best.case.moved_bounds, (row.id, before + step))
    outcome = solve_arrays(build(replace(best.case, moved_bounds=moved)).lp)
    return None if outcome.objective is None else (shown + step, outcome.objective - best.cost)


def _with_price(program: Program, index: int, price_per_received_kg: float) -> Outcome:
    """Solve again with another price of one stream; rows stay as they are."""
    stream = program.case.streams[index]
    cost = program.lp.cost.copy()
    cost[index] += (price_per_received_kg - decision_price(program.case, stream)) / stream.usable_fraction
    return solve_arrays(replace(program.lp, cost=cost))


def _received(outcome: Outcome, index: int, stream: Stream) -> float:
    return 0.0 if outcome.x is None else float(outcome.x[index]) / stream.usable_fraction


def would_change(best: Settled, whole: Case) -> tuple[WouldChange, ...]:
    """For each stream not used the price at which it would enter, for each used one the range of no change."""
    program, outcome = best.program, best.outcome
    if outcome.reduced_cost is None:
        return ()
    ranges = ranging(program.lp, outcome)
    batch = program.case.request.batch_kg
    found: list[WouldChange] = []
    for index, stream in enumerate(program.case.streams):
        price = decision_price(program.case, stream)
        if best.x[index] > _USED_KG * batch:
            found.append(_range_of_used(stream, index, program, ranges))
            continue
        entry = price - float(outcome.reduced_cost[index]) * stream.usable_fraction
        step = _STEP * max(1.0, abs(price), abs(entry))
        then = _received(_with_price(program, index, entry - step), index, stream)
        if then <= _ENTERS_KG * batch:
            again = _entry_by_solving(program, index, best.cost, min(entry, price))
            if again is None:
                found.append(
                    WouldChange(
                        id=stream.id, item=stream.item, used=False, price_per_kg=price,
                        note="enters at no price: a rule keeps it out",
                    )
                )  # fmt: skip
                continue
            entry = again
            then = _received(_with_price(program, index, entry - step), index, stream)
        found.append(
            WouldChange(
                id=stream.id, item=stream.item, used=False, price_per_kg=price, enters_below_per_kg=entry,
                then_kg=then,
            )
        )  # fmt: skip
    mine = {stream.id for stream in program.case.streams}
    for stream in whole.streams:
        if stream.id not in mine:
            found.append(_other_variant(stream, best, whole))
    return tuple(found)


def _range_of_used(stream: Stream, index: int, program: Program, ranges: Ranges | None) -> WouldChange:
    same_from = same_to = None
    if ranges is not None:
        fuel = float(program.lp.cost[index]) - decision_price(program.case, stream) / stream.usable_fraction
        low, high = float(ranges.cost_from[index]), float(ranges.cost_to[index])
        same_from = (low - fuel) * stream.usable_fraction if np.isfinite(low) else None
        same_to = (high - fuel) * stream.usable_fraction if np.isfinite(high) else None
    price = decision_price(program.case, stream)
    return WouldChange(
        id=stream.id, item=stream.item, used=True, price_per_kg=price, same_from=same_from, same_to=same_to
    )


def _entry_by_solving(program: Program, index: int, cost: float, above: float) -> float | None:
    """Entry price where the reduced cost misleads (degenerate basis): bisection on solves."""
    stream = program.case.streams[index]
    batch = program.case.request.batch_kg

    def enters(price: float) -> bool:
        return _received(_with_price(program, index, price), index, stream) > _ENTERS_KG * batch

    low = above - max(1.0, abs(above))
    for _ in range(12):
        if enters(low):
            break
        low -= 4.0 * max(1.0, abs(low))
    else:
        return None
    high = above
    for _ in range(50):
        middle = 0.5 * (low + high)
        if enters(middle):
            low = middle
        else:
            high = middle
    return low


def _other_variant(stream: Stream, best: Settled, whole: Case) -> WouldChange:
    """A stream of another variant (setting speed, mix): its entry price by solving that variant again."""
    note = "by solving again with its own pH limit" if stream.kind == "pectin" else "by solving again"
    base = WouldChange(id=stream.id, item=stream.item, used=False, price_per_kg=stream.price_per_received_kg, note=note)
    mine = [variant for variant in variants(whole) if any(s.id == stream.id for s in variant.streams)]
    if not mine:
        return replace(base, note="of no use in this product")
    found = [entry for variant in mine if (entry := _entry_of_variant(stream, best, variant)) is not None]
    if not found:
        return replace(base, note="enters at no price: a rule keeps it out")
    price, kg = max(found)  # the first of its variants that a falling price makes the cheapest
    return replace(base, enters_below_per_kg=price, then_kg=kg)


def _entry_of_variant(stream: Stream, best: Settled, variant: Case) -> tuple[float, float] | None:
    """Price of a stream at which a variant costs no more than the recipe, and the received kg it then takes."""

    def at(price: float) -> tuple[float, float]:
        """Cost of the variant and received kg of the stream at a price; infinite where there is no recipe."""
        streams = tuple(
            replace(s, price_per_received_kg=price, kept_value_per_received_kg=None) if s.id == stream.id else s
            for s in variant.streams
        )
        try:
            found = settle_with_margins(replace(variant, streams=streams), best.case.request.confidence)
        except SolverTrouble:
            return np.inf, 0.0
        if isinstance(found, Stuck):
            return np.inf, 0.0
        index = next(i for i, s in enumerate(found.case.streams) if s.id == stream.id)
        return found.cost, float(found.x[index]) / stream.usable_fraction

    # Cost is concave in one price: from a price low enough, tangents walk up to where both variants cost the same.
    price = stream.price_per_received_kg - max(1.0, abs(stream.price_per_received_kg))
    cost, kg = at(price)
    for _ in range(8):
        if cost < best.cost or not np.isfinite(cost):
            break
        price -= 4.0 * max(1.0, abs(price))
        cost, kg = at(price)
    if not cost < best.cost or kg <= _USED_KG * best.case.request.batch_kg:
        return None
    for _ in range(12):
        step = (best.cost - cost) / kg
        price += step
        cost, more = at(price)
        if step <= _STEP * max(1.0, abs(price)) or more <= _USED_KG * best.case.request.batch_kg:
            break
        kg = more
    return price, kg


def fruit_shares(amounts: Sequence[Amount]) -> dict[str, float]:
    """Share of each fruit in the fruit of the recipe, greatest first: what the label may name."""
    totals: dict[str, float] = {}
    for amount in amounts:
        if amount.stream.fruit:
            equivalent = amount.pan_kg * amount.stream.per_kg.fruit_equivalent
            totals[amount.stream.fruit] = totals.get(amount.stream.fruit, 0.0) + equivalent
    whole = sum(totals.values())
    ranked = sorted(totals.items(), key=lambda pair: -pair[1])
    return {fruit: kg / whole for fruit, kg in ranked} if whole > 0.0 else {}


def why(recipe: Recipe) -> tuple[str, ...]:
    """What binds and what one unit more is worth, in sentences, the dearest first."""
    sentences: list[tuple[float, str]] = []
    for row in recipe.rows:
        if not row.binding or row.id == "mass":
            continue
        price = row.price
        kind, _, id_ = row.id.partition(":")
        if price is None:
            if recipe.whole_numbers:  # whole numbers decide: what one unit more is worth is not known
                sentences.append((0.0, f"{_capital(row.meaning)}: the batch lies on this bound."))
            elif row.id == "least_fruit" and len(recipe.fruit_shares) > 1:
                sentences.append((0.0, f"{_capital(row.meaning)}: the cheapest content found for this mix."))
        elif abs(price) < 1e-9:
            continue
        elif row.if_moved is not None:
            bound, change = row.if_moved
            effect = f"at {bound:.2f} the batch would cost {format_money(abs(change), recipe.currency)} "
            effect += "less" if change <= 0 else "more"
            sentences.append((abs(change), f"{row.meaning}: the batch lies on this bound; {effect}."))
        elif kind in ("stock", "available"):
            word = "on hand" if kind == "stock" else "on offer"
            saved = format_money(-price, recipe.currency)
            sentences.append(
                (abs(price), f"All of {id_} is used ({row.meaning}); one kg more {word} would save {saved}.")
            )
        else:
            step, worth = _plain_step(row, price, recipe.finished_kg)
            effect = f"{step} {_adds(worth, recipe.currency)}"
            sentences.append((abs(worth), f"{_capital(row.meaning)}: the batch lies on this bound; {effect}."))
    return tuple(text for _, text in sorted(sentences, key=lambda pair: -pair[0]))


def _plain_step(row: RowReport, price: float, finished_kg: float) -> tuple[str, float]:
    """A step of a bound that a cook would name, and what it is worth; else one unit of the price."""
    if row.id == "pectin_strength":
        return "a set firmer by 0.1", price * float(required_strength_per_kg(0.1)) * finished_kg
    if row.id == "least_preservative":
        return "a tenth of the limit more", price * 0.1 * finished_kg
    return f"{'' if row.lower is not None else 'allowing '}one {row.price_unit} more", price


def _adds(price: float, currency: str) -> str:
    return f"would {'add' if price > 0 else 'save'} {format_money(abs(price), currency)}"


def _capital(text: str) -> str:
    return text if text.startswith("pH") else text[:1].upper() + text[1:]
