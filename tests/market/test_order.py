"""Orders in whole packs: against every number of packs one by one, and against scipy on a matrix written here."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from markets import BOOK, DAY, fruit_lot, offer
from scipy.optimize import Bounds, LinearConstraint, linprog, milp

from optimizer.blend.program import Program
from optimizer.blend.request import FruitShare, Request
from optimizer.errors import InputFault
from optimizer.inputs.models import Jar, Lot, Offer, Pan, PriceBreak, Site
from optimizer.market.job import Job, NoRecipe, cases, cost_of, settled
from optimizer.market.order import Order, make_order, savings
from optimizer.market.order_entry import order_entries, settled_entry
from optimizer.market.terms import Terms
from optimizer.market.variants import settled_variants

SITE = Site(
    altitude_m=200.0, ph_meter="yes", pans=(Pan(capacity_L=60.0, power_kW=15.0, fuel_price=1.4),),
    jars=(Jar(name="380 mL", net_kg=0.45, cost=0.3, on_hand=40.0),),
)  # fmt: skip
PLUM = fruit_lot("F", "plum, flesh with skin", kg=200.0, worth=0.2, brix_fraction=0.13, ph=3.3, acid_fraction=0.016)
SUGAR, PECTIN = "cane/beet sugar, white", "pectin, HM (powder, grade 150)"
SMALL = offer("S1", SUGAR, 0.95, pack=5.0, delivery_cost=4.0, breaks=(PriceBreak(from_packs=5, price=0.85),))
BIG = offer("S2", SUGAR, 0.80, pack=25.0, delivery_cost=9.0)
ACID = offer("A", "citric acid", 2.5, pack=0.5)
STRONG = offer("P1", PECTIN, 20.0, grade=150.0, setting="medium", pack=0.25)
WEAK = offer("P2", PECTIN, 14.0, grade=100.0, setting="medium", pack=0.1, least_packs=3, delivery_cost=1.0)
OFFERS = (SMALL, BIG, ACID, STRONG, WEAK)


def request(kg: float = 20.0, product: str = "jam", **more: object) -> Request:
    return Request(product=product, batch_kg=kg, on=DAY, fruits=(FruitShare(fruit="plum"),), **more)


def job(*batches: Request, offers: Sequence[Offer] = OFFERS, lots: Sequence[Lot] = (PLUM,), site: Site = SITE) -> Job:
    return Job(batches=batches or (request(),), site=site, lots=tuple(lots), offers=tuple(offers), book=BOOK)


def packed(order: Order) -> dict[str, int | None]:
    return {line.offer: line.packs for line in order.lines}


def columns_of(program: Program) -> dict[str, tuple[int, float]]:
    """Stream -> its column and what a received kg brings into the pan."""
    return {s.id: (j, s.usable_fraction) for j, s in enumerate(program.case.streams)}


def cost_of_packs(program: Program, kg: dict[str, float]) -> float:
    """Least cost of a batch by scipy once the kilograms of each offer are there and paid for."""
    lp, upper = program.lp, program.lp.upper.copy()
    cost = lp.cost.copy()
    for id_, (j, usable) in columns_of(program).items():
        if id_ in kg:
            cost[j] -= program.case.streams[j].price_per_received_kg / usable
            upper[j] = min(upper[j], kg[id_] * usable)
    below, above = np.isfinite(lp.row_upper), np.isfinite(lp.row_lower)
    found = linprog(
        cost, A_ub=np.vstack([lp.matrix[below], -lp.matrix[above]]),
        b_ub=np.concatenate([lp.row_upper[below], -lp.row_lower[above]]), bounds=np.column_stack([lp.lower, upper]),
        method="highs-ipm",
    )  # fmt: skip
    return float(found.fun) if found.status == 0 else np.inf


def test_order_against_every_number_of_packs() -> None:
    """One batch, its ways at the state that the order ended in; every order that could pay, each solved by scipy."""
    order = make_order(job(request(confidence=0.5)))
    terms = {o.offer: Terms.of(o) for o in OFFERS}
    most = {"S1": 5, "S2": 1, "A": 2, "P1": 2, "P2": 4}
    best = np.inf
    for ways in itertools.product(*order.ways):
        (way,) = ways
        program = way.program
        for counts in itertools.product(*(range(n + 1) for n in most.values())):
            packs = dict(zip(most, counts, strict=True))
            if 0 < packs["P2"] < 3:
                continue
            paid = sum(terms[id_].cost(n) for id_, n in packs.items())
            if paid >= best:
                continue
            best = min(
                best, paid + cost_of_packs(program, {id_: n * (terms[id_].pack or 0.0) for id_, n in packs.items()})
            )
    # tolerance: the interior point method, and the order's own recipe settled to a millionth
    assert order.found.cost == pytest.approx(best, rel=2e-6)
    assert order.bound is not None
    assert order.found.bound == pytest.approx(best, rel=2e-6)
    assert all((packed(order).get(id_) or 0) <= n for id_, n in most.items())  # or the search above was too small


def second_opinion(order: Order) -> float:
    """The order of several batches as one integer program, its matrix written here from the batches' own rows."""
    job_ = order.job
    terms = {o.offer: Terms.of(o) for o in job_.offers if o.kind != "packaging"}
    there = {lot.lot: lot.on_hand_kg for lot in job_.lots}
    cost: list[float] = []
    low: list[float] = []
    high: list[float] = []
    whole: list[int] = []
    rows: list[tuple[dict[int, float], float, float]] = []
    use: dict[str, dict[int, float]] = {}
    for ways in order.ways:
        pick = {}
        for way in ways:
            program = way.program
            lp, start = program.lp, len(cost)
            cost += lp.cost.tolist()
            low += [0.0] * lp.cost.size
            high += [np.inf] * lp.cost.size
            whole += [0] * lp.cost.size
            y = len(cost)
            cost, low, high, whole = [*cost, 0.0], [*low, 0.0], [*high, 1.0], [*whole, 1]
            pick[y] = 1.0
            for i, row in enumerate(program.rows):
                if row.id.startswith(("stock:", "available:")):
                    continue
                entries = {start + j: float(a) for j, a in enumerate(lp.matrix[i]) if a}
                for side, sign in ((lp.row_lower[i], 1.0), (lp.row_upper[i], -1.0)):
                    if np.isfinite(side):
                        signed = {j: sign * a for j, a in entries.items()}
                        rows.append(({**signed, y: -sign * float(side)}, 0.0, np.inf))
            batch = way.case.request.batch_kg
            rows.append(({start + lp.cost.size - 1: 1.0, y: -batch}, 0.0, 0.0))
            rows.append(({y: 1e4, **{start + j: -1.0 for j in range(lp.cost.size - 1)}}, 0.0, np.inf))
            for id_, (j, usable) in columns_of(program).items():
                use.setdefault(id_, {})[start + j] = 1.0 / usable
                if id_ in terms:
                    cost[start + j] -= program.case.streams[j].price_per_received_kg / usable
        rows.append((pick, 1.0, 1.0))
    for id_, entries in use.items():
        if id_ in there:
            rows.append((entries, -np.inf, float(there[id_] or 0.0)))
            continue
        of, bought = terms[id_], {}
        chosen = {}
        for number, tier in enumerate(of.tiers):
            n, z = len(cost), len(cost) + 1
            unit = 1.0 if of.pack is None else of.pack
            most = 400.0 if number + 1 == len(of.tiers) else of.tiers[number + 1].least_packs - 1.0
            cost, low, high = [*cost, tier.price * unit, of.delivery], [*low, 0.0, 0.0], [*high, most, 1.0]
            whole = [*whole, int(of.pack is not None), 1]
            rows.append(({n: 1.0, z: -most}, -np.inf, 0.0))
            if of.pack is not None:
                rows.append(({n: 1.0, z: -float(tier.least_packs)}, 0.0, np.inf))
            bought[n], chosen[z] = -unit, 1.0
        rows.append((chosen, -np.inf, 1.0))
        rows.append(({**entries, **bought}, -np.inf, 0.0))
    matrix = np.zeros((len(rows), len(cost)))
    for i, (entries, _, _) in enumerate(rows):
        for j, a in entries.items():
            matrix[i, j] += a
    found = milp(
        np.array(cost), integrality=np.array(whole), bounds=Bounds(np.array(low), np.array(high)),
        constraints=LinearConstraint(matrix, [r[1] for r in rows], [r[2] for r in rows]), options={"mip_rel_gap": 1e-9},
    )  # fmt: skip
    assert found.status == 0, found.message
    return float(found.fun)


JAMS = (request(20.0), request(35.0), request(15.0, "butter"))


@pytest.mark.parametrize(
    "batches", [(JAMS[0],), (JAMS[0], JAMS[1]), JAMS, (request(20.0, confidence=0.9), request(12.0, "jelly"))]
)
def test_order_of_several_batches_against_a_second_matrix(batches: tuple[Request, ...]) -> None:
    order = make_order(job(*batches))
    assert order.found.bound is not None
    assert order.found.bound == pytest.approx(second_opinion(order), rel=1e-5)
    assert order.gap is not None
    assert order.gap <= 1e-4


def test_scarce_fruit_is_shared() -> None:
    """Two batches that would each take most of it: together no more than there is, and dearer than each alone."""
    lots = (PLUM.model_copy(update={"on_hand_kg": 24.0}), fruit_lot("G", "plum, flesh with skin", worth=0.9))
    both = make_order(job(request(30.0), request(30.0), lots=lots))
    used = both.taken
    assert used["F"] == pytest.approx(24.0)
    assert used["G"] > 0.0
    assert both.found.bound == pytest.approx(second_opinion(both), rel=1e-5)


def test_packs_serve_several_batches() -> None:
    """A least order that serves one batch as well as two is paid once."""
    one, two = make_order(job(request(20.0))), make_order(job(request(20.0), request(20.0)))
    assert two.total < 2.0 * one.total


def test_cbc_finds_the_same_order() -> None:
    highs, cbc = make_order(job(*JAMS[:2])), make_order(job(*JAMS[:2]), solver="cbc")
    assert packed(highs) == packed(cbc)
    assert highs.total == pytest.approx(cbc.total, rel=1e-6)


def test_the_parts_add_up_and_packs_hold_what_is_used() -> None:
    order = make_order(job(*JAMS))
    assert order.total == pytest.approx(sum(order.parts.values()))
    assert order.parts["order"] == pytest.approx(sum(line.cost for line in order.lines))
    for line in order.lines:
        assert line.used + line.left_over == pytest.approx(line.amount, rel=1e-6)
        if line.packs is not None:
            assert line.amount == pytest.approx(line.packs * (line.pack or 0.0))
        assert line.keeps
    finished = sum(float(one.x[-1]) for one in order.recipes)
    assert finished == pytest.approx(70.0)


def test_whole_packs_never_cost_less_than_kilograms() -> None:
    """The plain recipe at list prices bounds the order from below."""
    for batches in ((JAMS[0],), JAMS):
        assert make_order(job(*batches)).found.cost >= cost_of(job(*batches)).cost - 1e-6


def test_savings_are_the_cost_of_doing_without() -> None:
    order = make_order(job())
    found = {one.offer: one for one in savings(order)}
    assert set(found) == set(packed(order))
    for code, one in found.items():
        others = [o for o in OFFERS if o.offer != code]
        try:
            alone = make_order(job(offers=others)).found.cost
        except NoRecipe:
            assert one.saves is None
            continue
        assert one.saves is not None
        assert one.saves == pytest.approx(alone - order.found.cost, abs=2e-4 * alone)


def test_jars_that_are_short_are_ordered_with_what_breaks() -> None:
    """20 kg less 1 % lost fill 44 jars of 450 g; 44 / 0.9925 = 44.3: 45 are used, 40 are there, 5 are short."""
    jar = Offer(offer="J", supplier="", item="jar 380 mL", kind="packaging", unit="piece", price=0.31, pack=4.0,
                delivery_cost=2.0)  # fmt: skip
    order = make_order(job(offers=(*OFFERS, jar)))
    assert order.jars == 44
    (need,) = order.packaging
    assert (need.used, need.on_hand, need.to_buy) == (45, 40, 5)
    line = next(line for line in order.lines if line.offer == "J")
    assert (line.packs, line.amount, line.left_over) == (2, 8.0, 3.0)
    assert line.cost == pytest.approx(8 * 0.31 + 2.0)
    assert order.parts["jars"] == pytest.approx((44 - 5) * 0.3)
    assert savings(order, ["J"])[0].saves is None


def test_jars_of_unknown_number_are_not_ordered_but_said() -> None:
    jar = Offer(offer="J", supplier="", item="jar 380 mL", kind="packaging", unit="piece", price=0.31)
    site = SITE.model_copy(update={"jars": (Jar(name="380 mL", net_kg=0.45, cost=0.3),)})
    order = make_order(job(offers=(*OFFERS, jar), site=site))
    assert "J" not in packed(order)
    assert any("not known" in note for note in order.notes)


def test_late_and_stale_offers_are_left_out_and_said() -> None:
    late = BIG.model_copy(update={"delivery_days": 5.0})
    stale = STRONG.model_copy(update={"valid_until": DAY - timedelta(days=1)})
    found = make_order(job(request(within_days=2.0), offers=(SMALL, late, ACID, stale, WEAK)))
    why = {out.id: out.why for out in found.left_out}
    assert "comes in 5 days" in why["S2"]
    assert "ran out" in why["P1"]
    assert not {"S2", "P1"} & set(packed(found))


def test_price_that_is_paid_is_that_of_the_step() -> None:
    """Sugar for 60 kg of jam is more than 4 small bags: from 5 on all of them cost 0.85."""
    order = make_order(job(request(60.0), offers=(SMALL, ACID, STRONG)))
    line = next(line for line in order.lines if line.offer == "S1")
    assert line.packs is not None
    assert line.packs >= 5
    assert line.price == 0.85
    assert line.cost == pytest.approx(line.packs * 5.0 * 0.85 + 4.0)


def test_just_below_its_entry_price_an_offer_is_ordered_and_just_above_not() -> None:
    """All settled anew at both prices, half a percent off; nearer than that the costs are compared in test_entry.py."""
    order = make_order(job())
    tried = 0
    for entry in (settled_entry(order, entry) for entry in order_entries(order)):
        if entry.enters_below is None or entry.enters_below <= 0.0:
            continue
        for factor, is_taken in ((0.995, True), (1.005, False)):
            again = make_order(job().at({entry.id: entry.enters_below * factor}))
            assert (entry.id in again.taken) is is_taken, (entry, factor)
            tried += 1
    assert tried >= 6


LOOSE = tuple(one.model_copy(update={"pack": None, "least_packs": 1.0, "delivery_cost": 0.0, "breaks": ()})
              for one in OFFERS)  # fmt: skip


@pytest.mark.parametrize("near", [0.94, 0.97, 1.0, 1.03, 1.06])
def test_where_all_is_loose_no_way_of_making_it_is_cheaper(near: float) -> None:
    """Pectins of two setting speeds near a tie: the order costs no more than the best of the ways, each settled alone.

    Nothing is in packs, so that all orders are of the same offers. Tolerance: rivals must save a millionth.
    """
    slow = offer("P3", PECTIN, 20.0 * near, grade=150.0, setting="slow")
    rapid = offer("P4", PECTIN, 20.0, grade=150.0, setting="rapid")
    asked = job(request(20.0), offers=(*LOOSE[:3], slow, rapid))
    (case,), _ = cases(asked)
    ways, _ = settled_variants(case)
    assert len(ways) > 1
    order = make_order(asked)
    assert order.found.cost <= min(one.cost for one in ways) * (1.0 + 2e-6)


def test_another_way_is_wanted_or_another_order() -> None:
    order = make_order(job())
    search = order.search()
    for _ in range(3):
        program, outcome = search.decide(not_as_is=[order.found.choice])
        assert outcome.x is not None
        assert program.choice(outcome.x).key != order.found.choice.key
    program, outcome = search.decide(not_again=[order.found.choice])
    assert outcome.x is not None
    assert program.choice(outcome.x).bought != order.found.choice.bought


def test_prices_move_in_proportion() -> None:
    moved = job().at({"S1": 1.9})
    (sugar,) = [o for o in moved.offers if o.offer == "S1"]
    assert sugar.price == pytest.approx(1.9)
    assert sugar.breaks[0].price == pytest.approx(1.7)
    assert job().at({"F": 0.5}).lots[0].worth_uncooked_per_kg == 0.5
    accepted = fruit_offer()
    assert Terms.of(job(offers=(accepted,)).at({"Q": 0.4}).offers[0]).base_price == pytest.approx(0.4)


def fruit_offer() -> Offer:
    return Offer(offer="Q", supplier="", item="plum, flesh with skin", kind="fruit", price=0.5, priced_on="accepted",
                 reject_fraction=0.2)  # fmt: skip


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda: job(replace(request(), aim="margin")), "at least cost"),
        (lambda: job(request(), replace(request(), on=DAY + timedelta(days=1))), "different days"),
        (lambda: Job(batches=(), site=SITE, lots=(), offers=(), book=BOOK), "nothing to make"),
        (lambda: job().at({"S9": 1.0}), "S1"),
        (lambda: job().at({"S1": float("nan")}), "give a number"),
    ],
)
def test_clear_faults(make, says: str) -> None:
    with pytest.raises(InputFault, match=says):
        make()


def test_a_batch_without_a_recipe_says_which_and_why() -> None:
    with pytest.raises(NoRecipe, match="jam, 20 kg: no recipe"):
        make_order(job(offers=(ACID,)))
    with pytest.raises(NoRecipe, match="all batches"):
        make_order(job(request(60.0), request(60.0), lots=(PLUM.model_copy(update={"on_hand_kg": 40.0}),)))


def test_settled_batches_share_what_is_scarce() -> None:
    """Together no more than there is, and never cheaper than each by itself."""
    lots = (PLUM.model_copy(update={"on_hand_kg": 24.0}), fruit_lot("G", "plum, flesh with skin", worth=0.9))
    both = settled(job(request(30.0), request(30.0), lots=lots))
    alone = settled(job(request(30.0), lots=lots))
    used = sum(float(one.x[0]) / one.case.streams[0].usable_fraction for one in both)
    assert used <= 24.0 * (1.0 + 1e-9)
    assert sum(one.cost for one in both) >= 2.0 * alone[0].cost


APPLE = fruit_lot("G", "apple, cooking, flesh with skin", worth=0.1, ph=3.3, acid_fraction=0.01, brix_fraction=0.11)


def test_rules_in_whole_numbers_hold_in_an_order() -> None:
    """Two fruits are cheapest; at most one kind costs more, and each alone is what remains to choose from."""
    free = request(20.0, confidence=0.5)
    free = replace(free, fruits=())
    both = make_order(job(free, lots=(PLUM, APPLE)))
    one = make_order(job(replace(free, most_fruits=1), lots=(PLUM, APPLE)))
    assert {"F", "G"} <= set(both.taken)
    assert len({"F", "G"} & set(one.taken)) == 1
    alone = [make_order(job(free, lots=(lot,))).found.cost for lot in (PLUM, APPLE)]
    assert one.found.cost == pytest.approx(min(alone), rel=1e-5)
    assert one.found.cost > both.found.cost
