"""Short ways to sync, below the web: somebody signed in, one round trip, one by a device key."""

from __future__ import annotations

import json
from typing import Any

from fakes import Clock
from people import PASSWORD
from sqlalchemy import func, select
from telling import entry, sign_in

from companion.phrasebook.phrases import Phrases
from companion.store.engine import Store
from companion.usecases import consents, device_keys, signing, syncing
from companion.usecases.actor import Actor
from companion.usecases.sync_request import Part, SyncRequest

ENGLISH = Phrases()
PHONE = "5f0c6f0e-8b0d-4c0e-9a53-4e1f5a3f2b10"


def signed_in(store: Store, clock: Clock, name: str, *, consent: bool = True) -> Actor:
    token = sign_in(store, name, PASSWORD, clock())
    with store.reading() as session:
        actor = signing.actor_for_token(session, token, clock())
    assert actor is not None
    if consent:
        with store.writing() as session:
            consents.give(session, actor, consents.TEXT_VERSION, "en", clock())
    return actor


def asked(clock: Clock, *, device: str = PHONE, key_held: str | None = None, **wearers: Any) -> SyncRequest:
    return SyncRequest(device, clock(), None, key_held, wearers.get("wearers", {}))


def go(
    store: Store, actor: Actor, clock: Clock, wearer_id: str = "", *entries: Any, cursor: int = 0
) -> dict[str, Any]:
    """Sync once; return the reply. It must be JSON."""
    parts = {wearer_id: Part(cursor, entries)} if wearer_id else {}
    reply = syncing.sync(store, actor, asked(clock, wearers=parts), ENGLISH, clock())
    return json.loads(json.dumps(reply, allow_nan=False))  # type: ignore[no-any-return]


def by_key(store: Store, key: str, clock: Clock, wearer_id: str, *entries: Any) -> dict[str, Any]:
    with store.reading() as session:
        sender = device_keys.bearer(session, key)
    assert sender is not None
    parts = {wearer_id: Part(0, entries)}
    return syncing.add_only(store, sender, asked(clock, wearers=parts), ENGLISH, clock())


def count(store: Store, what: Any) -> int:
    with store.reading() as session:
        return session.scalar(select(func.count()).select_from(what)) or 0


def lenses_in(clock: Clock, eyes: str = "both") -> dict[str, Any]:
    return entry("lenses_in", clock(), {"eyes": eyes})
