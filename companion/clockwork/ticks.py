"""What one tick of one job does, and the scheduler that ticks."""

from __future__ import annotations

import logging
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from apscheduler.schedulers.background import BackgroundScheduler

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


class Ticker:
    """Ticks the jobs of one worker. Between heartbeats, a tick with nothing due leaves no trace."""

    def __init__(self, store: Store, jobs: Sequence[Job], clock: Callable[[], datetime], beat: timedelta) -> None:
        self._store, self.jobs, self._clock, self._beat = store, tuple(jobs), clock, beat
        self._beaten: dict[str, datetime] = {}
        self._scheduler: BackgroundScheduler | None = None

    def tick(self, job: Job) -> bool:
        """Run ``job`` if it is due or its heartbeat is. What breaks is logged: the next tick tries again."""
        try:
            now = self._clock()
            last = self._beaten.get(job.name)
            if last is not None and now - last < self._beat and not job.is_due():
                return False
            ran = run_held(self._store, job.name, job.run, self._clock)
            self._beaten[job.name] = now
            return ran
        except Exception:
            log.exception("the job %s broke", job.name)
            return False

    def start(self) -> None:
        """Tick in threads of this process until ``stop``."""
        scheduler = BackgroundScheduler(timezone=UTC)
        for job in self.jobs:
            scheduler.add_job(
                self.tick,
                "interval",
                args=[job],
                seconds=job.every.total_seconds(),
                next_run_time=datetime.now(UTC),
                coalesce=True,
                max_instances=1,
                misfire_grace_time=None,
            )
        scheduler.start()
        self._scheduler = scheduler

    def stop(self) -> None:
        """Stop ticking, and wait for the runs under way."""
        if self._scheduler is not None:
            self._scheduler.shutdown(wait=True)
            self._scheduler = None
