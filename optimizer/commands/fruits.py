"""`panwise fruits`: what the book knows of each fruit."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from optimizer.commands.text import Sources, number, paragraph, percent, print_json, span, table

if TYPE_CHECKING:
    from optimizer.inputs.models import Figure, FruitPart

# figure of the book -> words, unit, decimal places
FIGURES = {
    "brix_fraction": ("Brix, as the refractometer reads", "%", 1),
    "water_fraction": ("water", "%", 1),
    "total_sugar_fraction": ("sugars", "%", 1),
    "acid_fraction": ("acid, as anhydrous citric", "%", 2),
    "ph": ("pH", "", 2),
    "pectin_fraction": ("pectin", "%", 2),
    "refuse_fraction": ("refuse: stones, peel, stalks", "%", 0),
    "density_kg_per_L": ("density", "kg/L", 2),
    "calcium_mg_per_kg": ("calcium", "mg/kg", 0),
}


@click.command(short_help="Figures of each fruit, with spread and source.")
@click.argument("name", required=False)
@click.option("--json", "as_json", is_flag=True, help="Print JSON (panwise/fruits/1), for programs.")
def fruits(name: str | None, as_json: bool) -> None:
    """List the fruits of the book, or show the figures of one, NAME, with their
    spread and source.

    Figures are of the part named, after peel, stones and stalks. A measured lot
    goes before the book: write its Brix, pH and acid into stock.csv.

    \b
    Examples:
      panwise fruits
      panwise fruits plum
      panwise fruits "plum, flesh with skin" --json
    """
    from optimizer.services.lookup import find_fruits, fruits_document

    parts = find_fruits(name)
    if as_json:
        print_json(fruits_document(parts))
    elif name is None:
        click.echo(all_fruits(parts))
    else:
        click.echo("\n\n".join(one_fruit(part) for part in parts))


def all_fruits(parts: tuple[FruitPart, ...]) -> str:
    """One line for each part of a fruit, by how much pectin it brings."""
    blocks = []
    for pectin_class in ("rich", "medium", "poor"):
        rows = [
            [
                part.item,
                percent(_value(part.brix_fraction)),
                number(part.ph.value, 2),
                percent(_value(part.acid_fraction), 2),
                percent(part.pectin_fraction.value, 2),
                "low-acid" if part.is_low_acid else "",
            ]
            for part in parts
            if part.pectin_class == pectin_class
        ]
        if rows:
            head = [f"{pectin_class} in pectin", "Brix", "pH", "acid %", "pectin %", ""]
            blocks.append(table(head, rows, right=(1, 2, 3, 4)))
    blocks.append(
        paragraph(
            "Typical figures; a lot of yours may differ by a third, so measure. Low-acid: a batch with it is released "
            "only at a measured pH. For the spread and source of each figure: panwise fruits NAME"
        )
    )
    return "\n\n".join(blocks)


def one_fruit(part: FruitPart) -> str:
    """All figures of one part, with spread, status and source."""
    sources = Sources()
    rows = []
    for name, (words, unit, places) in FIGURES.items():
        figure: Figure | None = getattr(part, name)
        label = f"{words}, {unit}" if unit else words
        if figure is None:
            rows.append([label, "not known", "", "", "measure it"])
            continue
        show = percent if unit == "%" else number
        rows.append(
            [
                label,
                show(figure.value, places),
                span(show(figure.low, places), show(figure.high, places)),
                show(figure.sd, places + 1) if figure.sd else "",
                sources.mark(figure.source, figure.status),
            ]
        )
    traits = [f"acid mostly {part.dominant_acid}", f"pectin {part.pectin_class}"]
    if part.is_low_acid:
        traits.append("low-acid: released only at a measured pH")
    return "\n".join(
        [
            paragraph(f"{part.item} ({part.latin_name}): {'; '.join(traits)}"),
            "",
            table(["figure", "typical", "range", "s.d.", "source"], rows, right=(1, 2, 3)),
            "",
            sources.text(),
        ]
    )


def _value(figure: Figure | None) -> float | None:
    return None if figure is None else figure.value
