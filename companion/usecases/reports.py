"""A symptom report as its author reads it: what was said, what it calls for, and what has become of it."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import datetime
from typing import Any

from sqlalchemy.orm import Session

from companion.access import Action, Role, may
from companion.common.errors import NotAllowed, NotFound
from companion.common.eyes import EYES
from companion.common.ids import is_id
from companion.common.moments import zone
from companion.store.models import Alert, EntryRow, Practice, Report, Wearer
from companion.store.queries.alerts import alert_of_entry
from companion.triage.answers import answers_from_screen
from companion.triage.evaluate import HIGHEST_LEVEL, evaluate
from companion.usecases.actor import Actor, roles_towards, wearer_for
from companion.usecases.alert_state import alert_for_family
from companion.usecases.desk import LATE
from companion.usecases.looks import look_of
from companion.usecases.photo_plain import photos_plain
from companion.usecases.raising import SENT_LEVEL, plain_advice
from companion.usecases.showing import iso, practice_now, wearer_plain
from companion.usecases.young import young_alone


def report(
    session: Session, actor: Actor, wearer_id: str, report_id: str, now: datetime
) -> dict[str, Any]:
    """One report of a wearer, for the family's page."""
    wearer = wearer_for(session, actor, wearer_id, Action.SEE_TONIGHT)
    row, alert = seen_report(session, actor, wearer, report_id)
    practice = session.get_one(Practice, wearer.practice_id)
    where = zone(wearer.zone)
    carrier = alert or (session.get(Alert, row.joins_alert_id) if row.joins_alert_id else None)
    told = alert_for_family(session, practice, carrier, where, now) if carrier else None
    return {
        "report": report_plain(session, row, wearer, alert),
        "wearer": wearer_plain(wearer, now),
        "practice": practice_now(practice, now, where),
        "alert": told,
        "young": young_alone(session, actor, wearer, now),
        "look": look_of(session, wearer, session.get_one(EntryRow, row.entry_id), alert, now),
    }


def seen_report(
    session: Session, actor: Actor, wearer: Wearer, report_id: str
) -> tuple[Report, Alert | None]:
    """Load a report that is for this reader, and the alert that it raised."""
    row = session.get(Report, report_id) if is_id(report_id) else None
    if row is None or (row.practice_id, row.wearer_id) != (wearer.practice_id, wearer.id):
        raise NotFound("report")
    alert = alert_of_entry(session, row.entry_id)
    level = alert.level if alert else row.level
    if not may_see(session, actor, roles_towards(session, actor, wearer), row.entry_id, level):
        raise NotAllowed(Action.SEE_OWN_PAGES)
    return row, alert


def may_see(session: Session, actor: Actor, roles: frozenset[Role], entry_id: str, level: int) -> bool:
    """Say whether a report is for this reader: whoever sees the diary, its author, a guardian if it is serious."""
    if may(roles, Action.SEE_OWN_PAGES) or (level >= SENT_LEVEL and may(roles, Action.SEE_SERIOUS_REPORTS)):
        return True
    return session.get_one(EntryRow, entry_id).author_id == actor.person_id


def report_plain(session: Session, row: Report, wearer: Wearer, alert: Alert | None) -> dict[str, Any]:
    """A stored report as plain values, with its judgement as it stands by now."""
    entry = session.get_one(EntryRow, row.entry_id)
    where = zone(wearer.zone)
    return {
        "id": row.entry_id,
        "made_at": iso(entry.made_at, where),
        "received_at": iso(entry.received_at, where),
        "late": abs(entry.received_at - entry.made_at) >= LATE,
        "level": row.level,
        "eyes": {"right": row.right_level, "left": row.left_level},
        "rules": row.rules,
        "deciding": row.deciding,
        "lens": row.lens,
        "wear_hold": row.wear_hold,
        "advice": row.advice,
        "answers": entry.payload["answers"],
        "rules_version": row.rules_version,
        "on_duty": row.on_duty,
        "opens_at": iso(row.opens_at, where),
        "verified": entry.verified,
        "photos": photos_plain(session, row, wearer),
        **((alert and alert.raised_as) or {}),
    }


def stranger_report(
    shown: Mapping[str, Collection[str]], given: Mapping[str, Mapping[str, str]], asked_level: int = 1
) -> dict[str, Any]:
    """Judge what somebody says who is not signed in. Nothing is stored, and nobody is told.

    No practice is known, so the stricter choices of a practice hold.
    """
    answers = answers_from_screen(shown, given)
    verdict = evaluate(answers, one_eye_holds_both=True, asked_level=min(asked_level, HIGHEST_LEVEL))
    return {
        "level": verdict.level,
        "eyes": {eye.value: verdict.eyes[eye] for eye in EYES},
        "rules": list(verdict.rules),
        "deciding": list(verdict.deciding),
        "lens": {eye.value: verdict.lens[eye] for eye in EYES},
        "wear_hold": {eye.value: verdict.wear_hold[eye] for eye in EYES},
        "advice": [plain_advice(one) for one in verdict.advice],
        "answers": answers.document(),
        "rules_version": verdict.rules_version,
    }
