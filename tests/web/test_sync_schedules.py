"""Two guardians' phones on a bad network: 200 seeded schedules of taps, doubles, drops, delays and kills.

Whatever happens, in the end the house and both phones hold every entry exactly once, in one order.
"""

from __future__ import annotations

from copy import deepcopy
from datetime import date, timedelta
from random import Random
from typing import Any

import people
import pytest
from fakes import Clock
from flask import Flask
from flask.testing import FlaskClient
from people import Cast
from sqlalchemy import delete, select
from sync_phones import Phone, post
from telling import entry, report

from companion.store.engine import Store
from companion.store.models import EntryRow, Person, Practice, Refraction, Wearer
from companion.usecases import consents, signing
from companion.usecases.actor import actor_of

SCHEDULES, SHARE, QUICK = 200, 20, 20
STEPS = 30


def guardian(app: Flask, store: Store, clock: Clock, wearer: Wearer, name: str) -> Phone:
    with store.writing() as session:
        person = people.add_person(session, name, clock())
        people.add_guardian(session, session.merge(wearer), person, clock())
        session.commit()
    with store.writing() as session:
        token = signing.open_sign_in(session, person.id, clock(), "tests")
        consents.give(session, actor_of(session, person, ""), consents.TEXT_VERSION, "en", clock())
    return Phone(signed_in(app, token))


def signed_in(app: Flask, token: str) -> FlaskClient:
    client = app.test_client()
    with client.session_transaction() as browser:
        browser["_user_id"], browser["_fresh"] = token, True
    return client


def child(store: Store, cast: Cast, clock: Clock, name: str) -> Wearer:
    """A wearer of whom nothing was measured: no forecast is worked out, and a sync is quick."""
    with store.writing() as session:
        practice = session.get_one(Practice, cast.practices["mill"])
        pavel = session.get_one(Person, cast.people["Pavel"])
        wearer = people.add_wearer(session, practice, name, date(2016, 1, 1), clock(), pavel, nights_ago=1)
        session.execute(delete(Refraction).where(Refraction.wearer_id == wearer.id))
        session.commit()
        return wearer


def said(rng: Random, clock: Clock, logged: list[dict[str, Any]]) -> dict[str, Any]:
    """What somebody taps: something new, a correction or withdrawal of something tapped here, a double tap."""
    at = clock() - timedelta(minutes=rng.choice([0, 0, 15, 60, 500]))
    match rng.randrange(8):
        case 0 | 1:
            return entry(
                rng.choice(["lenses_in", "lenses_out"]), at, {"eyes": rng.choice(["both", "right", "left"])}
            )
        case 2:
            return entry("no_lenses", at, {"eyes": "both", "night": at.date().isoformat()})
        case 3:
            return entry("sight", at, {"eye": "right", "word": rng.choice(["sharp", "soft"])})
        case 4:
            return (
                report(at, right={"redness": "pink"})
                if rng.random() < 0.2
                else entry("note", at, {"text": "Well."})
            )
        case 5 if any(one["kind"] == "lenses_in" for one in logged):
            target = rng.choice([one for one in logged if one["kind"] == "lenses_in"])
            anew = {"replaces": target["id"], "kind": "lenses_in", "at": at.isoformat(), "zone": target["zone"]}
            return entry("correction", at, {**anew, "payload": {"eyes": "both"}})
        case 6 if any(one["kind"] == "note" for one in logged):
            target = rng.choice([one for one in logged if one["kind"] == "note"])
            return entry("withdrawal", at, {"withdraws": target["id"]})
        case 7 if logged:
            return rng.choice(logged)
    return entry("note", at, {"text": "A new case."})


def run(app: Flask, store: Store, cast: Cast, clock: Clock, seed: int) -> None:
    rng = Random(seed)
    wearer = child(store, cast, clock, f"Child {seed}")
    phones = [guardian(app, store, clock, wearer, f"{name}{seed}") for name in ("ann", "bob")]
    logged: dict[int, list[dict[str, Any]]] = {0: [], 1: []}
    late: list[tuple[int, dict[str, Any]]] = []  # replies and old requests that are still under way

    def fly(which: int, body: dict[str, Any]) -> None:
        answer = post(phones[which].client, body)
        assert answer.status_code == 200
        reply = answer.get_json()
        fate = rng.random()
        if fate < 0.55:
            phones[which].settle(reply)
        elif fate < 0.75:
            late.append((which, {"reply": reply}))

    for _ in range(STEPS):
        which = rng.randrange(2)
        clock.advance(minutes=rng.randrange(0, 90))
        match rng.choice(["tap", "tap", "sync", "sync", "double", "drop", "delay", "arrive", "kill"]):
            case "tap":
                raw = said(rng, clock, logged[which])
                phones[which].log(wearer.id, raw)
                if raw not in logged[which]:
                    logged[which].append(raw)
            case "sync":
                fly(which, phones[which].body(clock(), most=rng.choice([1, 2, 200])))
            case "double":
                body = phones[which].body(clock())
                fly(which, body)
                fly(which, body)
            case "drop":
                phones[which].body(clock())
            case "delay":
                late.append((which, {"body": deepcopy(phones[which].body(clock()))}))
            case "arrive" if late:
                whose, what = late.pop(rng.randrange(len(late)))
                if "reply" in what:
                    phones[whose].settle(what["reply"])
                else:
                    fly(whose, what["body"])
            case "kill":  # what was kept is still there; what was under way to this phone is not
                late = [(whose, what) for whose, what in late if whose != which or "body" in what]
    rng.shuffle(late)
    for whose, what in late:
        if "body" in what:
            post(phones[whose].client, what["body"])
        else:
            phones[whose].settle(what["reply"])
    for phone in (*phones, *phones):
        while phone.sync(clock())["wearers"][0]["more"] or phone.waiting:
            pass
    agree(store, wearer.id, phones, logged)


def agree(store: Store, wearer_id: str, phones: list[Phone], logged: dict[int, list[dict[str, Any]]]) -> None:
    with store.reading() as session:
        rows = session.scalars(
            select(EntryRow).where(EntryRow.wearer_id == wearer_id).order_by(EntryRow.seq)
        ).all()
    assert [row.seq for row in rows] == list(range(1, len(rows) + 1))
    tapped = [raw["id"] for one in logged.values() for raw in one]
    refused = {one for phone in phones for one in phone.rejected}
    assert sorted(row.id for row in rows) == sorted(set(tapped) - refused)
    # A withdrawal of what was withdrawn already, and a correction after it, are refused and stay in sight.
    assert {one["code"] for phone in phones for one in phone.rejected.values()} <= {"withdrawal_stays"}
    for phone in phones:
        assert not phone.waiting
        assert {one: seen["seq"] for one, seen in phone.seen[wearer_id].items()} == {
            row.id: row.seq for row in rows
        }
        assert phone.cursors[wearer_id] == len(rows)


@pytest.mark.parametrize(
    "first",
    [
        pytest.param(first, marks=pytest.mark.slow if first >= QUICK else ())
        for first in range(0, SCHEDULES, SHARE)
    ],
)
def test_H15_nothing_is_lost_and_nothing_counts_twice(
    app: Flask, store: Store, cast: Cast, clock: Clock, first: int
) -> None:
    for seed in range(first, first + SHARE):
        run(app, store, cast, clock, seed)
