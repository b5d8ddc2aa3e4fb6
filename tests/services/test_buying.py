"""The buyer's questions one by one: same answers as the whole, prices moved by hand, spreads as typed, a stop."""

from __future__ import annotations

import doctest
from collections.abc import Iterator
from datetime import date

import pytest
from cooking import GOODS, set_up
from hypothesis import given
from hypothesis import strategies as st
from kitchens import a_store, put

import optimizer.services.buying_what_if
from optimizer.blend.request import Request
from optimizer.errors import BadTable, InputFault
from optimizer.inputs.book import load_book
from optimizer.inputs.prices import Money
from optimizer.services import what_if
from optimizer.services.buying import (
    NoOrder,
    first_answer,
    guaranteed,
    items_on_offer,
    ladder_anew,
    map_about,
    may_be_guaranteed,
    with_prices,
    worth_of_each_test,
)
from optimizer.services.buying_sheets import heard_prices
from optimizer.services.buying_what_if import (
    moved_prices,
    order_at,
    parse_price_change,
    parse_spread_wishes,
    spread_scenarios,
    table_scenarios,
)
from optimizer.services.kitchen import open_kitchen
from optimizer.services.offers import Offers, offers_of

EUR = Money(currency="EUR")


class Stopped(Exception):
    """What a page raises to end the work."""


def quiet(done: int, total: int) -> None:
    assert 0 <= done <= total or total == 0


@pytest.fixture(scope="module")
def found() -> Iterator[Offers]:
    """Jam in a small kitchen with two sugars, one of them in a big pack."""
    with a_store() as store:
        set_up(store)
        put(store, "offers", {**GOODS[0], "offer": "S-9", "price": "0.60 EUR/kg", "pack": "1000 kg"})
        folder = open_kitchen(store).folder
        request = Request(product="jam", batch_kg=50.0, on=date.today(), confidence=0.9)
        answer = first_answer(folder, (request,), load_book(), quiet)
        assert isinstance(answer, Offers)
        yield answer


def test_the_examples_in_the_docstrings_run() -> None:
    failed, tried = doctest.testmod(optimizer.services.buying_what_if)
    assert (failed, tried > 0) == (0, True)


def test_the_two_steps_say_what_the_whole_says(found: Offers) -> None:
    order = found.order
    job = order.job
    with a_store() as store:
        set_up(store)
        put(store, "offers", {**GOODS[0], "offer": "S-9", "price": "0.60 EUR/kg", "pack": "1000 kg"})
        whole = offers_of(open_kitchen(store).folder, job.batches)
    steps: list[tuple[int, int]] = []
    mine = with_prices(found, lambda done, total: steps.append((done, total)))
    assert [done for done, _ in steps] == list(range(steps[0][1]))
    assert mine.order.total == pytest.approx(whole.order.total, rel=1e-9)
    assert [(s.offer, s.saves) for s in mine.savings] == [(s.offer, s.saves) for s in whole.savings]
    assert [(e.id, e.enters_below, e.same_from, e.same_to) for e in mine.entries] == [
        (e.id, e.enters_below, e.same_from, e.same_to) for e in whole.entries
    ]
    assert mine.mix_entries == whole.mix_entries
    assert mine.worth == whole.worth
    assert mine.pays_from == whole.pays_from
    assert [ladder.steps for ladder in mine.ladders] == [ladder.steps for ladder in whole.ladders]


@given(
    price=st.floats(0.001, 1e4), share=st.decimals(0, 900, places=1), sign=st.sampled_from("+-−"),
    blank=st.sampled_from(["", " "]),
)  # fmt: skip
def test_a_typed_share_moves_a_price_by_it(price: float, share: object, sign: str, blank: str) -> None:
    new = parse_price_change(f"{sign}{blank}{share}{blank}%", price, EUR)
    factor = float(str(share)) / 100.0 * (1.0 if sign == "+" else -1.0)
    assert new == pytest.approx(price * (1.0 + factor), rel=1e-12, abs=1e-12)


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("10 %", "write +10 % for dearer"),
        ("+2000 %", "at most 1000 %"),
        ("cheap", "write a price such as"),
        ("1.10 EUR/piece", "give the price per kg"),
        ("1.10 XYZ/kg", "no rate is known"),
        ("+ten %", "write +10 % for dearer"),
        ("-200 %", "a price below 0"),
        ("-3", "a price below 0"),
    ],
)
def test_what_cannot_be_read_as_a_change_says_what_to_write(found: Offers, typed: str, said: str) -> None:
    with pytest.raises(InputFault) as fault:
        moved_prices(found.order.job, {"S-1": typed})
    assert said in str(fault.value)


def test_an_item_moves_all_its_offers_and_a_code_goes_first(found: Offers) -> None:
    job = found.order.job
    sugar = "cane/beet sugar, white"
    by_share = moved_prices(job, {sugar: "+10 %"})
    assert by_share == {"S-1": pytest.approx(1.012), "S-9": pytest.approx(0.66)}
    by_price = moved_prices(job, {sugar: "0.70"})  # of the cheapest; the other keeps its distance of 0.32
    assert by_price == {"S-1": pytest.approx(1.02), "S-9": pytest.approx(0.70)}
    both = moved_prices(job, {sugar: "+10 %", "S-1": "0.50"})
    assert both == {"S-1": pytest.approx(0.50), "S-9": pytest.approx(0.66)}
    assert moved_prices(job, {sugar: " "}) == {}


def test_the_order_at_other_prices_costs_what_its_amount_costs_more(found: Offers) -> None:
    """By hand: sugar is needed whatever it costs here, so a dearer kg costs its kilograms, less what is saved."""
    kg = found.order.taken["S-1"]
    moved = order_at(found.order, {"S-1": 0.92 + 0.01}, quiet)
    assert moved.dearer == pytest.approx(0.01 * kg, rel=0.02)
    assert moved.is_same_choice


def test_long_work_can_be_stopped_between_steps(found: Offers) -> None:
    def stop_at(step: int):
        def report(done: int, total: int) -> None:
            if done >= step:
                raise Stopped

        return report

    wishes = parse_spread_wishes({}, "10 %", "0", "50", "1")
    for work in (
        lambda report: with_prices(found, report),
        lambda report: ladder_anew(found.order.job, "S-1", report, packs=False),
        lambda report: map_about(found.order.job, "S-1", "S-3", report, anew=True),
        lambda report: spread_scenarios(found.order.job, wishes, report),
    ):
        with pytest.raises(Stopped):
            work(stop_at(2))


def test_a_map_of_one_item_against_itself_is_refused(found: Offers) -> None:
    with pytest.raises(InputFault, match="name two that differ"):
        map_about(found.order.job, "S-1", "cane/beet sugar, white", quiet, anew=False)


def test_what_can_be_asked_for_goes_into_a_pan(found: Offers) -> None:
    assert items_on_offer(found)[:3] == ("cane/beet sugar, white", "pectin, HM (powder, grade 150)", "citric acid")
    assert items_on_offer(found)[3:] == ("S-1", "S-9")


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        (({}, "", "0", "100", "1"), "no price moves"),
        (({}, "10 %", "2", "100", "1"), "from -1 to 1"),
        (({}, "10 %", "0", "0", "1"), "scenarios"),
        (({}, "10 %", "0", "1.5", "1"), "scenarios"),
        (({}, "10 %", "0", "100", "x"), "x"),
        (({"S-1": "lots"}, "", "0", "100", "1"), "lots"),
    ],
)
def test_spreads_that_cannot_be_read_are_asked_back(
    fields: tuple[dict[str, str], str, str, str, str], said: str
) -> None:
    with pytest.raises(InputFault) as fault:
        parse_spread_wishes(*fields)
    assert said in str(fault.value)


def test_scenarios_with_one_correlation_spread_the_cost_more(found: Offers) -> None:
    """Costs that move together add up: the variance of a sum grows with the covariances."""
    alone, together = (
        spread_scenarios(found.order.job, parse_spread_wishes({}, "20 %", rho, "400", "3"), quiet) for rho in ("0", "1")
    )
    assert together.standard_deviation > alone.standard_deviation * 1.02
    assert alone.mean == pytest.approx(together.mean, rel=0.05)


def test_a_table_of_prices_is_read_and_its_faults_are_told(found: Offers) -> None:
    result = table_scenarios(found.order.job, "prices.csv", b"S-1,citric acid\n0.90,2.0\n1.10,\n", quiet)
    assert result.scenarios == 2
    with pytest.raises(BadTable) as fault:
        table_scenarios(found.order.job, "prices.csv", b"S-1,rhubarb ink\n0.9x9,2\n", quiet)
    assert len(fault.value.faults) == 2
    with pytest.raises(InputFault, match="CSV or XLSX"):
        table_scenarios(found.order.job, "../prices.exe", b"x", quiet)


def test_certainty_asks_about_what_is_not_measured(found: Offers) -> None:
    pairs = may_be_guaranteed(found.order)
    assert pairs["P-1"] == ("pectin",)  # Brix, acid and pH of this lot were measured
    (worth,) = worth_of_each_test(found.order, quiet)
    assert (worth.id, worth.figure) == ("P-1", "pectin")
    (same,) = what_if.worth_of_testing(found.order.job, ["P-1"])
    assert worth.saves == pytest.approx(same.saves, rel=1e-9)
    sure = guaranteed(found.order, "P-1", "pectin", quiet, least=None, sd=1e-6)
    assert sure.saves >= 0.0
    assert sure.cost_with == pytest.approx(sure.cost_without - sure.saves, rel=1e-6)


def test_no_recipe_comes_with_the_recipe_that_says_why() -> None:
    with a_store() as store:
        set_up(store)
        folder = open_kitchen(store).folder
        day = date.today()
        much = Request(product="jam", batch_kg=9000.0, on=day, confidence=0.9)
        none = first_answer(folder, (much,), load_book(), quiet)
        assert isinstance(none, NoOrder)
        assert [recipe.status for recipe in none.recipes] == ["none"]
        assert none.recipes[0].reliefs
        half = Request(product="jam", batch_kg=120.0, on=day, confidence=0.9)
        shared = first_answer(folder, (half, half), load_book(), quiet)
        assert isinstance(shared, NoOrder)
        assert shared.recipes == ()
        assert "not enough for all batches" in shared.said


def test_a_price_is_remembered_per_kg_or_piece_in_its_own_currency() -> None:
    with a_store() as store:
        put(store, "offers", {**GOODS[0], "price": "23 EUR/bag", "pack": "25 kg"})
        (one,) = heard_prices(store, store.current())
        assert (one.price, one.unit, one.currency, one.offer) == (pytest.approx(0.92), "kg", "EUR", "S-1")
