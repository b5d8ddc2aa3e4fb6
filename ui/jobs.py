"""Work that takes longer than a page may wait: a thread and a record of how far it is. Knows nothing of Streamlit."""

from __future__ import annotations

import gc
import logging
import threading
import time
import traceback
from collections import OrderedDict
from collections.abc import Callable, Hashable
from functools import lru_cache
from typing import Any

from optimizer.errors import PanwiseError

log = logging.getLogger("panwise.pages")


def log_trace(to: logging.Logger, what: str, error: BaseException) -> None:
    """Where in the program it happened; the message itself may hold names or prices, so it stays out of the log."""
    lines = "".join(traceback.format_tb(error.__traceback__))
    to.error("%s: %s\n%s", what, type(error).__name__, lines.rstrip())


@lru_cache(maxsize=1)
def spare_the_collector() -> None:
    """Set aside, once, all that is loaded by now.

    Streamlit sweeps all objects after each run of a page, also after each look at a running job, and nothing else works
    meanwhile. What was loaded before stays for good anyway, so it need not be swept.
    """
    gc.collect()
    gc.freeze()


class Stopped(Exception):
    """Raised inside the work when it is to stop."""


class Shelf:
    """Results by what they rest on, the newest kept; shared by all visits, so that the same question is answered once.

    >>> shelf = Shelf(2)
    >>> for key in "abc":
    ...     shelf.put(key, key.upper())
    >>> shelf.get("a"), shelf.get("c")
    (None, 'C')
    """

    def __init__(self, most: int) -> None:
        self._most = most
        self._results: OrderedDict[Hashable, Any] = OrderedDict()
        self._lock = threading.Lock()

    def get(self, key: Hashable) -> Any | None:
        with self._lock:
            if key in self._results:
                self._results.move_to_end(key)
            return self._results.get(key)

    def put(self, key: Hashable, result: Any) -> None:
        with self._lock:
            self._results[key] = result
            while len(self._results) > self._most:
                self._results.popitem(last=False)


class Job:
    """One piece of work in a thread.

    Examples
    --------
    >>> def count(job):
    ...     for done in range(3):
    ...         job.report(done, 3)
    ...     return "counted"
    >>> job = Job(count)
    >>> job.start()
    >>> job.wait(5.0)
    True
    >>> job.is_done, job.result
    (True, 'counted')
    """

    def __init__(
        self,
        work: Callable[[Job], Any],
        *,
        inputs: Hashable = None,
        shelf: Shelf | None = None,
        shelf_key: Hashable = None,
    ) -> None:
        self._work = work
        self.inputs = inputs
        self._shelf, self._shelf_key = shelf, shelf_key
        self._stop = threading.Event()
        self._ended = threading.Event()
        self.started_at = 0.0
        self.done, self.total = 0, 0
        self.result: Any = None
        self.fault: PanwiseError | None = None  # what its inputs lack; the message is fit for a page
        self.has_failed = False  # anything else; the log has it

    def start(self) -> None:
        self.started_at = time.monotonic()
        kept = self._shelf.get(self._shelf_key) if self._shelf is not None else None
        if kept is not None:
            self.result = kept
            self._ended.set()
            return
        spare_the_collector()
        threading.Thread(target=self._run, daemon=True).start()

    def _run(self) -> None:
        try:
            self.result = self._work(self)
            if self._shelf is not None:
                self._shelf.put(self._shelf_key, self.result)
        except Stopped:
            pass
        except PanwiseError as fault:
            self.fault = fault
        except Exception as error:
            log_trace(log, "Work in the background failed", error)
            self.has_failed = True
        finally:
            self._ended.set()

    def report(self, done: int, total: int) -> None:
        """How far it is, said by the work; ends the work where it is to stop.

        Raises
        ------
        Stopped
            Somebody asked for it.
        """
        self.done, self.total = done, total
        if self._stop.is_set():
            raise Stopped

    def stop(self) -> None:
        """Ask it to stop; it does at its next report."""
        self._stop.set()

    def wait(self, seconds: float) -> bool:
        """Wait for the end, at most so long; whether it ended."""
        return self._ended.wait(seconds)

    @property
    def is_running(self) -> bool:
        return not self._ended.is_set()

    @property
    def is_done(self) -> bool:
        """Ended with a result."""
        return self._ended.is_set() and self.result is not None

    @property
    def was_stopped(self) -> bool:
        return self._stop.is_set() and not self.is_done
