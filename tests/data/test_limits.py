"""Figures of standards, two and more per standard, written here by hand from the texts named."""

import pytest

from optimizer.inputs.book import load_book
from optimizer.inputs.models import Limit


def limit(
    standard: str, product: str, parameter: str, *, name: str = "", fruit: str = "", condition: str = ""
) -> Limit:
    """The one line for this; where no name is given the default name counts."""
    found = [
        line
        for line in load_book().limits
        if (line.standard, line.product, line.parameter, line.condition) == (standard, product, parameter, condition)
        and (line.legal_name == name if name else line.is_default_name or not line.legal_name)
        and (fruit in line.fruits if fruit else not line.fruits)
        and line.value is not None
    ]
    assert len(found) == 1, found
    return found[0]


# fruit content, kg per kg finished
@pytest.mark.parametrize(
    ("standard", "product", "name", "fruit", "printed", "status"),
    [
        ("codex", "jam", "", "", 0.45, "memory"),  # CXS 296-2009, 3.1.2(a)
        ("codex", "jam", "", "blackcurrant", 0.35, "memory"),
        ("codex", "jam", "jam (lower fruit class)", "", 0.35, "memory"),
        ("codex", "preserve", "", "passion fruit", 0.08, "memory"),
        ("codex", "marmalade", "", "", 0.20, "memory"),
        ("eu-2001", "jam", "", "", 0.35, "read"),  # Directive 2001/113/EC, Annex I
        ("eu-2001", "jam", "", "quince", 0.25, "read"),
        ("eu-2001", "jam", "", "passion fruit", 0.06, "read"),
        ("eu-2001", "jam", "extra jam", "", 0.45, "read"),
        ("eu-2026", "jam", "", "", 0.45, "read"),  # as amended by Directive (EU) 2024/1438
        ("eu-2026", "jam", "", "redcurrant", 0.35, "read"),
        ("eu-2026", "jam", "extra jam", "", 0.50, "read"),
        ("eu-2026", "jam", "extra jam", "passion fruit", 0.10, "memory"),
        ("uk", "jam", "", "", 0.35, "read"),  # Jam and Similar Products Regulations, Sch. 1
        ("uk", "jam", "extra jam", "redcurrant", 0.35, "read"),
        ("uk", "marmalade", "", "", 0.20, "read"),
        ("india", "jam", "", "", 0.45, "read"),  # FSS Regulations 2011, 2.3.31
        ("india", "jam", "", "strawberry", 0.25, "read"),
        ("india", "preserve", "", "", 0.55, "read"),  # FPO 1955, murabba
        ("india", "squash", "", "", 0.25, "read"),
        ("canada", "jam", "", "", 0.45, "read"),  # Food and Drug Regulations, B.11.201
        ("canada", "jam", "jam with pectin", "", 0.27, "read"),
        ("canada", "jelly", "jelly with pectin", "", 0.32, "read"),
        ("anz", "jam", "", "", 0.40, "read"),  # Standard 2.3.2
    ],
)
def test_fruit_content(standard, product, name, fruit, printed, status):
    found = limit(standard, product, "fruit_content", name=name, fruit=fruit)
    assert (found.value, found.unit, found.kind, found.status) == (printed, "kg/kg finished", "min", status)


# soluble solids, least fraction
@pytest.mark.parametrize(
    ("standard", "product", "printed"),
    [
        ("codex", "jam", 0.60),
        ("eu-2001", "jelly", 0.60),
        ("eu-2026", "marmalade", 0.60),
        ("uk", "jam", 0.60),
        ("us", "jam", 0.65),
        ("us", "butter", 0.43),
        ("india", "syrup", 0.65),
        ("india", "squash", 0.40),
        ("canada", "jam", 0.66),
        ("canada", "jelly", 0.62),
        ("canada", "preserve", 0.60),
        ("anz", "preserve", 0.65),
    ],
)
def test_soluble_solids(standard, product, printed):
    assert limit(standard, product, "soluble_solids").value == printed


def test_us_jam_is_47_or_45_parts_of_fruit_to_55_of_sweetener_solids():
    # 21 CFR 150.160 (d)(1): Group I 47 to 55, Group II 45 to 55
    ratio = "fruit_per_sweetener_solids"
    assert limit("us", "jam", ratio, fruit="strawberry").value == pytest.approx(47 / 55, abs=5e-7)
    assert limit("us", "jam", ratio, fruit="plum").value == pytest.approx(45 / 55, abs=5e-7)
    # 21 CFR 150.110 (d)(1): 5 to 2; Canada, preserve: 45 to 55
    assert limit("us", "butter", ratio).value == 2.5
    assert limit("canada", "preserve", ratio).value == pytest.approx(45 / 55, abs=5e-7)


@pytest.mark.parametrize(("fruit", "printed"), [("apple", 7.5), ("guava", 13.0), ("strawberry", 12.5), ("fig", 5.5)])
def test_us_jelly_counts_juice_by_its_natural_solids(fruit, printed):
    assert limit("us", "jelly", "juice_factor", fruit=fruit).value == printed  # 21 CFR 150.140 (b)(1)


def test_us_groups_hold_every_fruit_once_or_call_it_not_standardised():
    book = load_book()
    fruits = {part.fruit for part in book.fruits.values()}
    lines = [line for line in book.limits if line.standard == "us" and line.product == "jam"]
    groups = [line.fruits for line in lines if line.parameter == "fruit_per_sweetener_solids" and line.fruits]
    outside = [line.fruits for line in lines if line.parameter == "not_standardised"]
    named = [fruit for part in (*groups, *outside) for fruit in part]
    assert len(named) == len(set(named))
    assert fruits - set(named) == {"apple"}  # only in a mix, at most half of it
    assert limit("us", "jam", "fruit_share", fruit="apple", condition="mixed fruit").value == 0.5


@pytest.mark.parametrize(
    ("standard", "product", "which", "condition", "printed_mg_per_kg"),
    [
        ("codex", "jam", "so2", "", 100),  # GSFA 04.1.2.5
        ("codex", "jam", "sorbic", "", 1000),
        ("codex", "squash", "so2", "", 70),  # GSFA 14.1.4
        ("eu-2026", "jam", "so2", "", 50),  # Regulation (EC) 1333/2008
        ("eu-2026", "jam", "so2", "sulphited fruit", 100),
        ("eu-2026", "jam", "benzoic", "", 0),
        ("us", "jelly", "benzoic", "", 1000),  # 21 CFR 184.1733: 0.1 %
        ("india", "jam", "so2", "", 40),  # FPO 1955
        ("india", "jam", "benzoic", "", 200),
        ("india", "squash", "so2", "", 350),
        ("india", "squash", "benzoic", "", 600),
    ],
)
def test_preservatives(standard, product, which, condition, printed_mg_per_kg):
    found = limit(standard, product, which, condition=condition)
    assert (found.value, found.unit, found.kind) == (printed_mg_per_kg, "mg/kg", "max")


def test_marmalade_flesh_and_peel():
    assert limit("eu-2001", "marmalade", "flesh").value == 0.075  # endocarp, 75 g in 1000 g
    assert limit("india", "marmalade", "flesh").value == 0.45  # fruit without peel
    assert limit("india", "marmalade", "peel").value == 0.05


def test_extra_jam_may_not_mix_apples_and_takes_no_sulphited_fruit():
    rules = [line for line in load_book().limits if line.legal_name == "extra jam" and line.kind == "text"]
    for standard in ("eu-2001", "eu-2026", "uk"):
        mine = [line for line in rules if line.standard == standard]
        assert any(line.parameter == "mixing" and {"apple", "pear", "grape"} <= set(line.fruits) for line in mine)
        assert any(line.parameter == "not_standardised" and line.condition == "sulphited fruit" for line in mine)


def test_canada_bans_apple_and_rhubarb_from_jam():
    banned = [x.fruits for x in load_book().limits if x.standard == "canada" and x.parameter == "not_standardised"]
    assert banned
    assert all(set(fruits) == {"apple", "rhubarb"} for fruits in banned)


def test_one_default_name_per_standard_and_product():
    names: dict[tuple[str, str], set[str]] = {}
    defaults: dict[tuple[str, str], set[str]] = {}
    for line in load_book().limits:
        key = (line.standard, line.product)
        if line.legal_name:
            names.setdefault(key, set()).add(line.legal_name)
        if line.is_default_name:
            defaults.setdefault(key, set()).add(line.legal_name)
    assert set(names) == set(defaults)
    assert all(len(found) == 1 for found in defaults.values())


def test_no_figure_stands_twice():
    seen = set()
    for line in load_book().limits:
        if line.value is None:
            continue
        for fruit in line.fruits or ("",):
            key = (line.standard, line.product, line.legal_name, line.parameter, line.kind, line.condition, fruit)
            assert key not in seen, key
            seen.add(key)
