"""Why the recipe is so: what binds, what one unit more is worth, at which price it would change."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from optimizer.blend.case import Case
from optimizer.blend.margins import carries_margin, margin_of, settle_with_margins
from optimizer.blend.program import Program, decision_price, decision_prices
from optimizer.blend.result import Amount, Recipe, RowReport, WouldChange
from optimizer.blend.rows import Row
from optimizer.blend.rules import rows_of
from optimizer.blend.rules.acidity import draw_in, ph_lower, ph_upper
from optimizer.blend.rules.amounts import received_most_kg, stock_in_words, stock_row_id
from optimizer.blend.settle import Settled, Stuck, variants
from optimizer.errors import SolverTrouble
from optimizer.physics.pectin import required_strength_per_kg
from optimizer.prepare.stream import Stream
from optimizer.solver import Outcome, Ranges, entered, solve_arrays
from optimizer.solver.program import Array
from optimizer.units import format_money

_BINDS = 1e-6  # relative to the size of the bound
_NO_PRICE = 1e-9
_USED_KG = 1e-7  # per kg of batch
_ENTERS_KG = 1e-6  # per kg of batch: less than that is no use, but a corner that gives way
_PH_STEP = 0.10
_PH_RULES = (ph_upper, ph_lower)
_STEP = 1e-6  # an offer is tried this far below its entry price, relative to prices about


def row_reports(best: Settled) -> tuple[RowReport, ...]:
    """Every row with its value, whether it binds, and its price with the range in which that holds."""
    program, outcome = best.program, best.outcome
    prices = None if outcome.row_price is None else outcome.row_price[program.is_ruled]
    on_bound = _on_bound(program, best.x)
    cuts_of: dict[str, list[int]] = {}
    for index, row in enumerate(program.ruled):
        if row.is_cut:
            cuts_of.setdefault(row.id, []).append(index)
    reports = []
    for index, row in enumerate(program.ruled):
        if row.is_cut:
            continue  # told with the row it belongs to
        cuts = cuts_of.get(row.id, [])
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
                binding=_has_price(price) or bool(on_bound[[index, *cuts]].any()),
                price=price, price_unit=row.price_unit, margin=_margin(row, best),
                price_holds=None if cuts else _price_holds(row, index, best.ranges, best),
                if_moved=_if_moved(row, best) if prices is not None and on_bound[index] else None,
                reason=row.reason, source=row.source, status=row.status,
            )
        )  # fmt: skip
    before = sum(not row.is_cut for row in program.ruled[: program.place])
    return (*reports[:before], *_stock_reports(best), *reports[before:])


def _stock_reports(best: Settled) -> Iterator[RowReport]:
    """What is on hand or on offer bounds a column: its range is that of the bound."""
    streams, usable, ranges = best.case.streams, best.case.attribute("usable_fraction"), best.ranges
    n = len(streams)
    most = received_most_kg(best.case)
    limited = np.isfinite(most)
    value = best.x[:n] / usable
    price = np.zeros(n)
    if best.outcome.row_price is not None:
        price[limited] = best.outcome.row_price[~best.program.is_ruled]
    near = _BINDS * np.where(value > 0.0, value, 1.0)
    binds = (np.abs(price) > _NO_PRICE) | (np.abs(most - value) <= near)
    low, high = value, np.full(n, np.inf)
    if ranges is not None:
        on_it = np.isfinite(ranges.bound_from[:n]) & (value > 0.5 * most)
        low = np.where(on_it, ranges.bound_from[:n] / usable, value)
        high = np.where(on_it, ranges.bound_to[:n] / usable, np.inf)
    priced, ranged = best.outcome.row_price is not None, ranges is not None
    figures = zip(*(column.tolist() for column in (value, most, binds, price, low, high, limited)), strict=True)
    for stream, (kg, top, is_bound, worth, least, greatest, is_limited) in zip(streams, figures, strict=True):
        if is_limited:
            yield RowReport(
                id=stock_row_id(stream), value=kg, lower=None, upper=top, binding=is_bound,
                price=worth if priced else None, price_holds=(least, greatest) if ranged else None,
                **stock_in_words(stream),
            )  # fmt: skip


def _margin(row: Row, best: Settled) -> float | None:
    """What the value at the mean keeps from the bound so that the row holds at the confidence asked for."""
    confidence = best.case.request.confidence
    if confidence <= 0.5 or not carries_margin(best.case, row.id):
        return None
    return margin_of(best.case, row, best.x, confidence)


def _has_price(price: float | None) -> bool:
    return price is not None and abs(price) > _NO_PRICE


def _on_bound(program: Program, x: Array) -> NDArray[np.bool_]:
    """(ruled rows,) A bound binds where the batch lies on it."""
    lean = program.lean
    value, size = lean.matrix @ x, np.abs(lean.matrix) @ np.abs(x)
    near = _BINDS * np.where(size > 0.0, size, 1.0)
    return np.asarray(np.minimum(np.abs(value - lean.row_lower), np.abs(lean.row_upper - value)) <= near)


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
    """pH rows that bind: the bound a tenth further out, and by solving again what the batch would then cost more."""
    if row.shown is None:
        return None
    shown, side = row.shown
    step = _PH_STEP if side == "upper" else -_PH_STEP
    before = shown + (draw_in(best.case) if side == "upper" else 0.0)
    moved = replace(best.case, moved_bounds=(*best.case.moved_bounds, (row.id, before + step)))
    program = best.program
    matrix = program.lean.matrix.copy()
    there = [other.id for other in program.ruled].index(row.id)
    (further,) = (new for new in rows_of(moved, only=_PH_RULES) if new.id == row.id)
    matrix[there] = further.linear()[0]  # no other row hangs on it
    outcome = solve_arrays(replace(program.lean, matrix=matrix))
    return None if outcome.objective is None else (shown + step, outcome.objective - best.cost)


def _with_price(program: Program, index: int, price_per_received_kg: float) -> Outcome:
    """Solve again with another price of one stream; rows stay as they are."""
    stream = program.case.streams[index]
    cost = program.lean.cost.copy()
    cost[index] += (price_per_received_kg - decision_price(program.case, stream)) / stream.usable_fraction
    return solve_arrays(replace(program.lean, cost=cost))


def _received(outcome: Outcome, index: int, stream: Stream) -> float:
    return 0.0 if outcome.x is None else float(outcome.x[index]) / stream.usable_fraction


def would_change(best: Settled, whole: Case) -> tuple[WouldChange, ...]:
    """For each stream not used the price at which it would enter, for each used one the range of no change."""
    program, reduced = best.program, best.outcome.reduced_cost
    if reduced is None:
        return ()
    streams = program.case.streams
    batch = program.case.request.batch_kg
    ranges = best.ranges
    entries = _Entries(best)
    found: list[WouldChange] = []
    used = (best.x[: len(streams)] > _USED_KG * batch).tolist()
    for index, (stream, is_used, price) in enumerate(zip(streams, used, entries.price, strict=True)):
        if is_used:
            found.append(_range_of_used(stream, index, program, ranges))
            continue
        entry = entries.of(index)
        if entry is None:
            note = "enters at no price: a rule keeps it out"
            found.append(WouldChange(id=stream.id, item=stream.item, used=False, price_per_kg=price, note=note))
            continue
        at, then = entry
        found.append(
            WouldChange(
                id=stream.id, item=stream.item, used=False, price_per_kg=price, enters_below_per_kg=at, then_kg=then
            )
        )
    mine = {stream.id for stream in streams}
    for stream in whole.streams:
        if stream.id not in mine:
            found.append(_other_variant(stream, best, whole))
    return tuple(found)


class _Entries:
    """Prices at which streams that are not used enter: from the basis of the answer, by solving where that misleads."""

    def __init__(self, best: Settled) -> None:
        self._best = best
        case, usable = best.case, best.case.attribute("usable_fraction")
        n = len(case.streams)
        reduced = np.zeros(n) if best.outcome.reduced_cost is None else best.outcome.reduced_cost[:n]
        price = decision_prices(case)
        # A bound that keeps a stream at nothing is no price of its own.
        entry = price - np.maximum(reduced, 0.0) * usable
        step = _STEP * np.maximum(1.0, np.maximum(np.abs(price), np.abs(entry)))
        self.price: list[float] = price.tolist()
        self._entry: list[float] = entry.tolist()
        self._step: list[float] = step.tolist()
        self._least = _ENTERS_KG * case.request.batch_kg
        self._then: dict[int, float] = {}
        table = best.table
        if table is not None:
            out = np.flatnonzero((best.x[:n] <= _USED_KG * case.request.batch_kg) & table.may_enter[:n])
            there = entered(table, out, step[out] / usable[out])
            amounts = (there.amount / usable[out])[there.certified]
            self._then = dict(zip(out[there.certified].tolist(), amounts.tolist(), strict=True))

    def of(self, index: int) -> tuple[float, float] | None:
        """Price per received kg at which a stream enters, and the received kg it then takes; None if it never does."""
        entry, then = self._entry[index], self._then.get(index)
        if then is not None and then > self._least:
            return entry, then
        program, step = self._best.program, self._step[index]
        stream = program.case.streams[index]
        if then is None:
            then = _received(_with_price(program, index, entry - step), index, stream)
            if then > self._least:
                return entry, then
        again = _entry_by_solving(program, index, min(entry, self.price[index]))
        if again is None:
            return None
        return again, _received(_with_price(program, index, again - step), index, stream)


def _range_of_used(stream: Stream, index: int, program: Program, ranges: Ranges | None) -> WouldChange:
    same_from = same_to = None
    if ranges is not None:
        fuel = float(program.lean.cost[index]) - decision_price(program.case, stream) / stream.usable_fraction
        low, high = float(ranges.cost_from[index]), float(ranges.cost_to[index])
        same_from = (low - fuel) * stream.usable_fraction if np.isfinite(low) else None
        same_to = (high - fuel) * stream.usable_fraction if np.isfinite(high) else None
    price = decision_price(program.case, stream)
    return WouldChange(
        id=stream.id, item=stream.item, used=True, price_per_kg=price, same_from=same_from, same_to=same_to
    )


def _entry_by_solving(program: Program, index: int, above: float) -> float | None:
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
