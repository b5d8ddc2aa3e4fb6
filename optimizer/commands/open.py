"""`panwise open`: the pages in the browser. `panwise paths`: where things lie."""

from __future__ import annotations

import os
import runpy
import sys
from pathlib import Path

import click

from optimizer.commands.text import paragraph, print_json


@click.command("open", short_help="Open the pages in the browser.")
@click.option("--port", type=click.IntRange(1, 65535), help="Port; without it the first free one from 8422.")
@click.option("--no-browser", is_flag=True, help="Only say the address, open nothing.")
@click.option("--store", metavar="WHERE", help="Database: a file, or postgresql://... (also PANWISE_STORE).")
@click.option("--address", default="127.0.0.1", show_default=True, help="Address to listen on.")
@click.option("--host", "hosts", multiple=True, metavar="NAME", help="A name browsers use for it; may be repeated.")
@click.option("--i-know-it-is-open", is_flag=True, help="Listen for the network without sign-in.")
@click.option(
    "--secrets",
    type=click.Path(dir_okay=False, path_type=Path),
    help="File with [auth]; else secrets.toml in the settings folder.",
)
def open_pages(
    port: int | None,
    no_browser: bool,
    store: str | None,
    address: str,
    hosts: tuple[str, ...],
    i_know_it_is_open: bool,
    secrets: Path | None,
) -> None:
    """Open the pages in the browser: stock and prices in, today's recipe out.

    They run on this machine, for this machine alone, until Ctrl+C. For others in
    the network set up sign-in first ([auth] in secrets.toml, people in
    access.toml; `panwise paths` says where both lie).

    \b
    Examples:
      panwise open
      panwise open --store kitchen.db --port 8500
      panwise open --address 0.0.0.0 --host kitchen.example --secrets secrets.toml

    Exit status: 0 ended with Ctrl+C, 2 something to mend first.
    """
    from optimizer.services.open import prepare_opening

    opening = prepare_opening(
        port=port, address=address, hosts=hosts, secrets=secrets, knows_it_is_open=i_know_it_is_open
    )
    if store:
        os.environ["PANWISE_STORE"] = store
    for note in opening.notes:
        click.echo(paragraph(note), err=True)
    # The pages are a sibling of this program, so they are started by name like any other program.
    words = ["--address", opening.address, "--port", str(opening.port), "--url", opening.url]
    words += ["--secrets", str(opening.secrets)]
    for name in opening.hosts:
        words += ["--host", name]
    if opening.has_sign_in:
        words.append("--sign-in")
    if not no_browser:
        words.append("--browser")
    before = sys.argv
    sys.argv = ["panwise-pages", *words]
    try:
        runpy.run_module("ui.start", run_name="__main__")
    finally:
        sys.argv = before


@click.command(short_help="Say where data, settings and log lie.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON (panwise/paths/1), for programs.")
def paths(as_json: bool) -> None:
    """Say where panwise keeps its data, backups, settings and log on this machine.

    \b
    Example:
      panwise paths
    """
    from optimizer.services.paths import places

    found = places()
    if as_json:
        print_json(found.document())
        return
    for name, meaning in (
        ("store", "stock, prices, batches"),
        ("backups", "dated copies of the store"),
        ("settings", "folder of the two files below"),
        ("access", "who may sign in"),
        ("secrets", "how to sign in"),
        ("log", "what went wrong, and when"),
    ):
        click.echo(f"{name:<9} {getattr(found, name)}\n          {meaning}")
