"""The buyer's answer as a person reads it, at 80 columns: the order, offers side by side, three prices named apart."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from optimizer.commands.text import number, paragraph, percent, table
from optimizer.market.entry import Entry
from optimizer.market.landed import Landed
from optimizer.market.order import OrderLine
from optimizer.market.order_entry import SETTLED
from optimizer.services.offers import Offers
from optimizer.units import format_mass, format_money

_PARTS = (
    ("order", "order, delivered"), ("lots", "lots on hand, at their worth"), ("fuel", "fuel"),
    ("jars", "jars on hand, at the site's cost"), ("labour", "labour"),
)  # fmt: skip
_SMALLEST = 5e-4  # money: less shows as nothing
_USES = ("fruit", "sugar", "HM pectin", "LM pectin", "acid", "buffer salt", "calcium", "preservative", "jar")
_TITLES = {
    "fruit": "fruit, per edible kg", "sugar": "sugar, per kg of solids", "acid": "acid, per kg (anhydrous citric)",
    "HM pectin": "pectin, per kg of sugar it sets", "LM pectin": "low-methoxyl pectin, per kg",
    "preservative": "preservative, per kg active", "buffer salt": "buffer salt, per kg",
    "calcium": "calcium salt, per kg of calcium", "jar": "packaging, per filled jar",
}  # fmt: skip


def offers_text(found: Offers) -> str:
    """The whole text."""
    return "\n\n".join(part for part in _text(found) if part)


def _text(found: Offers) -> Iterator[str]:
    order = found.order
    batches = ", ".join(f"{b.product} {format_mass(b.batch_kg)}" for b in order.job.batches)
    jars = f"; {order.jars} jars" if order.jars else ""
    yield f"Offers for {batches}\n" + paragraph(f"{found.site}, {found.on}{jars}")
    yield _order(found)
    yield _cost(found)
    yield _bullets("What each saves against the best order without it", _savings(found))
    yield _bullets("Left over", _left_over(order.lines))
    yield from _compared(found)
    yield _buy_below(found)
    yield _worth(found)
    yield _pays_from(found)
    yield from _ladders(found)
    yield _bullets("Left out", _left_out(found))
    yield _bullets("Not comparable", (f"{out.id}, {out.item}: {out.why}" for out in found.not_comparable))
    yield _bullets("Note", (*found.notes, *found.defaults))
    yield paragraph(
        "Each offer is its own order with its own delivery. Lowest cost is no proof of safety: `panwise recipe` shows "
        "the cautions of each batch."
    )


def _bullets(title: str, texts: Iterable[str]) -> str:
    lines = [paragraph(f"- {text}", hanging=2) for text in texts]
    return "\n".join([title, *lines]) if lines else ""


def _left_out(found: Offers) -> Iterator[str]:
    """One line for each reason."""
    reasons: dict[str, list[str]] = {}
    for out in found.order.left_out:
        reasons.setdefault(out.why, []).append(f"{out.id} {out.item.split(',')[0]}")
    for why, codes in reasons.items():
        yield f"{'; '.join(codes)}: {why}"


def _amount(units: float, unit: str) -> str:
    return format_mass(units) if unit == "kg" else f"{units:.0f} pieces"


def _order(found: Offers) -> str:
    if not found.order.lines:
        return "NOTHING TO ORDER: what is on hand does it"
    rows = [
        [
            line.offer,
            line.item,
            "loose" if line.packs is None else f"{line.packs} x {_amount(line.pack or 0.0, line.unit)}",
            _amount(line.amount, line.unit),
            f"{line.delivery_days:g}",
            format_money(line.cost, found.currency),
        ]
        for line in found.order.lines
    ]
    return table(["code", "order", "packs", "in all", "days", "delivered"], rows, right=[2, 3, 4, 5])


def _cost(found: Offers) -> str:
    order = found.order
    rows = [
        [words, format_money(order.parts[name], found.currency)] for name, words in _PARTS if order.parts[name] > 0.0
    ]
    rows.append(["all together", format_money(order.total, found.currency)])
    text = table(["cost", ""], rows, right=[1])
    if order.bound is None or order.gap is None:
        return text + "\n" + paragraph("No bound was proved: a cheaper order may exist.")
    if order.gap <= 1e-6:
        said = "No other order is cheaper for these recipes at the state of their cook (proved to a millionth)."
    else:
        said = (
            f"No other order costs less than {format_money(order.bound, found.currency)} at the state of these "
            f"recipes' cook: this one lies {percent(order.gap, 3)} % above."
        )
    return text + "\n" + paragraph(said)


def _savings(found: Offers) -> Iterator[str]:
    items = {offer.offer: offer.item for offer in found.order.job.offers}
    items |= {lot.lot: lot.item for lot in found.order.job.lots}
    for one in found.savings:
        if one.saves is None:
            yield f"{one.offer}: there is no order without it."
            continue
        instead = ", ".join(f"{format_mass(kg)} {id_} ({items.get(id_, '')})" for id_, kg in one.instead[:3])
        yield f"{one.offer} saves {format_money(one.saves, found.currency)}" + (f"; else {instead}" if instead else "")


def _left_over(lines: Iterable[OrderLine]) -> Iterator[str]:
    for line in lines:
        if line.left_over > 0.0:
            yield f"{line.offer}: {_amount(line.left_over, line.unit)} of {line.item}; {line.keeps}"


def _compared(found: Offers) -> Iterator[str]:
    """Offers that do the same, side by side: price as listed, per useful unit, and delivered in whole packs."""
    for use in _USES:
        mine = [one for one in found.landed if one.use == use]
        if mine:
            yield _of_use(use, mine, found)
    if found.landed:
        yield paragraph(
            "* in the order. Listed: as offered. Useful: the same per useful unit. Landed: per useful unit bought, in "
            "whole packs and delivered, for the amount in the last column."
        )


def _of_use(use: str, mine: list[Landed], found: Offers) -> str:
    taken = found.order.taken
    rows = []
    for one in mine:
        unit = "piece" if use == "jar" else "kg"
        rows.append(
            [
                f"{one.id} *" if taken.get(one.id, 0.0) > 0.0 else one.id,
                one.item,
                f"{_money(one.list_price)}/{unit}",
                _money(one.list_per_useful_unit),
                _money(one.landed_per_useful_unit),
                f"{one.amount:.0f}" if use == "jar" else format_mass(one.amount),
            ]
        )
    head = ["code", f"{_TITLES[use]} [{found.currency}]", "listed", "useful", "landed", "for"]
    text = table(head, rows, right=[2, 3, 4, 5])
    said = [f"{one.id}: {'; '.join(one.said)}" for one in mine if one.said and use in ("fruit", "acid")]
    return "\n".join([text, *(paragraph(line, indent=2, hanging=2) for line in said)])


def _money(value: float) -> str:
    """Three places below ten, so that a tenth of a cent per kg of sugar set still shows."""
    return number(value, 3 if abs(value) < 10.0 else 2)


def _buy_below(found: Offers) -> str:
    rows = []
    offers = {offer.offer: offer for offer in found.order.job.offers}
    for entry in found.entries:
        offer = offers[entry.id]
        rows.append(
            [
                entry.id,
                offer.item,
                _in_words(entry.price),
                _below(entry),
                _amount(entry.then_taken, offer.unit) if entry.then_taken > 0.0 else "",
                _range(entry),
            ]
        )
    if not rows:
        return ""
    head = ["code", f"BUY BELOW (entry price) [{found.currency}]", "now", "below", "then", "same kg"]
    text = table(head, rows, right=[2, 3, 4, 5])
    said = (
        f"Per kg received (or piece), in {found.currency}. Below its entry price an offer is in the cheapest order, "
        "above it is not, with whole packs and deliveries; `then` is what is bought at it; between the prices of the "
        "last column as much of it is bought as now. `never`: not even for nothing; `paid`: only if "
        "that much came with each kg. All other prices stay as they are. Found by solving again, recipes settled anew "
        f"to {percent(SETTLED)} % of the price; ranges hold at the cook of these recipes."
    )
    by_kg = {entry.id: entry for entry in found.mix_entries}
    loose = [
        f"{entry.id} {_in_words(entry.enters_below)}" for entry in by_kg.values()
        if entry.enters_below is not None and entry.taken == 0.0
    ]  # fmt: skip
    more = (
        f" If any amount could be had, and delivery cost nothing, these would enter below: {', '.join(loose)}."
        if loose else ""
    )  # fmt: skip
    return text + "\n" + paragraph(said + more)


def _below(entry: Entry) -> str:
    if entry.at_any_price:
        return "any price"
    return "never" if entry.enters_below is None else _in_words(entry.enters_below)


def _in_words(price: float) -> str:
    """A price below nothing is money that comes with the goods."""
    if price < -_SMALLEST:
        return f"paid {_money(-price)}"
    return _money(price) if price > _SMALLEST else "a gift"


def _range(entry: Entry) -> str:
    if entry.taken <= 0.0:
        return "" if entry.same_from is None else f"from {_in_words(entry.same_from)}"
    low = _in_words(entry.same_from) if entry.same_from is not None else "0"
    return f"from {low}" if entry.same_to is None else f"{low} - {_in_words(entry.same_to)}"


def _worth(found: Offers) -> str:
    items = {offer.offer: offer.item for offer in found.order.job.offers}
    items |= {lot.lot: lot.item for lot in found.order.job.lots}
    rows = [
        [w.id, items.get(w.id, ""), format_mass(w.there), number(w.value, 3),
         "" if w.holds_to is None else f"up to {format_mass(w.holds_to)}"]
        for w in found.worth if w.value >= 0.0005
    ]  # fmt: skip
    if not rows:
        return paragraph("WORTH OF ONE MORE KG: nothing, all that is used is there in plenty.")
    head = ["code", "WORTH OF ONE MORE KG (once ordered)", "there is", found.currency, "holds"]
    said = "What one kg more of it would save, were it there at no charge, while the order stays as it is."
    return table(head, rows, right=[2, 3, 4]) + "\n" + paragraph(said)


def _pays_from(found: Offers) -> str:
    offers = {offer.offer: offer for offer in found.order.job.offers}
    rows = []
    for one in found.pays_from:
        jars = f"{one.jars}" if one.jars is not None else f"not up to {one.most_jars}"
        first = "" if one.first_jars in (None, one.jars) else f"{one.first_jars}"
        unit = offers[one.id].unit
        per_jar = f"{one.units_per_jar * 1000.0:.3g} g" if unit == "kg" else f"{one.units_per_jar:.3g} pieces"
        rows.append([one.id, offers[one.id].item, one.against, per_jar, first, jars])
    if not rows:
        return ""
    head = ["code", "PAYS FROM (jars)", "against", "a jar takes", "first at", "from on"]
    said = (
        f"Jars of one order from which it costs no more than what is taken now, packs, steps and delivery counted, "
        f"for as much useful matter per jar as these recipes take; now {found.order.jars} jars. What is left over "
        "counts for nothing. A screen: a rule of the recipe may keep one from taking the place of the other."
    )
    return table(head, rows, right=[3, 4, 5]) + "\n" + paragraph(said)


def _ladders(found: Offers) -> Iterator[str]:
    if not found.asked:
        codes = ", ".join(f'--ladder "{ladder.item}"' for ladder in found.ladders[:1])
        said = (
            "every step is then settled anew. The ladders of all items in `--json` are exact only while the cook is "
            "held as it is in this recipe."
        )
        yield paragraph(f"How much would be bought at which price: {codes}; {said}") if codes else ""
    for ladder in found.ladders:
        if ladder.item not in found.asked:
            continue
        rows = [
            [_money(step.price_from), "and up" if step.price_to is None else _money(step.price_to),
             format_mass(step.kg) if step.kg > 1e-6 else "none"]
            for step in ladder.steps
        ]  # fmt: skip
        title = f"How much of {ladder.item} at which price"
        if ladder.price_now is not None:
            title += f" (now {_money(ladder.price_now)} {found.currency} per kg received, in any amount)"
        text = table([f"from [{found.currency}]", "to", "buys"], rows, right=[0, 1, 2], indent=2)
        said = " ".join(ladder.said)
        yield "\n".join([paragraph(title), text, *([paragraph(said)] if said else [])])
