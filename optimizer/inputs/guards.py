"""The apostrophe that keeps a spreadsheet program from running a text as a formula.

Files that go out carry it before such a text (`optimizer.exports.cells`); it is taken off again here, so what was typed
comes back as it was.
"""

from __future__ import annotations

import re

GUARD = "'"
RUN_AS_FORMULA = "=+-@\t\r\n＝＋－＠"
"""A text that begins with one of these may be run; the wide signs are read as the narrow ones in some countries."""
_GUARDED = re.compile(rf"{GUARD}+[{re.escape(RUN_AS_FORMULA)}]")


def is_guarded(text: str) -> bool:
    """Whether an apostrophe stands before a sign that begins a formula.

    >>> is_guarded("'=1+1"), is_guarded("'t Hof"), is_guarded("-3")
    (True, False, False)
    """
    return _GUARDED.match(text) is not None


def without_guard(text: str) -> str:
    """The text with one apostrophe less, if one stands before a sign that begins a formula.

    >>> without_guard("'=1+1"), without_guard("''=1+1"), without_guard("'t Hof"), without_guard("-3")
    ('=1+1', "'=1+1", "'t Hof", '-3')
    """
    return text[len(GUARD) :] if is_guarded(text) else text
