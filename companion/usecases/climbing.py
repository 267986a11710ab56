"""Tell the next person of an alert, until one has taken it and reached the family; and the family, that none has.

Escalation decides what is due; this writes it.
"""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from companion.escalation.climb import AlertTimes, DoneStep, FamilyNews, due_steps, family_told
from companion.store.engine import Store
from companion.store.models import Alert, Person, Practice
from companion.store.queries.alerts import climbing_alerts, steps_of
from companion.usecases.family_alerts import tell_family_of_news
from companion.usecases.one_by_one import each_alone
from companion.usecases.raising import SENT_LEVEL
from companion.usecases.reaching import climb_plan, queue_other_ways, queue_step, staff_of


def climb_alerts(store: Store, now: datetime) -> int:
    """Queue every due step of every alert nobody has settled; return how many. Raises what broke, at the end."""
    with store.reading() as session:
        waiting = climbing_alerts(session, SENT_LEVEL)

    def climb(alert_id: str) -> int:
        with store.writing() as session:
            return _climb(session, alert_id, now)

    return each_alone(waiting, climb, "alerts that could not climb")


def family_news(session: Session, practice: Practice, alert: Alert, now: datetime) -> FamilyNews | None:
    """Return what the family must be told about an alert that nobody answers; None if nothing."""
    return family_told(_times(alert), climb_plan(session, practice), now)


def _climb(session: Session, alert_id: str, now: datetime) -> int:
    """Queue what is due of one alert, and the family's news. The row is locked, so that of two workers one writes.

    The family's news is no step: it stops nothing, and nothing waits for it.
    """
    alert = session.scalar(select(Alert).where(Alert.id == alert_id).with_for_update(skip_locked=True))
    if alert is None:
        return 0
    practice = session.get_one(Practice, alert.practice_id)
    plan, times = climb_plan(session, practice), _times(alert)
    steps = steps_of(session, [alert])[alert.id]
    here = {one.id for one in staff_of(session, practice)}
    # What only somebody was told who works here no more was told to nobody.
    done = [DoneStep(step.step, step.queued_at) for step, person in steps if person.id in here]
    queued = 0
    if plan.tells:
        climbing = [one for one in steps if alert.taken_at is None or one[0].queued_at > alert.taken_at]
        queued += queue_other_ways(session, alert, climbing, _key(alert, 0), now)
    for step in due_steps(times, done, plan, now):
        for person_id in step.person_ids:
            person = session.get_one(Person, person_id)
            queue_step(session, alert, step.number, person, _key(alert, step.number), now, step.channel)
            queued += 1
    _tell_family(session, alert, family_told(times, plan, now), now)
    session.commit()
    return queued


def _tell_family(session: Session, alert: Alert, news: FamilyNews | None, now: datetime) -> None:
    """Send the family its news, each once: of each person who took it and did not reach them, once."""
    if news is FamilyNews.NO_CONTACT_YET and _says_called(alert):
        return
    once = f"{news} {alert.taken_by}" if news is FamilyNews.NO_CONTACT_YET else str(news)
    if news is not None and once not in alert.family_told:
        alert.family_told = {**alert.family_told, once: now.isoformat(timespec="seconds")}
        tell_family_of_news(session, alert, news.value, now)


def _says_called(alert: Alert) -> bool:
    """The family says that whoever has the alert now has called. The climb goes on: only the practice ends it."""
    said_at, taken_at = alert.called_said_at, alert.taken_at
    return alert.called_said == "yes" and said_at is not None and taken_at is not None and said_at >= taken_at


def _key(alert: Alert, number: int) -> str:
    """Which message carries a step."""
    if alert.taken_at is not None:
        return "alert_no_contact"
    return "alert_next" if number else "alert"


def _times(alert: Alert) -> AlertTimes:
    raised_at = alert.raised_again_at or alert.raised_at
    not_called_at = alert.called_said_at if alert.called_said == "no" else None
    return AlertTimes(alert.level, raised_at, alert.taken_at, alert.contact_at, alert.closed_at, not_called_at)
