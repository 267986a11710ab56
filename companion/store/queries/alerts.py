"""Alerts with the reports that raised them and the steps that carried them. They never commit."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime

from sqlalchemy import Select, or_, select
from sqlalchemy.orm import Session

from companion.store.models import Alert, Delivery, EntryRow, Hold, Person, Practice, Report, Wearer


def open_alerts(session: Session, practice: Practice) -> Sequence[tuple[Alert, Report, Wearer]]:
    """Return what needs a person: open alerts, the worst first; of one level the verified, then the oldest."""
    rows = session.execute(
        select(Alert, Report, Wearer)
        .join(Report, Report.entry_id == Alert.entry_id)
        .join(Wearer, (Wearer.practice_id == Alert.practice_id) & (Wearer.id == Alert.wearer_id))
        .join(EntryRow, EntryRow.id == Alert.entry_id)
        .where(Alert.practice_id == practice.id, Alert.closed_at.is_(None))
        .order_by(Alert.level.desc(), EntryRow.verified.desc(), Alert.raised_at, Alert.id)
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


def alert_to_join(session: Session, report: Report, author_id: str | None) -> Alert | None:
    """Return the open alert that an unverified sender has at this level or above, and whose family nobody has
    reached: a further report of theirs joins it. Once the family was reached, a new report is a new alert."""
    return session.scalars(
        select(Alert)
        .join(EntryRow, EntryRow.id == Alert.entry_id)
        .where(
            Alert.practice_id == report.practice_id,
            Alert.wearer_id == report.wearer_id,
            Alert.closed_at.is_(None),
            Alert.contact_at.is_(None),
            Alert.level >= report.level,
            EntryRow.author_id == author_id,
            EntryRow.verified.is_(False),
        )
        .order_by(Alert.level.desc(), Alert.raised_at, Alert.id)
    ).first()


def joined_reports(session: Session, alert: Alert) -> Sequence[tuple[Report, EntryRow]]:
    """Return the reports that joined an alert, oldest first, each with its entry."""
    rows = session.execute(
        select(Report, EntryRow)
        .join(EntryRow, EntryRow.id == Report.entry_id)
        .where(Report.joins_alert_id == alert.id)
        .order_by(EntryRow.received_at, EntryRow.seq)
    )
    return [(report, entry) for report, entry in rows]


def holds_of_sender(report: Report, eye: str, author_id: str | None) -> Select[Hold]:
    """The holds on an eye that an unverified sender's reports have placed, whether or not they still hold it."""
    return (
        select(Hold)
        .join(EntryRow, EntryRow.id == Hold.entry_id)
        .where(
            Hold.practice_id == report.practice_id,
            Hold.wearer_id == report.wearer_id,
            Hold.eye == eye,
            EntryRow.author_id == author_id,
            EntryRow.verified.is_(False),
        )
    )
