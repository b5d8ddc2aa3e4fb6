"""`panwise check`: every fault of tables at once, before anything is done with them."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from optimizer.commands.text import paragraph, print_json

if TYPE_CHECKING:
    from optimizer.services.check import Checked

NAMES = {"site": "the site", "stock": "stock", "offers": "offers"}


@click.command(short_help="Read tables and list every fault.")
@click.argument("paths", metavar="FOLDER-OR-FILE...", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Print JSON (panwise/check/1), for programs.")
def check(paths: tuple[Path, ...], as_json: bool) -> None:
    """Read tables without using them, and say what was read or list every fault
    with file, line, column, value and cure.

    A folder is read as a site: site.toml, stock and offers (CSV or XLSX). A single
    table is told by its columns.

    \b
    Examples:
      panwise check my_kitchen
      panwise check stock.csv offers.xlsx --json

    Exit status: 0 no fault, 2 faults.
    """
    from optimizer.services.check import check_paths

    report = check_paths(paths)
    if as_json:
        print_json(report.document())
    else:
        for entry in report.checked:
            click.echo(in_words(entry), err=bool(entry.faults))
    if not report.is_ok:
        click.get_current_context().exit(2)


def in_words(entry: Checked) -> str:
    """What was read, or the faults, of one folder or file."""
    if entry.faults:
        count = len(entry.faults)
        head = f"{entry.path}: {count} problem{'s' if count != 1 else ''}, nothing would be loaded"
        return "\n".join(
            [paragraph(head, hanging=2), *(paragraph(str(fault), indent=2, hanging=2) for fault in entry.faults)]
        )
    lines = [f"{entry.path}: no fault"]
    for read in entry.read:
        rows = "" if read.rows is None else f", {read.rows} line{'s' if read.rows != 1 else ''}"
        lines.append(f"  {read.file}: {NAMES[read.kind]}{rows}")
    lines += [paragraph(sentence, indent=2, hanging=2) for sentence in entry.defaults]
    lines += [f"  {name}: not looked at, no table of a site" for name in entry.not_looked_at]
    return "\n".join(lines)
