"""`panwise trace`: from a jar back to its lots and suppliers, from a lot forward to its jars."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import click

from optimizer.commands.options import store_option
from optimizer.commands.text import paragraph, print_json, table

if TYPE_CHECKING:
    from optimizer.store import Trace

_KINDS = {"lot": "Lot", "batch": "Batch", "jars": "Jars"}


@click.command(short_help="From a jar to its lots, from a lot to its jars.")
@click.argument("code")
@store_option
@click.option("--json", "as_json", is_flag=True, help="Print JSON (panwise/trace/1), for programs.")
def trace(code: str, where: str | None, as_json: bool) -> None:
    """Follow CODE, of a lot, a batch or jars: which lots and suppliers stand behind
    it, and into which jars it went.

    \b
    Examples:
      panwise trace F-0703-2
      panwise trace B261125-1a --json

    Exit status: 0 found, 2 no such code.
    """
    from optimizer.services.opened import opened
    from optimizer.services.trace import trace as follow
    from optimizer.services.trace import trace_document

    with opened(where) as store:
        found = follow(store, code)
    if as_json:
        print_json(trace_document(found))
    else:
        click.echo("\n\n".join(_text(found)))


def _text(found: Trace) -> Iterator[str]:
    from optimizer.services.kitchen_state import as_weighed

    yield f"{_KINDS[found.kind]} {found.code}"
    rows = [[use.lot, use.item, use.supplier, as_weighed(use.amount, use.unit)] for use in found.back]
    if rows:
        yield table(["lot", "item", "from", "went in"], rows, right=[3])
    if found.batches:
        batches = [
            [
                batch.code,
                batch.product,
                f"{batch.opened_at.astimezone():%Y-%m-%d}",
                "" if batch.made_g is None else as_weighed(batch.made_g, "g"),
                batch.state,
            ]
            for batch in found.batches
        ]
        yield table(["batch", "product", "opened", "made", "state"], batches, right=[3])
    else:
        yield "No batch took any of it yet."
    if found.forward:
        jars = [[j.code, j.name, j.batch, str(j.made), str(j.on_hand)] for j in found.forward]
        yield table(["jars", "of", "batch", "filled", "still here"], jars, right=[3, 4])
    elif found.batches:
        yield "No jars were filled from it yet."
    if found.kind != "lot" and not found.suppliers:
        yield paragraph("No supplier is named: fill in `supplier` in the stock table, so that it can be found again.")
