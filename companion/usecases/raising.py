"""From a symptom report to its consequences, inside the transaction that stores it.

``judge`` says how urgent the report is, places the holds, writes the alert and the first messages. What it writes
is committed together with the entry: from that commit on nothing can lose the alert.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import ColumnElement, or_, select
from sqlalchemy.orm import Session

from companion.common.eyes import EYES, Eye
from companion.escalation.duty import Duty
from companion.store.models import (
    Alert,
    EntryRow,
    Hold,
    Person,
    Practice,
    Report,
    Wearer,
)
from companion.store.queries.alerts import alert_to_join, holds_of_sender
from companion.triage.advice import Advice
from companion.triage.answers import answers_from_report
from companion.triage.evaluate import Verdict
from companion.usecases.family_alerts import tell_guardians
from companion.usecases.looks import judged
from companion.usecases.reaching import climb_plan, queue_step, rota_of

DESK_LEVEL = 2
"""From this level on the desk sees a report."""
SENT_LEVEL = 3
"""From this level on it is sent to people and climbs until one has taken it."""
WELL_FOR = timedelta(hours=24)


def judge(session: Session, practice: Practice, wearer: Wearer, entry: EntryRow, now: datetime) -> Report:
    """Judge a symptom report and write everything that follows from it."""
    answers = answers_from_report(entry.payload["answers"])
    verdict = judged(practice, entry, answers)
    level = verdict.level
    rota = rota_of(practice)
    report = Report(
        entry_id=entry.id,
        practice_id=wearer.practice_id,
        wearer_id=wearer.id,
        level=level,
        right_level=verdict.eyes[Eye.RIGHT],
        left_level=verdict.eyes[Eye.LEFT],
        rules=list(verdict.rules),
        deciding=list(verdict.deciding),
        lens={eye.value: verdict.lens[eye] for eye in EYES},
        wear_hold={eye.value: verdict.wear_hold[eye] for eye in EYES},
        advice=[plain_advice(one) for one in verdict.advice],
        rules_version=verdict.rules_version,
        judged_at=now,
        on_duty=rota.at(now) is not Duty.NOBODY,
        opens_at=rota.next(now),
        language=entry.payload.get("language", "en"),
    )
    session.add(report)
    _place_holds(session, report, verdict, entry, now)
    joins = None if entry.verified else alert_to_join(session, report, entry.author_id)
    if joins is not None and level >= DESK_LEVEL:
        report.joins_alert_id = joins.id
        return report
    if level >= DESK_LEVEL:
        _raise_alert(session, practice, report, now)
    if level >= SENT_LEVEL:
        tell_guardians(session, wearer, report, entry, now)
    return report


def holding(now: datetime) -> ColumnElement[bool]:
    """The condition under which a hold row still holds its eye."""
    return Hold.lifted_at.is_(None) & _not_run_out(now)


def _not_run_out(then: datetime) -> ColumnElement[bool]:
    return or_(Hold.well_since.is_(None), Hold.well_since > then - WELL_FOR) & or_(
        Hold.ends_at.is_(None), Hold.ends_at > then
    )


def open_holds(session: Session, wearer: Wearer, now: datetime) -> list[Hold]:
    """Return the wearer's holds that are in force, oldest first."""
    return list(
        session.scalars(
            select(Hold)
            .where(Hold.practice_id == wearer.practice_id, Hold.wearer_id == wearer.id, holding(now))
            .order_by(Hold.placed_at, Hold.eye)
        )
    )


def held_since(session: Session, wearer: Wearer, then: datetime) -> bool:
    """Say whether any eye of the wearer was held at any time from ``then`` on, lifted since or not."""
    lasted = or_(Hold.lifted_at.is_(None), Hold.lifted_at > then) & _not_run_out(then)
    mine = Hold.practice_id == wearer.practice_id, Hold.wearer_id == wearer.id
    return session.scalar(select(Hold.id).where(*mine, lasted).limit(1)) is not None


def plain_advice(advice: Advice) -> dict[str, Any]:
    return {"key": advice.key, "eyes": [eye.value for eye in advice.eyes]}


def _place_holds(session: Session, report: Report, verdict: Verdict, entry: EntryRow, now: datetime) -> None:
    """Hold eyes by the rules, both eyes in illness; a report without illness starts its 24 hours of being well."""
    for eye in EYES:
        if verdict.practice_hold[eye] and _has_room(session, report, eye, "report", entry, now):
            hold_eye(session, report, eye, "report", now)
    ill = select(Hold).where(
        Hold.practice_id == report.practice_id,
        Hold.wearer_id == report.wearer_id,
        Hold.reason == "illness",
        holding(now),
    )
    if verdict.illness_hold:
        for hold in session.scalars(ill) if entry.verified else ():
            hold.lifted_at, hold.lift_reason = now, "renewed"
        for eye in EYES:
            if _has_room(session, report, eye, "illness", entry, now):
                hold_eye(session, report, eye, "illness", now)
    if verdict.illness_hold or not entry.verified:  # nobody's well-being hangs on a word that is not sure
        return
    well = verdict.level == 1 and not verdict.rules
    both_asked = all(entry.payload["answers"].get(eye) for eye in EYES)
    for hold in session.scalars(ill):
        if not well:
            hold.well_since = None
        elif both_asked and entry.at > hold.placed_at:  # an older word says nothing of it
            hold.well_since = hold.well_since or entry.at


def _has_room(session: Session, report: Report, eye: str, reason: str, entry: EntryRow, now: datetime) -> bool:
    """Say whether a report may hold an eye anew. A sender whose right is not sure holds it once at a time: what
    lasts takes the place of what would have ended by itself, and nothing is shortened."""
    if entry.verified:
        return True
    theirs = session.scalars(holds_of_sender(report, eye, entry.author_id).where(holding(now))).all()
    if reason == "illness":
        for hold in theirs:
            hold.well_since = None
        return not theirs
    if any(hold.reason == "report" and hold.ends_at is None for hold in theirs):
        return False
    for hold in theirs:
        hold.lifted_at, hold.lift_reason = now, "renewed"
    return True


def hold_eye(session: Session, report: Report, eye: str, reason: str, now: datetime) -> None:
    """Hold an eye on a report's word."""
    session.add(
        Hold(
            practice_id=report.practice_id,
            wearer_id=report.wearer_id,
            eye=eye,
            reason=reason,
            entry_id=report.entry_id,
            placed_at=now,
        )
    )


def _raise_alert(session: Session, practice: Practice, report: Report, now: datetime) -> None:
    alert = Alert(
        practice_id=report.practice_id,
        wearer_id=report.wearer_id,
        entry_id=report.entry_id,
        level=report.level,
        raised_at=now,
    )
    session.add(alert)
    session.flush()
    plan = climb_plan(session, practice)
    if report.level >= SENT_LEVEL and plan.tells:
        step = plan.step(0, 0, report.level, now)
        for person_id in step.person_ids:
            queue_step(session, alert, 0, session.get_one(Person, person_id), "alert", now, step.channel)
