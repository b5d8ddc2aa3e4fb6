"""What to cook today: the ranking against brute force, and that fruit which rots faster is never ranked later."""

from __future__ import annotations

import json
from datetime import date, timedelta

import pytest
from click.testing import CliRunner
from jsonschema import Draft202012Validator
from markets import BOOK, fruit_lot, usual_offers

from optimizer.blend.recipe import make_recipe
from optimizer.blend.request import FruitShare, Request
from optimizer.cli import main
from optimizer.datafiles import data_folder
from optimizer.errors import InputFault
from optimizer.inputs.models import Jar, Labour, Lot, Pan, Site
from optimizer.prepare.spoilage import worth_tomorrow_per_kg
from optimizer.services.today import most_in_a_shift, rank_today

DAY = date(2026, 7, 4)
SITE = Site(
    ph_meter="yes",
    standard="codex",
    pans=(Pan(count=1, capacity_L=60.0, power_kW=15.0, fuel_price=1.4, efficiency=0.5),),
    jars=(Jar(name="380 mL", net_kg=0.45, brim_volume_L=0.38, cost=0.3),),
    labour=Labour(people=2, wage_per_h=10.0, shift_h=8.0, hours_per_100kg=6.0),
    prices={"jam": 4.0, "jelly": 5.0, "butter": 4.5},
)
PLUM, APPLE, PEAR = "plum, flesh with skin", "apple, cooking, flesh with skin", "pear, flesh with skin"


def _lots(**more) -> tuple[Lot, ...]:
    return (
        fruit_lot("L-P", PLUM, kg=60.0, worth=0.3, received=DAY, **more),
        fruit_lot("L-A", APPLE, kg=80.0, worth=0.1, received=DAY),
    )


def test_the_most_that_fits_into_a_shift_by_hand() -> None:
    """6 loads of 75 min in 8 h; 60 L · 0.6 · 1.25 kg/L = 45 kg each: 270 kg. 2 · 8 / 6 · 100 = 266.7 kg by hands."""
    most, reason = most_in_a_shift(SITE, BOOK, _lots())
    assert most == pytest.approx(2 * 8 / 6 * 100)
    assert reason == "hours of work in a shift"
    few, reason = most_in_a_shift(SITE, BOOK, [fruit_lot("P", PLUM, kg=10.0)])
    assert (few, reason) == (pytest.approx(40.0), "fruit on hand")


def test_every_choice_is_the_best_batch_of_its_product_and_fruit() -> None:
    """Brute force: least-cost recipes of 40 batch sizes, sold in whole jars; none saves more than the choice."""
    lots = _lots()
    found = rank_today(SITE, lots, usual_offers(), BOOK, on=DAY)
    assert found.choices
    saved = [choice.value_saved for choice in found.choices]
    assert saved == sorted(saved, reverse=True)
    tomorrow = {lot.lot: worth_tomorrow_per_kg(lot, BOOK, DAY) for lot in lots}
    for choice in found.choices:
        fruits = (FruitShare(fruit=choice.fruit),) if choice.fruit else ()
        best = 0.0
        for step in range(1, 41):
            size = found.most_kg * step / 40
            request = Request(product=choice.product, batch_kg=size, on=DAY, fruits=fruits, confidence=0.9)
            recipe = make_recipe(request, SITE, lots, usual_offers(), BOOK)
            if recipe.status == "none":
                continue
            kept = sum(
                a.received_kg * (tomorrow[a.stream.id] - a.stream.price_per_received_kg)
                for a in recipe.amounts
                if a.stream.id in tomorrow
            )
            sold = sum(jar.count * jar.net_kg for jar in recipe.jars) * SITE.prices[choice.product]
            best = max(best, sold - recipe.costs.total - kept)
        assert best > 0.0
        assert choice.value_saved >= best - 0.45 * SITE.prices[choice.product]  # whole jars: one may be missing


def test_what_a_choice_says_adds_up() -> None:
    lots = _lots()
    found = rank_today(SITE, lots, usual_offers(), BOOK, on=DAY)
    tomorrow = {lot.lot: worth_tomorrow_per_kg(lot, BOOK, DAY) for lot in lots}
    for choice in found.choices:
        sold = choice.jars * 0.45 * SITE.prices[choice.product]
        assert choice.value_saved == pytest.approx(sold - choice.cost_per_jar * choice.jars)
        goods = sum(p.cost for p in choice.buy) + sum(tomorrow[u.id] * u.kg for u in choice.lots)
        labour = 10.0 * 6.0 * choice.finished_kg / 100
        fuel = choice.cost_per_jar * choice.jars - goods - labour - 0.3 * choice.jars
        assert 0.0 <= fuel < 0.1 * sold
        assert all(u.kg <= next(lot.on_hand_kg for lot in lots if lot.lot == u.id) + 1e-6 for u in choice.lots)
    best = found.choices[0]
    left = {n.id: n.kg for n in found.not_cooked}
    for lot in lots:
        used = sum(u.kg for u in best.lots if u.id == lot.lot)
        assert used + left.get(lot.lot, 0.0) == pytest.approx(lot.on_hand_kg)


@pytest.mark.parametrize("days_ago", [1, 3, 6])
def test_fruit_that_rots_faster_is_never_ranked_later(days_ago: int) -> None:
    """The same plums, picked earlier: they give up less by tomorrow, so plum choices save at least as much."""

    def saved(lots: tuple[Lot, ...]) -> dict[str, float]:
        found = rank_today(SITE, lots, usual_offers(), BOOK, on=DAY)
        return {choice.product: choice.value_saved for choice in found.choices if choice.fruit == "plum"}

    fresh, old = saved(_lots(picked=DAY)), saved(_lots(picked=DAY - timedelta(days=days_ago)))
    assert set(fresh) <= set(old)
    for product, value in fresh.items():
        assert old[product] >= value - 1e-6
    assert any(old[product] > value + 1e-3 for product, value in fresh.items())


def test_two_lots_alike_but_for_their_age_the_older_goes_first() -> None:
    lots = (
        fruit_lot("new", PLUM, kg=40.0, worth=0.3, received=DAY, picked=DAY),
        fruit_lot("old", PLUM, kg=40.0, worth=0.3, received=DAY, picked=DAY - timedelta(days=5)),
    )
    site = SITE.model_copy(update={"labour": Labour(people=1, wage_per_h=0.0, shift_h=4.0, hours_per_100kg=10.0)})
    best = rank_today(site, lots, usual_offers(), BOOK, on=DAY).choices[0]
    used = {u.id: u.kg for u in best.lots}
    assert used["old"] > 0.0
    assert used.get("new", 0.0) < 1e-6 or used["old"] == pytest.approx(40.0, rel=1e-6)


def test_a_product_that_is_out_says_why_and_what_helps() -> None:
    lots = (fruit_lot("M", "papaya, flesh, ripe", kg=60.0, worth=0.1),)
    out = {e.product: e for e in rank_today(SITE, lots, usual_offers(), BOOK, on=DAY).excluded}
    assert "until the pH of this lot is measured" in out["butter"].why
    assert "[prices]" in out["squash"].help
    dear = SITE.model_copy(update={"prices": {"jam": 0.5}})
    out = {e.product: e for e in rank_today(dear, _lots(), usual_offers(), BOOK, on=DAY).excluded}
    assert "costs more than it sells for" in out["jam"].why
    no_sugar = {e.product: e for e in rank_today(SITE, _lots(), (), BOOK, on=DAY).excluded}
    assert no_sugar["jam"].help.startswith("buy ")


def test_what_is_left_is_sold_frozen_or_carted_off() -> None:
    lots = (fruit_lot("A", APPLE, kg=20.0, worth=0.2), fruit_lot("B", APPLE, kg=2000.0, worth=-0.05))
    uses = {n.id: n for n in rank_today(SITE, lots, usual_offers(), BOOK, on=DAY).not_cooked}
    assert uses["B"].best_use == "cart off"
    assert uses["B"].value == pytest.approx(-0.05 * uses["B"].kg)
    freezer = SITE.model_copy(update={"stores": {"freezer": "0.5 m3 at -18 degC"}})
    assert {n.id: n.best_use for n in rank_today(freezer, lots, usual_offers(), BOOK, on=DAY).not_cooked}[
        "B"
    ] == "freeze"


def test_no_fruit_is_a_fault_with_its_cure() -> None:
    with pytest.raises(InputFault, match="no fruit on hand"):
        rank_today(SITE, (), usual_offers(), BOOK, on=DAY)


@pytest.mark.parametrize("site", ["ombrey_hollow", "sanduri_flats"])
def test_command_and_document(site: str) -> None:
    words = ["today", "--site", str(data_folder() / "demo" / site), "--on", "2026-07-04"]
    text = CliRunner().invoke(main, words)
    assert text.exit_code == 0, text.output
    assert max(len(line) for line in text.stdout.splitlines()) <= 80
    found = json.loads(CliRunner().invoke(main, [*words, "--json"]).stdout)
    schema = json.loads((data_folder() / "schemas" / "today.schema.json").read_text(encoding="utf-8"))
    Draft202012Validator(schema).validate(found)
    values = [choice["value_saved"] for choice in found["choices"]]
    assert values == sorted(values, reverse=True)
    assert values[0] > 0
