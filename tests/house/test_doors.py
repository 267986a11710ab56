"""Who gets past which door: every route, as everybody. The table is ``doors.py``; a route without a row fails."""

from __future__ import annotations

import hashlib
import re
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from datetime import datetime, timedelta
from io import BytesIO
from pathlib import Path
from typing import Any

import people
import pytest
from doors import DAY, DOORS, ON, REFUSED, SHOWN, SIGN_IN, UNKNOWN, Door
from fakes import Clock
from flask import Flask, url_for
from flask.testing import FlaskClient
from people import EVENING
from sqlalchemy import select
from werkzeug.test import TestResponse

from companion.app import create_app
from companion.clockwork.worker import ticker
from companion.common.ids import new_id
from companion.config import Settings
from companion.exchange.picture import read_picture
from companion.store.engine import Store
from companion.store.models import (
    Alert,
    AlertTest,
    CarerPass,
    DayThatMatters,
    Hold,
    Invitation,
    Person,
    Practice,
    Recovery,
    Visit,
    Wearer,
)
from companion.usecases import consents, handover, passes, photos, recovery, signing
from companion.usecases.actor import Actor, actor_of
from companion.usecases.days import add_day
from companion.usecases.guardianships import end_guardianship
from companion.usecases.invitations import invite
from companion.usecases.recording import record_entries

VISITORS = {
    # column of the table: who knocks, and whose record they ask for
    "nobody": [(None, "Nola")],
    "family": [("Gwen", "Nola"), ("Wim", "Wim")],
    "stranger": [("Hedda", "Nola"), ("Wim", "Nola")],
    "assistant": [("Asta", "Nola")],
    "practitioner": [("Pavel", "Nola")],
    "manager": [("Mina", "Nola")],
    "elsewhere": [("Otto", "Nola"), ("Petra", "Nola"), ("Mark", "Nola")],
    "carer": [("Carla", "Nola")],
    "lapsed": [("Lars", "Nola")],
    "removed": [("Rem", "Nola")],
}
SETTINGS = Settings(database_url="", secret_key="only for tests", sign_in_tries="1000 per minute")
INLINE_OR_ELSEWHERE = re.compile(
    r"""<style\b|<script(?![^>]*\bsrc=)|<[^>]+\s(?:style|on[a-z]+)\s*=|javascript:"""
    r"""|<[^>]+\s(?:src|href|action|srcset|poster|data)\s*=\s*["']?(?:[a-z]+:)?//""",
    re.IGNORECASE,
)
PHOTO = bytes.fromhex(
    "89504e470d0a1a0a0000000d4948445200000001000000010802000000907753de"
    "0000000c49444154789c633811100000034c0169854131a30000000049454e44ae"
    "426082"
)
"""A PNG of one pixel."""
RED_AND_PAINFUL = {"redness": "red", "pain": "severe"}


@dataclass(frozen=True)
class World:
    """A store with life in it, and for Nola and Wim what stands in the addresses of their pages."""

    file: Path
    ids: dict[str, dict[str, str]]
    tokens: dict[str, str]


@pytest.fixture(scope="module")
def world(migrated_file: Path, tmp_path_factory: pytest.TempPathFactory) -> World:
    file = tmp_path_factory.mktemp("doors") / "world.sqlite"
    shutil.copy(migrated_file, file)
    store = Store(f"sqlite:///{file}")
    ids, tokens = {}, {}
    with store.writing() as session:
        cast = people.settle(session, EVENING)
        nola = session.get_one(Wearer, cast.wearers["Nola"])
        rem = people.add_person(session, "Rem", EVENING)
        people.add_guardian(session, nola, rem, EVENING)
        cast.people["Rem"] = rem.id
        for practice in session.scalars(select(Practice)):
            practice.handover_age = 5
        session.commit()
    with store.writing() as session:
        end_guardianship(session, _actor(session, cast, "Asta"), nola.id, rem.id, EVENING)
    for name, person_id in cast.people.items():
        with store.writing() as session:
            tokens[name] = signing.open_sign_in(session, person_id, EVENING, "tests")
            actor = actor_of(session, session.get_one(Person, person_id), "")
            consents.give(session, actor, consents.TEXT_VERSION, "en", EVENING)
    for wearer, author, assistant in (("Nola", "Gwen", "Asta"), ("Wim", "Wim", "Asta"), ("Lea", "Gil", "Otto")):
        ids[wearer] = _fill(store, cast, wearer, author, assistant)
    tokens["Carla"] = _carrier(store, ids["Nola"]["pass_token"], EVENING)
    tokens["Lars"] = _lapsed(store, cast)
    worker = ticker(SETTINGS, store, Clock(EVENING))
    for job in worker.jobs:
        worker.tick(job)
    with store.engine.connect() as connection:
        connection.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)")
    store.close()
    return World(file, ids, tokens)


def _fill(store: Store, cast: people.Cast, wearer: str, author: str, assistant: str) -> dict[str, str]:
    """Let the family log a lens and report a red painful eye, and the practice and a co-guardian open ways in."""
    wearer_id, entry_id, report_id = cast.wearers[wearer], new_id(), new_id()
    frame = {"at": EVENING.isoformat(), "made_at": EVENING.isoformat(), "zone": people.ZONE}
    entries = [
        {"id": entry_id, "kind": "lenses_in", "payload": {"eyes": "both"}, **frame},
        {
            "id": report_id,
            "kind": "symptom_report",
            "payload": {"answers": {"general": {}, "right": RED_AND_PAINFUL, "left": {}}},
            **frame,
        },
    ]
    with store.writing() as session:
        receipt = record_entries(session, _actor(session, cast, author), wearer_id, entries, EVENING)
    assert not receipt.rejected
    with store.writing() as session:
        sent = {"id": new_id(), "eye": "right"}
        picture = read_picture(PHOTO)
        photos.add(session, _actor(session, cast, author), wearer_id, report_id, sent, picture, EVENING)
    with store.writing() as session:
        staff = _actor(session, cast, assistant)
        add_day(session, staff, wearer_id, DAY | {"id": new_id()}, EVENING)
    with store.writing() as session:
        token = invite(session, staff, wearer_id, "guardian", "Aunt", EVENING)
        handover.offer(session, staff, wearer_id, EVENING)
        pass_token = passes.issue(session, staff, wearer_id, {"name": "Carla", "lasts": "1"}, EVENING)
        recovery_token = recovery.start_at_the_desk(session, staff, cast.people[author], EVENING)
        if wearer == "Nola":
            recovery.vouch(session, _actor(session, cast, author), wearer_id, cast.people["Gus"], EVENING)
    with store.writing() as session:
        works_at = session.get_one(Wearer, wearer_id).practice_id
        test = AlertTest(practice_id=works_at, person_id=staff.person_id, channel="mail", sent_at=EVENING)
        session.add(test)
        session.commit()
    with store.reading() as session:
        about = {
            "alert_id": select(Alert.id).where(Alert.wearer_id == wearer_id),
            "hold_id": select(Hold.id).where(Hold.wearer_id == wearer_id).limit(1),
            "visit_id": select(Visit.id).where(Visit.wearer_id == wearer_id).limit(1),
            "day_id": select(DayThatMatters.id).where(DayThatMatters.wearer_id == wearer_id),
            "pass_id": select(CarerPass.id).where(CarerPass.wearer_id == wearer_id),
            "invitation_id": select(Invitation.id).where(Invitation.wearer_id == wearer_id),
            "recovery_id": select(Recovery.id).where(Recovery.confirmed_at.is_(None)),
        }
        return {
            "wearer_id": wearer_id,
            "entry_id": entry_id,
            "report_id": report_id,
            "photo_id": sent["id"],
            "token": token,
            "pass_token": pass_token,
            "recovery_token": recovery_token,
            "night": EVENING.date().isoformat(),
            "other": cast.wearers["Timo"],
            "alert_test_id": test.id,
            "asta": cast.people["Asta"],
            "person_id": cast.people["Gil" if wearer == "Lea" else "Gus"],
            **{name: session.scalars(query).one() for name, query in about.items()},
        }


def _carrier(store: Store, token: str, now: datetime) -> str:
    with store.writing() as session:
        return passes.open_pass(session, token, now)


def _lapsed(store: Store, cast: people.Cast) -> str:
    """Somebody who opened a pass yesterday that is over by now."""
    yesterday = EVENING - timedelta(days=1)
    with store.writing() as session:
        form = {"name": "Lars", "lasts": "hours_12"}
        token = passes.issue(session, _actor(session, cast, "Gwen"), cast.wearers["Nola"], form, yesterday)
    return _carrier(store, token, yesterday)


def _actor(session: Any, cast: people.Cast, name: str) -> Actor:
    return actor_of(session, session.get_one(Person, cast.people[name]), "")


@contextmanager
def house(file: Path) -> Iterator[Flask]:
    store = Store(f"sqlite:///{file}")
    app = create_app(SETTINGS, store=store, clock=Clock(EVENING))
    app.testing = True
    app.config["WTF_CSRF_ENABLED"] = False
    yield app
    store.close()


def client_of(app: Flask, token: str | None) -> FlaskClient:
    client = app.test_client()
    if token:
        with client.session_transaction() as session:
            session["_user_id"], session["_fresh"] = token, True
    return client


def knock(
    client: FlaskClient, door: Door, ids: dict[str, str], app: Flask, wrong: dict[str, str] | None = None
) -> str:
    """Go to the door as its row says, with ``ids`` in the address and the form; say what was met, in a word.

    ``wrong`` are ids for the address that are not those of the record.
    """
    rule = next(r for r in app.url_map.iter_rules(door.endpoint) if door.method in (r.methods or ()))
    with app.test_request_context():
        version = app.jinja_env.globals["static"]("icon.svg").split("/")[2]
        arguments = {name: text.format(fresh=new_id(), **ids) for name, text in door.arguments.items()}
        values = ids | arguments | {"version": version} | (wrong or {})
        address = url_for(door.endpoint, **{name: values[name] for name in rule.arguments}) + f"?{door.query}"
    words = ids | {"fresh": new_id(), "another": new_id(), "consent": consents.TEXT_VERSION}
    form: dict[str, Any] = {name: value.format(**words) for name, value in door.form.items()}
    if door.photo:
        form[door.photo] = (BytesIO(PHOTO), "eye.png")
    if door.json:
        response = client.post(
            address, json=door.json, headers={"Origin": "http://localhost", "X-Companion": door.sign}
        )
    elif door.method == "POST":
        response = client.post(address, data=form, headers={"Origin": "http://localhost"})
    else:
        response = client.get(address)
    assert_keeps_to_itself(response)
    return met(response)


def assert_keeps_to_itself(response: TestResponse) -> None:
    """Whatever the answer, the browser may load nothing from elsewhere and run nothing inline."""
    policy = dict(part.split(" ", 1) for part in response.headers["Content-Security-Policy"].split("; "))
    assert policy["default-src"] == "'none'"
    assert {source for sources in policy.values() for source in sources.split()} <= {"'none'", "'self'", "blob:"}
    if response.mimetype == "text/html":
        found = INLINE_OR_ELSEWHERE.search(response.get_data(as_text=True))
        assert not found, found


def met(response: TestResponse) -> str:
    match response.status_code:
        case 200:
            return SHOWN
        case 302 | 303:
            return SIGN_IN if response.location.startswith("/sign-in") and "bye" not in response.location else ON
        case 401:
            return SIGN_IN
        case 403:
            return REFUSED
        case 404:
            return UNKNOWN
    return f"{response.status_code} {response.get_data(as_text=True)[:2000]}"


def contents(file: Path) -> str:
    with sqlite3.connect(file) as connection:
        return hashlib.sha256("\n".join(connection.iterdump()).encode()).hexdigest()


@pytest.fixture(scope="module")
def rules(world: World) -> set[tuple[str, str]]:
    with house(world.file) as app:
        return {
            (rule.endpoint, method)
            for rule in app.url_map.iter_rules()
            for method in (rule.methods or set()) - {"HEAD", "OPTIONS"}
        }


def test_every_route_has_a_row_and_every_row_a_route(rules: set[tuple[str, str]]) -> None:
    assert len({str(door) for door in DOORS}) == len(DOORS)
    assert {(door.endpoint, door.method) for door in DOORS} == rules


@pytest.mark.parametrize("door", DOORS, ids=str)
def test_who_gets_what(door: Door, world: World, tmp_path: Path) -> None:
    """Everybody comes to the world as it is: whatever somebody has changed is put back before the next one."""
    got, expected = {}, {}
    with ExitStack() as stack:
        app = None
        for column, knocks in VISITORS.items():
            for who, about in knocks:
                if app is None:
                    file = tmp_path / f"for-{who}-{about}.sqlite"
                    shutil.copy(world.file, file)
                    app, before = stack.enter_context(house(file)), contents(file)
                client = client_of(app, world.tokens[who] if who else None)
                got[who, about] = knock(client, door, world.ids[about], app)
                said = getattr(door, column)
                expected[who, about] = said if isinstance(said, str) else said[knocks.index((who, about))]
                if contents(file) == before:
                    continue
                assert door.method != "GET", f"a GET by {who} changed the store"
                turned_away = got[who, about] in (SIGN_IN, REFUSED, UNKNOWN)
                assert not turned_away, f"{who} was turned away and changed the store"
                app = None
    assert got == expected


@pytest.mark.parametrize(
    ("page", "seen"),
    [
        ('<a href="/desk">one === two</a>', False),
        ('<img src="//elsewhere.example/x.png">', True),
        ('<link href="https://elsewhere.example/x.css">', True),
        ('<p onclick="go()">', True),
        ('<p style="color: red">', True),
        ("<script>go()</script>", True),
        ('<script type="module" src="/static/x.js"></script>', False),
    ],
)
def test_the_scan_would_notice(page: str, seen: bool) -> None:
    assert bool(INLINE_OR_ELSEWHERE.search(page)) == seen


HANDLES = ("family", "assistant", "practitioner", "manager")
NO_IDS = {"place", "night", "topic", "item", "sheet", "deed", "role", "path", "version", "tag"}


@pytest.mark.parametrize("door", DOORS, ids=str)
def test_no_id_opens_what_is_not_ones_own(door: Door, world: World, tmp_path: Path) -> None:
    """Whoever gets in with the right ids does not with another's, a gone one or nonsense; nothing changes."""
    column = next((one for one in HANDLES if _first(getattr(door, one)) in (SHOWN, ON)), None)
    file = tmp_path / "world.sqlite"
    shutil.copy(world.file, file)
    with house(file) as app:
        named = next(r for r in app.url_map.iter_rules(door.endpoint)).arguments - NO_IDS
        if column is None or not named:
            return
        before, client = contents(file), client_of(app, world.tokens[VISITORS[column][0][0]])
        for name in named:
            others = [world.ids["Lea"].get(name, ""), new_id(), "no-id", "0" * 200, "%27--"]
            if name in ("token", "recovery_id"):  # good for whoever holds it; there is but one
                others = others[1:]
            elif column == "family" and name != "person_id":  # Gus stands for both
                others.append(world.ids["Wim"].get(name, ""))
            for other in filter(None, others):
                answer = knock(client, door, world.ids["Nola"], app, {name: other})
                assert answer in (UNKNOWN, REFUSED) or answer[:3] in ("409", "422"), f"{name}={other}: {answer}"
        assert contents(file) == before


def _first(answer: str | tuple[str, ...]) -> str:
    return answer if isinstance(answer, str) else answer[0]


def test_the_walk_would_notice(world: World, tmp_path: Path) -> None:
    """The test of the test: a page that forgets its door, and a GET that writes, are seen."""
    shutil.copy(world.file, tmp_path / "world.sqlite")
    with house(tmp_path / "world.sqlite") as app:
        before = contents(tmp_path / "world.sqlite")
        assert client_of(app, None).get("/desk").status_code == 302
        with app.extensions["companion"].store.writing() as session:
            session.add(Person(name="Somebody", created_at=EVENING))
            session.commit()
        assert contents(tmp_path / "world.sqlite") != before
