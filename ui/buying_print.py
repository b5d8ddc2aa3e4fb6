"""The order list as a sheet that stands alone: no script, no outside file, every word escaped; a browser prints it."""

from __future__ import annotations

import html
from collections.abc import Sequence

from optimizer.services.offers import Offers
from ui.buying_parts import amount
from ui.show import product_name
from ui.words import _, capital, language, said, show_day, show_mass, show_money, show_number

_STYLE = """@page { size: A4; margin: 14mm }
body { font: 12pt/1.45 system-ui, sans-serif; color: #000; background: #fff; max-width: 182mm; margin: 8mm auto }
h1 { font-size: 20pt; margin: 0 0 2mm } h2 { font-size: 13pt; margin: 6mm 0 2mm } p { margin: 1mm 0 }
table { border-collapse: collapse; width: 100% }
td, th { border: 1px solid #000; padding: 1.6mm 2mm; text-align: left; vertical-align: top }
td { overflow-wrap: anywhere } th { white-space: nowrap }
thead { display: table-header-group } tr { break-inside: avoid }
.n { text-align: right; font-variant-numeric: tabular-nums; white-space: nowrap } .c { min-width: 18mm }
small { font-size: 10pt }"""


def order_html(found: Offers) -> str:
    """The whole page as text."""
    order, currency = found.order, found.currency
    e = html.escape
    made = ", ".join(
        f"{capital(product_name(batch.product))} {show_mass(batch.batch_kg)}" for batch in order.job.batches
    )
    title = _("Order list")
    rows = [
        [
            line.supplier or _("not named"), line.offer, said(line.item),
            _("loose")
            if line.packs is None
            else f"{show_number(line.packs, 'kg', places=0)}\u00a0×\u00a0{amount(line.pack or 0.0, line.unit)}",
            amount(line.amount, line.unit), show_money(line.cost, currency), "",
        ]
        for line in order.lines
    ]  # fmt: skip
    head = [_("From"), _("Code"), _("What"), _("Packs"), _("In all"), _("Delivered"), _("Ordered")]
    parts = [
        f"<h1>{e(title)}</h1>",
        f"<p>{e(found.site)}, {e(show_day(found.on, year=True))}</p>",
        f"<p>{e(_('For: {batches}').format(batches=made))}</p>",
        _table(head, rows, figures=(4, 5), codes=(1,)),
        f"<p><strong>{e(_('The order, delivered: {money}').format(money=show_money(order.parts['order'], currency)))}"
        "</strong></p>",
    ]
    left = [
        f"{line.offer}, {said(line.item)}: {amount(line.left_over, line.unit)}; {said(line.keeps)}"
        for line in order.lines
        if line.left_over > 0.0
    ]
    parts += _list(_("Left over"), left)
    parts += _list(_("Mind"), [said(note) for note in found.notes])
    parts.append(
        "<p><small>"
        + e(_("Each offer is its own order with its own delivery. Lowest cost is no proof of safety."))
        + "</small></p>"
    )
    return (
        f'<!doctype html>\n<html lang="{e(language())}"><head><meta charset="utf-8"><title>{e(title)}</title>'
        f"<style>{_STYLE}</style></head>\n<body><main>" + "\n".join(parts) + "</main></body></html>\n"
    )


def _table(
    head: Sequence[str], rows: Sequence[Sequence[str]], *, figures: tuple[int, ...], codes: tuple[int, ...]
) -> str:
    def kind(at: int) -> str:
        return ' class="n"' if at in figures else ' class="c"' if at in codes else ""

    top = "".join(f'<th scope="col"{kind(at)}>{html.escape(text)}</th>' for at, text in enumerate(head))
    body = "\n".join(
        "<tr>" + "".join(f"<td{kind(at)}>{html.escape(cell)}</td>" for at, cell in enumerate(row)) + "</tr>"
        for row in rows
    )
    return f"<table><thead><tr>{top}</tr></thead><tbody>\n{body}\n</tbody></table>"


def _list(title: str, lines: Sequence[str]) -> list[str]:
    if not lines:
        return []
    return [f"<h2>{html.escape(title)}</h2>", "<ul>", *(f"<li>{html.escape(line)}</li>" for line in lines), "</ul>"]
