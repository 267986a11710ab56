"""Short ways to write entries and actors in tests of the use cases."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta
from typing import Any
from uuid import uuid4

from companion.store.engine import Store
from companion.store.models import Person
from companion.triage.answers import answers_from_file
from companion.usecases import invitations, signing
from companion.usecases.actor import Actor, actor_of
from companion.usecases.recording import Receipt, record_entries

ZONE = "Europe/London"


def actor_named(store: Store, person_id: str) -> Actor:
    with store.reading() as session:
        return actor_of(session, session.get_one(Person, person_id), "no-sign-in")


def sign_in(store: Store, login: str, password: str, now: datetime, agent: str = "") -> str:
    """Sign in as the page does: the password checked first, the writer's lock after. Returns the token."""
    with store.reading() as session:
        proof = signing.check_password(session, login, password)
    with store.writing() as session:
        return signing.sign_in(session, proof, now, agent)


def join(store: Store, token: str, form: Mapping[str, str], now: datetime) -> str:
    """Accept an invitation with a new account. Returns the sign-in's token."""
    with store.reading() as session:
        account = invitations.read_form(session, token, form, now)
    with store.writing() as session:
        return invitations.accept(session, token, account, now)


def entry(kind: str, at: datetime, payload: dict[str, Any], **frame: Any) -> dict[str, Any]:
    return {
        "id": str(uuid4()),
        "kind": kind,
        "at": at.isoformat(),
        "zone": ZONE,
        "made_at": at.isoformat(),
        "payload": payload,
        **frame,
    }


def report(at: datetime, **answers: dict[str, str]) -> dict[str, Any]:
    """A report whose author answered every question, those not named here with the best option."""
    return entry("symptom_report", at, {"answers": answers_from_file(answers).document()})


RED_PAIN = {"redness": "red", "pain": "moderate"}


def worn_nights(now: datetime, nights: int) -> Iterable[dict[str, Any]]:
    """Lenses in at 21:30 and out at 06:30 for the ``nights`` before the evening of ``now``."""
    evening = now.replace(hour=21, minute=30, second=0, microsecond=0)
    for ago in range(nights, 0, -1):
        at = evening - timedelta(days=ago)
        yield entry("lenses_in", at, {"eyes": "both"})
        yield entry("lenses_out", at + timedelta(hours=9), {"eyes": "both"})


def tell(store: Store, actor: Actor, wearer_id: str, now: datetime, *entries: dict[str, Any]) -> Receipt:
    with store.writing() as session:
        return record_entries(session, actor, wearer_id, list(entries), now)
