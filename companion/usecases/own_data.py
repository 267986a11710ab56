"""What is stored about us, to read and to take away: one's own account, and the diaries that one may read."""

from __future__ import annotations

from collections import Counter
from datetime import datetime
from typing import Any
from urllib.parse import urlsplit

from sqlalchemy import select
from sqlalchemy.orm import Session

from companion.access import Action, may
from companion.common.moments import zone
from companion.store.models import EntryRow, Person, Practice, Wearer
from companion.store.queries.alerts import reports_of
from companion.store.queries.channels import subscriptions_of
from companion.store.queries.days import days_of
from companion.store.queries.photos import photos_of_wearer
from companion.store.queries.prescriptions import clearance_of, lenses_of, plans_of, refractions_of, visits_of
from companion.usecases import account, consents
from companion.usecases.actor import Actor, own_account, roles_towards
from companion.usecases.guardianships import guardians_of
from companion.usecases.showing import iso, wearer_plain
from companion.usecases.signing import wearers_of

FORMAT = "companion-own-data"


def summary(session: Session, actor: Actor, now: datetime) -> dict[str, Any]:
    """What is kept, in numbers, for a page."""
    person = own_account(session, actor)
    return {
        "name": person.name,
        "login": account.login_of(person),
        "sign_ins": sum(not one["reports_only"] for one in account.sign_ins(session, actor, now)),
        "devices": len(subscriptions_of(session, actor.person_id)),
        "consents": consents.history(session, actor),
        "wearers": [_counts(session, wearer, now) for wearer in _readable(session, actor)],
    }


def export(session: Session, actor: Actor, now: datetime) -> dict[str, Any]:
    """The same in full, for a file. Other people appear by name alone."""
    person = own_account(session, actor)
    return {
        "format": FORMAT,
        "version": 1,
        "made_at": now.isoformat(timespec="seconds"),
        "account": {
            "name": person.name,
            **account.login_of(person),
            **account.preferences_of(person),
            "created_at": person.created_at.isoformat(timespec="seconds"),
        },
        "sign_ins": [
            {key: one[key] for key in ("agent", "since", "here", "reports_only")}
            for one in account.sign_ins(session, actor, now)
        ],
        "alerts_on": [
            {
                "agent": one.device_name,
                "since": one.created_at.isoformat(timespec="seconds"),
                "pushed_by": urlsplit(one.endpoint).hostname,
                "says_more": one.says_more,
            }
            for one in subscriptions_of(session, actor.person_id)
        ],
        "consents": consents.history(session, actor),
        "wearers": [_in_full(session, wearer, now) for wearer in _readable(session, actor)],
    }


def _readable(session: Session, actor: Actor) -> list[Wearer]:
    return [
        one
        for one in wearers_of(session, actor)
        if may(roles_towards(session, actor, one), Action.SEE_OWN_PAGES)
    ]


def _counts(session: Session, wearer: Wearer, now: datetime) -> dict[str, Any]:
    rows = _entries(session, wearer)
    return {
        **wearer_plain(wearer, now),
        "practice": session.get_one(Practice, wearer.practice_id).name,
        "since": iso(min((row.at for row in rows), default=None), zone(wearer.zone)),
        "entries": dict(Counter(row.kind for row in rows)),
        "photos": len(photos_of_wearer(session, wearer)),
        "days_that_matter": len(days_of(session, wearer)),
        "guardians": [one.name for one in guardians_of(session, wearer)],
    }


def _in_full(session: Session, wearer: Wearer, now: datetime) -> dict[str, Any]:
    where = zone(wearer.zone)
    rows = _entries(session, wearer)
    names = {
        one.id: one.name
        for one in session.scalars(select(Person).where(Person.id.in_({row.author_id for row in rows})))
    }
    return {
        **wearer_plain(wearer, now),
        "birth_date": wearer.birth_date.isoformat(),
        "usual_in": wearer.usual_in.strftime("%H:%M"),
        "usual_out": wearer.usual_out.strftime("%H:%M"),
        "practice": session.get_one(Practice, wearer.practice_id).name,
        "guardians": [one.name for one in guardians_of(session, wearer)],
        "entries": [
            {
                "kind": row.kind,
                "at": iso(row.at, zone(row.zone)),
                "received_at": iso(row.received_at, where),
                "by": names.get(row.author_id or ""),
                "payload": row.payload,
            }
            for row in rows
        ],
        "reports": [
            {"at": iso(one.judged_at, where), "level": one.level, "rules_version": one.rules_version}
            for one in reports_of(session, wearer)
        ],
        "photos": [
            {
                "eye": one.eye,
                "received_at": iso(one.received_at, where),
                "by": names.get(one.author_id),
                "width": one.width,
                "height": one.height,
                "at": f"/w/{wearer.id}/photos/{one.id}.jpg",
            }
            for one in photos_of_wearer(session, wearer)
        ],
        "plans": [
            {
                "since": one.since.isoformat(),
                "every": one.every,
                "weekdays": one.weekdays,
                "target_acuity_logmar": one.target_acuity_logmar,
                "target_until": one.target_until.strftime("%H:%M"),
            }
            for one in plans_of(session, wearer)
        ],
        "days_that_matter": [
            {
                "day": one.day.isoformat(),
                "starts": one.starts.strftime("%H:%M"),
                "ends": one.ends.strftime("%H:%M"),
                "label": one.label,
                "driving": one.driving,
            }
            for one in days_of(session, wearer)
        ],
        "may_skip": (clearance := clearance_of(session, wearer)) is not None and clearance.may_skip,
        "lenses": [
            {"eye": one.eye, "since": one.since.isoformat(), "marked_as": one.marked_as, "aim_d": one.aim_d}
            for one in lenses_of(session, wearer)
        ],
        "refractions": [
            {
                "eye": one.eye,
                "kind": one.kind,
                "measured_at": iso(one.measured_at, where),
                "sphere_d": one.sphere_d,
                "cylinder_d": one.cylinder_d,
                "axis_deg": one.axis_deg,
            }
            for one in refractions_of(session, wearer)
        ],
        "visits": [
            {
                "due_on": one.due_on.isoformat(),
                "kind": one.kind,
                "done_on": one.done_on.isoformat() if one.done_on else None,
            }
            for one in visits_of(session, wearer)
        ],
    }


def _entries(session: Session, wearer: Wearer) -> list[EntryRow]:
    return list(
        session.scalars(
            select(EntryRow)
            .where(EntryRow.practice_id == wearer.practice_id, EntryRow.wearer_id == wearer.id)
            .order_by(EntryRow.seq)
        )
    )
