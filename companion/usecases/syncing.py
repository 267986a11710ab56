"""One round trip of a phone: its entries in, then what it may know. The one use case that composes others.

Each wearer's batch is a transaction of its own and stands whatever becomes of the rest; reading comes after.
Everything is by id, so a reply that never arrives costs nothing: the phone sends the same again.
"""

from __future__ import annotations

import logging
from collections.abc import Sequence
from datetime import date, datetime, timedelta
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from companion.access import Action, Role, may
from companion.common.errors import NotAllowed, NotFound, Problem
from companion.common.moments import zone
from companion.diary.nights import Habits
from companion.phrasebook.phrases import Phrases
from companion.phrasebook.problems import problem_text
from companion.store.engine import Store
from companion.store.models import EntryRow, Person, Report, Wearer, WearerState
from companion.store.queries.entries import entries_after
from companion.usecases import care, device_keys, diary_pages, languages, signing, tonight
from companion.usecases.actor import Actor, roles_towards, wearer_for
from companion.usecases.consents import consent_due
from companion.usecases.recording import Receipt, Rejection, record_entries
from companion.usecases.showing import iso, wearer_plain
from companion.usecases.sync_request import VERSION, Part, SyncRequest

MOST_SHOWN = 500
SKEW_NOTED = timedelta(minutes=2)
SIGN_IN_FIRST, CONSENT_FIRST = "sign_in_first", "consent_first"

log = logging.getLogger(__name__)


def sync(
    store: Store, actor: Actor, asked: SyncRequest, phrases: Phrases, now: datetime, *, demo: bool = False
) -> dict[str, Any]:
    """Take what a signed-in person's phone has, and answer with what it may know of each wearer.

    Whoever still has to agree to the keeping of a diary is shown nothing and gets only reports through.
    """
    with store.reading() as session:
        closed = consent_due(session, actor)
        known = [one.id for one in signing.wearers_of(session, actor)]
        key_due = device_keys.is_due(session, actor, asked.device, asked.key_held)
    parts = {wearer_id: asked.wearers.get(wearer_id, Part()) for wearer_id in (*asked.wearers, *known)}
    wearers, gone = [], []
    for wearer_id, part in parts.items():
        receipt = _take(store, actor, wearer_id, part, now, only_reports=closed)
        with store.reading() as session:
            wearer = _open_to(session, actor, wearer_id)
            shown: dict[str, Any] = {"cursor": part.cursor, "entries": [], "more": False}
            if wearer and not closed:
                shown = _shown(session, actor, wearer, part.cursor, receipt, now)
                shown["speech"] = languages.speech(session, [wearer.practice_id], phrases.language, demo)
                shown["language"] = phrases.language.tag  # in which that speech holds, and in no other
        if wearer is None:
            gone.append(wearer_id)
        if wearer or receipt:
            wearers.append({**_said(wearer_id, receipt or Receipt(), phrases), **shown})
    reply = _head(asked, now)
    customs = {"digits": phrases.numbering, "hour_cycle": actor.hour_cycle, "theme": actor.theme}
    customs["text_size"] = actor.text_size
    reply["account"] = {"id": actor.person_id, "name": actor.name, "language": actor.language, **customs}
    reply |= {"consent_due": closed, "wearers": wearers, "gone": gone}
    if key_due:
        with store.writing() as session:
            reply["device_key"] = device_keys.set_up(session, actor, asked.device, now)
    return reply


def add_only(store: Store, sender: Actor, asked: SyncRequest, phrases: Phrases, now: datetime) -> dict[str, Any]:
    """Take reports of trouble from a phone that has but its device key, unverified. It is told nothing else.

    ``sender`` is the key's bearer. Whatever is no report waits on the phone for a sign-in.
    """
    said = []
    for wearer_id, part in asked.wearers.items():
        receipt = _take(store, sender, wearer_id, part, now, only_reports=True)
        if part.entries:
            said.append(_said(wearer_id, receipt or _all(part, SIGN_IN_FIRST), phrases, refused=SIGN_IN_FIRST))
    return {**_head(asked, now), "wearers": said, "gone": []}


def _head(asked: SyncRequest, now: datetime) -> dict[str, Any]:
    skew = asked.sent_at - now
    if abs(skew) > SKEW_NOTED:
        log.info("the clock of device %s is off by %d s", asked.device, skew.total_seconds())
    return {"version": VERSION, "now": iso(now, zone("UTC")), "skew_s": round(skew.total_seconds())}


def _take(
    store: Store, actor: Actor, wearer_id: str, part: Part, now: datetime, *, only_reports: bool
) -> Receipt | None:
    """Record a batch. None: there was nothing to record, or no such wearer as far as this person can tell."""
    if not part.entries:
        return None
    kept: Receipt = Receipt()
    raw: Sequence[object] = part.entries
    if only_reports:
        reports = [one for one in raw if isinstance(one, dict) and one.get("kind") == "symptom_report"]
        kept = _all(Part(entries=[one for one in raw if one not in reports]), CONSENT_FIRST)
        raw = reports
    try:
        with store.writing() as session:
            receipt = record_entries(session, actor, wearer_id, raw, now)
    except NotFound:
        return None
    except NotAllowed:
        receipt = _all(Part(entries=raw), "not_allowed")
    receipt.rejected += kept.rejected
    return receipt


def _all(part: Part, code: str) -> Receipt:
    """Refuse every entry of a batch."""
    ids = [one.get("id") if isinstance(one, dict) else None for one in part.entries]
    return Receipt(rejected=[Rejection(str(one or "")[:64], (Problem(code, "kind"),)) for one in ids])


def _said(wearer_id: str, receipt: Receipt, phrases: Phrases, refused: str | None = None) -> dict[str, Any]:
    """What became of a batch. ``refused`` stands in for the codes of what only a sign-in would change."""
    rejected = []
    for one in receipt.rejected:
        problem = one.problems[0]
        if refused and problem.code in ("not_allowed", CONSENT_FIRST):
            problem = Problem(refused, problem.field)
        said = problem_text(phrases, problem)
        rejected.append({"id": one.id, "code": problem.code, "field": problem.field, "said": said})
    return {"id": wearer_id, "accepted": receipt.accepted, "rejected": rejected}


def _open_to(session: Session, actor: Actor, wearer_id: str) -> Wearer | None:
    """Load a wearer of whom this person may see something on a phone; None: as far as they can tell, nobody."""
    try:
        return wearer_for(session, actor, wearer_id, Action.SEE_TONIGHT)
    except (NotFound, NotAllowed):
        return None


def _shown(
    session: Session, actor: Actor, wearer: Wearer, cursor: int, receipt: Receipt | None, now: datetime
) -> dict[str, Any]:
    """What this person may know of a wearer."""
    roles = roles_towards(session, actor, wearer)
    view = tonight.tonight(session, actor, wearer.id, now)
    return {
        **wearer_plain(wearer, now),
        "may": sorted(action for action in Action if may(roles, action)),
        "reports": _reports(session, receipt),
        **_diary(session, actor, wearer, cursor, roles),
        "tonight": view,
        "hours": _hours(wearer, view["night"]),
        "pages": _pages(session, actor, wearer, roles, now),
    }


def _pages(
    session: Session, actor: Actor, wearer: Wearer, roles: frozenset[Role], now: datetime
) -> dict[str, dict[str, Any] | None]:
    """What the phone paints its other pages from; None: not for this person."""
    own = may(roles, Action.SEE_OWN_PAGES)
    return {
        "diary": diary_pages.for_phone(session, actor, wearer.id, now) if own else None,
        "care": care.care(session, actor, wearer.id, now) if may(roles, Action.SEE_CARE) else None,
    }


def _reports(session: Session, receipt: Receipt | None) -> list[dict[str, Any]]:
    """How the reports that came with this sync were judged."""
    rows = [session.get_one(Report, one) for one in receipt.reports] if receipt and receipt.verified else []
    return [
        {
            "entry_id": row.entry_id,
            "level": row.level,
            "eyes": {"right": row.right_level, "left": row.left_level},
            "lens": row.lens,
            "wear_hold": row.wear_hold,
        }
        for row in rows
    ]


def _diary(session: Session, actor: Actor, wearer: Wearer, cursor: int, roles: frozenset[Role]) -> dict[str, Any]:
    """The entries after the cursor and what was worked out from all of them; nothing for who sees but tonight."""
    if not may(roles, Action.SEE_OWN_PAGES):
        return {"entries": [], "cursor": 0, "more": False, "forecast": None, "curve": None}
    if cursor > wearer.last_seq:  # a number that we never gave: the house was restored from an older copy
        cursor = 0
    rows = entries_after(session, wearer, cursor, MOST_SHOWN + 1)
    more, rows = len(rows) > MOST_SHOWN, rows[:MOST_SHOWN]
    state = session.get(WearerState, (wearer.practice_id, wearer.id))
    return {
        "entries": _entries(session, actor, rows),
        "cursor": rows[-1].seq if rows else cursor,
        "more": more,
        "forecast": state.forecast if state else None,
        "curve": state.curve if state else None,
    }


def _entries(session: Session, actor: Actor, rows: Sequence[EntryRow]) -> list[dict[str, Any]]:
    names = {
        one.id: one.name
        for one in session.scalars(select(Person).where(Person.id.in_({row.author_id for row in rows})))
    }
    return [
        {
            "id": row.id,
            "seq": row.seq,
            "kind": row.kind,
            "author": names.get(row.author_id or ""),
            "mine": row.author_id == actor.person_id,
            "at": iso(row.at, zone(row.zone)),
            "zone": row.zone,
            "made_at": iso(row.made_at, zone("UTC")),
            "received_at": iso(row.received_at, zone("UTC")),
            "payload": row.payload,
        }
        for row in rows
    ]


def _hours(wearer: Wearer, night: str) -> dict[str, Any]:
    """When lenses usually go in and come out tonight, and when one night ends."""
    habits = Habits(zone(wearer.zone), wearer.split_hour, wearer.usual_in, wearer.usual_out)
    usual_in, usual_out = habits.usual_wear(date.fromisoformat(night))
    return {
        "in": iso(usual_in, habits.home),
        "out": iso(usual_out, habits.home),
        "split": wearer.split_hour.strftime("%H:%M"),
    }
