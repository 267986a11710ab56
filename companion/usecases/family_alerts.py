"""What a family is told beside its own screen: a minor's serious report, that time has made one more urgent, and
that nobody at the practice answers. By mail where somebody has an address, and on each browser that takes pushes.

The message names nobody and no symptom. It knows the wearer by an id, so that a tap leads to the right child's
page. The author of a report hears nothing of it: they have it before them.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from sqlalchemy.orm import Session

from companion.store.models import Alert, EntryRow, Outbox, Person, Report, Wearer
from companion.store.queries.channels import PUSH, subscriptions_of
from companion.usecases.guardianships import guardians_of
from companion.usecases.reaching import MAIL
from companion.usecases.showing import is_minor

KEY, RAISED = "family_report", "family_raised"
NEWS = "family_{}"


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
    _write(session, wearer, _around(session, wearer, author, now), RAISED, level, now)


def tell_family_of_news(session: Session, alert: Alert, news: str, now: datetime) -> None:
    """Tell whoever looks after the eye, and the report's author, that nobody at the practice answers, and what to
    do."""
    wearer = session.get_one(Wearer, alert.wearer_id)
    entry = session.get_one(EntryRow, alert.entry_id)
    author = session.get(Person, entry.author_id) if entry.author_id and entry.verified else None
    _write(session, wearer, _around(session, wearer, author, now), NEWS.format(news), alert.level, now)


def _around(session: Session, wearer: Wearer, author: Person | None, now: datetime) -> list[Person]:
    """Whose right has ended since they sent a report hears no more of it."""
    guardians = guardians_of(session, wearer)
    people = [*guardians] if is_minor(wearer, now) else []
    own = session.get(Person, wearer.person_id) if wearer.person_id else None
    people += [own] if own else []
    people += [one for one in guardians if author is not None and one.id == author.id]
    return list({one.id: one for one in people}.values())


def _write(
    session: Session, wearer: Wearer, people: Iterable[Person], key: str, level: int, now: datetime
) -> None:
    values = {"level": level, "wearer_id": wearer.id}
    for person in people:
        ways = [(MAIL, person.email)] if person.email else []
        ways += [(PUSH, one.id) for one in subscriptions_of(session, person.id)]
        for channel, address in ways:
            session.add(
                Outbox(
                    practice_id=wearer.practice_id,
                    channel=channel,
                    address=address,
                    message={"key": key, "language": person.language, "values": values},
                    created_at=now,
                    due_at=now,
                )
            )
