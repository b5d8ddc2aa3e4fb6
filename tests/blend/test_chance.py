"""The chance of all windows at once: by hand where one figure errs, and by the full prediction draw for draw."""

from __future__ import annotations

import math
import time
from dataclasses import replace
from statistics import NormalDist

import numpy as np
import pytest
from markets import BOOK, DAY, fruit_lot, usual_offers

from optimizer.blend.chance import Chance, chance, ph_of
from optimizer.blend.draw_errors import BRIX_ACID_CORRELATION, draw_figures
from optimizer.blend.margins import settle_with_margins
from optimizer.blend.predict import predict
from optimizer.blend.recipe import prepare_case
from optimizer.blend.request import Request
from optimizer.blend.settle import Settled, variants
from optimizer.inputs.models import Site

DRAWS = 10_000


def settled(confidence: float = 0.9, *, refractometer: bool = True, **measured: float) -> Settled:
    """Jam of plums and strawberries with bought pectin."""
    lots = (
        fruit_lot("F1", "plum, flesh with skin", kg=16.0, worth=0.30, **measured),
        fruit_lot("F2", "strawberry, whole berry", kg=40.0, worth=0.35, **measured),
    )
    request = Request(product="jam", batch_kg=50.0, on=DAY, standard="none")
    site = Site(has_refractometer=refractometer, ph_meter="yes")
    case, _ = prepare_case(request, site, lots, usual_offers(), BOOK)
    variant = next(v for v in variants(case) if any(s.kind == "pectin" for s in v.streams))
    found = settle_with_margins(variant, confidence)
    assert isinstance(found, Settled)
    return found


def chance_of(found: Settled, seed: int = 1, draws: int = DRAWS) -> Chance:
    return chance(found.case, found.x, found.prediction, np.random.default_rng(seed), draws=draws)


def only_errors(found: Settled, figure: str) -> Settled:
    """The same batch where nothing errs but one figure, and every pH is without error."""
    streams = tuple(
        replace(s, errors=tuple(e for e in s.errors if e.figure == figure), per_kg=replace(s.per_kg, ph=None))
        for s in found.case.streams
    )
    case = replace(found.case, streams=streams)
    return replace(found, program=replace(found.program, case=case))


@pytest.mark.parametrize("confidence", [0.75, 0.95])
def test_pectin_alone_holds_as_often_as_its_margin_promises(confidence: float) -> None:
    found = only_errors(settled(confidence), "pectin_strength")
    got = chance_of(found)
    used = [s for s, kg in zip(found.case.streams, found.x, strict=False) if kg > 1e-6 and s.errors]
    below_zero = sum(NormalDist().cdf(-s.per_kg.pectin_strength / s.errors[0].sd_per_kg) for s in used)
    error = 4.0 * math.sqrt(confidence * (1.0 - confidence) / DRAWS)
    # Draws with less than no pectin are drawn again: that can only help, by at most their share.
    assert confidence - error <= got.each["pectin_strength"] <= confidence + error + below_zero
    assert got.all_windows == got.each["pectin_strength"]


def test_where_nothing_errs_every_batch_is_within() -> None:
    for refractometer in (True, False):
        got = chance_of(only_errors(settled(refractometer=refractometer), "none"))
        assert got.all_windows == 1.0
        assert got.not_computed == 0


def test_with_a_refractometer_the_reading_is_put_right() -> None:
    assert chance_of(settled(refractometer=True)).each["least_solids"] == 1.0


def test_without_one_it_holds_as_often_as_its_margin_promises() -> None:
    """Sweetness alone errs; 10,000 draws, 4 standard errors; the square term of acid adds a few millionths."""
    got = chance_of(only_errors(settled(0.9, refractometer=False), "solids_fraction"))
    assert got.each["least_solids"] == pytest.approx(0.9, abs=4.0 * math.sqrt(0.09 / DRAWS) + 0.005)


def test_shares_are_those_of_the_full_prediction_draw_for_draw() -> None:
    """100 drawn batches, each predicted as a recipe of its own with its figures; boil-off as planned, no refractometer.

    Prediction takes the inversion afresh, so one draw that lies on a bound may fall to either side.
    """
    found = settled(refractometer=False)
    case, x, draws = found.case, found.x, 100
    n = len(case.streams)
    used = [i for i in range(n) if x[i] > 1e-9 * case.request.batch_kg]
    drawn = draw_figures([case.streams[i] for i in used], BOOK, case.site, np.random.default_rng(4), draws)
    counts = dict.fromkeys(("least_solids", "pectin_strength", "ph_upper", "ph_lower"), 0)
    for k in range(draws):
        streams = list(case.streams)
        for column, i in enumerate(used):
            c, sweet = streams[i].per_kg, drawn.sweetness[k, column]
            sugars = {f: getattr(c, f) * sweet for f in ("sucrose_fraction", "glucose_fraction", "fructose_fraction")}
            figures = replace(
                c,
                water_fraction=c.water_fraction - (sweet - 1.0) * c.solids_fraction,
                solids_fraction=c.solids_fraction * sweet,
                reading_fraction=c.reading_fraction * sweet,
                titratable_acid_fraction=drawn.titratable[k, column],
                acid_mol=sum(drawn.acid_mol[acid][k, column] for acid in c.acid_mix),
                strong_ion_mol=drawn.strong_ion[k, column],
                pectin_strength=drawn.strength[k, column],
                **sugars,
            )
            streams[i] = replace(streams[i], per_kg=figures)
        one = predict(replace(case, streams=tuple(streams)), x)
        counts["least_solids"] += one.reading_fraction >= 0.65
        counts["pectin_strength"] += one.pectin_strength_ratio >= 1.0
        counts["ph_upper"] += one.ph <= 3.3  # of pectin of medium speed
        counts["ph_lower"] += one.ph >= 2.8
    got = chance_of(found, 4, draws).each
    for id_, count in counts.items():
        assert got[id_] == pytest.approx(count / draws, abs=1.01 / draws), id_


def test_lots_of_one_row_of_the_book_err_together_and_measured_ones_apart() -> None:
    found = settled()
    streams = tuple(s for s in found.case.streams if s.kind == "fruit")
    twins = (streams[0], replace(streams[0], id="F9"))
    drawn = draw_figures(twins, BOOK, found.case.site, np.random.default_rng(0), DRAWS)
    assert np.array_equal(drawn.strength[:, 0], drawn.strength[:, 1])
    both = draw_figures(streams, BOOK, found.case.site, np.random.default_rng(0), DRAWS)
    assert abs(np.corrcoef(both.strength.T)[0, 1]) < 4.0 / math.sqrt(DRAWS)
    assert np.corrcoef(both.sweetness[:, 0], both.titratable[:, 0])[0, 1] == pytest.approx(
        BRIX_ACID_CORRELATION, abs=0.05
    )


def test_draws_have_the_spread_of_the_table_and_stay_within_what_fruit_can_be() -> None:
    found = settled()
    streams = tuple(s for s in found.case.streams if s.kind == "fruit")
    drawn = draw_figures(streams, BOOK, found.case.site, np.random.default_rng(0), DRAWS)
    for i, s in enumerate(streams):
        sd = next(e.sd_per_kg for e in s.errors if e.figure == "solids_fraction")
        assert np.std(drawn.sweetness[:, i] * s.per_kg.reading_fraction) == pytest.approx(sd, rel=0.03)
    assert drawn.strength.min() >= 0.0
    assert drawn.titratable.min() >= 0.0
    assert min(m.min() for m in drawn.acid_mol.values()) >= 0.0


def test_same_seed_same_chance_and_other_seeds_within_sampling_error() -> None:
    found = settled()
    first, again, other = chance_of(found, 7), chance_of(found, 7), chance_of(found, 8)
    assert first == again
    assert abs(first.all_windows - other.all_windows) <= 6.0 * first.standard_error
    assert first.all_windows <= min(first.each.values())


def test_more_confidence_in_the_rows_is_more_chance() -> None:
    assert chance_of(settled(0.95)).each["pectin_strength"] > chance_of(settled(0.5)).each["pectin_strength"] + 0.2


def test_a_mixture_outside_the_chemistry_is_no_number_and_spares_the_others() -> None:
    acid = {"citric": np.array([0.05, 9.0, 0.05])}
    got = ph_of(acid, np.array([0.05, 0.05, 0.05]))
    assert np.isnan(got[1])
    assert got[0] == got[2] == pytest.approx(3.776, abs=0.02)  # Staples and Bates, J. Res. NBS 73A (1969) 37


def test_ten_thousand_draws_take_well_under_a_second() -> None:
    found = settled()
    times = []
    for _ in range(3):
        begin = time.perf_counter()
        chance_of(found)
        times.append(time.perf_counter() - begin)
    assert min(times) < 1.0
