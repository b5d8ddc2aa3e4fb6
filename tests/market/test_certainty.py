"""What a test or a guarantee is worth: nothing where nothing hangs on it, and as by brute force on small cases."""

from __future__ import annotations

import numpy as np
import pytest
from markets import BOOK, DAY, fruit_lot, offer, usual_offers
from scipy.stats import norm, truncnorm

from optimizer.blend.measuring import worth_measuring
from optimizer.blend.request import Request
from optimizer.errors import InputFault
from optimizer.inputs.models import Offer, Site
from optimizer.market.certainty import above, worth_of_guarantee, worth_of_tests
from optimizer.market.job import Job, cost_of
from optimizer.physics.pectin import native_strength_per_kg

SITE = Site(ph_meter="yes", standard="codex")
PLUM = "plum, flesh with skin"


def job_of(lots, offers=None, *, product: str = "jam", confidence: float = 0.9, site: Site = SITE) -> Job:
    request = Request(product=product, batch_kg=50.0, on=DAY, confidence=confidence)
    return Job(
        batches=(request,), site=site, lots=tuple(lots), offers=usual_offers() if offers is None else offers, book=BOOK
    )


def fruit_offer(code: str, price: float = 0.2, **more) -> Offer:
    return Offer(offer=code, supplier="an invented supplier", item=PLUM, kind="fruit", price=price, **more)


def test_tests_of_lots_are_worth_what_the_recipe_says() -> None:
    """The same readings as `optimizer.blend.measuring`, which has a brute-force test of its own."""
    job = job_of([fruit_lot("X", PLUM)])
    known = worth_measuring(job.batches[0], SITE, job.lots, job.offers, BOOK, used=["X"])
    found = {worth.figure: worth.saves for worth in worth_of_tests(job, ["X"])}
    assert found["pectin"] > 0.05
    for worth in known:
        assert found[worth.figure] == pytest.approx(worth.saves, rel=1e-6)


def test_an_offer_of_fruit_by_brute_force() -> None:
    """21 readings of its pectin, each settled, weighted by the normal density, against five."""
    job = job_of([], (*usual_offers(), fruit_offer("F")))
    figure = BOOK.fruits[PLUM].pectin_fraction
    z = np.linspace(-3.0, 3.0, 21)
    weights = norm.pdf(z) / norm.pdf(z).sum()
    costs = []
    for value in np.clip(figure.value + figure.sd * z, 0.0005, 0.10):
        costs.append(cost_of(job_of([], (*usual_offers(), fruit_offer("F", pectin_fraction=float(value))))).cost)
    expected = cost_of(job).cost - float(np.array(costs) @ weights)
    (found,) = worth_of_tests(job, ["F"], figures=("pectin",))
    assert found.saves == pytest.approx(expected, rel=0.1)
    assert found.kg > 20.0


@pytest.mark.parametrize(
    ("lots", "product", "figure"),
    [
        ([fruit_lot("X", PLUM)], "butter", "pectin"),  # nothing sets
        ([fruit_lot("X", PLUM)], "jam", "brix"),  # the refractometer at the pan tells
        ([fruit_lot("X", PLUM, pectin_fraction=0.008)], "jam", "pectin"),  # measured
    ],
)
def test_worth_nothing_where_nothing_hangs_on_it(lots, product: str, figure: str) -> None:
    found = worth_of_tests(job_of(lots, product=product), ["X"], figures=(figure,))
    assert all(worth.saves == 0.0 for worth in found)


def test_a_fruit_that_is_not_taken_is_worth_no_test() -> None:
    job = job_of([fruit_lot("X", PLUM)], (*usual_offers(), fruit_offer("F", price=50.0)))
    (found,) = worth_of_tests(job, ["F"], figures=("pectin",))
    assert (found.kg, found.saves) == (0.0, 0.0)


@pytest.mark.parametrize("least", [-0.5, 0.0, 1.2])
def test_what_a_least_value_leaves_is_a_truncated_normal(least: float) -> None:
    mean, sd = above(10.0, 2.0, 10.0 + 2.0 * least)
    assert mean == pytest.approx(truncnorm.mean(least, np.inf, loc=10.0, scale=2.0), rel=1e-9)
    assert sd == pytest.approx(truncnorm.std(least, np.inf, loc=10.0, scale=2.0), rel=1e-7)


def test_no_margin_reaches_below_what_is_guaranteed() -> None:
    mean, sd = above(10.0, 2.0, 11.0, z=3.0)
    assert mean - 3.0 * sd >= 11.0 - 1e-12


def test_grade_of_a_pectin_by_hand() -> None:
    """Both margins of the set add in quadrature: of the fruit (measured) and of the grade.

    22.5 kg of fruit (45 %) carry what 0.2 % of native pectin does, with the spread of a measurement; late pectin loses
    the book's share of its grade. With the grade known, strength - z s_fruit = need; else the spread of the grade joins
    it, so that 150 (kg - kg_known) = z (sqrt(s_fruit² + (12 kg)²) - s_fruit), all less the loss.
    """
    lots = [fruit_lot("X", PLUM, pectin_fraction=0.002)]
    job = job_of(lots, confidence=0.9)
    found = worth_of_guarantee(job, "P", "grade", sd=0.0, grade_sd=12.0)
    z, left = norm.ppf(0.9), 1.0 - BOOK.setting("late_pectin_loss")
    s_fruit = 22.5 * float(native_strength_per_kg(0.002)) * BOOK.setting("measured_pectin_sd")
    more = 150.0 * left * (found.kg - found.kg_with)
    assert more == pytest.approx(z * (np.hypot(s_fruit, 12.0 * left * found.kg) - s_fruit), rel=1e-4)
    assert more > 0.5
    at_150 = cost_of(job_of(lots, _graded(150.0))).cost
    weaker = cost_of(job_of(lots, _graded(150.0 - z * 12.0))).cost  # as if both margins added up
    assert found.cost_with == pytest.approx(at_150, rel=1e-6)
    assert at_150 < found.cost_without <= weaker * (1.0 + 1e-6)
    assert found.saves == pytest.approx(found.cost_without - at_150, abs=1e-5)


def _graded(grade: float) -> tuple[Offer, ...]:
    return tuple(
        offer("P", "pectin, HM (powder, grade 150)", 18.0, setting="medium", grade=grade) if o.offer == "P" else o
        for o in usual_offers()
    )


def test_the_premium_is_the_price_at_which_the_guarantee_saves_nothing() -> None:
    job = job_of([fruit_lot("X", PLUM, pectin_fraction=0.002)])
    found = worth_of_guarantee(job, "P", "grade", sd=0.0, grade_sd=12.0)
    assert found.premium_per_kg > 0.0
    dearer = job_of(job.lots, tuple(
        o.model_copy(update={"price": o.price + found.premium_per_kg, "grade": 150.0}) if o.offer == "P" else o
        for o in job.offers
    ))  # fmt: skip
    assert cost_of(dearer).cost == pytest.approx(found.cost_without, rel=1e-5)
    assert found.premium_per_kg >= found.saves / found.kg_with - 1e-9


def test_a_least_pectin_is_worth_more_the_higher_it_is() -> None:
    job = job_of([], (*usual_offers(), fruit_offer("F")))
    figure = BOOK.fruits[PLUM].pectin_fraction
    worths = [
        worth_of_guarantee(job, "F", "pectin", least=figure.value + k * figure.sd).saves for k in (-1.0, 0.0, 0.5)
    ]
    assert 0.0 < worths[0] < worths[1] < worths[2]


def test_a_guarantee_of_what_does_not_matter_is_worth_nothing() -> None:
    job = job_of([], (*usual_offers(), fruit_offer("F")), product="butter")
    assert worth_of_guarantee(job, "F", "pectin", sd=0.0).saves == 0.0
    job = job_of([fruit_lot("X", PLUM)], (*usual_offers(), fruit_offer("F", price=50.0)))
    found = worth_of_guarantee(job, "F", "pectin", sd=0.001)
    assert (found.saves, found.premium_per_kg) == (0.0, 0.0)


@pytest.mark.parametrize(
    ("code", "what", "asked", "words"),
    [
        ("nowhere", "brix", {"least": 0.1}, "on neither table"),
        ("F", "brix", {}, "say what is guaranteed"),
        ("F", "brix", {"least": 12.0}, "give 0.01 to 0.84"),
        ("F", "brix", {"least": 0.8}, "next to nothing is like that"),
        ("S", "brix", {"least": 0.5}, "changes nothing"),
        ("F", "ph", {"least": 3.0}, "changes nothing"),
        ("P", "grade", {"least": 150.0}, "how far its grade"),
    ],
)
def test_what_cannot_be_guaranteed_is_refused(code: str, what: str, asked: dict, words: str) -> None:
    job = job_of([], (*usual_offers(), fruit_offer("F")))
    with pytest.raises(InputFault, match=words):
        worth_of_guarantee(job, code, what, **asked)
