"""Alerts with the reports that raised them and the steps that carried them. They never commit."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from companion.store.models import Alert, Delivery, Person, Practice, Report, Wearer


def open_alerts(session: Session, practice: Practice) -> Sequence[tuple[Alert, Report, Wearer]]:
    """Return what needs a person: open alerts, the worst first, of one level the oldest first."""
    rows = session.execute(
        select(Alert, Report, Wearer)
        .join(Report, Report.entry_id == Alert.entry_id)
        .join(Wearer, (Wearer.practice_id == Alert.practice_id) & (Wearer.id == Alert.wearer_id))
        .where(Alert.practice_id == practice.id, Alert.closed_at.is_(None))
        .order_by(Alert.level.desc(), Alert.raised_at, Alert.id)
    )
    return [(alert, report, wearer) for alert, report, wearer in rows]


def alerts_of(session: Session, wearer: Wearer, closed_since: datetime | None = None) -> Sequence[Alert]:
    """Return the wearer's alerts, newest first; with ``closed_since``, only open ones and those closed since."""
    query = select(Alert).where(Alert.practice_id == wearer.practice_id, Alert.wearer_id == wearer.id)
    if closed_since is not None:
        query = query.where(or_(Alert.closed_at.is_(None), Alert.closed_at >= closed_since))
    return session.scalars(query.order_by(Alert.raised_at.desc(), Alert.id)).all()


def alert_of_entry(session: Session, entry_id: str) -> Alert | None:
    return session.scalar(select(Alert).where(Alert.entry_id == entry_id))


def steps_of(session: Session, alerts: Iterable[Alert]) -> Mapping[str, list[tuple[Delivery, Person]]]:
    """Return each alert's steps in order, by the alert's id."""
    ids = [alert.id for alert in alerts]
    steps: dict[str, list[tuple[Delivery, Person]]] = {one: [] for one in ids}
    rows = session.execute(
        select(Delivery, Person)
        .join(Person, Person.id == Delivery.person_id)
        .where(Delivery.alert_id.in_(ids))
        .order_by(Delivery.queued_at, Delivery.step, Delivery.id)
    )
    for delivery, person in rows:
        steps[delivery.alert_id].append((delivery, person))
    return steps


def reports_of(session: Session, wearer: Wearer) -> Sequence[Report]:
    """Return the wearer's reports, newest first."""
    return session.scalars(
        select(Report)
        .where(Report.practice_id == wearer.practice_id, Report.wearer_id == wearer.id)
        .order_by(Report.judged_at.desc(), Report.entry_id)
    ).all()


def climbing_alerts(session: Session, level: int) -> Sequence[str]:
    """Return the ids of open alerts of ``level`` or more whose family nobody has reached, the worst first."""
    return session.scalars(
        select(Alert.id)
        .where(Alert.closed_at.is_(None), Alert.contact_at.is_(None), Alert.level >= level)
        .order_by(Alert.level.desc(), Alert.raised_at, Alert.id)
    ).all()


def alerts_below(session: Session, level: int) -> Sequence[str]:
    """Return the ids of open alerts below ``level``: those that time could still raise, the worst first."""
    return session.scalars(
        select(Alert.id)
        .where(Alert.closed_at.is_(None), Alert.level < level)
        .order_by(Alert.level.desc(), Alert.raised_at, Alert.id)
    ).all()
