"""Low-sugar spreads: low-methoxyl pectin sets with calcium, so its dose and the calcium beside it have windows.

The grade of a pectin says nothing here, and neither does the pectin of the fruit. Calcium comes from the fruit and
from calcium salts; that of the water counts as none, since no site says how hard its water is.
"""

from __future__ import annotations

from collections.abc import Iterable

from optimizer.blend.case import Case
from optimizer.blend.rows import Form, Row

_G_PER_MG = 0.001


def lm_powder(case: Case) -> Form:
    """Low-methoxyl pectin [kg], powder as bought."""
    return case.form(case.mask("low-methoxyl pectin", lambda s: s.is_lm_pectin).astype(float))


def least_lm_pectin(case: Case) -> Iterable[Row]:
    """Σ low-methoxyl pectin · use ≥ least · finished; the most is `pectin.most_added_pectin`."""
    window = case.product.lm_pectin
    if window.least is not None:
        yield Row(
            id="least_lm_pectin",
            meaning=f"at least {window.least * 100:.2f} % of low-methoxyl pectin",
            unit="kg per kg finished",
            numerator=lm_powder(case),
            denominator=case.finished,
            lower=window.least,
            price_unit="kg of low-methoxyl pectin",
            reason=f"{case.product.title}: less gives no gel at low sugar",
            source=window.source,
            status=window.status,
            is_fixed_by_nature=True,
        )


def calcium(case: Case) -> Iterable[Row]:
    """Σ calcium · use ≥ and ≤ window · Σ low-methoxyl pectin · use [mg per g], from fruit and salts."""
    window, powder = case.product.calcium_mg_per_g, lm_powder(case)
    if not powder.streams.any():
        return
    held = case.form(case.column("calcium_mg") * _G_PER_MG)
    for id_, bound in (("calcium_least", window.least), ("calcium_most", window.most)):
        if bound is None:
            continue
        least = id_ == "calcium_least"
        yield Row(
            id=id_,
            meaning=f"at {'least' if least else 'most'} {bound:g} mg of calcium per g of low-methoxyl pectin",
            unit="mg of calcium per g of pectin",
            numerator=held,
            denominator=powder,  # g per kg is mg per g
            lower=bound if least else None,
            upper=None if least else bound,
            price_unit="g of calcium",
            reason="with less there is no gel" if least else "with more the gel turns brittle and weeps",
            source=window.source,
            status=window.status,
            is_fixed_by_nature=True,
        )
