"""What one tick of one job does, and the threads that tick.

They wait in seconds gone by, never until a time of day: a wall clock that is put back by an hour must not make an
hour of silence.
"""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from companion.store.engine import Store
from companion.usecases.heartbeats import run_held

log = logging.getLogger(__name__)


@dataclass(frozen=True)
class Job:
    """One periodic job."""

    name: str
    every: timedelta
    run: Callable[[], object]
    is_due: Callable[[], bool] = lambda: True
    """A cheap look without a lease; where nothing is due the tick writes nothing."""
    stop: Callable[[], None] = lambda: None
    """Ends what a run has left behind at work."""


class Ticker:
    """Ticks the jobs of one worker. Between heartbeats, a tick with nothing due leaves no trace."""

    def __init__(self, store: Store, jobs: Sequence[Job], clock: Callable[[], datetime], beat: timedelta) -> None:
        self._store, self.jobs, self._clock, self._beat = store, tuple(jobs), clock, beat
        self._beaten: dict[str, datetime] = {}
        self._stopping = threading.Event()
        self._threads: list[threading.Thread] = []

    def tick(self, job: Job) -> bool:
        """Run ``job`` if it is due or its heartbeat is. What breaks is logged: the next tick tries again."""
        try:
            now = self._clock()
            last = self._beaten.get(job.name)
            beating = last is not None and timedelta(0) <= now - last < self._beat
            if beating and not job.is_due():
                return False
            ran = run_held(self._store, job.name, job.run, self._clock)
            self._beaten[job.name] = now
            return ran
        except Exception:
            log.exception("the job %s broke", job.name)
            return False

    def start(self) -> None:
        """Tick each job in a thread of its own until ``stop``: one that is slow holds up no other."""
        self._stopping.clear()
        self._threads = [
            threading.Thread(target=self._keep_ticking, args=(job,), name=job.name, daemon=True)
            for job in self.jobs
        ]
        for thread in self._threads:
            thread.start()

    def stop(self) -> None:
        """Stop ticking, and wait for the runs under way."""
        self._stopping.set()
        for thread in self._threads:
            thread.join()
        self._threads = []
        for job in self.jobs:
            job.stop()

    def _keep_ticking(self, job: Job) -> None:
        while not self._stopping.is_set():
            self.tick(job)
            self._stopping.wait(job.every.total_seconds())
