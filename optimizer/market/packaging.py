"""Jars, lids and labels: how many the batches need beyond what is on hand."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from optimizer.market.job import Job, jar_count
from optimizer.market.order_program import Demand

_JAR_WORDS = ("jar ", "bottle ")


@dataclass(frozen=True, kw_only=True)
class PackagingNeed:
    """Pieces of one item for all batches."""

    item: str
    used: int  # filled, breakage included
    on_hand: int | None  # None: not known
    to_buy: int


def breakage(job: Job) -> float:
    """Share of jars that break or are refused before they are filled."""
    return job.book.setting("jar_breakage_fraction")


def filled_jars(job: Job) -> int:
    """Jars that the batches fill; of the first jar of the site."""
    return sum(jar_count(job.site, job.book, request.batch_kg) for request in job.batches)


def jar_item(job: Job) -> str | None:
    """The packaging item of the first jar of the site, as offers name it."""
    if not job.site.jars:
        return None
    size = job.site.jars[0].name
    offered = {offer.item for offer in job.offers} | {lot.item for lot in job.lots}
    return next((word + size for word in _JAR_WORDS if word + size in offered), _JAR_WORDS[0] + size)


def packaging_needs(job: Job) -> tuple[tuple[PackagingNeed, ...], tuple[str, ...]]:
    """What of packaging must be bought, and what is not counted, in sentences.

    Jars on hand stand in site.toml or in the stock table. Lids and labels are counted where the stock table has a line
    of them, be it 0: what is on hand is else not known.
    """
    jars = filled_jars(job)
    if not jars:
        return (), ()
    used = math.ceil(jars / (1.0 - breakage(job)) - 1e-9)
    stock: dict[str, float] = {}
    for lot in job.lots:
        if lot.kind == "packaging" and lot.on_hand_pieces is not None:
            stock[lot.item] = stock.get(lot.item, 0.0) + lot.on_hand_pieces
    item = jar_item(job)
    known: Mapping[str, float | None] = {}
    if item is not None:
        first = job.site.jars[0].on_hand
        in_stock = stock.get(item)
        known = {item: None if first is None and in_stock is None else (first or 0.0) + (in_stock or 0.0)}
    needs, said = [], []
    for name, on_hand in {**{k: v for k, v in stock.items() if not k.startswith(_JAR_WORDS)}, **known}.items():
        there = None if on_hand is None else math.floor(on_hand)
        to_buy = 0 if there is None else max(0, used - there)
        needs.append(PackagingNeed(item=name, used=used, on_hand=there, to_buy=to_buy))
        if there is None:
            said.append(f"{name}: how many are on hand is not known; give on_hand in site.toml, 0 if none")
    counted = {need.item for need in needs}
    others = sorted(
        {o.item for o in job.offers if o.kind == "packaging" and not o.item.startswith(_JAR_WORDS)} - counted
    )
    if others:
        said.append(
            f"{', '.join(others)}: not ordered, for what is on hand is not known; give a line in stock.csv, 0 if none"
        )
    return tuple(needs), tuple(said)


def demands(needs: tuple[PackagingNeed, ...]) -> tuple[Demand, ...]:
    return tuple(Demand(item=need.item, pieces=need.to_buy) for need in needs if need.to_buy > 0)
