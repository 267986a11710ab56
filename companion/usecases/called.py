"""What the family says when it is asked whether somebody from the practice has called.

Their word is shown at the desk and never stands for contact: only the practice records that it has reached them. A
*no* after the time for the call lets the alert climb at once.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from sqlalchemy.orm import Session

from companion.access import Action
from companion.common.errors import InvalidInput, NotAllowed, NotFound, Problem
from companion.common.ids import is_id
from companion.store.models import Alert, Practice, Report
from companion.store.queries.alerts import alert_of_entry
from companion.usecases.actor import Actor, roles_towards, wearer_for
from companion.usecases.audit import note
from companion.usecases.reports import may_see

ANSWERS = ("yes", "no")


def say_called(
    session: Session, actor: Actor, wearer_id: str, report_id: str, said: str, now: datetime
) -> None:
    """Record what the family says. Where nobody has the alert, or the family was reached, nothing changes."""
    wearer = wearer_for(session, actor, wearer_id, Action.REPORT_SYMPTOMS)
    row = session.get(Report, report_id) if is_id(report_id) else None
    if row is None or (row.practice_id, row.wearer_id) != (wearer.practice_id, wearer.id):
        raise NotFound("report")
    alert = alert_of_entry(session, row.entry_id)
    level = alert.level if alert else row.level
    if not may_see(session, actor, roles_towards(session, actor, wearer), row.entry_id, level):
        raise NotAllowed(Action.SEE_OWN_PAGES)
    if said not in ANSWERS:
        raise InvalidInput(Problem("choice_unknown", "called"))
    alert = alert or (session.get(Alert, row.joins_alert_id) if row.joins_alert_id else None)
    asked = alert is not None and alert.taken_at and alert.contact_at is None and alert.closed_at is None
    if alert is not None and asked and not (said == "no" and _climbs_by_it(session, alert)):
        alert.called_said, alert.called_said_at = said, now
        note(session, wearer.practice_id, actor.person_id, f"called_{said}", "alert", alert.id, now)
    session.commit()


def _climbs_by_it(session: Session, alert: Alert) -> bool:
    """Say whether a *no* that lets the alert climb stands already: said again, it begins no climb anew."""
    said_at, taken_at = alert.called_said_at, alert.taken_at
    minutes = session.get_one(Practice, alert.practice_id).contact_minutes
    in_time = said_at is not None and taken_at is not None and said_at >= taken_at + timedelta(minutes=minutes)
    return alert.called_said == "no" and in_time
