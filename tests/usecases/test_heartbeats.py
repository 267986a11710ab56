"""One run at a time, a trace of each, and a broken run that shows."""

from __future__ import annotations

import threading
from datetime import timedelta

import pytest
from fakes import Clock

from companion.store.engine import Store
from companion.store.models import JobRun
from companion.store.queries.jobs import all_jobs
from companion.usecases.heartbeats import LEASE, run_held


def job(store: Store, name: str = "send") -> JobRun:
    with store.reading() as session:
        row = all_jobs(session)[name]
        session.expunge(row)
        return row


def test_a_run_leaves_its_heartbeat_and_no_lease(store: Store, clock: Clock) -> None:
    begun = clock()
    assert run_held(store, "send", lambda: clock.advance(seconds=5), clock)
    assert (job(store).started_at, job(store).finished_at) == (begun, clock())
    assert job(store).lease_until is None


def test_a_second_ticker_does_nothing_while_the_first_is_at_it(store: Store, clock: Clock) -> None:
    second: list[bool] = []
    run_held(store, "send", lambda: second.append(run_held(store, "send", lambda: None, clock)), clock)
    assert second == [False]


def test_H2_a_worker_that_died_is_followed_after_its_lease(store: Store, clock: Clock) -> None:
    with store.writing() as session:
        session.add(JobRun(name="send", lease_until=clock() + LEASE))
        session.commit()
    clock.now += LEASE - timedelta(seconds=1)
    assert not run_held(store, "send", lambda: None, clock)
    clock.advance(seconds=1)
    assert run_held(store, "send", lambda: None, clock)


def test_a_broken_run_is_recorded_without_a_heartbeat(store: Store, clock: Clock) -> None:
    def break_down() -> None:
        raise RuntimeError("out of paper")

    with pytest.raises(RuntimeError):
        run_held(store, "send", break_down, clock)
    assert job(store).finished_at is None
    assert job(store).last_error == "RuntimeError: out of paper"
    assert run_held(store, "send", lambda: None, clock)
    assert job(store).last_error is None


def test_a_slow_run_that_lost_its_lease_leaves_the_next_one_alone(store: Store, clock: Clock) -> None:
    def overtaken() -> None:
        clock.now += LEASE

        def still_running() -> None:
            assert job(store).lease_until == clock() + LEASE

        run_held(store, "send", still_running, clock)

    assert run_held(store, "send", overtaken, clock)


def test_two_first_ticks_at_once_run_the_job_once(store_url: str, store: Store, clock: Clock) -> None:
    runs: list[str] = []
    start, both_tried = threading.Barrier(2), threading.Barrier(2)

    def work(name: str) -> None:
        own = Store(store_url)
        start.wait()

        def run() -> None:
            runs.append(name)
            both_tried.wait()

        if not run_held(own, "send", run, clock):
            both_tried.wait()
        own.close()

    workers = [threading.Thread(target=work, args=(name,)) for name in ("one", "two")]
    for one in workers:
        one.start()
    for one in workers:
        one.join()
    assert len(runs) == 1
