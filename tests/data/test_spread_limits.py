"""What the standards ask of a low-sugar spread, written here by hand from the texts named."""

from __future__ import annotations

import pytest

from optimizer.inputs.book import load_book
from optimizer.inputs.models import Limit

BOOK = load_book()


def _lines(standard: str, parameter: str, name: str) -> list[Limit]:
    return [
        line
        for line in BOOK.limits
        if (line.standard, line.product, line.parameter) == (standard, "spread", parameter)
        and line.legal_name in ("", name)
    ]


@pytest.mark.parametrize(
    ("standard", "name", "kind", "printed", "status"),
    [
        # Jam and Similar Products Regulations, Sch. 1 note 2(b), texts of 2003 and 2004
        ("uk", "reduced sugar jam", "min", 0.25, "read"),
        ("uk", "reduced sugar jam", "max", 0.50, "read"),
        ("india", "reduced sugar jam", "max", 0.45, "read"),  # FSS Regulations 2011 as amended, a secondary source
        # Regulation (EC) 1924/2006: 30 % less than a similar product, here 60 %
        ("eu-2001", "reduced sugar jam", "max", 0.7 * 0.60, "judgement"),
        ("eu-2026", "reduced sugar jam", "max", 0.7 * 0.60, "judgement"),
    ],
)
def test_solids(standard: str, name: str, kind: str, printed: float, status: str) -> None:
    found = [line for line in _lines(standard, "soluble_solids", name) if line.kind == kind]
    assert [(line.value, line.status) for line in found] == [(pytest.approx(printed), status)]


@pytest.mark.parametrize(
    ("standard", "name", "fruit", "printed"),
    [
        ("eu-2001", "reduced sugar jam", "", 0.35),  # Directive 2001/113/EC, Annex I: the figures of jam
        ("eu-2026", "reduced sugar jam", "", 0.45),  # as amended by Directive (EU) 2024/1438
        ("eu-2026", "reduced sugar jam", "quince", 0.35),
        ("uk", "reduced sugar jam", "", 0.35),
        ("uk", "reduced sugar jam", "passion fruit", 0.06),
        ("india", "reduced sugar jam", "", 0.45),
    ],
)
def test_fruit(standard: str, name: str, fruit: str, printed: float) -> None:
    found = [x for x in _lines(standard, "fruit_content", name) if (fruit in x.fruits if fruit else not x.fruits)]
    assert [line.value for line in found] == [printed]


@pytest.mark.parametrize(
    ("standard", "name", "sorbic", "benzoic", "together"),
    [
        ("codex", "fruit spread", 1000.0, 1000.0, None),  # GSFA 04.1.2.6, from memory
        ("eu-2026", "fruit spread", 1000.0, 1000.0, 1000.0),  # Regulation (EC) 1333/2008, 04.2.5.3, from memory
        ("eu-2026", "reduced sugar jam", 1000.0, 500.0, 1000.0),  # 04.2.5.1 and 04.2.5.2, low sugar, from memory
        ("uk", "reduced sugar jam", 1000.0, 500.0, 1000.0),  # as assimilated law
        ("us", "fruit spread", None, 1000.0, None),  # 21 CFR 184.1733
        ("india", "reduced sugar jam", None, 200.0, None),  # the figure of jam
        ("canada", "fruit spread", None, None, None),
        ("anz", "fruit spread", None, None, None),
    ],
)
def test_preservatives(
    standard: str, name: str, sorbic: float | None, benzoic: float | None, together: float | None
) -> None:
    for parameter, printed in (("sorbic", sorbic), ("benzoic", benzoic), ("preservatives_together", together)):
        found = [line.value for line in _lines(standard, parameter, name) if not line.condition]
        assert found == ([] if printed is None else [printed]), parameter


def test_every_standard_has_a_default_name_and_says_why_it_is_not_jam() -> None:
    """Codex excludes low sugar (CXS 296, 1.1); elsewhere jam starts at 60, 65 or 66 % and a spread is not one."""
    standards = {line.standard for line in BOOK.limits}
    for standard in standards:
        mine = [line for line in BOOK.limits if (line.standard, line.product) == (standard, "spread")]
        assert len({line.legal_name for line in mine if line.is_default_name}) == 1
        assert any(line.parameter == "soluble_solids" and (line.note or line.value) for line in mine)
        assert all(line.legal_name != "jam" for line in mine)
    codex = next(line for line in BOOK.limits if (line.standard, line.product) == ("codex", "spread"))
    assert "does not cover" in codex.note


def test_windows_of_a_spread() -> None:
    spread = BOOK.products["spread"]
    assert (spread.reading_fraction.least, spread.reading_fraction.most) == (0.30, 0.55)
    assert (spread.ph.least, spread.ph.most) == (None, 3.6)
    assert (spread.lm_pectin.least, spread.lm_pectin.most) == (0.007, 0.012)
    assert (spread.calcium_mg_per_g.least, spread.calcium_mg_per_g.most) == (15.0, 35.0)
    assert (spread.boil_off.least, spread.boil_off.most) == (0.0, 0.6)
    assert spread.fruit_per_finished.least == 0.45
    assert spread.firmness.least is None
    assert spread.is_set_by_calcium
    assert not any(p.is_set_by_calcium for p in BOOK.products.values() if p.name != "spread")
