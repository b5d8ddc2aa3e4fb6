"""`panwise offers`: which offers to take, how much of them, and at what price to change one's mind."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import cast

import click

from optimizer.commands.options import Quantity, store_option
from optimizer.commands.text import print_json


@click.command()
@click.argument("products", nargs=-1)
@click.option("--site", "folder", type=click.Path(path_type=Path),
              help="Folder with stock.csv, offers.csv and, if you like, site.toml; else the store's.")  # fmt: skip
@store_option
@click.option("--batch", type=Quantity("kg"), help="Finished mass of each PRODUCT, e.g. '50 kg'.")
@click.option("--make", "makes", multiple=True, help="A product with its own batch: 'jam=50 kg'. May repeat.")
@click.option("--fruit", "fruits", multiple=True, help="Named fruit of all batches: plum, 'plum>=60%'. May repeat.")
@click.option("--confidence", type=click.FloatRange(0.5, 0.999), default=0.9, show_default=True,
              help="Chance that a set holds though book figures err; 0.5: at their mean.")  # fmt: skip
@click.option("--standard", help="codex, eu, eu-2001, eu-2026, uk, us, india, canada, anz or none; else the site's.")
@click.option("--keeps", type=click.Choice(["heat", "cold", "preservative"]), default="heat", show_default=True,
              help="What keeps a squash or a spread.")  # fmt: skip
@click.option("--within", help="Leave out offers that come later, e.g. 2days.")
@click.option("--on", "on", help="The day, e.g. 2026-07-04; offers that ran out are left out. Else today.")
@click.option("--ladder", "ladders", multiple=True,
              help="Kilograms bought against the price, settled anew at every step: code or item.")  # fmt: skip
@click.option("--spread", "spreads", multiple=True,
              help="How far prices move in scenarios: 'sugar=10 %', 'O-04=5 %', 'all=10 %'. May repeat.")  # fmt: skip
@click.option("--correlated", multiple=True,
              help="How two spreads move together, -1 to 1: 'sugar~glucose=0.5'. May repeat.")  # fmt: skip
@click.option("--price-table", type=click.Path(path_type=Path),
              help="Scenarios from a file: one column for each offer or item, one line for each.")  # fmt: skip
@click.option("--fruit-varies", is_flag=True, help="Scenarios of Brix, acid, pH and pectin as they may turn out.")
@click.option("--scenarios", type=int, default=10_000, show_default=True, help="How many are drawn.")
@click.option("--seed", type=int, default=1, show_default=True, help="The same seed draws the same scenarios.")
@click.option("--map", "mapped", nargs=2, help="Two offers or items against each other: who wins at which prices.")
@click.option("--certainty", is_flag=True, help="What testing each fruit that is taken would save.")
@click.option("--solver", type=click.Choice(["highs", "cbc"]), default="highs", show_default=True,
              help="Who searches over whole packs.")  # fmt: skip
@click.option("--json", "as_json", is_flag=True, help="Print JSON (panwise/offers/1), for programs.")
def offers(
    products: tuple[str, ...],
    folder: Path | None,
    where: str | None,
    batch: float | None,
    makes: tuple[str, ...],
    fruits: tuple[str, ...],
    confidence: float,
    standard: str | None,
    keeps: str,
    within: str | None,
    on: str | None,
    ladders: tuple[str, ...],
    spreads: tuple[str, ...],
    correlated: tuple[str, ...],
    price_table: Path | None,
    fruit_varies: bool,
    scenarios: int,
    seed: int,
    mapped: tuple[str, str] | None,
    certainty: bool,
    solver: str,
    as_json: bool,
) -> None:
    """Compare offers by what they do in the recipe, and write the order.

    The recipe is the judge: lots and offers enter the batches of PRODUCT together,
    in whole packs, with least orders, steps of price and delivery.

    \b
    Examples:
      panwise offers jam --batch "50 kg" --site my_kitchen
      panwise offers --make "jam=50 kg" --make "jelly=30 kg" --within 5days
      panwise offers jam --batch "50 kg" --ladder "citric acid" --json
      panwise offers jam --batch "50 kg" --spread "sugar=10 %" --seed 7
      panwise offers jam --batch "50 kg" --map "citric acid" "lemon juice"
    """
    from datetime import date

    from optimizer.blend.request import Keeps, Request
    from optimizer.commands.offers_text import offers_text
    from optimizer.commands.what_if_text import certainty_text, map_text, scenarios_text
    from optimizer.errors import InputFault
    from optimizer.inputs.typed import parse_days
    from optimizer.services.buying import map_about, worth_of_each_test
    from optimizer.services.offers import offers_of, offers_of_folder, parse_make
    from optimizer.services.offers_document import offers_document
    from optimizer.services.recipe import parse_fruit
    from optimizer.services.what_if import certainty_document, map_document, scenarios_document, what_varies
    from optimizer.solver.pulp_route import SolverName

    if products and batch is None:
        raise InputFault(f'how much of {" and ".join(products)}? give --batch "50 kg", or --make "{products[0]}=50 kg"')
    if batch is not None and not products:
        raise InputFault('--batch of what? name a product, such as jam, or write --make "jam=50 kg"')
    wanted = [*((product, batch or 0.0) for product in products), *parse_make(makes)]
    if not wanted:
        raise InputFault('nothing to make: name a product with its batch, such as: panwise offers jam --batch "50 kg"')
    try:
        day = date.fromisoformat(on) if on else date.today()
    except ValueError as error:
        raise InputFault(f'--on "{on}": write a day as 2026-07-04') from error
    shares = tuple(parse_fruit(text) for text in fruits)
    requests = [
        Request(
            product=product, batch_kg=kg, on=day, confidence=confidence, standard=standard, fruits=shares,
            keeps=cast(Keeps, keeps), within_days=parse_days(within) if within else None,
        )
        for product, kg in wanted
    ]  # fmt: skip

    progress = _Progress()
    solver_name = cast(SolverName, solver)
    if folder is None:
        from optimizer.services.opened import current_folder

        found = offers_of(current_folder(where), requests, solver=solver_name, ladders=ladders, progress=progress)
    else:
        found = offers_of_folder(folder, requests, solver=solver_name, ladders=ladders, progress=progress)
    varied = what_varies(
        found.order.job, spreads=spreads, correlations=correlated, price_table=price_table, fruit=fruit_varies,
        count=scenarios, seed=seed, progress=progress,
    )  # fmt: skip
    job = found.order.job
    drawn = map_about(job, *mapped, progress.of("the map"), anew=True) if mapped else None
    tests = worth_of_each_test(found.order, progress.of("what tests are worth")) if certainty else None
    progress.end()
    if as_json:
        told: dict[str, object] = {}
        if varied:
            told["scenarios"] = [{"of": name, **scenarios_document(one)} for name, one in varied]
        if drawn is not None:
            told["map"] = map_document(drawn)
        if tests is not None:
            told["certainty"] = certainty_document(tests)
        print_json({**offers_document(found), **told})
        return
    texts = [offers_text(found), *(scenarios_text(one, name, found.currency) for name, one in varied)]
    if drawn is not None:
        texts.append(map_text(drawn, found.currency))
    if tests is not None:
        items = {one.code: one.item for one in (*job.lots, *job.offers)}
        texts.append(certainty_text(tests, items, found.currency))
    click.echo("\n\n".join(texts))


class _Progress:
    """What is worked out now, on one line of a terminal; nothing where stderr is no terminal."""

    def __init__(self) -> None:
        self._shown = sys.stderr.isatty()

    def __call__(self, what: str) -> None:
        if self._shown:
            click.echo(f"\r\033[K{what} ...", nl=False, err=True)

    def of(self, what: str) -> Callable[[int, int], None]:
        """The same for work that counts its steps."""
        return lambda done, most: self(f"{what}, step {done + 1} of at most {most}")

    def end(self) -> None:
        if self._shown:
            click.echo("\r\033[K", nl=False, err=True)
