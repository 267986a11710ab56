"""Somebody who sees the eye asks for more urgency than their report got: upward only.

An entry is never changed, so what is stored is the same answers once more, from the same moment, with the level
asked for; it is judged, held and told as any report. From the same moment: what time makes of the answers must not
begin anew.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy.orm import Session

from companion.access import Action
from companion.common.errors import NotAllowed, NotFound
from companion.common.ids import is_id
from companion.common.moments import zone
from companion.store.models import EntryRow, Report
from companion.store.queries.alerts import alert_of_entry
from companion.triage.evaluate import HIGHEST_LEVEL
from companion.usecases.actor import Actor, roles_towards, wearer_for
from companion.usecases.looks import has_later_word
from companion.usecases.reports import may_see
from companion.usecases.showing import iso


@dataclass(frozen=True)
class Asked:
    """What is to be recorded."""

    at: str
    zone: str
    payload: dict[str, Any]


def asked_for(
    session: Session, actor: Actor, wearer_id: str, report_id: str, level: int, now: datetime
) -> Asked | None:
    """Return the report that asks for ``level``; None where that is no more than the report has already."""
    wearer = wearer_for(session, actor, wearer_id, Action.REPORT_SYMPTOMS)
    row = session.get(Report, report_id) if is_id(report_id) else None
    if row is None or (row.practice_id, row.wearer_id) != (wearer.practice_id, wearer.id):
        raise NotFound("report")
    alert = alert_of_entry(session, row.entry_id)
    has = alert.level if alert else row.level
    if not may_see(session, actor, roles_towards(session, actor, wearer), row.entry_id, has):
        raise NotAllowed(Action.SEE_OWN_PAGES)
    level = min(level, HIGHEST_LEVEL)
    if level <= has:
        return None
    entry = session.get_one(EntryRow, row.entry_id)
    # Then this is a new episode, which begins now: what was said since says nothing of it and stops no clock.
    over = (alert is not None and alert.closed_at is not None) or has_later_word(session, entry)
    at = iso(now if over else entry.at, zone(entry.zone)) or ""
    payload = {"answers": entry.payload["answers"], "language": row.language, "asked_level": level}
    return Asked(at, entry.zone, payload)
