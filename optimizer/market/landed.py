"""Offers made comparable: the price as listed beside what the useful part of it costs, delivered.

A screen, not a judge: 1 kg of acid in lemon juice and 1 kg of it dry are not the same thing in a pan. The order says
which to take.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from optimizer.inputs.models import Book, Offer, Product
from optimizer.market.breakeven import cheapest_packs
from optimizer.market.terms import Terms
from optimizer.market.units_of_use import Use, Useful, useful

CREDITED: tuple[Use, ...] = ("sugar", "acid", "HM pectin")


@dataclass(frozen=True, kw_only=True)
class Landed:
    """One offer per unit received and per useful unit.

    `list_price` is as listed, per unit received. `landed_per_useful_unit` is what `amount` units cost in whole packs
    and delivered, less what fruit brings beside its weight, per useful unit bought.
    """

    id: str
    item: str
    use: Use
    useful_unit: str
    useful_per_received: float
    list_price: float
    list_per_useful_unit: float
    amount: float  # units received that the landed price is for
    packs: int | None
    delivered_cost: float
    credit: float  # for all of the amount [money]
    landed_per_useful_unit: float
    said: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class NotComparable:
    """An offer that has no useful unit, and why."""

    id: str
    item: str
    why: str


def landed_prices(
    offers: Iterable[Offer],
    book: Book,
    *,
    breakage: float,
    needs: Mapping[Use, float] | None = None,
    amounts: Mapping[str, float] | None = None,
    product: Product | None = None,
    currency: str = "",
) -> tuple[tuple[Landed, ...], tuple[NotComparable, ...]]:
    """Landed prices of offers, the cheapest of each use first.

    Parameters
    ----------
    offers : iterable of Offer
        In time and still valid.
    breakage : float
        Share of jars that are never filled.
    needs : mapping, optional
        Use -> useful units that are needed: delivery and packs are spread over what covers them. Without a need the
        least that can be ordered, or one unit, is taken.
    amounts : mapping, optional
        Offer -> units that are taken in fact; they go before the need.
    product : Product, optional
        As for `useful`.
    currency : str
        For the sentences.
    """
    out: list[NotComparable] = []
    known: list[tuple[Offer, Useful]] = []
    for offer in offers:
        found = useful(offer, book, breakage=breakage, product=product)
        if isinstance(found, str):
            out.append(NotComparable(id=offer.code, item=offer.item, why=found))
        else:
            known.append((offer, found))
    credit: dict[Use, tuple[float, str]] = {}
    landed: list[Landed] = []
    # First what fruit and juice are credited with, at the cheapest landed price of things that bring nothing else.
    for is_credited in (False, True):
        for offer, found in known:
            if bool(found.credits) is is_credited:
                one = _landed(offer, found, needs or {}, (amounts or {}).get(offer.code), credit, currency)
                landed.append(one)
                if not is_credited and one.use in CREDITED:
                    best = credit.get(one.use)
                    if best is None or one.landed_per_useful_unit < best[0]:
                        credit[one.use] = one.landed_per_useful_unit, one.id
    return tuple(sorted(landed, key=lambda one: (one.use, one.landed_per_useful_unit))), tuple(out)


def _landed(
    offer: Offer,
    found: Useful,
    needs: Mapping[Use, float],
    taken: float | None,
    credit: Mapping[Use, tuple[float, str]],
    currency: str,
) -> Landed:
    terms = Terms.of(offer)
    need = needs.get(found.use, 0.0) / found.per_received
    amount, packs = _amount(terms, need if taken is None else taken)
    delivered = terms.cost(amount if packs is None else packs)
    credited, said = 0.0, list(found.said)
    for use, units in found.credits:
        if use in credit and units > 0.0:
            price, by = credit[use]
            credited += price * units * amount
            said.append(
                f"less {units * amount:.3g} {_short(use)} at {price:.3g} {currency} as by {by}".replace("  ", " ")
            )
        elif units > 0.0:
            said.append(f"no credit for {_short(use)}: no other offer has a price for it")
    useful_units = amount * found.per_received
    return Landed(
        id=offer.code, item=offer.item, use=found.use, useful_unit=found.unit, useful_per_received=found.per_received,
        list_price=offer.price, list_per_useful_unit=terms.base_price / found.per_received, amount=amount, packs=packs,
        delivered_cost=delivered, credit=credited, landed_per_useful_unit=(delivered - credited) / useful_units,
        said=tuple(said),
    )  # fmt: skip


def _short(use: Use) -> str:
    return {"sugar": "kg of sugar", "acid": "kg of acid", "HM pectin": "kg of sugar set"}.get(use, use)


def _amount(terms: Terms, need: float) -> tuple[float, int | None]:
    """Units that cover a need as sold: whole packs, as many as cost least; never more than there is."""
    if terms.pack is None:
        amount = need if need > 0.0 else 1.0
        return (amount if terms.most is None or terms.most <= 0.0 else min(amount, terms.most)), None
    packs = cheapest_packs(terms, max(need, 1e-9))
    most = terms.most_packs
    if most is not None and most >= 1:
        packs = min(packs, max(most, 1))
    return packs * terms.pack, packs
