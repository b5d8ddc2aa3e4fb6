"""At which temperature the pan is done, at this altitude and for this mixture."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Literal

from optimizer.errors import InputFault
from optimizer.inputs.book import load_book
from optimizer.physics.air import SEA_LEVEL_PRESSURE_kPa, air_pressure_kPa
from optimizer.physics.boiling import end_point_C, solids_at_end_point
from optimizer.physics.refractometry import reading_fraction, soluble_solids_fraction
from optimizer.physics.water import boiling_point_of_water_C, saturation_pressure_kPa

# Invert sugar as share of the sugars of an ordinary jam: 20 to 50 %, with 30 to 40 % the usual. Not known unless it was
# measured or predicted; a teaching text gives 30-50 % as the window without crystals (read).
LEAST_INVERT_SHARE, USUAL_INVERT_SHARE, MOST_INVERT_SHARE = 0.20, 0.35, 0.50
USUAL_ACID_SHARE = 0.012  # acid as share of the solids: 0.8 % in a jam of 65 %
MOST_READING_FRACTION = 0.80  # the boiling point is checked against print up to 75 %
CHECKED_READING_FRACTION = 0.75
WATER_AT_300_M_C = 99.0  # processing times grow from 300 m (1000 ft) on (USDA guide, read)
WEATHER_C = 1.0  # air pressure moves by some 3 kPa either way: 0.8 degC; more than this is not weather


@dataclass(frozen=True, kw_only=True)
class PanReading:
    """What a thermometer in the boiling pan says of the solids."""

    temperature_C: float
    reading_fraction: float  # what the refractometer should read, at the invert share assumed
    least_reading_fraction: float  # if half of the sugars are inverted
    most_reading_fraction: float  # if a fifth of them is


@dataclass(frozen=True, kw_only=True)
class EndPoint:
    """The temperature to stop at, and how far it can be trusted."""

    reading_fraction: float  # wanted, as the refractometer reads at 20 degC
    soluble_solids_fraction: float  # true
    invert_share_fraction: float  # of the sugars
    invert_is_known: bool
    acid_share_fraction: float  # of the solids, as anhydrous citric
    altitude_m: float | None
    pressure_kPa: float
    pressure_from: Literal["altitude", "boiling water", "sea level"]
    water_boils_C: float
    end_point_C: float
    above_water_C: float
    least_end_point_C: float  # the same reading with a fifth of the sugars inverted
    most_end_point_C: float  # ... with half of them
    pan: PanReading | None
    cautions: tuple[str, ...]
    warnings: tuple[str, ...]

    def document(self) -> Mapping[str, object]:
        """The result as the JSON document `panwise/endpoint/1`."""
        return {"schema": "panwise/endpoint/1", **asdict(self)}


def find_end_point(
    *,
    wanted_reading_fraction: float,
    invert_share_fraction: float | None = None,
    acid_fraction: float | None = None,
    altitude_m: float | None = None,
    boiling_water_C: float | None = None,
    pan_C: float | None = None,
) -> EndPoint:
    """End point for a refractometer reading; what a thermometer in the pan says, if there is one.

    Parameters
    ----------
    wanted_reading_fraction : float
        Refractometer reading at 20 degC of the finished product [-], up to 0.80.
    invert_share_fraction : float, optional
        Glucose and fructose as share of the sugars [-]; not given: 0.35 is assumed and the band matters.
    acid_fraction : float, optional
        Acid of the finished product as anhydrous citric [-]; not given: 1.2 % of the solids.
    altitude_m : float, optional
        Altitude [m]; not given, and no boiling water either: sea level.
    boiling_water_C : float, optional
        What plain water boils at today [degC]; goes before the altitude, since it holds today's weather.
    pan_C : float, optional
        What the thermometer shows in the boiling pan now [degC].

    Raises
    ------
    InputFault
        The reading lies outside 0 to 80 %.
    OutOfRange
        A formula does not hold for an input.

    Examples
    --------
    >>> answer = find_end_point(wanted_reading_fraction=0.65, invert_share_fraction=0.3, altitude_m=1650.0)
    >>> round(answer.water_boils_C, 1)
    94.5
    """
    if not 0.0 < wanted_reading_fraction <= MOST_READING_FRACTION:
        raise InputFault(
            f"brix {wanted_reading_fraction * 100:g}: end points are known from 0 to {MOST_READING_FRACTION * 100:g} %;"
            " give the reading of the finished product, e.g. 65"
        )
    warnings: list[str] = []
    pressure_kPa, pressure_from = _air_pressure(altitude_m, boiling_water_C, warnings)
    water_C = float(boiling_point_of_water_C(pressure_kPa))
    invert = USUAL_INVERT_SHARE if invert_share_fraction is None else invert_share_fraction
    solids, acid_share = _true_solids(wanted_reading_fraction, invert, acid_fraction)

    def stop_at_C(share: float) -> float:
        total, acid = _true_solids(wanted_reading_fraction, share, acid_fraction)
        boils_C = end_point_C(total, invert_share_fraction=share, acid_share_fraction=acid, pressure_kPa=pressure_kPa)
        return float(boils_C)

    if wanted_reading_fraction > CHECKED_READING_FRACTION:
        warnings.append("Above 75 % no printed boiling points were found to check against: allow one degree.")
    end_C = stop_at_C(invert)
    return EndPoint(
        reading_fraction=wanted_reading_fraction,
        soluble_solids_fraction=solids,
        invert_share_fraction=invert,
        invert_is_known=invert_share_fraction is not None,
        acid_share_fraction=acid_share,
        altitude_m=altitude_m,
        pressure_kPa=pressure_kPa,
        pressure_from=pressure_from,
        water_boils_C=water_C,
        end_point_C=end_C,
        above_water_C=end_C - water_C,
        least_end_point_C=stop_at_C(LEAST_INVERT_SHARE),
        most_end_point_C=stop_at_C(MOST_INVERT_SHARE),
        pan=None if pan_C is None else _pan_reading(pan_C, invert, acid_share, pressure_kPa),
        cautions=_cautions(water_C, pressure_from),
        warnings=tuple(warnings),
    )


def _cautions(water_C: float, pressure_from: str) -> tuple[str, ...]:
    places = {"endpoint", "hot sugar"} | ({"altitude"} if water_C < WATER_AT_300_M_C else set())
    needless = {"end_point_water"} if pressure_from == "boiling water" else set()  # it was boiled
    return tuple(
        caution.text
        for caution in load_book().cautions.values()
        if places & set(caution.shown) and caution.id not in needless
    )


def _air_pressure(
    altitude_m: float | None, boiling_water_C: float | None, warnings: list[str]
) -> tuple[float, Literal["altitude", "boiling water", "sea level"]]:
    if boiling_water_C is None:
        if altitude_m is None:
            return SEA_LEVEL_PRESSURE_kPa, "sea level"
        return float(air_pressure_kPa(altitude_m)), "altitude"
    if altitude_m is not None:
        expected_C = float(boiling_point_of_water_C(air_pressure_kPa(altitude_m)))
        if abs(boiling_water_C - expected_C) > WEATHER_C:
            warnings.append(
                f"Water should boil at {expected_C:.1f} degC at {altitude_m:g} m; {boiling_water_C:g} degC is further "
                "off than weather goes. Check the altitude and the thermometer; this end point goes by the thermometer."
            )
    return float(saturation_pressure_kPa(boiling_water_C)), "boiling water"


def _true_solids(reading: float, invert_share: float, acid_fraction: float | None) -> tuple[float, float]:
    """True solids behind a reading, and the acid's share of them.

    Sugars and acid are themselves shares of the solids, so the correction is repeated until it rests.
    """
    solids = reading
    for _ in range(30):
        acid = USUAL_ACID_SHARE * solids if acid_fraction is None else acid_fraction
        solids = float(
            soluble_solids_fraction(reading, invert_fraction=invert_share * (solids - acid), acid_fraction=acid)
        )
    return solids, USUAL_ACID_SHARE if acid_fraction is None else acid_fraction / solids


def _pan_reading(pan_C: float, invert: float, acid_share: float, pressure_kPa: float) -> PanReading:
    def reading(share: float) -> float:
        total = float(
            solids_at_end_point(
                pan_C, invert_share_fraction=share, acid_share_fraction=acid_share, pressure_kPa=pressure_kPa
            )
        )
        acid = acid_share * total
        return float(reading_fraction(total, invert_fraction=share * (total - acid), acid_fraction=acid))

    return PanReading(
        temperature_C=pan_C,
        reading_fraction=reading(invert),
        least_reading_fraction=reading(MOST_INVERT_SHARE),
        most_reading_fraction=reading(LEAST_INVERT_SHARE),
    )
