"""How an offer is sold: by the pack or loose, from which amount at which price, with what delivery."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from optimizer.inputs.models import Offer


@dataclass(frozen=True, kw_only=True)
class Tier:
    """One step of a price: it is for all of the amount, not only for what lies beyond the step."""

    least_packs: int
    price: float  # per unit received


@dataclass(frozen=True, kw_only=True)
class Terms:
    """Terms of one offer; units are kg received, or pieces.

    Examples
    --------
    >>> terms = Terms(id="S", item="sugar", pack=25.0, tiers=(
    ...     Tier(least_packs=1, price=0.92), Tier(least_packs=20, price=0.90)), delivery=12.0)
    >>> terms.cost(19), round(terms.cost(20), 2), terms.packs_for(30.0)
    (449.0, 462.0, 2)
    """

    id: str
    item: str
    pack: float | None  # units in one; None: loose
    tiers: tuple[Tier, ...]
    delivery: float = 0.0  # per order
    most: float | None = None  # units on offer

    @classmethod
    def of(cls, offer: Offer) -> Terms:
        """The terms of an offer; prices per accepted kg become prices per received kg."""
        share = 1.0 - (offer.reject_fraction or 0.0) if offer.priced_on == "accepted" else 1.0
        least = 1 if offer.pack is None else math.ceil(offer.least_packs - 1e-9)
        tiers = [Tier(least_packs=least, price=offer.price * share)]
        for step in offer.breaks:
            packs = math.ceil(step.from_packs - 1e-9)
            if packs <= least:
                tiers = [Tier(least_packs=least, price=step.price * share)]
            else:
                tiers.append(Tier(least_packs=packs, price=step.price * share))
        return cls(
            id=offer.code, item=offer.item, pack=offer.pack, tiers=tuple(tiers), delivery=offer.delivery_cost,
            most=offer.available,
        )  # fmt: skip

    @property
    def is_loose(self) -> bool:
        """Any amount at one price and no charge: nothing to decide but how much."""
        return self.pack is None and self.delivery == 0.0

    @property
    def base_price(self) -> float:
        return self.tiers[0].price

    @property
    def most_packs(self) -> int | None:
        if self.pack is None or self.most is None:
            return None
        return math.floor(self.most / self.pack + 1e-9)

    def packs_for(self, units: float) -> int:
        """Whole packs that hold so much, at least the least order."""
        if self.pack is None:
            raise ValueError(f"{self.id} is sold loose")
        return max(self.tiers[0].least_packs, math.ceil(units / self.pack - 1e-9))

    def price_at(self, packs: float) -> float:
        """Price per unit when so many packs are taken."""
        return next((t.price for t in reversed(self.tiers) if packs >= t.least_packs), self.base_price)

    def cost(self, amount: float) -> float:
        """Of so many packs (units where it is loose), delivered; nothing costs nothing."""
        if amount <= 0.0:
            return 0.0
        if self.pack is None:
            return amount * self.base_price + self.delivery
        return amount * self.pack * self.price_at(amount) + self.delivery


def terms_of(offers: Iterable[Offer]) -> dict[str, Terms]:
    return {offer.code: Terms.of(offer) for offer in offers}
