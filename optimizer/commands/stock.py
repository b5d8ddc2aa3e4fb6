"""`panwise stock`: what is on hand in the store's kitchen; tables and folders in and out; undo; history."""

from __future__ import annotations

from pathlib import Path

import click

from optimizer.commands.options import store_option
from optimizer.commands.text import paragraph, print_json, table


@click.group(invoke_without_command=True, short_help="What is on hand; tables in and out.")
@click.option("--on", "on", help="The day, e.g. 2026-07-04; decides how old the fruit is. Else today.")
@store_option
@click.option("--json", "as_json", is_flag=True, help="Print JSON (panwise/stock/1), for programs.")
@click.pass_context
def stock(ctx: click.Context, on: str | None, where: str | None, as_json: bool) -> None:
    """Show what is on hand in the store's kitchen, until when it keeps and what it
    is worth; bring tables in, take them out, take back the last change.

    \b
    Examples:
      panwise stock
      panwise stock import my_kitchen
      panwise stock add stock_of_today.xlsx
      panwise stock export kitchen.zip

    Exit status: 0 done, 2 input at fault.
    """
    ctx.obj = where
    if ctx.invoked_subcommand is not None:
        return
    from datetime import date

    from optimizer.commands.stock_text import stock_text
    from optimizer.errors import InputFault
    from optimizer.services.opened import opened
    from optimizer.services.stock import stock_on_hand

    try:
        day = date.fromisoformat(on) if on else date.today()
    except ValueError as error:
        raise InputFault(f'--on "{on}": write a day as 2026-07-04') from error
    with opened(where) as store:
        found = stock_on_hand(store, on=day)
    if as_json:
        print_json(found.document())
    else:
        click.echo(stock_text(found))


@stock.command(short_help="Bring in a table of stock or offers.")
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option("--yes", is_flag=True, help="Book it without asking.")
@store_option
@click.option("--json", "as_json", is_flag=True, help="Print JSON (panwise/preview/1); books only with --yes.")
@click.pass_obj
def add(above: str | None, file: Path, yes: bool, where: str | None, as_json: bool) -> None:
    """Bring in a table of stock or offers (CSV or XLSX); its columns tell which.

    First it is shown what would be new, changed and untouched, or every fault, with
    which nothing is booked. Lines that are not in the file stay. The same file
    twice changes nothing.

    \b
    Examples:
      panwise stock add stock.csv
      panwise stock add offers_july.xlsx --yes
    """
    from optimizer.commands.stock_text import preview_text
    from optimizer.errors import BadTable, InputFault
    from optimizer.inputs.text_files import MOST_BYTES
    from optimizer.services.kitchen import preview_upload, save
    from optimizer.services.opened import opened
    from optimizer.services.table_document import preview_document
    from optimizer.services.tables_in import which_table

    if file.stat().st_size > MOST_BYTES:
        raise InputFault(f"{file.name}: the file has more than {MOST_BYTES / 1e6:.0f} MB; split it")
    raw = file.read_bytes()
    with opened(where or above) as store:
        found = preview_upload(store, which_table(file.name, raw), file.name, raw)
        if found.faults and not as_json:
            raise BadTable(found.faults)
        if not as_json:
            click.echo(preview_text(found))
        booked = None
        if found.can_save and (yes or (not as_json and _confirmed("Book it?"))):
            booked = save(store, found)
    if as_json:
        print_json(preview_document(found, booked))
    elif booked is not None:
        click.echo("Booked. `panwise stock undo` takes it back.")
    elif found.can_save:
        click.echo("Nothing was booked.")
    if found.faults:
        click.get_current_context().exit(2)


@stock.command("export", short_help="Write the kitchen to files.")
@click.argument("to", metavar="FOLDER-OR-FILE", type=click.Path(path_type=Path))
@click.option("--decimal-comma", is_flag=True, help="CSV with semicolons and decimal commas.")
@store_option
@click.pass_obj
def export_(above: str | None, to: Path, decimal_comma: bool, where: str | None) -> None:
    """Write the kitchen to a folder (site.toml, stock.csv, offers.csv), to a file
    that ends in .zip (everything, with history), or one table: stock.csv,
    stock.xlsx, offers.csv or offers.xlsx.

    \b
    Examples:
      panwise stock export my_kitchen
      panwise stock export kitchen.zip
      panwise stock export offers.xlsx
    """
    from optimizer.services.opened import opened
    from optimizer.services.tables_out import write_to

    with opened(where or above) as store:
        for path in write_to(store, to, decimal_comma=decimal_comma):
            click.echo(f"Written: {path}")


@stock.command("import", short_help="Make a kitchen from a site folder.")
@click.argument("folder", metavar="FOLDER-OR-ZIP", type=click.Path(exists=True, path_type=Path))
@click.option("--name", help="Name of the new kitchen; else the one in site.toml, else the folder's.")
@store_option
@click.pass_obj
def import_(above: str | None, folder: Path, name: str | None, where: str | None) -> None:
    """Make a kitchen in the store from a site folder, or from a zip of one.

    It becomes the current one; `panwise stock kitchens` shows all.

    \b
    Examples:
      panwise stock import my_kitchen
      panwise stock import kitchen.zip --name "Kitchen of last year"
    """
    from optimizer.services.kitchen import bring_in_folder
    from optimizer.services.opened import opened

    with opened(where or above, make=True) as store:
        made = bring_in_folder(store, folder, name)
        lots, offers = len(store.lots(made)), len(store.offers(made))
    click.echo(paragraph(f"{made.name}: {_count(lots, 'lot')}, {_count(offers, 'offer')}. It is the current kitchen."))


@stock.command(short_help="Write a workbook to fill in.")
@click.argument("which", type=click.Choice(["stock", "offers"]))
@click.option("--to", type=click.Path(dir_okay=False, path_type=Path), help="Where to; else WHICH_template.xlsx here.")
def template(which: str, to: Path | None) -> None:
    """Write a workbook to fill in, with notes and lists to choose from.

    \b
    Examples:
      panwise stock template stock
      panwise stock template offers --to july.xlsx
    """
    from typing import cast

    from optimizer.services.preview import Which
    from optimizer.services.site_folders import write_whole
    from optimizer.services.tables_out import template_file

    name, content = template_file(cast(Which, which))
    path = to or Path(name)
    write_whole(path, content)
    click.echo(f"Written: {path}")


@stock.command(short_help="Take back the last booking.")
@store_option
@click.pass_obj
def undo(above: str | None, where: str | None) -> None:
    """Take back the last booking; repeated, the one before it.

    \b
    Example:
      panwise stock undo
    """
    from optimizer.services.kitchen import undo as take_back
    from optimizer.services.opened import opened

    with opened(where or above) as store:
        booking = take_back(store)
    click.echo(paragraph("Nothing is left to take back." if booking is None else f"{booking.said}."))


@stock.command()
@click.option("--most", type=click.IntRange(1, 10_000), default=30, show_default=True, help="So many of the latest.")
@store_option
@click.option("--json", "as_json", is_flag=True, help="Print JSON (panwise/bookings/1), for programs.")
@click.pass_obj
def history(above: str | None, most: int, where: str | None, as_json: bool) -> None:
    """List what was booked, newest first.

    \b
    Example:
      panwise stock history --most 5
    """
    from optimizer.services import stock as stocks
    from optimizer.services.opened import opened

    with opened(where or above) as store:
        found = stocks.history(store, most=most)
    if as_json:
        print_json(stocks.history_document(found))
        return
    rows = [
        [str(b.id), f"{b.at.astimezone():%Y-%m-%d %H:%M}", b.who, b.said + (" (taken back)" if b.undone else "")]
        for b in found
    ]
    click.echo(table(["no", "when", "who", "what"], rows, right=[0]))


@stock.command(short_help="List the kitchens, or choose one.")
@click.argument("name", required=False)
@store_option
@click.pass_obj
def kitchens(above: str | None, name: str | None, where: str | None) -> None:
    """List the kitchens of the store, or make NAME the current one.

    \b
    Examples:
      panwise stock kitchens
      panwise stock kitchens "Mill Lane"
    """
    from optimizer.services.opened import opened
    from optimizer.services.stock import choose_kitchen

    with opened(where or above) as store:
        if name is not None:
            choose_kitchen(store, name)
        now = store.current()
        for kitchen in store.kitchens():
            click.echo(f"{'*' if kitchen == now else ' '} {kitchen.name}")


def _confirmed(question: str) -> bool:
    try:
        return click.confirm(question, err=True)
    except click.Abort:  # nobody there to answer
        return False


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}{'' if number == 1 else 's'}"
