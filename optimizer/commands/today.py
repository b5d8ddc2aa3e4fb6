"""`panwise today`: what to cook with the fruit on hand."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, cast

import click

from optimizer.commands.options import store_option
from optimizer.commands.text import number, paragraph, print_json, table

if TYPE_CHECKING:
    from optimizer.services.today import Today

_SHOWN = 12


@click.command()
@click.option("--site", "folder", type=click.Path(path_type=Path),
              help="Folder with stock.csv, offers.csv and site.toml with [prices]; else the store's.")  # fmt: skip
@store_option
@click.option("--on", "on", help="The day, e.g. 2026-07-04; decides how old the fruit is. Else today.")
@click.option("--standard", help="codex, eu, uk, us, india, canada, anz or none; else the site's.")
@click.option("--keeps", type=click.Choice(["heat", "cold", "preservative"]), default="heat", show_default=True,
              help="What keeps it.")  # fmt: skip
@click.option("--within", help="Leave out offers that come later, e.g. 2days.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON (panwise/today/1), for programs.")
def today(
    folder: Path | None, where: str | None, on: str | None, standard: str | None, keeps: str, within: str | None,
    as_json: bool,
) -> None:  # fmt: skip
    """Rank what to cook with the fruit on hand, by the value saved.

    Every product is tried from each fruit alone and as a free blend, as much as
    pays and fits into a shift. What is left is sold fresh, frozen or carted off.

    \b
    Examples:
      panwise today
      panwise today --site my_kitchen
      panwise today --site my_kitchen --within 1days --json
    """
    from datetime import date

    from optimizer.blend.request import Keeps
    from optimizer.errors import InputFault
    from optimizer.inputs.typed import parse_days
    from optimizer.services.today import rank_today, today_of_folder
    from optimizer.services.today_document import today_document

    try:
        day = date.fromisoformat(on) if on else date.today()
    except ValueError as error:
        raise InputFault(f'--on "{on}": write a day as 2026-07-04') from error
    days = parse_days(within) if within else None
    if folder is None:
        from optimizer.inputs.book import load_book
        from optimizer.services.opened import current_folder

        kitchen = current_folder(where)
        found = rank_today(
            kitchen.site, kitchen.lots, kitchen.offers, load_book(),
            on=day, standard=standard, keeps=cast(Keeps, keeps), within_days=days,
        )  # fmt: skip
    else:
        found = today_of_folder(folder, on=day, standard=standard, keeps=cast(Keeps, keeps), within_days=days)
    if as_json:
        print_json(today_document(found))
    else:
        click.echo("\n\n".join(_text(found)))
    if not found.choices:
        click.get_current_context().exit(1)


def _text(found: Today) -> Iterator[str]:
    from optimizer.units import format_mass, format_money

    yield f"What to cook on {found.on}\n" + paragraph(
        f"{found.site}; at most {format_mass(found.most_kg)} finished, set by {found.most_reason}"
    )
    if not found.choices:
        yield "NOTHING PAYS TODAY"
    else:
        rows = [
            [
                str(rank),
                choice.title + (" !" if choice.needs_measured_ph else ""),
                ", ".join(f"{fruit} {share * 100:.0f} %" for fruit, share in choice.fruit_shares),
                format_mass(choice.finished_kg),
                str(choice.jars),
                number(choice.cost_per_jar, 2),
                number(choice.value_saved, 2),
            ]
            for rank, choice in enumerate(found.choices[:_SHOWN], start=1)
        ]
        head = ["", "product", "of", "makes", "jars", f"{found.currency}/jar", "saves"]
        yield table(head, rows, right=[0, 3, 4, 5, 6])
        if any(choice.needs_measured_ph for choice in found.choices[:_SHOWN]):
            yield paragraph("! low-acid fruit in it: no jar leaves before its pH is measured at 4.0 or less.")
        best = found.choices[0]
        takes = [[u.id, u.item, format_mass(u.kg), number(min(u.keeps_days, 999.0), 1)] for u in best.lots]
        yield table(["code", "the first choice takes", "kg received", "keeps days"], takes, right=[2, 3])
        if best.buy:
            buys = [
                [p.id, p.item, format_mass(p.kg), format_money(p.cost, found.currency), f"{p.delivery_days:g}"]
                for p in best.buy
            ]
            yield table(["code", "and buys", "kg", "cost", "comes in days"], buys, right=[2, 3, 4])
    if found.not_cooked:
        left = [
            [n.id, n.item, format_mass(n.kg), n.best_use, format_money(n.value, found.currency)]
            for n in found.not_cooked
        ]
        yield table(["code", "left by the first choice", "kg", "best use", "worth"], left, right=[2, 4])
    if found.excluded:
        yield "\n".join(["Not today", *_excluded(found)])
    if found.cautions or found.defaults:
        notes = dict.fromkeys((*found.cautions, *found.defaults))
        yield "\n".join(["Note", *(paragraph(f"- {text}", hanging=2) for text in notes)])
    yield paragraph(
        "Saves: sale of whole jars, less goods bought, fuel, jars, labour and what the fruit used would still be worth "
        "tomorrow. A plan is no proof of safety: `panwise recipe` shows the cautions of each batch."
    )


def _excluded(found: Today) -> Iterator[str]:
    """Products without a sale price share one line; each other one says why and what helps."""
    from optimizer.services.today import NO_PRICE

    unpriced = [e.title for e in found.excluded if e.why == NO_PRICE]
    if unpriced:
        yield paragraph(f"- {', '.join(unpriced)}: no sale price; give one under [prices] in site.toml", hanging=2)
    for e in found.excluded:
        if e.why != NO_PRICE:
            helps = f" What helps: {e.help}." if e.help else ""
            yield paragraph(f"- {e.title}: {e.why.rstrip('.')}.{helps}", hanging=2)
