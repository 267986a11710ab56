"""POST /sync: who gets past its guards, the words of each refusal, and that nothing else opens it."""

from __future__ import annotations

import gzip
import json
from typing import Any
from uuid import uuid4

import pytest
from fakes import Clock
from flask import Flask
from people import Cast
from sqlalchemy import func, select
from sync_phones import FROM_SCRIPT, Phone, post, sync_body
from telling import RED_PAIN, entry, report
from visitors import enter

from companion.store.engine import Store
from companion.store.models import EntryRow


def entries_in(store: Store) -> int:
    with store.reading() as session:
        return session.scalar(select(func.count()).select_from(EntryRow)) or 0


def tap(clock: Clock) -> dict[str, Any]:
    return entry("lenses_in", clock(), {"eyes": "both"})


@pytest.mark.parametrize(
    "headers",
    [
        {},
        {"Origin": "http://localhost"},
        {"X-Companion": "sync"},
        {"Origin": "http://elsewhere.example", "X-Companion": "sync"},
        {"Origin": "https://localhost", "X-Companion": "sync"},
        {"Origin": "null", "X-Companion": "sync"},
        {"Origin": "http://localhost", "X-Companion": "form"},
    ],
)
def test_only_a_script_of_our_own_page_gets_in(
    app: Flask, cast: Cast, clock: Clock, store: Store, headers: dict[str, str]
) -> None:
    body = sync_body(clock(), {cast.wearers["Nola"]: {"cursor": 0, "entries": [tap(clock)]}})
    answer = enter(app, cast, "Gwen").post("/sync", json=body, headers=headers)
    assert (answer.status_code, answer.get_json()) == (403, {"error": "origin"})
    assert entries_in(store) == 0


@pytest.mark.parametrize("method", ["get", "put", "delete", "patch"])
def test_nothing_but_a_post_opens_it(app: Flask, cast: Cast, method: str) -> None:
    answer = getattr(enter(app, cast, "Gwen"), method)("/sync", headers=FROM_SCRIPT)
    assert answer.status_code == 405


def test_a_stranger_is_asked_to_sign_in(app: Flask, cast: Cast, clock: Clock) -> None:
    answer = post(app.test_client(), sync_body(clock()))
    assert (answer.status_code, answer.get_json()) == (401, {"error": "signed_out"})
    assert answer.headers["Cache-Control"] == "no-store"


def test_entries_of_somebody_else_wait_for_their_own_sign_in(
    app: Flask, cast: Cast, clock: Clock, store: Store
) -> None:
    """The phone changed hands between packing and sending: Gus must not be made the author of Gwen's taps."""
    body = sync_body(clock(), {cast.wearers["Nola"]: {"entries": [tap(clock)]}}, account=cast.people["Gwen"])
    answer = post(enter(app, cast, "Gus"), body)
    assert (answer.status_code, answer.get_json()) == (401, {"error": "signed_out"})
    assert entries_in(store) == 0
    assert post(enter(app, cast, "Gwen"), body).status_code == 200


@pytest.mark.parametrize(
    ("body", "field"),
    [
        (b"", "body"),
        (b"kind=lenses_in&eyes=both", "body"),
        (b'{"version": 1}', "device"),
        (json.dumps({"version": 3}).encode(), "device"),
    ],
)
def test_what_is_out_of_shape_is_named(app: Flask, cast: Cast, body: bytes, field: str) -> None:
    answer = enter(app, cast, "Gwen").post("/sync", data=body, headers=FROM_SCRIPT)
    assert (answer.status_code, answer.get_json()) == (400, {"error": "shape", "field": field})


def test_too_much_at_once_is_refused_whole(app: Flask, cast: Cast, clock: Clock, store: Store) -> None:
    note = entry("note", clock(), {"text": "x" * 1_000_001})
    answer = post(enter(app, cast, "Gwen"), sync_body(clock(), {cast.wearers["Nola"]: {"entries": [note]}}))
    assert (answer.status_code, answer.get_json()) == (413, {"error": "too_large"})
    assert entries_in(store) == 0


def test_a_reply_names_its_build_and_is_kept_by_nobody(app: Flask, cast: Cast, clock: Clock) -> None:
    answer = post(enter(app, cast, "Gwen"), sync_body(clock()))
    reply = answer.get_json()
    assert answer.status_code == 200 and answer.headers["Cache-Control"] == "no-store"
    assert f"/static/{reply['build']}/" in app.test_client().get("/app").get_data(as_text=True)
    assert (reply["version"], reply["now"]) == (1, "2026-11-02T20:30:00+00:00")


def test_a_reply_is_packed_but_never_with_a_secret(app: Flask, cast: Cast, clock: Clock) -> None:
    client, body = enter(app, cast, "Gwen"), sync_body(clock())
    first = post(client, body, **{"Accept-Encoding": "gzip"})
    assert "device_key" in first.get_json() and "Content-Encoding" not in first.headers
    second = post(client, body, **{"Accept-Encoding": "gzip"})
    assert second.headers["Content-Encoding"] == "gzip"
    assert json.loads(gzip.decompress(second.data))["wearers"]


def test_it_asks_for_no_forms_token_and_forms_still_do(
    settings: Any, store: Store, cast: Cast, clock: Clock
) -> None:
    from companion.app import create_app

    app = create_app(settings, store, clock)
    assert app.config.get("WTF_CSRF_ENABLED", True)
    client = enter(app, cast, "Gwen")
    assert post(client, sync_body(clock())).status_code == 200
    kept = client.post(f"/w/{cast.wearers['Nola']}/entries", data={"kind": "lenses_in"}, headers=FROM_SCRIPT)
    assert kept.status_code == 400


def test_what_is_wrong_is_said_in_the_readers_language(app: Flask, cast: Cast, clock: Clock) -> None:
    client, bad = enter(app, cast, "Gwen"), {**tap(clock), "payload": {"eyes": "third"}}
    body = sync_body(clock(), {cast.wearers["Nola"]: {"entries": [bad]}})
    said = [
        answer.get_json()["wearers"][0]["rejected"][0]["said"]
        for answer in (
            post(client, body),
            client.post("/sync?lang=ar", json=body, headers=FROM_SCRIPT),
        )
    ]
    assert said[0] == "Choose one of the answers shown."
    assert "\u0600" <= said[1][0] <= "\u06ff"


# -- the key --
def test_a_key_works_signed_out_and_only_adds(app: Flask, cast: Cast, clock: Clock, store: Store) -> None:
    phone, nola = Phone(enter(app, cast, "Gwen")), cast.wearers["Nola"]
    phone.sync(clock())
    assert phone.key
    stranger = app.test_client()
    said = report(clock(), right=RED_PAIN)
    answer = post(stranger, sync_body(clock(), {nola: {"entries": [said, tap(clock)]}}), phone.key)
    reply = answer.get_json()
    assert reply.keys() == {"version", "now", "skew_s", "build", "wearers", "gone"}
    assert reply["wearers"][0]["accepted"] == [said["id"]]
    assert "Nola" not in answer.get_data(as_text=True) and "Gwen" not in answer.get_data(as_text=True)
    with store.reading() as session:
        assert session.get_one(EntryRow, said["id"]).verified is False
    assert "Set-Cookie" not in answer.headers


@pytest.mark.parametrize("key", ["Device nonsense", "Device .", "Bearer {key}", "Device {key}x", "{key}"])
def test_a_key_that_is_not_good_opens_nothing_even_with_a_sign_in(
    app: Flask, cast: Cast, clock: Clock, store: Store, key: str
) -> None:
    phone = Phone(enter(app, cast, "Gwen"))
    phone.sync(clock())
    body = sync_body(clock(), {cast.wearers["Nola"]: {"entries": [report(clock(), right=RED_PAIN)]}})
    headers = FROM_SCRIPT | {"Authorization": key.format(key=phone.key)}
    answer = phone.client.post("/sync", json=body, headers=headers)
    assert (answer.status_code, answer.get_json()) == (401, {"error": "signed_out"})
    assert entries_in(store) == 0


def test_a_key_ended_under_us_is_refused(app: Flask, cast: Cast, clock: Clock) -> None:
    phone = Phone(enter(app, cast, "Gwen"))
    phone.sync(clock())
    elsewhere = enter(app, cast, "Gwen")
    page = elsewhere.get("/us/sign-ins").get_data(as_text=True)
    assert "Sign out everywhere but here" in page
    app.config["WTF_CSRF_ENABLED"] = False
    elsewhere.post("/us/sign-ins/end-others", headers=FROM_SCRIPT)
    body = sync_body(clock(), {cast.wearers["Nola"]: {"entries": [report(clock(), right=RED_PAIN)]}})
    assert post(app.test_client(), body, phone.key).status_code == 401


def test_a_phone_that_is_signed_out_is_listed_for_what_it_is(app: Flask, cast: Cast, clock: Clock) -> None:
    phone = Phone(enter(app, cast, "Gwen"))
    phone.sync(clock())
    app.config["WTF_CSRF_ENABLED"] = False
    phone.client.post("/sign-out", headers=FROM_SCRIPT)
    page = enter(app, cast, "Gwen").get("/us/sign-ins").get_data(as_text=True)
    assert "It can still send a report of trouble" in page and "End this too" in page


def test_a_phone_that_names_itself_anew_was_emptied(app: Flask, cast: Cast, clock: Clock) -> None:
    browser = enter(app, cast, "Gwen")
    first, second = sync_body(clock()), {**sync_body(clock()), "device": str(uuid4())}
    told = [post(browser, body).get_json()["emptied"] for body in (first, first, second, second)]
    assert told == [False, False, True, False]
