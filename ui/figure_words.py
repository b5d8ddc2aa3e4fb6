"""Names of the book's figures, units and kinds of knowledge in the reader's language."""

from __future__ import annotations

from optimizer.services.figures import BookFigure
from ui.words import N_, _, decimal_mark

_TIED = "\u00a0"  # a figure and its unit stay on one line
STATUSES = {
    "read": N_("seen in the source"),
    "memory": N_("from memory"),
    "common practice": N_("common practice"),
    "judgement": N_("our judgement"),
}
_NAMES = {
    "brix": N_("Refractometer reading (°Brix)"),
    "water": N_("Water"),
    "total_sugar": N_("Sugars together"),
    "acid": N_("Acid, as citric"),
    "ph": N_("pH"),
    "pectin": N_("Pectin"),
    "refuse": N_("Refuse: stones, peel, stalks"),
    "density": N_("Density"),
    "calcium": N_("Calcium"),
    "solids": N_("Soluble solids"),
    "insoluble": N_("Insoluble solids"),
    "sucrose": N_("Sucrose"),
    "glucose": N_("Glucose"),
    "fructose": N_("Fructose"),
    "other_saccharides": N_("Other sugars"),
    "reading_gain": N_("Reads high on the refractometer by"),
    "titratable_acid": N_("Acid, as citric"),
    "acid_mol": N_("Acid"),
    "strong_ion": N_("Strong ions (sodium, potassium, calcium)"),
    "grade": N_("Grade"),
    "so2": N_("SO₂"),
    "benzoic": N_("Benzoic acid"),
    "sorbic": N_("Sorbic acid"),
    "so2_carried": N_("SO₂ brought along"),
    "anhydrous": N_("Share without crystal water"),
    "reading": N_("Refractometer reading (°Brix)"),
    "firmness": N_("Firmness (standard jelly is 1)"),
    "fruit_per_finished": N_("Fruit in the finished product"),
    "fruit_per_sweetener_solids": N_("Fruit per sweetener solids"),
    "least_fruit_floor": N_("Least fruit, whatever a law says"),
    "added_pectin": N_("Added pectin (as grade 150)"),
    "lm_pectin": N_("Low-methoxyl pectin"),
    "added_water": N_("Added water"),
    "added_acid": N_("Added acid (as citric)"),
    "buffer_salt": N_("Buffer salt"),
    "boil_off": N_("Water boiled off"),
    "glucose_syrup_most": N_("Glucose syrup, of the sweetener"),
    "jaggery_most": N_("Jaggery, of the sweetener"),
    "fruit_content": N_("Fruit content"),
    "peel": N_("Peel"),
    "flesh": N_("Flesh"),
    "soluble_solids": N_("Soluble solids"),
    "preservatives_together": N_("Preservatives together"),
    "fruit_share": N_("Share of each fruit"),
    "mixing": N_("Mixing with other fruit"),
    "acid_fraction": N_("Acid"),
    "juice_factor": N_("Juice factor"),
    "fruit_kinds": N_("Number of fruits"),
    "not_standardised": N_("May not carry the name"),
    "life": N_("Keeps, until a tenth is lost"),
    "q10": N_("Times faster 10 °C warmer"),
    "coldest": N_("Colder gains nothing below"),
}
_UNITS = {
    "fraction": "",
    "1": "",
    "d": N_("days"),
    "degC": "°C",
    "kg/kg finished": N_("kg per kg finished"),
    "kg/kg sweetener solids": N_("kg per kg of sweetener solids"),
    "kg juice/kg natural solids": N_("kg of juice per kg of its solids"),
    "kg fruit/kg natural solids": N_("kg of fruit per kg of its solids"),
    "deg USA-SAG": "°USA-SAG",
}


def figure_name(name: str) -> str:
    """What a figure is called; the name of a default of the model is shown as it is.

    >>> figure_name("brix"), figure_name("pan_cycle_min")
    ('Refractometer reading (°Brix)', 'pan_cycle_min')
    """
    return _(_NAMES[name]) if name in _NAMES else name


def names() -> dict[str, str]:
    """Every figure by its key, for the search."""
    return {name: _(text) for name, text in _NAMES.items()}


def status_name(status: str) -> str:
    """How a figure is known."""
    return _(STATUSES[status]) if status in STATUSES else status


def figure_value(figure: BookFigure) -> str:
    """The figure with its unit, or the window it spans.

    >>> figure_value(BookFigure(name="reading", low="65", high="68", unit="%", status="memory", source=""))
    '65 to 68\xa0%'
    >>> figure_value(BookFigure(name="brix", value="14.3", low="12", unit="%", status="read", source=""))
    '14.3\xa0%'
    """
    return _with_unit(_number(figure.value), figure) if figure.value else figure_range(figure)


def figure_range(figure: BookFigure) -> str:
    """From the low end to the high end, as far as they are known.

    >>> figure_range(BookFigure(name="ph", high="3.4", unit="pH", status="read", source=""))
    'at most 3.4'
    """
    low, high = _number(figure.low), _number(figure.high)
    if low and high:
        text = _("{low} to {high}").format(low=low, high=high)
    elif low:
        text = _("at least {low}").format(low=low)
    elif high:
        text = _("at most {high}").format(high=high)
    else:
        return ""
    return _with_unit(text, figure)


def figure_spread(figure: BookFigure) -> str:
    """One standard deviation.

    >>> figure_spread(BookFigure(name="ph", spread="0.25", unit="pH", status="read", source=""))
    '±\xa00.25'
    """
    return _with_unit(f"±{_TIED}{_number(figure.spread)}", figure) if figure.spread else ""


def _number(text: str) -> str:
    return text.replace(".", decimal_mark())


def _with_unit(text: str, figure: BookFigure) -> str:
    if figure.unit in ("pH", "fraction", "1", ""):
        return text
    unit = _UNITS.get(figure.unit, figure.unit)
    return f"{text}{_TIED}{_(unit)}" if unit else text
