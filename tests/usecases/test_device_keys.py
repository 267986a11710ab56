"""The key that a sign-in leaves on a phone: it adds reports, unverified, shows nothing, and can be ended."""

from __future__ import annotations

from uuid import uuid4

import pytest
from fakes import Clock
from people import PASSWORD, Cast
from sqlalchemy import select
from syncers import ENGLISH, PHONE, asked, by_key, count, lenses_in, signed_in
from telling import RED_PAIN, report

from companion.store.engine import Store
from companion.store.models import Alert, DeviceKey, EntryRow
from companion.usecases import account, device_keys, recovery, signing, syncing
from companion.usecases.actor import Actor
from companion.usecases.guardianships import end_guardianship


@pytest.fixture
def gwen(store: Store, cast: Cast, clock: Clock) -> Actor:
    return signed_in(store, clock, "gwen")


@pytest.fixture
def gus(store: Store, cast: Cast, clock: Clock) -> Actor:
    return signed_in(store, clock, "gus")


def key_of(store: Store, actor: Actor, clock: Clock, device: str = PHONE, held: str | None = None) -> str | None:
    reply = syncing.sync(store, actor, asked(clock, device=device, key_held=held), ENGLISH, clock())
    key: str | None = reply.get("device_key")
    return key


def test_the_first_sync_of_a_sign_in_leaves_a_key_once(
    store: Store, cast: Cast, clock: Clock, gwen: Actor
) -> None:
    key = key_of(store, gwen, clock)
    assert key is not None
    assert key_of(store, gwen, clock) is None
    assert key_of(store, gwen, clock, held=key.partition(".")[0]) is None
    with store.reading() as session:
        stored = session.scalars(select(DeviceKey)).one()
    assert key.partition(".")[2] not in stored.secret_hash, "kept as a hash alone"


def test_a_key_whose_reply_was_lost_is_given_anew_and_replaces_the_lost_one(
    store: Store, cast: Cast, clock: Clock, gwen: Actor
) -> None:
    lost = key_of(store, gwen, clock)
    key = key_of(store, gwen, clock, held=str(uuid4()))
    assert key and lost and key != lost
    with store.reading() as session:
        assert device_keys.bearer(session, lost) is None
        assert device_keys.bearer(session, key) is not None


def test_H11_a_key_adds_reports_unverified_and_shows_nothing(
    store: Store, cast: Cast, clock: Clock, gwen: Actor
) -> None:
    nola, key = cast.wearers["Nola"], key_of(store, gwen, clock)
    assert key
    with store.writing() as session:
        signing.sign_out(session, gwen, clock())
    said, tap = report(clock(), right=RED_PAIN), lenses_in(clock)
    for _ in range(2):
        reply = by_key(store, key, clock, nola, said, tap)
        assert reply.keys() == {"version", "now", "skew_s", "wearers", "gone"}
        (shown,) = reply["wearers"]
        assert shown.keys() == {"id", "accepted", "rejected"}
        assert shown["accepted"] == [said["id"]]
        assert [(one["id"], one["code"]) for one in shown["rejected"]] == [(tap["id"], "sign_in_first")]
        assert "Sign in" in shown["rejected"][0]["said"]
    with store.reading() as session:
        assert session.scalars(select(EntryRow.verified)).all() == [False]
    assert count(store, Alert) == 1


@pytest.mark.parametrize("about", ["Timo", "Lea", None])
def test_a_key_learns_nothing_of_others_wearers(
    store: Store, cast: Cast, clock: Clock, gwen: Actor, about: str | None
) -> None:
    key, wearer_id = key_of(store, gwen, clock), cast.wearers[about] if about else str(uuid4())
    assert key
    reply = by_key(store, key, clock, wearer_id, report(clock(), right=RED_PAIN), lenses_in(clock))
    (shown,) = reply["wearers"]
    assert (shown["accepted"], reply["gone"]) == ([], [])
    assert {one["code"] for one in shown["rejected"]} == {"sign_in_first"}
    assert count(store, EntryRow) == 0


def test_a_key_is_nothing_without_its_secret(store: Store, cast: Cast, clock: Clock, gwen: Actor) -> None:
    key = key_of(store, gwen, clock)
    assert key
    with store.reading() as session:
        for wrong in ("", ".", key.partition(".")[0], key + "x", f"{uuid4()}.{key.partition('.')[2]}", "é.é"):
            assert device_keys.bearer(session, wrong) is None


@pytest.mark.parametrize("how", ["ended", "others", "password", "recovery", "removal"])
def test_what_ends_a_key(store: Store, cast: Cast, clock: Clock, gwen: Actor, gus: Actor, how: str) -> None:
    """A lost phone, a new password, a recovery or a removal takes the key along; signing out there does not."""
    nola, asta = cast.wearers["Nola"], signed_in(store, clock, "asta", consent=False)
    key, elsewhere = key_of(store, gus, clock), signed_in(store, clock, "gus")
    assert key
    with store.writing() as session:
        match how:
            case "ended":
                account.end_sign_in(session, elsewhere, gus.sign_in_id, clock())
            case "others":
                account.end_other_sign_ins(session, elsewhere, clock())
            case "password":
                form = {
                    "old": PASSWORD,
                    "password": "other plain long words",
                    "password_again": "other plain long words",
                }
                new = account.read_new_password(session, elsewhere, form)
                account.change_password(session, elsewhere, new, clock())
            case "recovery":
                token = recovery.start_at_the_desk(session, asta, gus.person_id, clock())
                recovery.use(session, token, "hash", clock())
            case "removal":
                end_guardianship(session, asta, nola, gus.person_id, clock())
    with store.reading() as session:
        assert device_keys.bearer(session, key) is None
    if how == "removal":
        assert key_of(store, gus, clock) is None, "there is nobody left to report about"


def test_a_key_of_a_sign_in_that_is_over_is_listed_and_can_be_ended(
    store: Store, cast: Cast, clock: Clock, gwen: Actor
) -> None:
    key = key_of(store, gwen, clock)
    assert key
    with store.writing() as session:
        signing.sign_out(session, gwen, clock())
    here = signed_in(store, clock, "gwen")
    with store.reading() as session:
        rows = account.sign_ins(session, here, clock())
    assert [(row["id"], row["here"], row["reports_only"]) for row in rows] == [
        (here.sign_in_id, True, False), (gwen.sign_in_id, False, True),
    ]  # fmt: skip
    with store.writing() as session:
        account.end_sign_in(session, here, gwen.sign_in_id, clock())
    with store.reading() as session:
        assert device_keys.bearer(session, key) is None
        assert len(account.sign_ins(session, here, clock())) == 1
