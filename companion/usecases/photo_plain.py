"""Photos as plain values: when, by whom, of which eye. What is in them goes out by an address of its own."""

from __future__ import annotations

from typing import Any

from sqlalchemy.orm import Session

from companion.common.moments import zone
from companion.store.models import Person, Report, Wearer
from companion.store.queries.photos import photos_of_report
from companion.usecases.showing import iso


def photos_plain(session: Session, report: Report, wearer: Wearer) -> list[dict[str, Any]]:
    """The photos of a report, without what is in them: for whoever may see the report."""
    where = zone(wearer.zone)
    return [
        {
            "id": one.id,
            "wearer_id": one.wearer_id,
            "eye": one.eye,
            "received_at": iso(one.received_at, where),
            "by": session.get_one(Person, one.author_id).name,
            "width": one.width,
            "height": one.height,
        }
        for one in photos_of_report(session, report.practice_id, report.entry_id)
    ]
