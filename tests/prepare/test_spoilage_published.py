"""How fast fruit spoils, against what was read elsewhere; each tolerance stands in the table with its source."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from markets import BOOK

from optimizer.prepare.spoilage import LIFE_TO_SCALE, SHAPE, decay_of, usable_share

FOLDER = Path(__file__).resolve().parents[1] / "published" / "checks"
SOUND = (("sound", 1.0),)


def rows(name: str) -> list[dict[str, str]]:
    with (FOLDER / f"{name}.csv").open(encoding="utf-8", newline="") as handle:
        return list(csv.DictReader(handle))


def life_days(fruit: str, temperature_C: float) -> float:
    """Days to one tenth lost, found from the curve by bisection."""
    low, high = 0.0, 1000.0
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (
            (middle, high) if usable_share(fruit, SOUND, middle, temperature_C, book=BOOK) > 0.9 else (low, middle)
        )
    return low


def strawberries(ripeness: str) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    found = [row for row in rows("decay_strawberry") if row["ripeness"] == ripeness]
    days, decayed, tolerance = ([float(row[name]) for row in found] for name in ("day", "value", "tolerance"))
    return np.array(days), np.array(decayed), np.array(tolerance)


def fitted_life(days: np.ndarray, decayed: np.ndarray) -> float:
    """The one life that fits a curve of the fixed shape best, least squares on per cent decayed."""
    lives = np.linspace(0.3, 4.0, 3701)[:, None]
    error = 100.0 * (1.0 - np.exp(-((days / (LIFE_TO_SCALE * lives)) ** SHAPE))) - decayed
    return float(lives[np.argmin((error**2).sum(axis=1)), 0])


@pytest.mark.parametrize("ripeness", ["one third ripe", "two thirds ripe", "fully ripe"])
def test_the_shape_fits_strawberries_of_any_ripeness(ripeness):
    days, decayed, tolerance = strawberries(ripeness)
    fitted = 100.0 * (1.0 - np.exp(-((days / (LIFE_TO_SCALE * fitted_life(days, decayed))) ** SHAPE)))
    assert np.all(np.abs(fitted - decayed) <= tolerance)


def test_fully_ripe_strawberries_at_ambient_decay_as_predicted_between_20_and_25_degC():
    """The trial says ambient only; life and Q10 of the book come from elsewhere."""
    days, decayed, _ = strawberries("fully ripe")
    cool, warm = (100.0 * (1.0 - usable_share("strawberry", SOUND, days, t, book=BOOK)) for t in (20.0, 25.0))
    assert np.all((cool < decayed) & (decayed < warm))


def test_ripe_strawberries_keep_half_as_long_as_firm_ones():
    """The life factor of soft fruit was taken from this trial with free shapes; with the fixed shape within 0.05."""
    ratio = fitted_life(*strawberries("fully ripe")[:2]) / fitted_life(*strawberries("one third ripe")[:2])
    assert BOOK.conditions["soft"].life_factor == pytest.approx(ratio, abs=0.05)


@pytest.mark.parametrize("row", rows("keeping_at_ambient"), ids=lambda row: row["fruit"])
def test_days_at_ambient(row):
    """The days read and the days predicted over that range of temperature overlap."""
    longest = life_days(row["book"], float(row["temperature_low_C"]))
    shortest = life_days(row["book"], float(row["temperature_high_C"]))
    assert shortest <= float(row["days_high"]) + 0.05
    assert longest >= float(row["days_low"]) - 0.05


def test_mature_green_mango_is_at_its_end_after_12_days_in_the_warm():
    """Ambuko et al., Acta Horticulturae 1225 (2018): end stage on day 12 at 24 to 35 degC, read as half lost."""
    cool, warm = (usable_share("mango, flesh, unripe", SOUND, 12.0, t, book=BOOK) for t in (24.0, 35.0))
    assert warm < 0.5 < cool


def test_strawberries_at_10_degC_keep_a_third_as_long_as_at_0():
    """Ontario agriculture ministry, Postharvest handling and storage of berries: 0.33 (a Q10 of 3).

    Within 0.1: the book has 2.4 for all berries, judgement.
    """
    assert life_days("strawberry", 10.0) / life_days("strawberry", 0.0) == pytest.approx(0.33, abs=0.1)


@pytest.mark.parametrize("row", rows("respiration"), ids=lambda row: f"{row['fruit']} to {row['warm_C']} degC")
def test_q10_lies_among_the_ratios_of_respiration(row):
    """Storage life goes inversely with respiration (food-processing text, read); range from the ends of both classes.

    Within 0.15: strawberries from 0 to 10 degC show 2.5 at the least, the book has 2.4 for all berries, judgement.
    """
    span = (float(row["warm_C"]) - float(row["cold_C"])) / 10.0
    least = (float(row["warm_low"]) / float(row["cold_high"])) ** (1.0 / span)
    most = (float(row["warm_high"]) / float(row["cold_low"])) ** (1.0 / span)
    assert least - 0.15 <= decay_of(row["fruit"], BOOK).q10 <= most + 0.15


@pytest.mark.parametrize("row", rows("chilling_lowest_safe"), ids=lambda row: row["fruit"])
def test_nothing_is_credited_far_below_the_lowest_safe_temperature(row):
    assert BOOK.decays[row["fruit"]].coldest_C >= float(row["low"]) - float(row["tolerance"])
