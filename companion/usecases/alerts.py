"""What the practice does with an alert: take it, record contact, close it; and place or lift a hold.

Each deed is a conditional update, so that of two people who press at once exactly one is named.
"""

from __future__ import annotations

from datetime import date, datetime, timedelta
from enum import StrEnum

from sqlalchemy import or_, select, update
from sqlalchemy.orm import Session

from companion.access import Action
from companion.common.errors import Conflict, InvalidInput, Problem
from companion.common.eyes import BOTH, EYES, eyes_named
from companion.common.ids import is_id
from companion.common.moments import night_bounds, zone
from companion.store.models import Alert, Hold, Practice, Visit, Wearer
from companion.usecases.actor import Actor, practice_of, wearer_for
from companion.usecases.audit import note as audit
from companion.usecases.derived import outdate_forecast
from companion.usecases.raising import SENT_LEVEL

LONGEST_NOTE = 2000
SERIOUS_LEVEL = 4
"""Closing at this level or above asks for a second confirmation, and for a reason unless the eye was seen."""


class Outcome(StrEnum):
    SEEN_HERE = "seen_here"
    SENT_TO_EMERGENCY = "sent_to_emergency"
    ADVICE_GIVEN = "advice_given"
    NO_FAULT_FOUND = "no_fault_found"
    COULD_NOT_REACH = "could_not_reach"


class NextStep(StrEnum):
    """What follows once a hold is lifted."""

    AS_PLANNED = "as_planned"
    """Lenses go in again by the plan."""
    LOOK_AGAIN = "look_again"
    """So they do, and the practice looks at the eye again on a day that is booked with it."""


SEEN = frozenset({Outcome.SEEN_HERE, Outcome.SENT_TO_EMERGENCY})


def alert_for(session: Session, actor: Actor, alert_id: str, action: Action) -> tuple[Practice, Alert]:
    """Load an alert of a practice that the actor works at, for an action."""
    alert = session.get(Alert, alert_id) if is_id(alert_id) else None
    practice = practice_of(session, actor, alert, "alert", action)
    assert alert is not None
    return practice, alert


def take(session: Session, actor: Actor, alert_id: str, now: datetime) -> None:
    """Take an alert: from now on a named person looks after it. Taking one's own again changes nothing.

    Raises Conflict when a colleague has it, unless the colleague's time to reach the family is over, or when it is
    closed.
    """
    practice, alert = alert_for(session, actor, alert_id, Action.TAKE_ALERT)
    if alert.taken_by == actor.person_id and alert.closed_at is None:
        session.rollback()
        return
    overdue = now - timedelta(minutes=practice.contact_minutes)
    taken = session.scalar(
        update(Alert)
        .where(
            Alert.id == alert.id,
            Alert.closed_at.is_(None),
            or_(Alert.taken_at.is_(None), Alert.contact_at.is_(None) & (Alert.taken_at <= overdue)),
        )
        .values(taken_at=now, taken_by=actor.person_id)
        .returning(Alert.id)
    )
    if taken is None:
        raise Conflict("alert_closed" if alert.closed_at else "alert_taken")
    audit(session, practice.id, actor.person_id, "take", "alert", alert.id, now)
    session.commit()


def record_contact(
    session: Session, actor: Actor, alert_id: str, reached: bool, note: str, now: datetime
) -> None:
    """Record a try to reach the family. Only contact that was made stops the alert from climbing again."""
    practice, alert = alert_for(session, actor, alert_id, Action.RECORD_CONTACT)
    if alert.closed_at is not None:
        raise Conflict("alert_closed")
    if alert.taken_at is None:
        alert.taken_at, alert.taken_by = now, actor.person_id
    alert.contact_note = _note(note) or alert.contact_note
    if not reached:  # the newest word counts: a slip of the finger must not end the climb
        alert.contact_at = alert.contact_by = None
    elif alert.contact_at is None:
        alert.contact_at, alert.contact_by = now, actor.person_id
    audit(session, practice.id, actor.person_id, "contact" if reached else "contact_tried", "alert", alert.id, now)
    session.commit()


def close(
    session: Session,
    actor: Actor,
    alert_id: str,
    outcome: str,
    note: str,
    now: datetime,
    lenses_out_until: date | None = None,
    confirmed: bool = False,
) -> None:
    """Close an alert with an outcome. Holds stay, unless the outcome says until when the lenses stay out.

    ``lenses_out_until``: the evening on which lenses may go in again. The holds that this alert's own report
    placed end at that noon, never sooner than was said before; those of other reports and the practice's stay.
    """
    practice, alert = alert_for(session, actor, alert_id, Action.CLOSE_MILD_ALERT)
    if alert.level >= SENT_LEVEL:
        alert_for(session, actor, alert_id, Action.CLOSE_SERIOUS_ALERT)
    if lenses_out_until is not None:
        alert_for(session, actor, alert_id, Action.LIFT_HOLD)
    if alert.closed_at is not None:
        raise Conflict("alert_closed")
    wearer = session.get_one(Wearer, alert.wearer_id)
    ends_at = night_bounds(lenses_out_until, zone(wearer.zone))[0] if lenses_out_until else None
    problems: list[Problem] = []
    if outcome not in list(Outcome):
        problems.append(Problem("choice_unknown", "outcome"))
    elif alert.level >= SERIOUS_LEVEL and Outcome(outcome) not in SEEN and not _note(note):
        problems.append(Problem("reason_missing", "note"))
    if alert.level >= SERIOUS_LEVEL and not confirmed:
        problems.append(Problem("confirm_missing", "confirmed"))
    if ends_at and ends_at <= now:
        problems.append(Problem("date_past", "lenses_out_until"))
    if problems:
        raise InvalidInput(*problems)
    if alert.taken_at is None:
        alert.taken_at, alert.taken_by = now, actor.person_id
    alert.closed_at, alert.closed_by = now, actor.person_id
    alert.outcome, alert.outcome_note = outcome, _note(note) or None
    alert.lenses_out_until = lenses_out_until
    if ends_at:
        for hold in session.scalars(select(Hold).where(Hold.entry_id == alert.entry_id, Hold.reason == "report")):
            hold.ends_at = max(hold.ends_at or ends_at, ends_at)
    audit(session, practice.id, actor.person_id, "close", "alert", alert.id, now)
    session.commit()


def lift_hold(
    session: Session,
    actor: Actor,
    hold_id: str,
    reason: str,
    now: datetime,
    next_step: str = NextStep.AS_PLANNED,
    look_on: date | None = None,
) -> None:
    """Lift a hold, with a reason and what comes next. Lifting it twice changes nothing.

    ``look_on``: the day of the visit that is booked where the eye is to be looked at again.
    """
    hold = session.get(Hold, hold_id) if is_id(hold_id) else None
    practice = practice_of(session, actor, hold, "hold", Action.LIFT_HOLD)
    assert hold is not None
    wearer = session.get_one(Wearer, hold.wearer_id)
    problems: list[Problem] = []
    if not _note(reason):
        problems.append(Problem("reason_missing", "reason"))
    if next_step not in list(NextStep):
        problems.append(Problem("choice_unknown" if next_step else "missing", "next_step"))
    books = next_step == NextStep.LOOK_AGAIN
    if books and look_on is None:
        problems.append(Problem("missing", "look_on"))
    elif books and look_on and look_on < now.astimezone(zone(wearer.zone)).date():
        problems.append(Problem("date_past", "look_on"))
    if problems:
        raise InvalidInput(*problems)
    if hold.lifted_at is None:
        hold.lifted_at, hold.lifted_by, hold.lift_reason = now, actor.person_id, _note(reason)
        audit(session, practice.id, actor.person_id, "lift", "hold", hold.id, now)
        if books and look_on:
            _book_a_look(session, actor, wearer, look_on, now)
    session.commit()


def _book_a_look(session: Session, actor: Actor, wearer: Wearer, day: date, now: datetime) -> None:
    visit = Visit(
        practice_id=wearer.practice_id,
        wearer_id=wearer.id,
        signed_by=actor.person_id,
        signed_at=now,
        due_on=day,
        kind="extra",
    )
    session.add(visit)
    session.flush()
    audit(session, wearer.practice_id, actor.person_id, "sign", Visit.__tablename__, visit.id, now)
    outdate_forecast(session, wearer)


def stop_wear(
    session: Session, actor: Actor, wearer_id: str, eyes: str, reason: str, now: datetime
) -> None:
    """Stop lens wear in one eye or both, until a practitioner lifts it."""
    wearer = wearer_for(session, actor, wearer_id, Action.LIFT_HOLD)
    if eyes not in (*EYES, BOTH):
        raise InvalidInput(Problem("choice_unknown", "eyes"))
    if not _note(reason):
        raise InvalidInput(Problem("reason_missing", "reason"))
    for eye in eyes_named(eyes):
        session.add(
            Hold(
                practice_id=wearer.practice_id,
                wearer_id=wearer.id,
                eye=eye,
                reason="practice",
                placed_at=now,
                note=_note(reason),
            )
        )
    audit(session, wearer.practice_id, actor.person_id, "stop_wear", "wearer", wearer.id, now)
    session.commit()


def _note(text: str) -> str:
    return text.strip()[:LONGEST_NOTE]
