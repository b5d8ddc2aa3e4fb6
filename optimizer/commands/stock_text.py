"""Stock and previews as text of 80 columns."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from optimizer.commands.text import number, paragraph, table
from optimizer.units import format_money

if TYPE_CHECKING:
    from optimizer.services.kitchen import Preview
    from optimizer.services.stock import StockOnHand

_MOST_SHOWN = 20


def stock_text(found: StockOnHand) -> str:
    """Lots on hand, what goes first at the top."""
    return "\n\n".join(_stock_parts(found))


def _stock_parts(found: StockOnHand) -> Iterator[str]:
    as_of = "" if found.as_of is None else f"; stock of {found.as_of.astimezone():%Y-%m-%d %H:%M}"
    yield paragraph(f"{found.kitchen}: on hand on {found.on}{as_of}", hanging=2)
    if found.lots:
        rows = [
            [
                lot.lot,
                lot.item,
                lot.on_hand,
                number(lot.keeps_days, 0),
                "" if lot.keeps_until is None else lot.keeps_until.isoformat(),
                format_money(lot.worth, found.currency),
            ]
            for lot in found.lots
        ]
        yield table(["lot", "item", "on hand", "keeps days", "until", "worth uncooked"], rows, right=[3, 5])
        yield f"Worth uncooked, all of it: {format_money(found.worth, found.currency)}"
    else:
        yield paragraph(
            "Nothing is on hand. `panwise stock template stock` writes a workbook to fill in, `panwise stock add FILE` "
            "brings it in."
        )
    if found.used_up:
        yield paragraph(f"Used up: {', '.join(found.used_up)}", hanging=2)
    if found.cautions:
        yield "\n".join(["Note", *(paragraph(f"- {text}", hanging=2) for text in found.cautions)])


def preview_text(found: Preview) -> str:
    """What a table would add, change and leave."""
    counts = (
        f"{found.file or found.which}: adds {len(found.new)}, changes {len(found.changed)}, "
        f"leaves {len(found.untouched)} as they are"
    )
    lines = [paragraph(counts, hanging=2)]
    if found.new:
        lines.append(paragraph(f"new: {_some(found.new)}", indent=2, hanging=2))
    for row in found.changed[:_MOST_SHOWN]:
        cells = ", ".join(f'{cell.column} "{cell.old}" -> "{cell.new}"' for cell in row.cells)
        lines.append(paragraph(f"{row.code}: {cells}", indent=2, hanging=2))
    if len(found.changed) > _MOST_SHOWN:
        lines.append(f"  and {len(found.changed) - _MOST_SHOWN} more that change")
    lines += [paragraph(text, indent=2, hanging=2) for text in found.said]
    return "\n".join(lines)


def _some(codes: Sequence[str]) -> str:
    more = len(codes) - _MOST_SHOWN
    return ", ".join(codes[:_MOST_SHOWN]) + (f" and {more} more" if more > 0 else "")
