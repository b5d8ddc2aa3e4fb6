"""One batch from request to recipe: prepare, solve every variant, take the cheapest, say why."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from optimizer.blend.case import Assumed, Case
from optimizer.blend.cautions import cautions_for, warnings_for
from optimizer.blend.chance import chance
from optimizer.blend.cook import heat_form, money_per_kJ
from optimizer.blend.discrete import bound_of, broken, gap_of, paid_by_the_pack, settle_whole
from optimizer.blend.explain import fruit_shares, row_reports, why, would_change
from optimizer.blend.margins import settle_with_margins, standard_deviations
from optimizer.blend.reliefs import explain_none
from optimizer.blend.request import Request
from optimizer.blend.result import Amount, Costs, JarCount, Recipe
from optimizer.blend.settle import Settled, Stuck, as_shown, variants
from optimizer.blend.standard import ProductLimits, limits_for, resolve_standard
from optimizer.blend.whole_program import check_whole_numbers
from optimizer.errors import InputFault, SolverTrouble
from optimizer.inputs.models import Book, Lot, Offer, Product, Site
from optimizer.inputs.names import nearest
from optimizer.prepare.stream import LeftOut, Prepared, Stream
from optimizer.prepare.streams import Made, prepare_streams

CHANCE_SEED = 1  # the same recipe has the same chance
_NOT_USED_KG = 1e-7  # per kg of batch: below this a column is zero
_BORROWED = "The higher limit of SO2 is for sulphited fruit, and the cheapest blend uses none of it."
_PARTS = {"fruit": "fruit", "sweetener": "sugar", "acid": "acid", "pectin": "pectin"}


def _is_named(stream: Stream, name: str) -> bool:
    """A bare fruit name means its ripe parts; an unripe part only by its full item."""
    return stream.item == name or (stream.fruit == name and "unripe" not in stream.item)


def _may_be_named(item: str, names: Sequence[str]) -> bool:
    return any(item == name or (item.startswith(f"{name}, ") and "unripe" not in item) for name in names)


def _keep_named(prepared: Prepared, request: Request, lots: Sequence[Lot], offers: Sequence[Offer]) -> Prepared:
    """Only the fruits the user named, where any stands alone; a name that is nowhere on the tables is a fault."""
    both: tuple[Lot | Offer, ...] = (*lots, *offers)
    known = sorted({goods.item for goods in both if goods.kind == "fruit"})
    bare = sorted({item.split(", ")[0] for item in known})
    for share in request.fruits:
        name = share.fruit
        if not any(item == name or item.split(", ")[0] == name or item.startswith(f"{name}, ") for item in known):
            raise InputFault(f'fruit "{name}" is on neither table; {nearest(name, [*bare, *known])}')
    only = request.only_fruits
    if not only:
        return prepared
    kept: list[Stream] = []
    others = {goods.code for goods in both if goods.kind == "fruit" and not _may_be_named(goods.item, only)}
    why = f"only {' and '.join(only)} asked for"
    out = [replace(left, why=why) if left.id in others else left for left in prepared.left_out]
    for stream in prepared.streams:
        if stream.kind != "fruit" or any(_is_named(stream, name) for name in only):
            kept.append(stream)
        else:
            out.append(LeftOut(id=stream.id, item=stream.item, why=why))
    return Prepared(streams=tuple(kept), left_out=tuple(out))


def _lawful(prepared: Prepared, case_words: Sequence[tuple[str, tuple[str, ...], str]]) -> Prepared:
    """Leave out what the standard does not allow under this name."""
    kept: list[Stream] = []
    out = list(prepared.left_out)
    for stream in prepared.streams:
        reason = next(
            (
                words
                for condition, fruits, words in case_words
                if (stream.fruit and stream.fruit in fruits) or (condition == "sulphited fruit" and stream.is_sulphited)
            ),
            None,
        )
        if reason is None or stream.kind != "fruit":
            kept.append(stream)
        else:
            out.append(LeftOut(id=stream.id, item=stream.item, why=reason))
    return Prepared(streams=tuple(kept), left_out=tuple(out))


def _allows(limits: ProductLimits, which: str) -> bool:
    limit = limits.single(which, "max")
    return limit is not None and limit.value > 0.0


def _permitted(prepared: Prepared, limits: ProductLimits) -> Prepared:
    """A preservative for which the standard names no limit in this product is not used."""
    kept: list[Stream] = []
    out = list(prepared.left_out)
    for stream in prepared.streams:
        held = {"so2": stream.per_kg.so2_mg, "benzoic": stream.per_kg.benzoic_mg, "sorbic": stream.per_kg.sorbic_mg}
        silent = [which for which, mg in held.items() if mg > 0.0 and not _allows(limits, which)]
        if stream.kind == "preservative" and silent:
            why = f"{limits.standard} allows none in {limits.legal_name}, or names no limit of it"
            out.append(LeftOut(id=stream.id, item=stream.item, why=why))
        else:
            kept.append(stream)
    return Prepared(streams=tuple(kept), left_out=tuple(out))


def _check_spread(request: Request, product: Product) -> None:
    """A spread has no firmness, and its rules end where sugar keeps a product."""
    if request.firmness is not None:
        raise InputFault(
            f"{product.title}: firmness is for sets with full sugar; low-methoxyl pectin and calcium have windows "
            "instead: leave firmness out"
        )
    for asked in (request.solids_least_fraction, request.solids_most_fraction):
        if asked is not None and not 0.10 <= asked < 0.60:
            raise InputFault(
                f"{product.title} at {asked * 100:.3g} % solids: give 10 % or more and less than 60 %; from 60 % on "
                "make jam"
            )


def _check_set(request: Request, product: Product) -> None:
    """Pectin strength is claimed for sets of 60 to 70 % solids only."""
    if product.is_set_by_calcium:
        _check_spread(request, product)
        return
    firmness = product.firmness.least if request.firmness is None else request.firmness
    least, most = request.solids_least_fraction, request.solids_most_fraction
    if not firmness or (least is None and most is None):
        return
    if (least is not None and least < 0.60) or (most is not None and not 0.60 <= most <= 0.70):
        asked = least if least is not None and least < 0.60 else most
        raise InputFault(
            f"{product.title} at {(asked or 0.0) * 100:.3g} % solids: a set with full sugar holds from 60 to 70 %; "
            "ask for solids in that range, or for no set (--firmness 0)"
        )


def prepare_case(
    request: Request, site: Site, lots: Sequence[Lot], offers: Sequence[Offer], book: Book, made: Made | None = None
) -> tuple[Case, Prepared]:
    """The case of a request before any solve; `made` as for `prepare_streams`.

    Raises
    ------
    InputFault
        Unknown product, standard, name or fruit; a batch that is no positive mass.
    """
    if request.product not in book.products:
        raise InputFault(f'product "{request.product}" is not known; {nearest(request.product, book.products)}')
    if not (math.isfinite(request.batch_kg) and request.batch_kg > 0.0):
        raise InputFault(f"batch of {request.batch_kg:g} kg: give a positive mass, such as 50 kg")
    product = book.products[request.product]
    standard_deviations(request.confidence)  # refuses what is no confidence
    _check_set(request, product)
    standard = resolve_standard(request.standard or site.standard, request.on)
    limits = limits_for(product, book, standard, request.legal_name)
    prepared = prepare_streams(
        lots, offers, product, book,
        named_fruits=request.named_fruits,
        wants_preservative=request.keeps == "preservative",
        within_days=request.within_days,
        on=request.on,
        made=made,
    )  # fmt: skip
    prepared = _keep_named(prepared, request, lots, offers)
    banned = [
        (rule.condition, rule.fruits, rule.note or f"{limits.legal_name} under {standard}: not allowed")
        for rule in limits.words("not_standardised")
    ]
    prepared = _permitted(_lawful(prepared, banned), limits)
    case = Case(
        streams=prepared.streams, product=product, limits=limits, request=request, site=site, book=book,
        assumed=Assumed(),
    )  # fmt: skip
    check_whole_numbers(request, case.streams)
    return case, prepared


def make_recipe(request: Request, site: Site, lots: Sequence[Lot], offers: Sequence[Offer], book: Book) -> Recipe:
    """The least-cost recipe of one batch that holds every rule, with reasons; or why there is none.

    Parameters
    ----------
    request : Request
        Product, batch [kg], and what the user wants different from the defaults.
    site : Site
        Altitude, standard, pans, jars, instruments.
    lots, offers : sequences
        What is on hand and what could be bought.
    book : Book
        The data.

    Returns
    -------
    Recipe
        With `status` "optimal" or "none".

    Raises
    ------
    InputFault
        The request names something unknown.
    SolverTrouble
        The solver stopped without a certified answer.
    """
    case, prepared = prepare_case(request, site, lots, offers, book)
    base = Recipe(
        status="none",
        certified=False,
        product=request.product,
        title=case.product.title,
        legal_name=case.limits.legal_name,
        standard=case.limits.standard,
        aim=request.aim,
        confidence=request.confidence,
        currency=site.currency,
        altitude_m=site.altitude_m,
        site=site.name,
        batch_kg=request.batch_kg,
        left_out=prepared.left_out,
        defaults=site.defaults_said,
    )
    best, stuck = best_settled(case)
    if best is None:
        return explain_none(base, case, [s for s in stuck if s.is_whole_number] or stuck)
    return _recipe(base, best, case)


def by_sulphite(case: Case) -> Iterator[Case]:
    """Where sulphited fruit has an SO2 limit of its own: without such fruit at the limit of all, then with it."""
    sulphited = case.mask("sulphited", lambda s: s.is_sulphited)
    of_all, own = (case.limits.preservative("so2", sulphited=which) for which in (False, True))
    if of_all != own and sulphited.any() and np.any(case.is_fruit & ~sulphited):
        yield replace(case, streams=tuple(s for s in case.streams if not s.is_sulphited))
    yield case


def borrows_limit(found: Settled) -> bool:
    """No sulphited fruit is used, yet the SO2 is above what the standard allows without it."""
    case, x = found.case, found.x
    sulphited = case.mask("sulphited", lambda s: s.is_sulphited)
    of_all = case.limits.preservative("so2", sulphited=False)
    if of_all is None or not sulphited.any():
        return False
    used = float(x[: len(case.streams)] @ sulphited)
    so2_mg = float(x[: len(case.streams)] @ case.column("so2_mg"))
    return used <= _NOT_USED_KG * case.request.batch_kg and so2_mg > of_all.value * float(x[-1]) * (1.0 + 1e-9)


def _is_better(found: Settled, best: Settled) -> bool:
    """A settled answer goes before one that is not; then the cheaper."""
    if bool(found.left_over) != bool(best.left_over):
        return bool(best.left_over)
    return found.cost < best.cost - 1e-9 * max(1.0, abs(best.cost))


def best_settled(case: Case, *, is_shown: bool = True) -> tuple[Settled | None, list[Stuck]]:
    """The cheapest of all variants of a case, and those without an answer.

    What nobody is shown, where only the cost counts, need not go through PuLP as well (`is_shown` False).

    Raises
    ------
    SolverTrouble
        No variant has an answer, and on one of them the solver stopped.
    """
    best: Settled | None = None
    stuck: list[Stuck] = []
    trouble: SolverTrouble | None = None
    for variant in (variant for part in by_sulphite(case) for variant in variants(part)):
        try:
            found = settle_with_margins(variant, case.request.confidence)
            if isinstance(found, Settled) and (best is None or _is_better(found, best)):
                # Whole numbers only where the plain answer breaks them; they make no recipe cheaper.
                if broken(found):
                    found = settle_whole(variant, found)
                elif is_shown:
                    found = as_shown(found)
        except SolverTrouble as error:
            trouble = error
            continue
        if isinstance(found, Stuck):
            stuck.append(found)
        elif borrows_limit(found):
            stuck.append(Stuck(program=found.program, outside=_BORROWED))
        elif best is None or _is_better(found, best):
            best = found
    if best is None and trouble is not None:
        raise trouble
    return best, stuck


def _recipe(base: Recipe, best: Settled, whole: Case) -> Recipe:
    case, x = best.case, best.x
    n = len(case.streams)
    amounts = tuple(
        Amount(
            stream=stream,
            pan_kg=float(kg),
            received_kg=float(kg) / stream.usable_fraction,
            cost=float(kg) * stream.cost_per_pan_kg,
            paid=None
            if stream.paid_per_received_kg is None
            else float(kg) / stream.usable_fraction * stream.paid_per_received_kg,
        )
        for kg, stream in zip(x[:n], case.streams, strict=True)
        if kg > _NOT_USED_KG * case.request.batch_kg
    )
    amounts = paid_by_the_pack(amounts, best.packs)
    finished = float(x[n + 2])
    filled = finished * (1.0 - case.book.setting("pan_loss_fraction"))
    jars: tuple[JarCount, ...] = ()
    if case.site.jars:
        jar = case.site.jars[0]
        jars = (JarCount(name=jar.name, net_kg=jar.net_kg, count=math.floor(filled / jar.net_kg + 1e-9)),)
    costs = _costs(case, amounts, jars, best)
    recipe = replace(
        base,
        status="optimal",
        certified=best.outcome.certified,
        amounts=amounts,
        water_added_kg=float(x[n]),
        boil_off_kg=float(x[n + 1]),
        finished_kg=finished,
        filled_kg=filled,
        jars=jars,
        costs=costs,
        predicted=best.prediction,
        rows=row_reports(best),
        would_change=would_change(best, whole),
        fruit_shares=fruit_shares(amounts),
        rounds=best.rounds,
        chance=chance(case, x, best.prediction, np.random.default_rng(CHANCE_SEED)),
        gained=None if case.request.aim == "least-cost" else -best.cost,
        whole_numbers=best.outcome.row_price is None,
        gap=gap_of(best),
        bound=bound_of(best, costs.total),
        packs=best.packs,
    )
    return replace(
        recipe,
        why=why(recipe),
        cautions=cautions_for(recipe, case),
        warnings=(*best.left_over, *warnings_for(recipe, case)),
    )


def _costs(case: Case, amounts: Sequence[Amount], jars: Sequence[JarCount], best: Settled) -> Costs:
    """Parts of the cost: streams and fuel add up to what was minimised, jars and labour are fixed by the batch."""
    parts = dict.fromkeys(("fruit", "sugar", "acid", "pectin", "other", "fuel", "jars", "labour"), 0.0)
    paid: float | None = 0.0
    for amount in amounts:
        parts[_PARTS.get(amount.stream.kind, "other")] += amount.cost
        paid = None if paid is None or amount.paid is None else paid + amount.paid
    parts["fuel"] = heat_form(case).at(best.x) * money_per_kJ(case)
    count = sum(jar.count for jar in jars)
    if case.site.jars:
        parts["jars"] = count * case.site.jars[0].cost
    finished = float(best.x[-1])
    labour = case.site.labour
    parts["labour"] = labour.wage_per_h * labour.hours_per_100kg * finished / 100.0
    total = sum(parts.values())
    return Costs(
        total=total,
        paid_total=None if paid is None else paid + parts["fuel"] + parts["jars"] + parts["labour"],
        per_finished_kg=total / finished,
        per_jar=total / count if count else None,
        parts=parts,
    )
