"""A minor's serious report reaches every guardian: on their first page, and by mail where they have an address.

The message names nobody and no symptom. The author of a report hears nothing of it: they have it before them.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from sqlalchemy.orm import Session

from companion.store.models import EntryRow, Outbox, Person, Report, Wearer
from companion.usecases.guardianships import guardians_of
from companion.usecases.showing import is_minor

CHANNEL = "mail"
KEY, RAISED = "family_report", "family_raised"


def tell_guardians(session: Session, wearer: Wearer, report: Report, entry: EntryRow, now: datetime) -> None:
    """Write the messages, inside the transaction that stores the report."""
    if is_minor(wearer, now):
        others = [one for one in guardians_of(session, wearer) if one.id != entry.author_id]
        _write(session, wearer, others, KEY, report.level, now)


def tell_family_of_raise(
    session: Session, wearer: Wearer, author: Person | None, level: int, now: datetime
) -> None:
    """Tell everybody who looks after the eye that time has made a report more urgent. Its author is among them: by
    now they have put the page away."""
    people = [*guardians_of(session, wearer)] if is_minor(wearer, now) else []
    own = session.get(Person, wearer.person_id) if wearer.person_id else None
    people += [one for one in (own, author) if one is not None]
    _write(session, wearer, list({one.id: one for one in people}.values()), RAISED, level, now)


def _write(
    session: Session, wearer: Wearer, people: Iterable[Person], key: str, level: int, now: datetime
) -> None:
    for person in people:
        if person.email is not None:
            session.add(
                Outbox(
                    practice_id=wearer.practice_id,
                    channel=CHANNEL,
                    address=person.email,
                    message={"key": key, "language": person.language, "values": {"level": level}},
                    created_at=now,
                    due_at=now,
                )
            )
