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

from sqlalchemy import Select, select
from sqlalchemy.orm import Session

from companion.common.eyes import BOTH, EYES
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
LOOKS_BACK = 100
"""Reports: more than anybody sends of one eye before they speak of the other."""
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
    """Judge a stored report's answers by the practice's choices, by what its author asked for, and by what the
    phone has told the family."""
    return evaluate(
        answers,
        practice.illness_holds,
        one_eye_holds_both=practice.one_eye_holds_both,
        asked_level=entry.payload.get("asked_level", 1),
        told_level=entry.payload.get("judged_level", 1),
    )


def by_now(practice: Practice, wearer: Wearer, entry: EntryRow, now: datetime) -> ByNow:
    given_at = _made_at(entry)
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
    if entry not in _last_words(session, wearer):
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
    """The soonest after the last word about each eye; ``sees`` says whether a report of a level is for this
    reader."""
    due = []
    for entry in _last_words(session, wearer):
        report = session.get(Report, entry.id)
        alert = alert_of_entry(session, entry.id)
        if report is not None and sees(entry.id, alert.level if alert else report.level):
            due.append(look_of(session, wearer, entry, alert, now))
    return min((look for look in due if look), key=lambda look: datetime.fromisoformat(look["at"]), default=None)


def full_minute(moment: datetime) -> datetime:
    """Return the first full minute from ``moment`` on: what a clock shows must not come before what is due."""
    floor = moment.replace(second=0, microsecond=0)
    return moment if floor == moment else floor + MINUTE


def eyes_asked(answers: Mapping[str, Mapping[str, str]]) -> str:
    """Return whose eyes a report was about: one, or both."""
    asked = [eye.value for eye in EYES if answers.get(eye.value)]
    return asked[0] if len(asked) == 1 else "both"


def has_later_word(session: Session, entry: EntryRow) -> bool:
    """Say whether each eye that a report was about has been spoken of since. A word about the other eye says
    nothing of this one."""
    made_at = _made_at(entry)
    later = session.scalars(
        _words(entry.practice_id, entry.wearer_id).where(EntryRow.at > made_at, EntryRow.received_at > made_at)
    )
    return _eyes_of(entry) <= frozenset().union(*map(_eyes_of, later))


def _last_words(session: Session, wearer: Wearer) -> list[EntryRow]:
    """The last word about each eye, the latest first: one report, or two of one eye each."""
    newest = _words(wearer.practice_id, wearer.id).order_by(EntryRow.received_at.desc()).limit(LOOKS_BACK)
    last: list[EntryRow] = []
    spoken_of: frozenset[str] = frozenset()
    for one in sorted(session.scalars(newest), key=lambda one: (_made_at(one), one.seq), reverse=True):
        if not _eyes_of(one) <= spoken_of:
            last.append(one)
            spoken_of |= _eyes_of(one)
    return last


def _words(practice_id: str, wearer_id: str) -> Select[EntryRow]:
    """What was said about the eyes by somebody whose right is sure: no other word stops a clock."""
    return select(EntryRow).where(
        EntryRow.practice_id == practice_id,
        EntryRow.wearer_id == wearer_id,
        EntryRow.kind == Kind.SYMPTOM_REPORT.value,
        EntryRow.verified,
    )


def _made_at(entry: EntryRow) -> datetime:
    """When somebody looked at the eye. A phone whose clock is fast must not have the last word for days."""
    return min(entry.at, entry.received_at)


def _eyes_of(entry: EntryRow) -> frozenset[str]:
    eyes = eyes_asked(entry.payload["answers"])
    return frozenset(one.value for one in EYES) if eyes == BOTH else frozenset((eyes,))
