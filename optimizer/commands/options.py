"""Kinds of option values: what a person types, with or without its unit, becomes a float in the program's unit."""

from __future__ import annotations

import click


class Quantity(click.ParamType[float]):
    """A number with a unit (`1650 m`, `5400 ft`); a bare one is in the unit named here."""

    def __init__(self, unit: str, *, bare: str | None = None) -> None:
        self.name = "share" if unit == "1" else unit
        self._unit = unit
        self._bare = unit if bare is None else bare

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> float:
        if isinstance(value, float):  # a default, already converted
            return value
        from optimizer.errors import InputFault
        from optimizer.inputs.numbers import read_number, split_number
        from optimizer.units import conversion

        digits, unit = split_number(str(value))
        try:
            return conversion(unit or self._bare, self._unit)(read_number(digits))
        except (ValueError, InputFault) as error:
            self.fail(f'"{value}": {error}', param, ctx)


class Share(Quantity):
    """A fraction from 0 to 1: `0.3` or `30 %`."""

    def __init__(self) -> None:
        super().__init__("1")

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> float:
        share = super().convert(value, param, ctx)
        if not 0.0 <= share <= 1.0:
            self.fail(f'"{value}": a share is from 0 to 1; write 0.3 or 30 %', param, ctx)
        return share


PERCENT = Quantity("1", bare="%")  # `65` or `65 %` -> 0.65
SHARE = Share()
