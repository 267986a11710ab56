"""What passing time does to a report that is still open: it counts as it stands by now, and the practice is told.

An answer that waits gets worse by the rules' own timers; a re-check without word counts as one step worse. The
report's row stays as it was judged; what it counts as now stands on its alert. A later report about the same eyes
stops it, whatever it says: that one has timers of its own. Nothing here ever lowers a level or places a hold anew
that a practitioner has lifted.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from companion.common.eyes import EYES, Eye
from companion.escalation.climb import DueStep
from companion.store.engine import Store
from companion.store.models import Alert, EntryRow, Hold, Person, Practice, Report, Wearer
from companion.store.queries.alerts import alerts_below, steps_of
from companion.triage.evaluate import Verdict
from companion.triage.timers import missed_recheck
from companion.usecases.audit import note as audit
from companion.usecases.family_alerts import tell_family_of_raise
from companion.usecases.looks import by_now, has_later_word, judged
from companion.usecases.one_by_one import each_alone
from companion.usecases.raising import hold_eye, plain_advice
from companion.usecases.reaching import climb_plan, queue_step

HIGHEST_LEVEL = 5
GRACE, GRACE_OF_DAY = timedelta(minutes=30), timedelta(hours=1)
"""How long after it is due a re-check counts as missed; at a moment of the day, which nobody keeps to the minute
(design)."""


class Word(StrEnum):
    """What a family is told about the word that is awaited from them."""

    ASKED = "asked"
    """A re-check is due."""
    STILL_THERE = "still_there"
    """There was none in time: it counts as still there, and one step worse."""
    MORE_URGENT = "more_urgent"
    """There was none, and time has raised the level."""


@dataclass(frozen=True)
class Standing:
    """What a report counts as by now."""

    verdict: Verdict
    word_due_at: datetime | None
    no_word: bool
    """The re-check was missed."""


def recheck_reports(store: Store, now: datetime) -> int:
    """Raise what time has raised; return how many alerts changed. Raises what broke, at the end."""
    with store.reading() as session:
        waiting = alerts_below(session, HIGHEST_LEVEL)

    def look_again(alert_id: str) -> int:
        with store.reading() as session:
            if not _is_due(session, session.get_one(Alert, alert_id), now):
                return 0
        with store.writing() as session:
            return _raise(session, alert_id, now)

    return each_alone(waiting, look_again, "reports that could not be looked at again")


def word_news(session: Session, alert: Alert, now: datetime) -> Word | None:
    """Return what the family is told about the word awaited from them; None where nothing is."""
    standing = _standing(session, alert, now)
    if standing is None:
        return None
    if alert.raised_again_at is not None:
        return Word.MORE_URGENT
    if alert.no_word_at is not None:
        return Word.STILL_THERE
    due = standing.word_due_at is not None and now >= standing.word_due_at and alert.contact_at is None
    return Word.ASKED if due else None


def _standing(session: Session, alert: Alert, now: datetime) -> Standing | None:
    """What the alert's report counts as by now; None once it is closed or the wearer has sent a later word."""
    entry = session.get_one(EntryRow, alert.entry_id)
    if alert.closed_at is not None or has_later_word(session, entry):
        return None
    practice = session.get_one(Practice, alert.practice_id)
    stands = by_now(practice, session.get_one(Wearer, alert.wearer_id), entry, now)
    if stands.look is None or stands.missable is None:
        return Standing(stands.verdict, None, no_word=False)
    # Somebody at the practice who has reached the family since has had word of the eye.
    grace = GRACE_OF_DAY if stands.missable.moment else GRACE
    if alert.contact_at is not None or now < stands.missable.at + grace:
        return Standing(stands.verdict, stands.look.at, no_word=False)
    missed = judged(practice, entry, missed_recheck(stands.answers))
    return Standing(missed, stands.look.at, no_word=True)


def _is_due(session: Session, alert: Alert, now: datetime) -> bool:
    standing = _standing(session, alert, now)
    return standing is not None and (
        standing.verdict.level > alert.level
        or (standing.no_word and alert.no_word_at is None)
        or bool(_eyes_to_hold(session, alert, standing.verdict))
    )


def _eyes_to_hold(session: Session, alert: Alert, verdict: Verdict) -> list[Eye]:
    """The eyes that this report has not held yet. One that it held and somebody lifted stays lifted."""
    held = set(session.scalars(select(Hold.eye).where(Hold.entry_id == alert.entry_id, Hold.reason == "report")))
    return [eye for eye in EYES if verdict.practice_hold[eye] and eye.value not in held]


def _raise(session: Session, alert_id: str, now: datetime) -> int:
    """Write what time has done to one alert. The row is locked, so that of two workers one writes it."""
    alert = session.scalar(select(Alert).where(Alert.id == alert_id).with_for_update(skip_locked=True))
    if alert is None or not _is_due(session, alert, now):
        return 0
    standing = _standing(session, alert, now)
    assert standing is not None
    verdict = standing.verdict
    if standing.no_word and alert.no_word_at is None:
        alert.no_word_at = now
        audit(session, alert.practice_id, None, "no_word", "alert", alert.id, now)
    eyes, higher = _eyes_to_hold(session, alert, verdict), verdict.level > alert.level
    report = session.get_one(Report, alert.entry_id)
    for eye in eyes:
        hold_eye(session, report, eye, "report", now)
    if eyes or higher:
        alert.raised_as = _as_judged(verdict, max(verdict.level, alert.level))
    if higher:
        alert.level, alert.raised_again_at = verdict.level, now
        _tell(session, alert, now)
        audit(session, alert.practice_id, None, "raise", "alert", alert.id, now)
    session.commit()
    return 1


def _tell(session: Session, alert: Alert, now: datetime) -> None:
    """Tell whom the plan tells first, as if it had just been sent. Whoever had taken it without reaching the
    family had taken something less urgent. Whoever has reached the family keeps it and hears of it by every way;
    but what they spoke of was less urgent too, so without contact anew it climbs again in time."""
    plan = climb_plan(session, session.get_one(Practice, alert.practice_id))
    steps = steps_of(session, [alert])[alert.id]
    number = max((step.step for step, _ in steps), default=-1) + 1
    step = plan.step(number, 0, alert.level, now)
    if alert.contact_at is not None and alert.taken_by in plan.people:
        step = DueStep(number, (alert.taken_by,))
        alert.taken_at = now
    else:
        alert.taken_at = alert.taken_by = None
    alert.contact_at = alert.contact_by = None
    for person_id in step.person_ids if plan.tells else ():
        queue_step(session, alert, number, session.get_one(Person, person_id), "alert_raised", now, step.channel)
    entry = session.get_one(EntryRow, alert.entry_id)
    wearer = session.get_one(Wearer, alert.wearer_id)
    author = session.get(Person, entry.author_id) if entry.author_id and entry.verified else None
    tell_family_of_raise(session, wearer, author, alert.level, now)


def _as_judged(verdict: Verdict, level: int) -> dict[str, Any]:
    return {
        "level": level,
        "eyes": {eye.value: verdict.eyes[eye] for eye in EYES},
        "rules": list(verdict.rules),
        "deciding": list(verdict.deciding),
        "lens": {eye.value: verdict.lens[eye] for eye in EYES},
        "wear_hold": {eye.value: verdict.wear_hold[eye] for eye in EYES},
        "advice": [plain_advice(one) for one in verdict.advice],
        "rules_version": verdict.rules_version,
    }
