"""When a family is to look at an eye again after a report, and what the report counts as by then.

The clock on their screen and the worker that finds a look missed both ask here, so that they cannot differ. A look
never moves away because time has made the report more urgent since; it goes where the advice is no longer to wait,
where a later word has come, and where somebody at the practice has spoken with the family.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from companion.common.eyes import EYES
from companion.common.moments import zone
from companion.diary.entry import Kind
from companion.store.models import Alert, EntryRow, Practice, Report, Wearer
from companion.store.queries.alerts import alert_of_entry
from companion.triage.answers import Answers, answers_from_report
from companion.triage.evaluate import Verdict, evaluate
from companion.triage.timers import DayHours, Look, looks, raise_by_time
from companion.usecases.showing import iso

SEEN_FROM = 4
"""From this level on the advice is to be seen, whatever a look would find."""
LEVEL_ONE_ASKED_FOR = timedelta(hours=24)
"""So long after it was due the look of a report that nobody was called for is still asked for (design)."""
MINUTE = timedelta(minutes=1)


@dataclass(frozen=True)
class ByNow:
    """What a report counts as by now, no look counted as missed yet."""

    answers: Answers
    verdict: Verdict
    look: Look | None
    """The first look that its author was asked for."""
    missable: Look | None
    """The first look of what it counts as by now: time's own raise stands for the look before it."""


def judged(practice: Practice, entry: EntryRow, answers: Answers) -> Verdict:
    """Judge a stored report's answers by the practice's choices, and by what its author asked for."""
    return evaluate(
        answers,
        practice.illness_holds,
        one_eye_holds_both=practice.one_eye_holds_both,
        asked_level=entry.payload.get("asked_level", 1),
    )


def by_now(practice: Practice, wearer: Wearer, entry: EntryRow, now: datetime) -> ByNow:
    given_at = min(entry.at, entry.received_at)  # a phone whose clock is fast must not hold anything up
    hours = DayHours(zone(wearer.zone), wearer.usual_in, wearer.usual_out)
    given = answers_from_report(entry.payload["answers"])
    answers = raise_by_time(given, now - given_at)
    verdict = judged(practice, entry, answers)
    still = looks(verdict, given_at, hours)
    if not still or not practice.triage_on:  # there is nothing to answer then, so nothing is missed
        return ByNow(answers, verdict, None, None)
    asked = looks(judged(practice, entry, given), given_at, hours)
    return ByNow(answers, verdict, min((*asked, *still)), still[0])


def look_of(
    session: Session, wearer: Wearer, entry: EntryRow, alert: Alert | None, now: datetime
) -> dict[str, Any] | None:
    """The next look at the eye after one report, for its page; None where there is none to wait for."""
    if not entry.verified or _latest(session, wearer) != entry:
        return None
    if alert is not None and (alert.closed_at or alert.contact_at):
        return None
    level = alert.level if alert else session.get_one(Report, entry.id).level
    look = by_now(session.get_one(Practice, wearer.practice_id), wearer, entry, now).look
    if look is None or level >= SEEN_FROM or (alert is None and now >= look.at + LEVEL_ONE_ASKED_FOR):
        return None
    at = full_minute(look.at)
    where = zone(wearer.zone)
    return {
        "report_id": entry.id,
        "level": level,
        "at": iso(at, where),
        "now": iso(now, where),
        "due": now >= at,
        "moment": look.moment or None,
        "eyes": eyes_asked(entry.payload["answers"]),
    }


def look_on_tonight(
    session: Session, wearer: Wearer, sees: Callable[[str, int], bool], now: datetime
) -> dict[str, Any] | None:
    """The same after the last report of a wearer; ``sees`` says whether a report of a level is for this reader."""
    entry = _latest(session, wearer)
    if entry is None or session.get(Report, entry.id) is None:
        return None
    alert = alert_of_entry(session, entry.id)
    level = alert.level if alert else session.get_one(Report, entry.id).level
    return look_of(session, wearer, entry, alert, now) if sees(entry.id, level) else None


def full_minute(moment: datetime) -> datetime:
    """Return the first full minute from ``moment`` on: what a clock shows must not come before what is due."""
    floor = moment.replace(second=0, microsecond=0)
    return moment if floor == moment else floor + MINUTE


def eyes_asked(answers: Mapping[str, Mapping[str, str]]) -> str:
    """Return whose eyes a report was about: one, or both."""
    asked = [eye.value for eye in EYES if answers.get(eye.value)]
    return asked[0] if len(asked) == 1 else "both"


def _latest(session: Session, wearer: Wearer) -> EntryRow | None:
    """The last word about the eyes from somebody whose right is sure."""
    return session.scalars(
        select(EntryRow)
        .where(
            EntryRow.practice_id == wearer.practice_id,
            EntryRow.wearer_id == wearer.id,
            EntryRow.kind == Kind.SYMPTOM_REPORT.value,
            EntryRow.verified,
        )
        .order_by(EntryRow.at.desc(), EntryRow.seq.desc())
        .limit(1)
    ).first()
