"""`decay.csv` and `holding.csv`: every fruit covered, every figure sourced, faults named."""

import csv
import shutil
from pathlib import Path

import pytest

from optimizer.datafiles import data_folder
from optimizer.errors import BadTable
from optimizer.inputs.book import load_book

BOOK = load_book()
LINES = list(csv.DictReader((data_folder() / "decay.csv").read_text(encoding="utf-8").splitlines()))
OWN = [line for line in LINES if not line["like"]]


def test_every_fruit_of_the_book_is_covered():
    assert {part.fruit for part in BOOK.fruits.values()} <= set(BOOK.decays)
    assert all(name in BOOK.fruits for name in BOOK.decays if BOOK.decays[name].part)


@pytest.mark.parametrize("line", OWN, ids=lambda line: f"{line['fruit']} {line['part']}".strip())
def test_every_figure_has_a_source_that_fits_its_status(line):
    for figure, prefix in (("life", ""), ("q10", "q10_"), ("coldest", "coldest_")):
        source, status = line[f"{prefix}source"], line[f"{prefix}status"]
        assert line[figure]
        assert source
        assert (status == "memory") == source.startswith("from memory"), (figure, line)
        assert (status == "judgement") == source.startswith("judgement"), (figure, line)


@pytest.mark.parametrize("line", OWN, ids=lambda line: f"{line['fruit']} {line['part']}".strip())
def test_life_lies_in_the_range_of_its_source_and_is_its_middle_where_it_says_so(line):
    ends = [float(line[name]) for name in ("life_low", "life", "life_high") if line[name]]
    assert ends == sorted(ends)
    if line["source"].startswith("midpoint"):
        middle = (float(line["life_low"]) + float(line["life_high"])) / 2.0
        assert float(line["life"]) == pytest.approx(middle, abs=0.51), line  # half a day of rounding


def test_fruit_is_stored_no_colder_than_it_stands():
    for line in OWN:
        assert float(line["coldest"]) <= float(line["life_at"]), line


def test_q10_is_2_to_3():
    # food-processing text on respiration (read): 2 to 3 times per 10 degC
    assert all(2.0 <= float(line["q10"]) <= 3.0 for line in OWN)


def test_a_stand_in_has_the_figures_of_the_other_and_says_so():
    for line in (line for line in LINES if line["like"]):
        found, other = BOOK.decays[line["fruit"]], BOOK.decays[line["like"]]
        figures = ("life_days", "life_at_C", "q10", "coldest_C")
        assert [getattr(found, name) for name in figures] == [getattr(other, name) for name in figures]
        assert (found.fruit, found.stand_in, found.status) == (line["fruit"], line["like"], "judgement")
        assert f"{line['like']}: " in found.source


def test_every_line_reaches_the_book():
    assert len(BOOK.decays) == len(LINES)
    for line in OWN:
        found = BOOK.decays[f"{line['fruit']}, {line['part']}" if line["part"] else line["fruit"]]
        assert (found.life_days, found.life_at_C) == (float(line["life"]), float(line["life_at"]))
        assert (found.q10, found.coldest_C) == (float(line["q10"]), float(line["coldest"]))


def test_holding_has_what_the_model_asks_for():
    # newspaper column on freezing (2020): 8 to 12 months, best within 6: counted from the 6
    assert (BOOK.holdings["freezer"].days_least, BOOK.holdings["freezer"].days_most) == (180.0, 365.0)
    assert BOOK.holdings["sulphited pulp"].days_least == 180.0
    # zero-energy cool chamber study, coastal Orissa: 5 to 8 degC cooler
    chamber = BOOK.holdings["evaporative chamber"]
    assert (chamber.cooler_by_least_C, chamber.cooler_by_most_C) == (5.0, 8.0)


# ---- faults ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("\nplum,,,", "\nplumm,,,", "not in fruit_parts.csv"),
        ('"flesh, unripe"', "green", "not in fruit_parts.csv"),
        ("\nplum,,,21,", "\nplum,,,,", "name in `like` the fruit that stands in"),
        ("\ndamson,,plum,,", "\ndamson,,plum,21,", "has no figures of its own"),
        ("\ndamson,,plum,", "\ndamson,,greengage,", "name a fruit with figures of its own"),
        ("\npear,,,", "\npeach,,,", "second line for this fruit"),
        ("\nplum,,,21,", "\nplum,,,-21,", "give 0.1 to 1000 d"),
    ],
)
def test_a_fault_is_named_with_its_cure(tmp_path: Path, old: str, new: str, said: str):
    for path in data_folder().glob("*.csv"):
        shutil.copy(path, tmp_path)
    text = (tmp_path / "decay.csv").read_text(encoding="utf-8")
    assert old in text
    (tmp_path / "decay.csv").write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(BadTable) as caught:
        load_book(tmp_path)
    assert said in str(caught.value)
    assert "decay.csv line" in str(caught.value)
