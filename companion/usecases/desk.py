"""The practice's lists: what needs a person now, and the wearers."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, timedelta
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from companion.access import Action, may
from companion.common.moments import zone
from companion.store.models import (
    Alert,
    EntryRow,
    Guardianship,
    Hold,
    Person,
    Practice,
    Report,
    Visit,
    Wearer,
    WearerState,
)
from companion.store.queries.alerts import joined_reports, open_alerts
from companion.usecases.actor import Actor, practice_for
from companion.usecases.alert_state import alert_plain
from companion.usecases.alerts import SERIOUS_LEVEL
from companion.usecases.forecast_plain import surprises
from companion.usecases.raising import SENT_LEVEL, holding
from companion.usecases.recovery import waiting
from companion.usecases.showing import age_on, iso, practice_now
from companion.usecases.test_alerts import dead_ways

LATE = timedelta(minutes=15)
"""A report whose making and receipt lie so far apart is marked: the eye was so long without anybody's knowing."""
OFF_PLAN_NIGHTS = 3
"""So many planned nights not worn among the last 14 put a wearer on the desk's list."""


def desk(session: Session, actor: Actor, now: datetime) -> dict[str, Any]:
    """What needs a person now, worst and oldest first; then what can wait."""
    practice = practice_for(session, actor, Action.SEE_DESK)
    alerts = [alert_row(session, practice, *row, now) for row in open_alerts(session, practice)]
    duty = practice_now(practice, now, zone(practice.zone))
    return {
        "now": iso(now, zone(practice.zone)),
        "on_duty": duty["on_duty"],
        "on_call": duty["on_call"],
        "opens_at": duty["opens_at"],
        "alerts_on": practice.alerts_on,
        "dead_ways": dead_ways(session, practice, now),
        "practices": _practices(session, actor),
        "alerts": [row for row in alerts if row["level"] >= SENT_LEVEL],
        "later": [row for row in alerts if row["level"] < SENT_LEVEL],
        "visits_overdue": _visits_overdue(session, practice, now),
        "off_plan": _off_plan(session, practice, now),
        "surprised": _surprised(session, practice, now),
        "recoveries": waiting(session, actor, now) if may(actor.roles, Action.RECOVER_FAMILY) else [],
    }


def wearers(session: Session, actor: Actor, now: datetime) -> dict[str, Any]:
    """All wearers of the practice, read from caches."""
    practice = practice_for(session, actor, Action.SEE_DESK)
    where = zone(practice.zone)
    held: dict[str, list[str]] = {}
    for hold in session.scalars(select(Hold).where(Hold.practice_id == practice.id, holding(now))):
        if hold.eye not in held.setdefault(hold.wearer_id, []):
            held[hold.wearer_id].append(hold.eye)
    levels = dict(
        session.execute(
            select(Alert.wearer_id, func.max(Alert.level))
            .where(Alert.practice_id == practice.id, Alert.closed_at.is_(None))
            .group_by(Alert.wearer_id)
        ).all()
    )
    due = dict(
        session.execute(
            select(Visit.wearer_id, func.min(Visit.due_on))
            .where(Visit.practice_id == practice.id, Visit.done_on.is_(None))
            .group_by(Visit.wearer_id)
        ).all()
    )
    rows = session.execute(
        select(Wearer, WearerState)
        .outerjoin(
            WearerState,
            (WearerState.practice_id == Wearer.practice_id) & (WearerState.wearer_id == Wearer.id),
        )
        .where(Wearer.practice_id == practice.id, Wearer.ended_at.is_(None))
        .order_by(Wearer.name, Wearer.id)
    )
    return {
        "now": iso(now, where),
        "wearers": [
            {
                "id": wearer.id,
                "name": wearer.name,
                "age": age_on(wearer, now),
                "answer": state.forecast["tonight"]["answer"] if state and state.forecast else None,
                "answer_at": iso(state.forecast_at, where) if state else None,
                "worn": state.worn if state else 0,
                "planned": state.planned if state else 0,
                "unknown": state.unknown if state else 0,
                "surprises": surprises(state.about) if state else [],
                "held": held.get(wearer.id, []),
                "alert_level": levels.get(wearer.id),
                "last_entry_at": iso(state.last_entry_at, where) if state else None,
                "visit_due_on": _day(due.get(wearer.id)),
            }
            for wearer, state in rows
        ]
    }


def call_back(session: Session, wearer: Wearer) -> list[dict[str, Any]]:
    """Whom to call about a wearer: the guardians, and the wearer in person."""
    guards = select(Guardianship.person_id).where(
        Guardianship.practice_id == wearer.practice_id,
        Guardianship.wearer_id == wearer.id,
        Guardianship.ended_at.is_(None),
    )
    people = session.scalars(
        select(Person).where(Person.id.in_(guards) | (Person.id == wearer.person_id)).order_by(Person.created_at)
    )
    return [
        {
            "person_id": person.id,
            "name": person.name,
            "phone": person.phone,
            "language": person.language,
            "role": "wearer" if person.id == wearer.person_id else "guardian",
        }
        for person in people
    ]


def holds_plain(holds: Sequence[Hold], wearer: Wearer) -> list[dict[str, Any]]:
    where = zone(wearer.zone)
    return [
        {
            "id": hold.id,
            "eye": hold.eye,
            "since": iso(hold.placed_at, where),
            "reason": hold.reason,
            "ends_at": iso(hold.ends_at, where),
        }
        for hold in holds
    ]


def alert_row(
    session: Session, practice: Practice, row: Alert, report: Report, wearer: Wearer, now: datetime
) -> dict[str, Any]:
    where = zone(practice.zone)
    entry = session.get_one(EntryRow, row.entry_id)
    said = judged(report)
    return {
        **alert_plain(session, row, where),
        "wearer": {"id": wearer.id, "name": wearer.name, "age": age_on(wearer, now), "mark": wearer.mark},
        **{key: (row.raised_as or said)[key] for key in said},
        "joined": [
            {
                "made_at": iso(later.made_at, where),
                "level": one.level,
                "eyes": {"right": one.right_level, "left": one.left_level},
                "deciding": one.deciding or one.rules,
            }
            for one, later in joined_reports(session, row)
        ],
        "made_at": iso(entry.made_at, where),
        "received_at": iso(entry.received_at, where),
        "late": abs(entry.received_at - entry.made_at) >= LATE,
        "waiting_minutes": int((now - row.raised_at) / timedelta(minutes=1)),
        "unverified": not entry.verified,
        **pressing(row, practice, now),
    }


def _practices(session: Session, actor: Actor) -> list[dict[str, Any]]:
    """The desks that somebody may change between, with the alerts at each that nobody has taken; none for whoever
    works at one practice alone."""
    if len(actor.works_at) < 2:
        return []
    waiting = dict(
        session.execute(
            select(Alert.practice_id, func.count())
            .where(
                Alert.practice_id.in_(actor.works_at),
                Alert.closed_at.is_(None),
                Alert.taken_at.is_(None),
                Alert.level >= SENT_LEVEL,
            )
            .group_by(Alert.practice_id)
        ).all()
    )
    return [
        {
            "id": one,
            "name": session.get_one(Practice, one).name,
            "here": one == actor.practice_id,
            "waiting": waiting.get(one, 0),
        }
        for one in actor.works_at
    ]


def judged(report: Report) -> dict[str, Any]:
    """What a report was judged to be at first, shaped as what time has made of it (``Alert.raised_as``)."""
    return {
        "eyes": {"right": report.right_level, "left": report.left_level},
        "lens": report.lens,
        "rules": report.rules,
        "deciding": report.deciding,
    }


def pressing(row: Alert, practice: Practice, now: datetime) -> dict[str, bool]:
    """Whether an alert counts as unanswered: nobody has taken it, or whoever has did not reach the family in time;
    and whether a desk with its sound on sounds for it."""
    overdue = timedelta(minutes=practice.contact_minutes)
    late = row.taken_at is not None and row.contact_at is None and now - row.taken_at >= overdue
    return {
        "unanswered": row.taken_at is None or late,
        "rings": row.taken_at is None and row.level >= SERIOUS_LEVEL,
    }


def _visits_overdue(session: Session, practice: Practice, now: datetime) -> list[dict[str, Any]]:
    today = now.astimezone(zone(practice.zone)).date()
    rows = session.execute(
        select(Visit, Wearer)
        .join(Wearer, (Wearer.practice_id == Visit.practice_id) & (Wearer.id == Visit.wearer_id))
        .where(
            Visit.practice_id == practice.id,
            Visit.done_on.is_(None),
            Visit.due_on < today,
            Wearer.ended_at.is_(None),
        )
        .order_by(Visit.due_on)
    )
    return [
        {
            "wearer": {"id": wearer.id, "name": wearer.name, "age": age_on(wearer, now)},
            "kind": visit.kind,
            "due_on": visit.due_on.isoformat(),
            "days": (today - visit.due_on).days,
        }
        for visit, wearer in rows
    ]


def _off_plan(session: Session, practice: Practice, now: datetime) -> list[dict[str, Any]]:
    rows = session.execute(
        select(Wearer, WearerState)
        .join(
            WearerState,
            (WearerState.practice_id == Wearer.practice_id) & (WearerState.wearer_id == Wearer.id),
        )
        .where(
            Wearer.practice_id == practice.id,
            Wearer.ended_at.is_(None),
            WearerState.planned - WearerState.worn - WearerState.unknown >= OFF_PLAN_NIGHTS,
        )
        .order_by(Wearer.name)
    )
    return [
        {
            "wearer": {"id": wearer.id, "name": wearer.name, "age": age_on(wearer, now)},
            "worn": state.worn,
            "planned": state.planned,
            "unknown": state.unknown,
        }
        for wearer, state in rows
    ]


def _surprised(session: Session, practice: Practice, now: datetime) -> list[dict[str, Any]]:
    """Wearers with an eye that sees less than the nights explain, the farthest off first."""
    rows = session.execute(
        select(Wearer, WearerState.about)
        .join(
            WearerState,
            (WearerState.practice_id == Wearer.practice_id) & (WearerState.wearer_id == Wearer.id),
        )
        .where(Wearer.practice_id == practice.id, Wearer.ended_at.is_(None))
        .order_by(Wearer.name)
    )
    found = [
        {"wearer": {"id": wearer.id, "name": wearer.name, "age": age_on(wearer, now)}, "surprises": eyes}
        for wearer, about in rows
        if (eyes := surprises(about))
    ]
    return sorted(found, key=lambda one: -max(eye["worse_logmar"] for eye in one["surprises"]))


def _day(day: date | None) -> str | None:
    return day.isoformat() if day else None
