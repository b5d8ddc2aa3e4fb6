"""Recipe alone: the service's figures, limits, cautions at the decision, no recipe, numbers as typed, a batch."""

from __future__ import annotations

import re
import time
from collections.abc import Iterator
from datetime import date

import pytest
from cooking import PLUMS, SITE, set_up, until
from paging import Shop, a_shop, press, text_of

from optimizer.blend.request import Request
from optimizer.inputs.book import load_book
from optimizer.services.kitchen import open_kitchen
from optimizer.services.recipe import recipe_of
from optimizer.services.weighing import weigh_out
from ui import access
from ui.words import show_money, show_weight

HOSTILE = "`rm` **bold** <script>alert(1)</script> $x$ [link](http://elsewhere.example)"


@pytest.fixture
def shop(monkeypatch: pytest.MonkeyPatch) -> Iterator[Shop]:
    with a_shop(monkeypatch, demo=False) as found:
        set_up(found.store)
        yield found


def test_the_figures_are_those_of_the_service_in_the_step_of_the_scales(shop: Shop) -> None:
    folder, book = open_kitchen(shop.store).folder, load_book()
    request = Request(product="jam", batch_kg=50.0, on=date.today(), confidence=0.9)
    recipe = recipe_of(folder, request, book=book)
    weighed = weigh_out(recipe, request, folder, book)
    at = until(shop.page("recipe"), "What to weigh")
    text = text_of(at)
    for amount in weighed.amounts:
        assert show_weight(amount.pan_kg, 0.005) in text
    values = [metric.value for metric in at.metric]
    assert show_money(recipe.costs.per_jar, "EUR") in values
    assert show_money(recipe.costs.total, "EUR") in values
    assert "Rounded to 5\u00a0g" in text
    assert "Is it inside the limits?" in text
    for sentence in recipe.why:
        assert sentence.split(":")[0][1:] in text


def test_cautions_stand_where_the_batch_is_decided(shop: Shop) -> None:
    at = until(shop.page("recipe"), "What to weigh")
    must = [str(one.value) for one in at.warning]
    assert any("Before any jar leaves" in text and "Measure the pH" in text for text in must)
    assert "min in boiling water" in text_of(at)
    assert any(button.key == "recipe_make" for button in at.button)


def test_no_recipe_shows_the_clash_and_the_smallest_help_as_amounts(shop: Shop) -> None:
    at = until(shop.page("recipe"), "What to weigh")
    at.text_input(key="recipe_batch").set_value("900 kg").run()
    text = text_of(until(at, "No recipe for jam"))
    assert "These cannot hold together" in text
    assert "Smallest help" in text
    assert "more of P-1" in text
    assert not any(button.key == "recipe_make" for button in at.button)


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("1,234", "can mean two numbers"),
        ("a lot", "begin with a number"),
        ("-3 kg", "give a mass above 0"),
        ("9" * 10000, "fewer digits"),
    ],
)
def test_a_mass_that_is_not_clear_is_asked_back(shop: Shop, typed: str, said: str) -> None:
    at = until(shop.page("recipe"), "What to weigh")
    at.text_input(key="recipe_batch").set_value(typed).run()
    assert said in text_of(at)
    assert "What to weigh" not in text_of(at)


def test_a_decimal_comma_is_a_decimal_mark(shop: Shop) -> None:
    at = until(shop.page("recipe"), "What to weigh")
    at.text_input(key="recipe_batch").set_value("12,5").run()
    assert ", 12.5\u00a0kg" in text_of(until(at, ", 12.5"))


def test_more_wishes_change_the_request(shop: Shop) -> None:
    at = until(shop.page("recipe"), "What to weigh")
    at.text_input(key="recipe_solids").set_value("67").run()
    assert "67.0\u00a0% on the refractometer" in text_of(until(at, "Boil to 67.0"))
    at.text_input(key="recipe_solids").set_value("").run()
    at.text_input(key="recipe_shares").set_value("plum 60").run()
    assert "plum 60" in text_of(at)
    at.text_input(key="recipe_shares").set_value("quince>=50%").run()
    until(at, "is on neither table")


def test_an_aim_without_a_sale_price_says_where_to_give_one(shop: Shop) -> None:
    at = until(shop.page("recipe"), "What to weigh")
    at.selectbox(key="recipe_product").set_value("jelly").run()
    at.selectbox(key="recipe_aim").set_value("value-saved").run()
    until(at, "no sale price is given yet")


def test_what_is_worth_measuring_is_worked_out_on_demand(shop: Shop) -> None:
    at = until(shop.page("recipe"), "What to weigh")
    press(at, "recipe_measure")
    end = time.monotonic() + 60
    while not any("Measure or own" in one.value.columns for one in at.table):
        assert time.monotonic() < end
        time.sleep(0.1)
        at.run()
    (found,) = (one.value for one in at.table if "Measure or own" in one.value.columns)
    assert found["Measure or own"].iloc[0] == "pectin"  # the one figure of the lot that was not measured


def test_a_batch_is_booked_after_a_summary(shop: Shop) -> None:
    at = until(shop.page("recipe"), "What to weigh")
    press(at, "recipe_make")
    assert "This will be booked" in text_of(at)
    assert "taken in as whole packs" in text_of(at)
    assert shop.store.batches(shop.kitchen) == ()
    press(at, "recipe_not_now")
    assert "This will be booked" not in text_of(at)
    press(at, "recipe_make")
    before = {lot.code: lot.amount for lot in shop.store.lots(shop.kitchen)}
    press(at, "recipe_book")
    (batch,) = shop.store.batches(shop.kitchen)
    assert batch.product == "jam"
    after = {lot.code: lot.amount for lot in shop.store.lots(shop.kitchen)}
    taken = {use.lot: use.amount for use in batch.uses}
    assert after["P-1"] == before["P-1"] - taken["P-1"]
    assert taken["P-1"] % 5 == 0 or taken["P-1"] == before["P-1"]
    assert f"Batch {batch.code} is open" in text_of(at).replace("\\", "")
    press(at, "recipe_undo")
    assert {lot.code: lot.amount for lot in shop.store.lots(shop.kitchen)}["P-1"] == before["P-1"]
    assert "Taken back" in text_of(at)


def test_who_may_only_look_sees_no_button_to_book(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(access, "gate", lambda: access.Person(address="ana@example.org", can_write=False))
    at = until(shop.page("recipe"), "What to weigh")
    assert not any(button.key == "recipe_make" for button in at.button)
    assert "You may look only" in text_of(at)


def test_an_empty_kitchen_says_what_to_do(monkeypatch: pytest.MonkeyPatch) -> None:
    with a_shop(monkeypatch, demo=False) as empty:
        assert "Nothing on the shelf and nothing on offer" in text_of(empty.page("recipe"))


def test_names_that_mean_harm_are_shown_as_they_are(monkeypatch: pytest.MonkeyPatch) -> None:
    with a_shop(monkeypatch, demo=False) as hostile:
        set_up(hostile.store, plums={**PLUMS, "lot": HOSTILE}, site=SITE.replace('jars."380 mL"', f"jars.'{HOSTILE}'"))
        at = until(hostile.page("recipe"), "What to weigh")
        raw = " ".join([str(one.value) for one in at.markdown] + [one.label for one in at.metric])
        raw += " ".join(str(cell) for one in at.table for row in one.value.itertuples(index=False) for cell in row)
        assert "script" in raw
        assert not re.search(r"(?<!\\)(<script|\*\*bold|\[link|\$x|`rm)", raw)  # each mark of it is escaped
        assert "`rm` **bold**" in text_of(at)
