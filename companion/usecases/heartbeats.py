"""The leases and heartbeats of the periodic jobs: one run at a time, and a trace of each."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta

from companion.store.engine import Store
from companion.store.queries.jobs import claim_job, release_job

LEASE = timedelta(minutes=2)
BEAT = timedelta(seconds=30)
"""The longest time between two heartbeats of a healthy job."""
LATE = timedelta(minutes=3)
"""A heartbeat older than this means that a job has stopped, or breaks every time."""
JOBS = ("send", "climb", "recheck", "test_alerts")
"""The jobs that must be beating wherever the companion runs."""


def run_held(store: Store, name: str, run: Callable[[], object], clock: Callable[[], datetime]) -> bool:
    """Run a job under its lease and leave its heartbeat. False if another worker is at it.

    What breaks in ``run`` is recorded and raised; the heartbeat then stays old, and the check sees it.
    """
    begun = clock()
    lease_until = begun + LEASE
    with store.writing() as session:
        mine = claim_job(session, name, begun, lease_until)
        session.commit()
    if not mine:
        return False
    finished_at, error = None, None
    try:
        run()
        finished_at = clock()
    except Exception as broken:
        error = f"{type(broken).__name__}: {broken}"[:200]
        raise
    finally:
        with store.writing() as session:
            release_job(session, name, lease_until, finished_at, error)
            session.commit()
    return True
