"""Rows that stand once whole numbers are decided, each at its bound and a step past it, by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest
from handmade import FRUIT, SUGAR, amounts, case, holds, limit, row, stream

from optimizer.blend.case import Case
from optimizer.blend.decided import Decided
from optimizer.blend.rules import rows_of

_FIFTH = limit("fruit_share", 0.2, "min", condition="mixed fruit")
_RULES = ("mix_share", "least_used", "packs")


def _decided(of: Case, **what: object) -> Case:
    return replace(of, decided=Decided(**what))


def test_each_fruit_of_a_mix_holds_its_share() -> None:
    """10 of 50 kg of fruit is a fifth; of 51 kg it is less."""
    of = _decided(case(FRUIT, stream("apple"), SUGAR, limits=(_FIFTH,)))
    share = row(of, "mix_share:apple")
    assert row(of, "mix_share:plum").lower == share.lower == 0.2
    assert holds(share, amounts(40.0, 10.0, 60.0))
    assert not holds(share, amounts(41.0, 10.0, 60.0))
    assert share.is_law


def test_one_fruit_alone_is_no_mix() -> None:
    of = _decided(case(FRUIT, stream("damson", fruit="plum"), SUGAR, limits=(_FIFTH,)))
    assert not [r for r in rows_of(of) if r.id.startswith("mix_share")]


def test_a_lot_used_at_all_is_used_in_earnest() -> None:
    """12 kg received are 9 kg in the pan where three quarters are usable."""
    of = _decided(case(stream("plum", usable_fraction=0.75), SUGAR), least_received_kg={"plum": 12.0})
    assert holds(row(of, "least_used:plum"), amounts(9.0, 60.0))
    assert not holds(row(of, "least_used:plum"), amounts(8.99, 60.0))


def test_no_more_is_used_than_the_packs_hold() -> None:
    """Two packs of 25 kg."""
    of = _decided(case(FRUIT, replace(SUGAR, origin="offer", pack_kg=25.0)), packs={"sugar": 2})
    assert holds(row(of, "packs:sugar"), amounts(60.0, 50.0))
    assert not holds(row(of, "packs:sugar"), amounts(60.0, 50.01))


@pytest.mark.parametrize("decided", [None, Decided()])
def test_nothing_decided_adds_no_row(decided: Decided | None) -> None:
    of = replace(case(FRUIT, SUGAR, limits=(_FIFTH,)), decided=decided)
    assert not [r for r in rows_of(of) if r.id.startswith(_RULES)]
