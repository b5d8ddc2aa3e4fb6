"""`panwise endpoint`: the temperature to stop at."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from optimizer.commands.options import PERCENT, SHARE, Quantity
from optimizer.commands.text import number, paragraph, percent, print_json, table

if TYPE_CHECKING:
    from optimizer.services.endpoint import EndPoint


@click.command(short_help="At which temperature the pan is done.")
@click.option("--brix", type=PERCENT, required=True, help="Refractometer reading wanted, e.g. 65 or '65 %'.")
@click.option("--invert", type=SHARE, help="Invert sugar, share of the sugars, e.g. 0.3; not given: 0.35.")
@click.option("--acid", type=PERCENT, help="Acid of the product as anhydrous citric, e.g. '0.8 %'.")
@click.option("--altitude", type=Quantity("m"), help="Altitude of the kitchen, e.g. '1650 m'; not given: sea level.")
@click.option(
    "--boiling-water",
    type=Quantity("degC"),
    help="What plain water boils at today, e.g. '94.5 degC'; goes before the altitude.",
)
@click.option("--thermometer", type=Quantity("degC"), help="What it shows in the boiling pan now, e.g. '97 degC'.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON (panwise/endpoint/1), for programs.")
def endpoint(
    brix: float,
    invert: float | None,
    acid: float | None,
    altitude: float | None,
    boiling_water: float | None,
    thermometer: float | None,
    as_json: bool,
) -> None:
    """Say at which temperature the pan is done.

    Sugar raises the boiling point, altitude and weather lower it, and inverted
    sugar moves it too. Best: boil plain water on the day with the thermometer
    that goes into the pan, and give its reading as --boiling-water; an error of
    that thermometer then nearly cancels.

    \b
    Examples:
      panwise endpoint --brix 65 --invert 0.3 --altitude "1650 m"
      panwise endpoint --brix 68 --boiling-water "94.5 degC" --thermometer 99
    """
    from optimizer.services.endpoint import find_end_point

    answer = find_end_point(
        wanted_reading_fraction=brix,
        invert_share_fraction=invert,
        acid_fraction=acid,
        altitude_m=altitude,
        boiling_water_C=boiling_water,
        pan_C=thermometer,
    )
    if as_json:
        print_json(answer.document())
    else:
        click.echo(in_words(answer))


def in_words(answer: EndPoint) -> str:
    """The answer first, then how sure it is, then the cautions."""
    where = {
        "altitude": f"at {answer.altitude_m:g} m, in ordinary weather" if answer.altitude_m is not None else "",
        "boiling water": "as the boiling water says",
        "sea level": "at sea level (no altitude was given)",
    }[answer.pressure_from]
    rows = [
        [f"water boils, {where}", number(answer.water_boils_C, 1)],
        [f"END POINT for {percent(answer.reading_fraction)} % on the refractometer", number(answer.end_point_C, 1)],
        ["above boiling water", number(answer.above_water_C, 1)],
        ["end point if a fifth of the sugars is inverted", number(answer.least_end_point_C, 1)],
        ["end point if half of the sugars is inverted", number(answer.most_end_point_C, 1)],
    ]
    known = "as given" if answer.invert_is_known else "assumed: not given"
    blocks = [
        table(["", "degC"], rows, right=(1,)),
        paragraph(
            f"Invert sugar {percent(answer.invert_share_fraction, 0)} % of the sugars ({known}), acid "
            f"{percent(answer.acid_share_fraction)} % of the solids. True solids "
            f"{percent(answer.soluble_solids_fraction)} %: invert sugar and acid read low on a refractometer."
        ),
    ]
    if answer.pan is not None:
        blocks.append(
            paragraph(
                f"{number(answer.pan.temperature_C, 1)} degC in the boiling pan means a reading of "
                f"{percent(answer.pan.reading_fraction)} %; between {percent(answer.pan.least_reading_fraction)} and "
                f"{percent(answer.pan.most_reading_fraction)} % where the invert sugar is not known."
            )
        )
    said = [*answer.warnings, *answer.cautions]
    blocks.append("\n".join(paragraph(f"! {sentence}", hanging=2) for sentence in said))
    return "\n\n".join(blocks)
