"""`panwise products`: what each product must be, by the program's defaults and by the standards."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from optimizer.commands.text import Sources, number, paragraph, percent, print_json, span, table

if TYPE_CHECKING:
    from optimizer.inputs.models import Limit, Product, Window
    from optimizer.services.lookup import ProductRules

# window of a product -> words, unit, decimal places
WINDOWS = {
    "reading_fraction": ("refractometer reading", "%", 0),
    "ph": ("pH", "", 1),
    "acid_fraction": ("acid, as anhydrous citric", "%", 1),
    "firmness": ("firmness, standard jelly = 1", "", 1),
    "fruit_per_finished": ("fruit, per kg finished", "kg", 2),
    "fruit_per_sweetener_solids": ("fruit, per kg sweetener solids", "kg", 2),
    "least_fruit_floor": ("fruit, however low the standard", "kg", 2),
    "added_pectin": ("added pectin, 150 grade", "%", 2),
    "lm_pectin": ("low-methoxyl pectin", "%", 1),
    "calcium_mg_per_g": ("calcium, per g of that pectin", "mg", 0),
    "added_water": ("added water", "%", 0),
    "added_acid": ("added acid, as anhydrous citric", "%", 1),
    "buffer_salt": ("buffer salt", "%", 1),
    "boil_off": ("boiled off, of the finished", "%", 0),
    "glucose_syrup_most": ("glucose syrup, of sweetener solids", "%", 0),
    "jaggery_most": ("jaggery, of sweetener solids", "%", 0),
}
PARAMETERS = {
    "fruit_content": "fruit",
    "fruit_per_sweetener_solids": "fruit, per kg sweetener solids",
    "peel": "peel",
    "flesh": "flesh",
    "soluble_solids": "soluble solids",
    "so2": "sulphur dioxide",
    "benzoic": "benzoic acid",
    "sorbic": "sorbic acid",
    "preservatives_together": "preservatives together",
    "fruit_share": "share of that fruit",
    "mixing": "mixtures",
    "acid_fraction": "acid",
    "ph": "pH",
    "juice_factor": "juice counts as fruit",
    "fruit_kinds": "kinds of fruit",
    "pectin": "pectin",
    "not_standardised": "not in this standard",
}


@click.command(short_help="What a product must be, by defaults and standards.")
@click.argument("name", required=False)
@click.option("--standard", help="Only what this standard asks, e.g. codex or eu-2026.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON (panwise/products/1), for programs.")
def products(name: str | None, standard: str | None, as_json: bool) -> None:
    """List the products, or show one, NAME: its default windows and what each
    standard asks, with sources.

    The tighter of default and standard holds. A standard here is an aid for
    planning; what the law of the country of sale says goes before it.

    \b
    Examples:
      panwise products
      panwise products jam --standard codex
    """
    from optimizer.services.lookup import find_products, products_document

    found = find_products(name, standard)
    if as_json:
        print_json(products_document(found))
    elif name is None:
        click.echo(all_products(found))
    else:
        click.echo("\n\n".join(one_product(rules) for rules in found))


def all_products(found: tuple[ProductRules, ...]) -> str:
    """One line for each product: the windows that a cook asks about first."""
    rows = []
    for rules in found:
        product = rules.product
        rows.append(
            [
                product.name,
                product.title,
                *(_window(getattr(product, name), name) for name in ("reading_fraction", "ph", "firmness")),
                ", ".join(dict.fromkeys(limit.standard for limit in rules.limits)),
            ]
        )
    head = ["name", "product", "reading %", "pH", "firmness", "standards with a figure"]
    return table(head, rows, right=(2, 3, 4)) + "\n\n" + paragraph("All windows and sources: panwise products NAME")


def one_product(rules: ProductRules) -> str:
    """Default windows, conditions of fruit that suit it, and the figures of each standard."""
    product, sources = rules.product, Sources()
    rows = [
        [f"{words}, {unit}" if unit else words, _window(window, name), sources.mark(window.source, window.status)]
        for name, (words, unit, _) in WINDOWS.items()
        if (window := getattr(product, name)).least is not None or window.most is not None
    ]
    blocks = [
        paragraph(f"{product.title}: {_traits(product)}"),
        table(["default window", "from-to", "source"], rows, right=(1,)),
    ]
    by_name: dict[tuple[str, str], list[Limit]] = {}
    for limit in rules.limits:
        by_name.setdefault((limit.standard, limit.legal_name), []).append(limit)
    for (standard, legal_name), limits in sorted(by_name.items(), key=lambda entry: entry[0][0]):
        meant = ", meant when no class is named" if legal_name and limits[0].is_default_name else ""
        lines = [f"{standard}: {legal_name or 'whatever the class'}{meant}"]
        lines += [
            paragraph(f"{_asked(limit)} {sources.mark(limit.source, limit.status)}", indent=2, hanging=2)
            for limit in limits
        ]
        blocks.append("\n".join(lines))
    blocks.append(paragraph("Copied for planning. The law of the country of sale, as it stands today, goes before it."))
    return "\n\n".join([*blocks, sources.text()])


def _traits(product: Product) -> str:
    fits = {2: "suits", 1: "limited", 0: "not for it"}
    by_fit = [
        f"{words}: {', '.join(names)}"
        for fit, words in fits.items()
        if (names := [condition for condition, value in product.fit.items() if value == fit])
    ]
    return "; ".join([f"made from {product.preparation}", "cooked" if product.is_cooked else "not cooked", *by_fit])


def _window(window: Window, name: str) -> str:
    _, unit, places = WINDOWS[name]
    show = percent if unit == "%" else number
    return span(show(window.least, places), show(window.most, places))


def _asked(limit: Limit) -> str:
    """One figure of a standard as a phrase: what, for which fruit, how much."""
    what = ", ".join(filter(None, [PARAMETERS[limit.parameter], limit.condition]))
    if limit.fruits:
        what += f" ({', '.join(limit.fruits)})"
    if limit.value is None:
        return f"{what}: {limit.note or 'see the source'}"
    if limit.value == 0.0 and limit.kind == "max":
        return f"{what}: none allowed"
    word = {"min": "at least ", "max": "at most ", "exact": "", "text": ""}[limit.kind]
    value, unit = (limit.value * 100.0, "%") if limit.unit == "fraction" else (limit.value, limit.unit)
    unit = "" if unit in {"1", "pH"} else f" {unit}"
    return f"{what}: {word}{round(value, 3):g}{unit}"
