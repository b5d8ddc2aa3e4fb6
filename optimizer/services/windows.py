"""The limits of a recipe as people see them: a window, where the batch lies in it, inside, at the limit or outside."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from optimizer.blend.predict import Prediction
from optimizer.blend.result import Recipe, RowReport

State = Literal["inside", "at the limit", "outside"]


@dataclass(frozen=True, kw_only=True)
class Window:
    """One limit or pair of limits, in the unit a person thinks in.

    `id` names it (`solids`, `ph`, `fruit` ...); `unit` is `%`, `pH`, `g/100 g` ...; least and most may be absent.
    `source` tells where the tighter bound comes from.
    """

    id: str
    unit: str
    value: float
    least: float | None
    most: float | None
    state: State
    places: int
    source: str = ""


@dataclass(frozen=True)
class _Kind:
    id: str
    low: str  # row ids
    high: str
    unit: str
    factor: float
    places: int  # as shown; half of the last one is no difference


_MAIN = (
    _Kind("solids", "least_solids", "most_solids", "%", 100.0, 1),
    _Kind("ph", "ph_lower", "ph_upper", "pH", 1.0, 2),
    _Kind("fruit", "least_fruit", "", "g/100 g", 100.0, 1),
    _Kind("fruit_to_sweetener", "fruit_to_sweetener", "", "kg/kg", 1.0, 2),
    _Kind("acid", "least_acid", "most_acid", "%", 100.0, 2),
    _Kind("set", "pectin_strength", "", "%", 100.0, 0),
    _Kind("lm_pectin", "least_lm_pectin", "most_added_pectin", "%", 100.0, 2),
    _Kind("calcium", "calcium_least", "calcium_most", "mg/g", 1.0, 0),
    _Kind("crystals", "", "no_sucrose_crystals", "%", 100.0, 0),
    _Kind("water_activity", "", "water_activity", "", 1.0, 3),
    _Kind("invert", "invert_least", "invert_most", "%", 100.0, 0),
    _Kind("so2", "", "most_so2", "mg/kg", 1.0, 0),
    _Kind("benzoic", "", "most_benzoic", "mg/kg", 1.0, 0),
    _Kind("sorbic", "", "most_sorbic", "mg/kg", 1.0, 0),
    _Kind("added_pectin", "", "most_added_pectin", "%", 100.0, 2),
    _Kind("added_acid", "", "most_added_acid", "%", 100.0, 2),
    _Kind("added_water", "", "most_added_water", "kg/100 kg", 100.0, 1),
    _Kind("boil_off", "least_boil_off", "most_boil_off", "kg/100 kg", 100.0, 1),
)
_FIRST = ("solids", "ph", "fruit", "fruit_to_sweetener", "acid", "set", "lm_pectin", "calcium", "crystals")


def windows_of(recipe: Recipe, predicted: Prediction | None = None) -> tuple[Window, ...]:
    """The windows of a recipe, the most telling first.

    Parameters
    ----------
    recipe : Recipe
        With status `optimal`; one without amounts has no windows.
    predicted : Prediction, optional
        Of amounts that differ a little from the recipe's, such as rounded ones: then the values are its, the bounds
        stay.

    Returns
    -------
    tuple of Window
        Each with a value and at least one bound.
    """
    rows = {row.id: row for row in recipe.rows}
    found = predicted or recipe.predicted
    windows = []
    for kind in _MAIN:
        low, high = rows.get(kind.low), rows.get(kind.high)
        if (low is None and high is None) or kind.id == ("added_pectin" if "least_lm_pectin" in rows else "lm_pectin"):
            continue
        windows.append(_window(kind, low, high, found))
    return tuple(windows)


def first_windows(windows: Iterable[Window]) -> tuple[Window, ...]:
    """Those that decide whether it sets, keeps and may be sold; the rest are limits of amounts."""
    return tuple(window for window in windows if window.id in _FIRST)


def _window(kind: _Kind, low: RowReport | None, high: RowReport | None, found: Prediction | None) -> Window:
    row = low or high
    if row is None:
        raise ValueError(f"{kind.id}: no row")
    value = _predicted(kind.id, found)
    value = row.value if value is None else value
    least = None if low is None or low.lower is None else low.lower + (low.margin or 0.0)
    most = None if high is None or high.upper is None else high.upper - (high.margin or 0.0)
    nearer = _tighter(value, low, high, least, most) or row
    return Window(
        id=kind.id,
        unit=kind.unit,
        value=value * kind.factor,
        least=None if least is None else least * kind.factor,
        most=None if most is None else most * kind.factor,
        state=_state(value, least, most, 0.5 * 10.0**-kind.places / kind.factor),
        places=kind.places,
        source=nearer.source,
    )


def _tighter(
    value: float, low: RowReport | None, high: RowReport | None, least: float | None, most: float | None
) -> RowReport | None:
    if least is None or most is None:
        return low if most is None else high
    return low if abs(value - least) <= abs(most - value) else high


def _state(value: float, least: float | None, most: float | None, near: float) -> State:
    """Half of the last place shown is no difference.

    >>> _state(0.6496, 0.65, 0.68, 0.0005), _state(0.66, 0.65, 0.68, 0.0005), _state(0.64, 0.65, None, 0.0005)
    ('at the limit', 'inside', 'outside')
    """
    beyond = max(
        least - value if least is not None else float("-inf"), value - most if most is not None else float("-inf")
    )
    if beyond > near:
        return "outside"
    return "at the limit" if beyond >= -near else "inside"


def _predicted(id_: str, found: Prediction | None) -> float | None:
    """What the full physics says; None for what only the rows know."""
    if found is None:
        return None
    return {
        "solids": found.reading_fraction,
        "ph": found.ph,
        "fruit": found.fruit_fraction,
        "acid": found.titratable_acid_fraction,
        "set": found.pectin_strength_ratio,
        "crystals": found.sucrose_saturation,
        "water_activity": found.water_activity,
        "invert": found.invert_share_fraction,
    }.get(id_)
