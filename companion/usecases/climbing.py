"""Tell the next person of an alert, until one has taken it and reached the family.

Escalation decides what is due; this writes it. Each alert climbs in a transaction of its own, so that one that
breaks holds up no other.
"""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from companion.common.moments import zone
from companion.escalation.climb import AlertTimes, ClimbPlan, DoneStep, FamilyNews, due_steps, family_told
from companion.store.engine import Store
from companion.store.models import Alert, Practice
from companion.store.queries.alerts import climbing_alerts, steps_of
from companion.usecases.raising import SENT_LEVEL, people_to_tell, queue_step
from companion.usecases.showing import hours_of


def climb_alerts(store: Store, now: datetime) -> int:
    """Queue every due step of every alert nobody has settled; return how many. Raises what broke, at the end."""
    with store.reading() as session:
        waiting = climbing_alerts(session, SENT_LEVEL)
    queued, broken = 0, []
    for alert_id in waiting:
        try:
            with store.writing() as session:
                queued += _climb(session, alert_id, now)
        except Exception as error:
            broken.append(error)
    if broken:
        raise ExceptionGroup("alerts that could not climb", broken)
    return queued


def family_news(session: Session, practice: Practice, alert: Alert, now: datetime) -> FamilyNews | None:
    """Return what the family must be told about an alert that nobody answers; None if nothing."""
    return family_told(_times(alert), climb_plan(session, practice), now)


def climb_plan(session: Session, practice: Practice) -> ClimbPlan:
    """How the alerts of this practice climb today: with the people who can be told today."""
    people = [person.id for person in people_to_tell(session, practice)]
    return ClimbPlan.usual(people, practice.contact_minutes, hours_of(practice), zone(practice.zone))


def _climb(session: Session, alert_id: str, now: datetime) -> int:
    """Queue what is due of one alert. The row is locked, so that of two workers one writes a step."""
    alert = session.scalar(select(Alert).where(Alert.id == alert_id).with_for_update(skip_locked=True))
    if alert is None:
        return 0
    practice = session.get_one(Practice, alert.practice_id)
    people = {person.id: person for person in people_to_tell(session, practice)}
    done = [DoneStep(step.step, step.queued_at) for step, _ in steps_of(session, [alert])[alert.id]]
    queued = 0
    for step in due_steps(_times(alert), done, climb_plan(session, practice), now):
        for person_id in step.person_ids:
            queue_step(session, alert, step.number, people[person_id], _key(alert, step.number), now)
            queued += 1
    session.commit()
    return queued


def _key(alert: Alert, number: int) -> str:
    """Which message carries a step."""
    if alert.taken_at is not None:
        return "alert_no_contact"
    return "alert_next" if number else "alert"


def _times(alert: Alert) -> AlertTimes:
    raised_at = alert.raised_again_at or alert.raised_at
    return AlertTimes(alert.level, raised_at, alert.taken_at, alert.contact_at, alert.closed_at)
