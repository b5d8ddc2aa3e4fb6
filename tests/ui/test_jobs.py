"""Work in the background: result, progress, stop, faults as sentences, the log without names, a shared shelf."""

from __future__ import annotations

import logging
import threading

import pytest

from optimizer.errors import InputFault
from ui.jobs import Job, Shelf


def test_a_stop_ends_the_work_at_its_next_report() -> None:
    begun, steps = threading.Event(), []

    def work(job: Job) -> str:
        for step in range(10_000):
            steps.append(step)
            begun.set()
            job.report(step, 10_000)
            threading.Event().wait(0.001)
        return "never"

    job = Job(work)
    job.start()
    assert begun.wait(10)
    job.stop()
    assert job.wait(10)
    assert job.was_stopped
    assert not job.is_done
    assert job.result is None
    assert len(steps) < 10_000


def test_what_a_person_can_mend_is_kept_as_a_sentence() -> None:
    def work(job: Job) -> None:
        raise InputFault("no fruit on hand: fill in stock.csv")

    job = Job(work)
    job.start()
    assert job.wait(10)
    assert str(job.fault) == "no fruit on hand: fill in stock.csv"
    assert not job.has_failed


def test_anything_else_goes_to_the_log_without_its_words(caplog: pytest.LogCaptureFixture) -> None:
    def work(job: Job) -> None:
        raise KeyError("Ana's secret plum")

    job = Job(work)
    with caplog.at_level(logging.ERROR):
        job.start()
        assert job.wait(10)
    assert job.has_failed
    assert "KeyError" in caplog.text
    assert "test_jobs.py" in caplog.text
    assert "plum" not in caplog.text.replace('raise KeyError("Ana\'s secret plum")', "")


def test_a_question_answered_once_is_not_worked_out_again() -> None:
    shelf, asked = Shelf(4), []

    def work(job: Job) -> str:
        asked.append(1)
        return "answer"

    for _ in range(3):
        job = Job(work, inputs="q", shelf=shelf, shelf_key="q")
        job.start()
        assert job.wait(10)
        assert job.result == "answer"
    assert len(asked) == 1
