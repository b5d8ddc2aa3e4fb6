"""`panwise backup`: dated copies of the store, proved by reading them back; and the way back from one."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from optimizer.commands.options import store_option
from optimizer.commands.text import paragraph, print_json, table

if TYPE_CHECKING:
    from optimizer.services.backup import BackupReport
    from optimizer.store import Backup

_FOLDER = click.option(
    "--folder", type=click.Path(file_okay=False, path_type=Path), help="Folder; else beside the store."
)
_JSON = click.option("--json", "as_json", is_flag=True, help="Print JSON (panwise/backup/1), for programs.")


@click.group(invoke_without_command=True, short_help="Copies of the store, and back.")
@store_option
@_JSON
@click.pass_context
def backup(ctx: click.Context, where: str | None, as_json: bool) -> None:
    """Make dated copies of the store, list them, bring one back.

    Each copy is read back before it counts. The pages make one by themselves on the
    first start of a day and before every change of the store's own form.

    \b
    Examples:
      panwise backup make
      panwise backup list
      panwise backup restore latest

    Without a word after it: list. Exit status: 0 done, 2 input at fault.
    """
    ctx.obj = where
    if ctx.invoked_subcommand is None:
        _list(where, None, as_json)


@backup.command(short_help="Make a copy now.")
@_FOLDER
@click.option("--keep", type=click.IntRange(1, 1000), default=10, show_default=True, help="Copies kept in the folder.")
@store_option
@_JSON
@click.pass_obj
def make(above: str | None, folder: Path | None, keep: int, where: str | None, as_json: bool) -> None:
    """Make a copy now, and prove it by reading it back.

    \b
    Examples:
      panwise backup make
      panwise backup make --folder /media/stick --keep 30
    """
    from optimizer.services.backup import make_backup
    from optimizer.services.opened import opened

    with opened(where or above) as store:
        found = make_backup(store, folder, keep=keep)
    if as_json:
        print_json(found.document())
        return
    assert found.made is not None
    click.echo(f"Made and read back: {found.made.path}")
    click.echo(paragraph(_holds(found.made), indent=2))


@backup.command("list", short_help="List the copies, newest first.")
@_FOLDER
@store_option
@_JSON
@click.pass_obj
def list_(above: str | None, folder: Path | None, where: str | None, as_json: bool) -> None:
    """List the copies, newest first, with what they hold.

    \b
    Example:
      panwise backup list
    """
    _list(where or above, folder, as_json)


@backup.command(short_help="Bring a copy back.")
@click.argument("which", metavar="FILE|latest")
@click.option("--yes", is_flag=True, help="Do not ask.")
@click.option("--even-if-smaller", is_flag=True, help="Also where it holds less than the store does now.")
@store_option
@_JSON
@click.pass_obj
def restore(above: str | None, which: str, yes: bool, even_if_smaller: bool, where: str | None, as_json: bool) -> None:
    """Bring a copy back, whole or not at all. The present state is copied first.

    \b
    Examples:
      panwise backup restore latest
      panwise backup restore copy_of_monday.db --yes
    """
    from optimizer.services.backup import SmallerBackup, restore_backup
    from optimizer.services.opened import opened

    with opened(where or above, make=True) as store:
        if not yes and not _confirmed(f"Put {which} in the place of {store.where}?"):
            click.echo("Nothing was changed.")
            return
        try:
            found = restore_backup(store, which, even_if_smaller=even_if_smaller)
        except SmallerBackup as error:
            raise SmallerBackup(f"{error} (with --even-if-smaller)") from error
    if as_json:
        print_json(found.document())
        return
    click.echo(f"Brought back: {found.restored}")
    if found.made is not None:
        click.echo(f"What was there before: {found.made.path}")


def _list(where: str | None, folder: Path | None, as_json: bool) -> None:
    from optimizer.services.backup import list_backups
    from optimizer.services.opened import opened

    with opened(where) as store:
        found = list_backups(store, folder)
    if as_json:
        print_json(found.document())
    else:
        click.echo(_as_text(found))


def _as_text(found: BackupReport) -> str:
    if not found.backups:
        return "No backup yet. `panwise backup make` makes one."
    rows = [
        [
            f"{one.made_at.astimezone():%Y-%m-%d %H:%M}",
            f"{one.bytes / 1000:.0f}",
            str(one.lots),
            str(one.batches),
            one.fault or "sound",
        ]
        for one in found.backups
    ]
    lines = [table(["made", "kB", "lots", "batches", "state"], rows, right=[1, 2, 3]), ""]
    lines += [str(one.path) for one in found.backups]
    return "\n".join(lines)


def _holds(one: Backup) -> str:
    return f"{one.kitchens} kitchens, {one.lots} lots, {one.batches} batches, {one.bookings} bookings"


def _confirmed(question: str) -> bool:
    try:
        return click.confirm(question, err=True)
    except click.Abort:  # nobody there to answer
        return False
