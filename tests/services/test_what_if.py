"""Spreads, correlations and price tables as typed; scenarios, ladders and maps as documents."""

from __future__ import annotations

import json

import numpy as np
import pytest
from markets import DAY, fruit_lot, offer, usual_offers

from optimizer.blend.request import Request
from optimizer.errors import BadTable, InputFault
from optimizer.inputs.models import Site, SiteFolder
from optimizer.market.job import cost_of
from optimizer.services import what_if
from optimizer.services.spreads import draw_prices, parse_correlations, parse_spreads, read_price_table

OFFERS = (*usual_offers(), offer("S2", "cane/beet sugar, white", 1.0), offer("G", "liquid glucose / corn syrup", 0.7))


@pytest.fixture(scope="module")
def job():
    found = SiteFolder(
        site=Site(ph_meter="yes", currency="cr"), lots=(fruit_lot("X", "plum, flesh with skin"),), offers=OFFERS,
        folder="",
    )  # fmt: skip
    return what_if.job_of(found, [Request(product="jam", batch_kg=50.0, on=DAY)])


def test_offers_of_an_item_move_together_and_a_code_goes_before_its_item(job) -> None:
    found = parse_spreads(job, ["all = 5 %", "sugar=10 %", "S2=20"])
    told = [(s.name, s.codes, s.relative_sd) for s in found]
    assert told[:2] == [("S2", ("S2",), 0.2), ("sugar", ("S",), 0.1)]
    assert {(s.codes, s.relative_sd) for s in found[2:]} == {(("A",), 0.05), (("P",), 0.05), (("B",), 0.05),
                                                             (("G",), 0.05)}  # fmt: skip
    table = draw_prices(job, parse_spreads(job, ["sugar=10 %"]), None, np.random.default_rng(1), 1000)
    assert table.codes == ("S", "S2")
    assert table.prices[:, 1] == pytest.approx(table.prices[:, 0] / 0.9)
    assert table.prices.mean(axis=0) == pytest.approx([0.9, 1.0], rel=0.02)
    assert table.inputs.shape == (1000, 1)


@pytest.mark.parametrize(
    ("texts", "words"),
    [
        (["sugar"], "write an offer"),
        (["cement=5 %"], "is no offer"),
        (["sugar=lots"], "lots"),
        (["sugar=5 %", "cane/beet sugar, white=5 %"], "name it once"),
    ],
)
def test_spreads_that_name_nothing_are_refused(job, texts, words: str) -> None:
    with pytest.raises(InputFault, match=words):
        parse_spreads(job, texts)


def test_correlations_as_typed(job) -> None:
    spreads = parse_spreads(job, ["sugar=10 %", "glucose=10 %", "P=5 %"])
    names = [s.name for s in spreads]
    matrix = parse_correlations(spreads, ["sugar~glucose=0,5"])
    assert matrix is not None
    assert matrix[names.index("sugar"), names.index("glucose")] == 0.5
    assert parse_correlations(spreads, []) is None
    for text, words in (
        ("sugar=0.5", "two spreads"), ("sugar~acid=0.5", "has no spread"), ("sugar~sugar=1", "two different"),
        ("sugar~glucose=much", "figure from -1 to 1"), ("sugar~glucose=2", "give -1 to 1"),
    ):  # fmt: skip
        with pytest.raises(InputFault, match=words):
            parse_correlations(spreads, [text])
    with pytest.raises(InputFault, match="cannot hold together"):
        parse_correlations(spreads, ["sugar~glucose=-0.9", "sugar~P=-0.9", "glucose~P=-0.9"])


def test_a_table_of_prices(job, tmp_path) -> None:
    """The item's price is that of its cheapest offer, here S at 0.9; S2 stays 0.1 dearer. An empty cell stays."""
    path = tmp_path / "prices.csv"
    path.write_text("sugar;P\n1.00;20 cr/kg\n0.95;\n0.80;2 cr/100 g\n", encoding="utf-8")
    table = read_price_table(job, path)
    assert table.codes == ("S", "S2", "P")
    assert table.prices == pytest.approx(np.array([[1.0, 1.1, 20.0], [0.95, 1.05, 18.0], [0.8, 0.9, 20.0]]))
    assert table.input_names == ("sugar", "p")
    found = what_if.scenarios_of_table(job, path)
    costs = [cost_of(job, dict(zip(table.codes, row, strict=True))).cost for row in table.prices.tolist()]
    assert found.quantile(0.5) == pytest.approx(np.median(costs), rel=1e-4)
    assert found.seed is None


def test_all_faults_of_a_table_at_once(job, tmp_path) -> None:
    path = tmp_path / "prices.csv"
    path.write_text("sugar,cement,S\nx,1,1\n1 cr/piece,1,1\n", encoding="utf-8")
    with pytest.raises(BadTable) as caught:
        read_price_table(job, path)
    told = "\n".join(str(fault) for fault in caught.value.faults)
    for words in ("line 2", "line 3", "cement", "two columns", "per kg"):
        assert words in told
    path.write_text("sugar\n", encoding="utf-8")
    with pytest.raises(BadTable, match="one line or more"):
        read_price_table(job, path)
    with pytest.raises(BadTable, match="nowhere"):
        read_price_table(job, tmp_path / "nowhere.csv")


def test_scenarios_of_spreads_and_of_fruit_as_documents(job) -> None:
    found = what_if.scenarios_of_spreads(
        job, ["sugar=10 %", "glucose=10 %"], correlations=["sugar~glucose=0.8"], count=300, seed=7
    )
    again = what_if.scenarios_of_spreads(
        job, ["sugar=10 %", "glucose=10 %"], correlations=["sugar~glucose=0.8"], count=300, seed=7
    )
    document = what_if.scenarios_document(found)
    assert json.loads(json.dumps(document)) == json.loads(json.dumps(what_if.scenarios_document(again)))
    assert (document["scenarios"], document["seed"], document["certified"]) == (300, 7, 300)
    assert document["drivers"][0]["what"] == "sugar"
    fruit = what_if.scenarios_document(what_if.scenarios_of_fruit(job, count=200, seed=7))
    assert fruit["scenarios"] == 200
    for count in (0, what_if.MOST_SCENARIOS + 1):
        with pytest.raises(InputFault, match="give 1 to"):
            what_if.scenarios_of_fruit(job, count=count)


def test_ladder_and_map_at_once_and_settled_anew(job) -> None:
    quick, anew = what_if.ladder(job, "S", anew=False), what_if.ladder(job, "S")
    assert quick.exact
    assert not anew.exact
    now = quick.price_now
    assert quick.kg_at(now) == pytest.approx(anew.kg_at(now), rel=0.02)
    found = what_if.two_prices(job, "S", "G", (0.5, 0.5), (1.2, 1.2), anew=False)
    document = json.loads(json.dumps(what_if.map_document(found)))
    assert document["exact"]
    assert sum(cell["share"] for cell in document["cells"]) == pytest.approx(1.0, abs=1e-6)
    assert all("X" not in cell["taken"] for cell in document["cells"])  # the lot is no offer
    with pytest.raises(InputFault, match="is no offer"):
        what_if.ladder(job, "cement", anew=False)


def test_worth_of_certainty(job) -> None:
    assert what_if.worth_of_testing(job, ["X"])[0].saves >= 0.0
    found = what_if.guarantee_worth(job, "P", "grade", sd=0.0, grade_sd=5.0)
    assert found.saves == 0.0  # at even odds no margin is carried, so nothing hangs on it
