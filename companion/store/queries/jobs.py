"""One row a periodic job: its lease and its heartbeat."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from sqlalchemy import or_, select, update
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from companion.store.models import JobRun
from companion.store.queries.outbox import SKEW


def claim_job(session: Session, name: str, now: datetime, lease_until: datetime) -> bool:
    """Take the lease of the job ``name``. False while somebody else holds it.

    A lease that ends much later than the one asked for was given by a clock that has been put back since.
    """
    if session.get(JobRun, name) is None:
        try:
            with session.begin_nested():
                session.add(JobRun(name=name))
        except IntegrityError:
            pass  # another worker's first tick made the row
    leased = JobRun.lease_until
    free = or_(leased.is_(None), leased <= now, leased > lease_until + SKEW)
    claimed = session.scalar(
        update(JobRun)
        .where(JobRun.name == name, free)
        .values(lease_until=lease_until, started_at=now)
        .returning(JobRun.name)
    )
    return claimed is not None


def release_job(
    session: Session, name: str, lease_until: datetime, finished_at: datetime | None, error: str | None
) -> None:
    """End a run that holds the lease ``lease_until``. ``finished_at`` is the heartbeat; what broke has none."""
    values: dict[str, object] = {"lease_until": None, "last_error": error}
    if finished_at is not None:
        values["finished_at"] = finished_at
    session.execute(update(JobRun).where(JobRun.name == name, JobRun.lease_until == lease_until).values(**values))


def all_jobs(session: Session) -> Mapping[str, JobRun]:
    """Return every job that ever ran, by name."""
    return {row.name: row for row in session.scalars(select(JobRun))}
