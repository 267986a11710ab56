"""Passes for carers: a grandparent for a night, a camp for a week. A link that shows little, and lapses.

The carrier of a pass becomes a person without a log-in, so that what they report has an author. The pass's link
opens a sign-in that is worth what the pass is worth, at any time: it is asked again at every request.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from companion.access import Action
from companion.common.errors import NotFound
from companion.common.ids import is_id
from companion.common.moments import night_bounds, night_of, zone
from companion.store.models import CarerPass, Person, Practice, Wearer
from companion.usecases import passwords
from companion.usecases.actor import Actor, is_good, wearer_for
from companion.usecases.audit import note
from companion.usecases.forms import Reading
from companion.usecases.showing import iso, practice_now, wearer_plain
from companion.usecases.signing import open_sign_in

LASTS: Mapping[str, timedelta | int] = {"hours_12": timedelta(hours=12), "1": 1, "2": 2, "3": 3, "7": 7, "14": 14}
"""How long a pass may last: a few hours, or nights, each ending with the morning that follows it."""


def issue(session: Session, actor: Actor, wearer_id: str, form: Mapping[str, str], now: datetime) -> str:
    """Give a pass. Returns the link's token, which is never shown again."""
    wearer = wearer_for(session, actor, wearer_id, Action.GIVE_PASS)
    read = Reading(form)
    name = read.text("name", longest=80)
    lasts = read.choice("lasts", tuple(LASTS))
    read.finish()
    carrier = Person(name=name, language=form.get("language") or actor.language, created_at=now)
    session.add(carrier)
    session.flush()
    token = passwords.new_token()
    row = CarerPass(
        practice_id=wearer.practice_id,
        wearer_id=wearer.id,
        person_id=carrier.id,
        token_hash=passwords.token_hash(token),
        issued_by=actor.person_id,
        created_at=now,
        expires_at=_end(wearer, LASTS[lasts], now),
    )
    session.add(row)
    session.flush()
    note(session, wearer.practice_id, actor.person_id, "issue", "pass", row.id, now)
    session.commit()
    return token


def revoke(session: Session, actor: Actor, wearer_id: str, pass_id: str, now: datetime) -> None:
    """End a pass now. Ending it twice changes nothing."""
    wearer = wearer_for(session, actor, wearer_id, Action.GIVE_PASS)
    row = session.get(CarerPass, pass_id) if is_id(pass_id) else None
    if row is None or (row.practice_id, row.wearer_id) != (wearer.practice_id, wearer.id):
        raise NotFound("pass")
    if row.revoked_at is None:
        row.revoked_at = now
        note(session, row.practice_id, actor.person_id, "revoke", "pass", row.id, now)
    session.commit()


def passes(session: Session, actor: Actor, wearer_id: str, now: datetime) -> dict[str, Any]:
    """The passes of a wearer that are good now, and how long a new one may last."""
    wearer = wearer_for(session, actor, wearer_id, Action.GIVE_PASS)
    given = passes_plain(session, wearer, now)
    return {"wearer": wearer_plain(wearer, now), "passes": given, "lasts": list(LASTS)}


def passes_plain(session: Session, wearer: Wearer, now: datetime) -> list[dict[str, Any]]:
    rows = session.execute(
        select(CarerPass, Person)
        .join(Person, Person.id == CarerPass.person_id)
        .where(CarerPass.practice_id == wearer.practice_id, CarerPass.wearer_id == wearer.id)
        .order_by(CarerPass.expires_at, CarerPass.id)
    )
    where = zone(wearer.zone)
    return [
        {"id": row.id, "name": carrier.name, "expires_at": iso(row.expires_at, where)}
        for row, carrier in rows
        if is_good(row, now)
    ]


def look(session: Session, token: str, now: datetime) -> dict[str, Any]:
    """Show whose pass this is, and who gave it, before it is opened. NotFound when it has lapsed or is unknown."""
    row = _good(session, token, now)
    wearer, practice = session.get_one(Wearer, row.wearer_id), session.get_one(Practice, row.practice_id)
    where = zone(wearer.zone)
    return {
        "name": session.get_one(Person, row.person_id).name,
        "given_by": session.get_one(Person, row.issued_by).name,
        "wearer": wearer_plain(wearer, now),
        "practice": practice_now(practice, now, where),
        "expires_at": iso(row.expires_at, where),
        "language": session.get_one(Person, row.person_id).language,
    }


def open_pass(session: Session, token: str, now: datetime, agent: str = "") -> str:
    """Sign the carrier in, as often as the link is opened while it is good. Returns the sign-in's token."""
    row = _good(session, token, now)
    sign_in_token = open_sign_in(session, row.person_id, now, agent, pass_id=row.id)
    note(session, row.practice_id, row.person_id, "open", "pass", row.id, now)
    session.commit()
    return sign_in_token


def _good(session: Session, token: str, now: datetime) -> CarerPass:
    row = session.scalar(select(CarerPass).where(CarerPass.token_hash == passwords.token_hash(token)))
    if row is None or not is_good(row, now) or session.get_one(Wearer, row.wearer_id).ended_at is not None:
        raise NotFound("pass")
    return row


def _end(wearer: Wearer, lasts: timedelta | int, now: datetime) -> datetime:
    if isinstance(lasts, timedelta):
        return now + lasts
    where = zone(wearer.zone)
    tonight = night_of(now, where, wearer.split_hour)
    return night_bounds(tonight + timedelta(days=lasts - 1), where, wearer.split_hour)[1]
