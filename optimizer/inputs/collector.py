"""Python's search for circles of values, put off while a long table is read."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def collector_at_rest() -> Iterator[None]:
    """No search while many values are made: it would look through all of them again and again, and finds none here.

    >>> with collector_at_rest():
    ...     gc.isenabled()
    False
    """
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()
