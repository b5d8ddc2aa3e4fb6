"""`panwise recipe` and `panwise demo`: the cheapest batch that holds every rule."""

from __future__ import annotations

from pathlib import Path
from typing import cast

import click

from optimizer.commands.options import PERCENT, Quantity, store_option
from optimizer.commands.text import print_json


def _print(recipe: object, *, as_json: bool, full: bool) -> None:
    from optimizer.blend.result import Recipe
    from optimizer.commands.recipe_text import recipe_text
    from optimizer.services.recipe_document import recipe_document

    assert isinstance(recipe, Recipe)
    if as_json:
        print_json(recipe_document(recipe))
    else:
        click.echo(recipe_text(recipe, full=full))
    if recipe.status != "optimal":
        click.get_current_context().exit(1)


@click.command()
@click.argument("site", default="ombrey_hollow")
@click.option("--full", is_flag=True, help="Every row, source and price.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON (panwise/recipe/1), for programs.")
def demo(site: str, full: bool, as_json: bool) -> None:
    """Solve a batch for an invented site; needs no files.

    SITE is ombrey_hollow (temperate, EU rules) or sanduri_flats (tropical, 1650 m,
    India rules). Places, lots and prices of both are invented.

    \b
    Examples:
      panwise demo
      panwise demo sanduri_flats --full
    """
    from optimizer.services.recipe import recipe_of_demo

    _print(recipe_of_demo(site), as_json=as_json, full=full)


@click.command()
@click.argument("product")
@click.option("--site", "folder", type=click.Path(path_type=Path),
              help="Folder with stock.csv, offers.csv and, if you like, site.toml; else the store's.")  # fmt: skip
@store_option
@click.option("--batch", type=Quantity("kg"), required=True, help="Finished mass, e.g. '50 kg' or '110 lb'.")
@click.option("--aim", type=click.Choice(["least-cost", "value-saved", "margin"]), default="least-cost",
              show_default=True, help="The last two make what pays, up to the batch; need [prices].")  # fmt: skip
@click.option("--confidence", type=click.FloatRange(0.5, 0.999), default=0.9, show_default=True,
              help="Chance that a set holds though book figures err; 0.5: at their mean.")  # fmt: skip
@click.option(
    "--fruit", "fruits", multiple=True, help="Named fruit: plum (alone), 'plum>=60%', 'apple<=40%'. May repeat."
)
@click.option("--standard", help="codex, eu, eu-2001, eu-2026, uk, us, india, canada, anz or none; else the site's.")
@click.option("--name", "legal_name", help="Another class of the product under the standard, e.g. 'extra jam'.")
@click.option("--keeps", type=click.Choice(["heat", "cold", "preservative"]), default="heat", show_default=True,
              help="What keeps it.")  # fmt: skip
@click.option("--within", help="Leave out offers that come later, e.g. 2days.")
@click.option("--on", "on", help="Day of the cook, e.g. 2026-07-04; decides which offers hold. Else today.")
@click.option("--brix", type=PERCENT, help="Least refractometer reading, e.g. 66; never below the standard.")
@click.option("--brix-most", type=PERCENT, help="Highest refractometer reading.")
@click.option("--least-fruit", type=PERCENT, help="Least fruit, g per 100 g; never below the standard.")
@click.option("--firmness", type=click.FloatRange(0.0, 2.0), help="Set wanted; 1 is the standard jelly, 0 no set.")
@click.option("--ph-most", type=click.FloatRange(2.5, 4.6), help="Highest pH.")
@click.option("--ph-least", type=click.FloatRange(2.0, 4.0), help="Lowest pH.")
@click.option("--aw", type=click.FloatRange(0.80, 0.95), help="Highest water activity, e.g. 0.82.")
@click.option("--most-fruits", type=click.IntRange(1, 50), help="At most so many kinds of fruit in the blend.")
@click.option("--least-if-used", "least_if_used", multiple=True, metavar="MASS",
              help="No token amounts: '20 kg' of each fruit lot used, or 'F-07=20 kg'. May repeat.")  # fmt: skip
@click.option("--whole-packs", is_flag=True, help="Buy whole packs; count them all, say what is left over.")
@click.option("--loads", type=click.IntRange(1, 50), help="Cook in so many pans; else as many as needed.")
@click.option("--measuring", is_flag=True, help="Also say which measurement would save most (takes some seconds).")
@click.option("--solver", type=click.Choice(["highs", "cbc"]), default="highs", show_default=True)
@click.option("--full", is_flag=True, help="Every row, source and price.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON (panwise/recipe/1), for programs.")
def recipe(
    product: str, folder: Path | None, where: str | None, batch: float, aim: str, confidence: float,
    fruits: tuple[str, ...], standard: str | None, legal_name: str | None, keeps: str,
    within: str | None, on: str | None, brix: float | None, brix_most: float | None,
    least_fruit: float | None, firmness: float | None,
    ph_most: float | None, ph_least: float | None, aw: float | None, loads: int | None, measuring: bool,
    most_fruits: int | None, least_if_used: tuple[str, ...], whole_packs: bool, solver: str, full: bool,
    as_json: bool,
) -> None:  # fmt: skip
    """Find the cheapest recipe of one batch from your own stock and offers.

    PRODUCT is jam, jelly, marmalade, preserve, butter, cheese, syrup,
    squash or spread (low sugar, set by low-methoxyl pectin and calcium).
    The fruit on hand counts at what it would fetch uncooked, goods that must be
    bought at their offer. Every rule that binds is named, with what it costs.

    \b
    Examples:
      panwise recipe jam --batch "50 kg" --fruit plum
      panwise recipe jam --site my_kitchen --batch "30 kg" --fruit "plum>=60%"
      panwise recipe squash --batch "40 kg" --keeps preservative --within 2days

    Exit status: 0 a recipe, 1 none is possible (with ways out), 2 input at fault.
    """
    from datetime import date

    from optimizer.blend.request import Aim, Keeps, Request, Solver
    from optimizer.errors import InputFault
    from optimizer.inputs.typed import parse_days
    from optimizer.services.recipe import parse_fruit, parse_least_if_used, recipe_of, recipe_of_folder

    try:
        day = date.fromisoformat(on) if on else date.today()
    except ValueError as error:
        raise InputFault(f'--on "{on}": write a day as 2026-07-04') from error
    request = Request(
        product=product, batch_kg=batch, aim=cast(Aim, aim), confidence=confidence, on=day,
        standard=standard, legal_name=legal_name,
        fruits=tuple(parse_fruit(text) for text in fruits), keeps=cast(Keeps, keeps),
        within_days=parse_days(within) if within else None, solids_least_fraction=brix,
        solids_most_fraction=brix_most, fruit_least_fraction=least_fruit, firmness=firmness, ph_upper=ph_most,
        ph_lower=ph_least, water_activity_most=aw, loads=loads, solver=cast(Solver, solver),
        most_fruits=most_fruits, least_kg_if_used=parse_least_if_used(least_if_used), whole_packs=whole_packs,
    )  # fmt: skip
    if folder is None:
        from optimizer.services.opened import current_folder

        found = recipe_of(current_folder(where), request, measuring=measuring)
    else:
        found = recipe_of_folder(folder, request, measuring=measuring)
    _print(found, as_json=as_json, full=full)
