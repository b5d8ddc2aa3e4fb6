"""How much of a received lot gets into the pan, and in which condition."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from optimizer.inputs.models import Book, Condition, Product


@dataclass(frozen=True, kw_only=True)
class Sorted:
    """A lot after sorting and trimming for one product, per kg received."""

    kept_fraction: float  # after reject, sorting out and trim; before stones and peel
    shares: Mapping[Condition, float]  # of what is kept, sum 1
    limited: tuple[Condition, ...]  # kept, though the product suits them only in part
    sorted_out: tuple[Condition, ...]  # not kept: the product does not suit them

    def mean(self, factor: Mapping[Condition, float]) -> float:
        """Mean of a factor over what is kept."""
        return sum(share * factor[condition] for condition, share in self.shares.items())


def sort_and_trim(
    condition: Sequence[tuple[Condition, float]],
    *,
    reject_fraction: float | None,
    trim_fraction: float | None,
    product: Product,
    book: Book,
) -> Sorted:
    """Sort a lot for a product: (1 - reject) · Σ share · (1 - trim) over the conditions that the product takes.

    Parameters
    ----------
    condition : sequence of (condition, share)
        Shares of the accepted fruit, sum 1.
    reject_fraction, trim_fraction : float or None
        Found at sorting; each replaces the default of every condition, never adds to it.
    product : Product
        Its `fit` says which conditions it takes: 0 none, 1 limited, 2 good.
    book : Book
        Trim losses by condition.

    Returns
    -------
    Sorted
        `kept_fraction` is 0 where the product takes none of the conditions.

    References
    ----------
    .. [1] Chain of losses: common practice. Trim by condition: judgement (data/conditions.csv).

    Examples
    --------
    >>> from optimizer.inputs.book import load_book
    >>> book = load_book()
    >>> lot = sort_and_trim(
    ...     [("sound", 0.5), ("over-ripe", 0.5)],
    ...     reject_fraction=0.1, trim_fraction=None, product=book.products["jelly"], book=book,
    ... )
    >>> round(lot.kept_fraction, 3), lot.sorted_out
    (0.45, ('over-ripe',))
    """
    kept: dict[Condition, float] = {}
    limited: list[Condition] = []
    sorted_out: list[Condition] = []
    for name, share in condition:
        if share <= 0.0:
            continue
        fit = product.fit.get(name, 2)
        if fit == 0:
            sorted_out.append(name)
            continue
        if fit == 1:
            limited.append(name)
        trim = book.conditions[name].trim_fraction if trim_fraction is None else trim_fraction
        kept[name] = kept.get(name, 0.0) + share * (1.0 - trim)
    total = sum(kept.values())
    return Sorted(
        kept_fraction=(1.0 - (reject_fraction or 0.0)) * total,
        shares={name: kg / total for name, kg in kept.items()} if total > 0.0 else {},
        limited=tuple(limited),
        sorted_out=tuple(sorted_out),
    )
