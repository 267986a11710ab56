"""What a tick does, and what it leaves alone."""

from __future__ import annotations

import logging
from datetime import timedelta

import pytest
from fakes import Clock

from companion.clockwork.ticks import Job, Ticker
from companion.store.engine import Store
from companion.store.queries.jobs import all_jobs

BEAT = timedelta(seconds=30)


def heartbeat(store: Store) -> object:
    with store.reading() as session:
        row = all_jobs(session).get("send")
        return row and row.finished_at


def test_a_tick_with_nothing_due_writes_nothing_between_heartbeats(store: Store, clock: Clock) -> None:
    runs: list[int] = []
    job = Job("send", timedelta(seconds=1), lambda: runs.append(1), is_due=lambda: False)
    ticker = Ticker(store, [job], clock, BEAT)
    assert ticker.tick(job)  # the first tick shows that somebody is there
    first = heartbeat(store)
    clock.advance(seconds=29)
    assert not ticker.tick(job)
    assert heartbeat(store) == first
    clock.advance(seconds=1)
    assert ticker.tick(job)
    assert heartbeat(store) == clock()
    assert len(runs) == 2


def test_what_is_due_runs_at_once(store: Store, clock: Clock) -> None:
    runs: list[int] = []
    job = Job("send", timedelta(seconds=1), lambda: runs.append(1), is_due=lambda: True)
    ticker = Ticker(store, [job], clock, BEAT)
    for _ in range(3):
        ticker.tick(job)
    assert len(runs) == 3


def test_H2_a_job_that_breaks_is_logged_and_ticks_again(
    store: Store, clock: Clock, caplog: pytest.LogCaptureFixture
) -> None:
    runs: list[int] = []

    def breaks_once() -> None:
        runs.append(1)
        if len(runs) == 1:
            raise RuntimeError("out of paper")

    job = Job("send", timedelta(seconds=1), breaks_once)
    ticker = Ticker(store, [job], clock, BEAT)
    with caplog.at_level(logging.ERROR):
        assert not ticker.tick(job)
    assert "the job send broke" in caplog.text
    assert heartbeat(store) is None
    assert ticker.tick(job)
    assert heartbeat(store) == clock()
