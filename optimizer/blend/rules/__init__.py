"""The rules of a batch, in order: this tuple is the table of contents of the model.

A rule is a function of a `Case` that yields rows as data. The same rows go to any solver;
`tests/blend/test_register.py` fails when one of them has no test.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable

from optimizer.blend.case import Case
from optimizer.blend.cuts import with_cuts
from optimizer.blend.rows import Row
from optimizer.blend.rules import acidity, amounts, fruit, keeping, low_methoxyl, pectin, solids, whole_numbers

Rule = Callable[[Case], Iterable[Row]]

RULES: tuple[Rule, ...] = (
    solids.mass_balance,
    solids.least_solids,
    solids.most_solids,
    fruit.least_fruit,
    fruit.fruit_to_sweetener,
    fruit.citrus_parts,
    fruit.named_shares,
    fruit.kinds_in_a_mix,
    fruit.conditions,
    pectin.pectin_strength,
    pectin.most_added_pectin,
    low_methoxyl.least_lm_pectin,
    low_methoxyl.calcium,
    acidity.ph_upper,
    acidity.ph_lower,
    acidity.titratable_acid,
    acidity.most_added_acid,
    acidity.most_buffer_salt,
    keeping.no_sucrose_crystals,
    keeping.water_activity,
    keeping.invert_share,
    keeping.preservative_limits,
    keeping.preservatives_together,
    keeping.least_preservative,
    amounts.sweetener_kinds,
    amounts.most_added_water,
    amounts.boil_off,
    amounts.pan,
    amounts.stock_and_offers,
    whole_numbers.mix_shares,
    whole_numbers.used_in_earnest,
    whole_numbers.packs_bought,
)

_STOCK = RULES.index(amounts.stock_and_offers)
BEFORE_STOCK, AFTER_STOCK = RULES[:_STOCK], RULES[_STOCK + 1 :]


def rows_of(case: Case, *, only: Collection[Rule] = RULES) -> tuple[Row, ...]:
    """All rows of a case, with bounds that are tried instead, drawn in where the last prediction asked for it.

    `only` some rules where others are of no interest: rows are written anew in every round.
    """
    drawn_in = dict(case.assumed.tightened)
    moved = {id_: bound for id_, bound in case.moved_bounds if not id_.startswith("ph_")}
    rows: list[Row] = []
    for rule in only:
        for row in rule(case):
            if row.id in moved:
                row = row.moved(moved[row.id])
            by = drawn_in.get(row.id, 0.0)
            row = row.moved(row.bound + (by if row.lower is not None else -by)) if by else row
            rows.extend(with_cuts(row, case.cuts, case.streams) if case.cuts else (row,))
    return tuple(rows)


def stock_rows(case: Case) -> tuple[Row, ...]:
    """The rows of stock and offers: as many as there are streams of limited amount."""
    return rows_of(case, only=RULES[_STOCK : _STOCK + 1])
