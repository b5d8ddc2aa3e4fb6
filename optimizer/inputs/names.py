"""Near names for a misspelt one."""

from __future__ import annotations

import difflib
from collections.abc import Iterable


def nearest(name: str, known: Iterable[str], *, most: int = 3) -> str:
    """A phrase that offers the nearest known names, or lists some where nothing is near.

    Examples
    --------
    >>> nearest("plumm", ["plum", "pear", "quince"])
    'did you mean "plum"?'
    >>> nearest("xyz", ["plum", "pear"])
    'known are plum, pear'
    """
    names = list(dict.fromkeys(known))
    by_lower = {candidate.lower(): candidate for candidate in names}
    close = difflib.get_close_matches(name.lower(), list(by_lower), n=most, cutoff=0.6)
    if close:
        return "did you mean " + " or ".join(f'"{by_lower[candidate]}"' for candidate in close) + "?"
    if not names:
        return "nothing is known here"
    return "known are " + ", ".join(names[:12]) + (" ..." if len(names) > 12 else "")
