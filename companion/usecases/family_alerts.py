"""A minor's serious report reaches every guardian: on their first page, and by mail where they have an address.

The message names nobody and no symptom. The author hears nothing: they have the report before them.
"""

from __future__ import annotations

from datetime import datetime

from sqlalchemy.orm import Session

from companion.store.models import EntryRow, Outbox, Practice, Report, Wearer
from companion.usecases.guardianships import guardians_of
from companion.usecases.showing import is_minor

CHANNEL = "mail"
KEY = "family_report"


def tell_guardians(
    session: Session, practice: Practice, wearer: Wearer, report: Report, entry: EntryRow, now: datetime
) -> None:
    """Write the messages, inside the transaction that stores the report."""
    if not is_minor(wearer, now):
        return
    for person in guardians_of(session, wearer):
        if person.email is None or person.id == entry.author_id:
            continue
        session.add(
            Outbox(
                practice_id=practice.id,
                channel=CHANNEL,
                address=person.email,
                message={"key": KEY, "language": person.language, "values": {"level": report.level}},
                created_at=now,
                due_at=now,
            )
        )
