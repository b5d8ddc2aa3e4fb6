"""Kinds of option values: what a person types, with or without its unit, becomes a float in the program's unit."""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal, TypeVar

import click


class Quantity(click.ParamType[float]):
    """A number with a unit (`1650 m`, `5400 ft`); a bare one is in the unit named here; `%` becomes a fraction."""

    def __init__(self, unit: Literal["kg", "m", "degC", "days", "%"]) -> None:
        self.name = unit

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> float:
        if isinstance(value, float):  # a default, already converted
            return value
        from optimizer.errors import InputFault
        from optimizer.inputs import typed

        parse = {
            "kg": typed.parse_mass_kg,
            "m": typed.parse_altitude_m,
            "degC": typed.parse_temperature_C,
            "days": typed.parse_days,
            "%": typed.parse_fraction,
        }[self.name]
        try:
            return parse(str(value))
        except InputFault as error:
            self.fail(str(error), param, ctx)


class Share(Quantity):
    """A fraction: `0.3` or `30 %`. A bare number above 1 is asked back: it could be either."""

    def __init__(self) -> None:
        super().__init__("%")
        self.name = "share"

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> float:
        from optimizer.inputs.numbers import read_number

        try:
            share = read_number(str(value))
        except ValueError:  # it has a unit, or is no number
            return PERCENT.convert(value, param, ctx)
        if not 0.0 <= share <= 1.0:
            self.fail(f'"{value}": a share is from 0 to 1; write 0.3 or 30 %', param, ctx)
        return share


PERCENT = Quantity("%")  # `65` or `65 %` -> 0.65
SHARE = Share()

F = TypeVar("F", bound=Callable[..., object])


def store_option(command: F) -> F:
    """`--store WHERE`: the database, else the one that PANWISE_STORE names, else the user's own."""
    return click.option("--store", "where", metavar="WHERE",
                        help="Database: a file, or postgresql://... (also PANWISE_STORE).")(command)  # fmt: skip
