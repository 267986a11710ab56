"""The doors: signing in and out, where one is led, what is kept on the way, and how often one may try."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from dataclasses import replace
from typing import Any

import pytest
from fakes import Clock
from flask import Flask
from flask.testing import FlaskClient
from people import PASSWORD, Cast
from visitors import HERE, acting, enter, hidden, text

from companion.app import create_app
from companion.config import Settings
from companion.store.engine import Store
from companion.store.models import Person
from companion.usecases import invitations, passwords, recovery
from companion.web.kept import is_local


@pytest.fixture
def known(app: Flask, cast: Cast, store: Store) -> Flask:
    """The house, where Gwen has a password and has agreed."""
    enter(app, cast, "Gwen")
    with store.writing() as session:
        session.get_one(Person, cast.people["Gwen"]).password_hash = passwords.hashed(PASSWORD)
        session.commit()
    return app


def test_signing_in_begins_a_new_session(known: Flask) -> None:
    client = known.test_client()
    form = hidden(client.get("/sign-in"))
    with client.session_transaction() as browser:
        browser["planted"] = "by somebody else"
        before = browser["csrf_token"]
    answer = client.post("/sign-in", data={**form, "login": "gwen", "password": PASSWORD})
    assert answer.status_code == 303
    with client.session_transaction() as browser:
        assert "planted" not in browser and browser.get("csrf_token") != before
        token = browser["_user_id"]
    assert token not in ("", "gwen")
    assert client.get("/tonight").status_code == 302


def test_signing_out_ends_every_copy_of_the_cookie(known: Flask, cast: Cast) -> None:
    known.config["WTF_CSRF_ENABLED"] = False
    client = enter(known, cast, "Gwen")
    with client.session_transaction() as browser:
        copied = dict(browser)
    assert client.post("/sign-out").status_code == 303
    thief = known.test_client()
    with thief.session_transaction() as browser:
        browser.update(copied)
    assert thief.get("/tonight").status_code == 302
    assert "/sign-in" in thief.get("/tonight").headers["Location"]


def test_a_wrong_password_and_an_unknown_name_look_the_same(known: Flask) -> None:
    known.config["WTF_CSRF_ENABLED"] = False
    pages = []
    for login in ("gwen", "nobody"):
        answer = known.test_client().post("/sign-in", data={"login": login, "password": "secret-typed"})
        assert answer.status_code == 422
        assert "secret-typed" not in answer.get_data(as_text=True), "a password is never painted again"
        assert f'value="{login}"' in answer.get_data(as_text=True), "the name typed is kept"
        pages.append(text(answer))
    assert pages[0] == pages[1]
    assert "do not belong together" in pages[0]


@pytest.mark.parametrize(
    "target",
    ["https://elsewhere.example", "//elsewhere.example", "/\\elsewhere.example", "javascript:alert(1)", "\t//x"],
)
def test_nobody_is_led_elsewhere(known: Flask, target: str) -> None:
    known.config["WTF_CSRF_ENABLED"] = False
    answer = known.test_client().post(
        "/sign-in", query_string={"next": target}, data={"login": "gwen", "password": PASSWORD}
    )
    assert answer.headers["Location"] == "/"
    assert not is_local(target)


def test_one_is_led_on_to_the_page_that_was_asked_for(known: Flask, cast: Cast) -> None:
    known.config["WTF_CSRF_ENABLED"] = False
    client = known.test_client()
    wanted = f"/w/{cast.wearers['Nola']}/diary?weeks=12"
    led = client.get(wanted)
    assert led.status_code == 302
    answer = client.post(led.headers["Location"], data={"login": "gwen", "password": PASSWORD})
    assert answer.headers["Location"] == wanted


def test_trying_too_often_is_slowed_down_and_looking_is_not(
    settings: Settings, store: Store, cast: Cast, clock: Clock
) -> None:
    app = create_app(replace(settings, sign_in_tries="2 per minute"), store, clock)
    app.config["WTF_CSRF_ENABLED"] = False
    client = app.test_client()
    tries = [client.post("/sign-in", data={"login": "x", "password": "y"}).status_code for _ in range(3)]
    assert tries == [422, 422, 429]
    assert client.get("/sign-in").status_code == 200
    assert client.post("/wrong/questions", data={"eyes": "both"}).status_code != 429


def test_tries_at_one_login_are_counted_together_from_whatever_address_and_known_or_not(
    settings: Settings, store: Store, cast: Cast, clock: Clock
) -> None:
    app = create_app(replace(settings, sign_in_tries="2 per minute"), store, clock)
    app.config["WTF_CSRF_ENABLED"] = False
    answers = {}
    for n, login in enumerate(("gwen", "nobody")):
        answers[login] = [
            app.test_client().post(
                "/sign-in",
                data={"login": typed, "password": "guess"},
                environ_base={"REMOTE_ADDR": f"192.0.2.{10 * n + one}"},
            )
            for one, typed in enumerate((login, login.upper(), f" {login} "))
        ]
    assert [[one.status_code for one in tries] for tries in answers.values()] == [[422, 422, 429]] * 2
    assert text(answers["gwen"][2]) == text(answers["nobody"][2])
    other = {"login": "hedda", "password": PASSWORD}
    assert app.test_client().post("/sign-in", data=other).status_code == 303


def test_no_password_is_hashed_while_the_store_is_held_for_writing(
    known: Flask, cast: Cast, store: Store, store_url: str, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Another writer comes in at every hash: signing in, joining, a new password, back in."""
    known.config["WTF_CSRF_ENABLED"] = False
    real, hashes = passwords.HASHER, []

    class Asking:
        def verify(self, stored: str, password: str) -> bool:
            return self.ask(real.verify(stored, password))

        def hash(self, password: str) -> str:
            return self.ask(real.hash(password))

        def ask(self, done: Any) -> Any:
            with closing(sqlite3.connect(store_url.removeprefix("sqlite:///"), timeout=0)) as other:
                other.execute("BEGIN IMMEDIATE")
            hashes.append(done)
            return done

    def hashed_by(client: FlaskClient, path: str, **form: str) -> int:
        before = len(hashes)
        assert client.post(path, data=form).status_code == 303, path
        return len(hashes) - before

    asta = acting(store, cast, "Asta")
    with store.writing() as session:
        joins = invitations.invite(session, asta, cast.wearers["Timo"], "guardian", "Ina", clock())
    with store.writing() as session:
        back = recovery.start_at_the_desk(session, asta, cast.people["Gus"], clock())
    new = {"password": "another few words", "password_again": "another few words"}
    monkeypatch.setattr(passwords, "HASHER", Asking())
    client = known.test_client()
    assert hashed_by(client, "/sign-in", login="gwen", password=PASSWORD)
    assert hashed_by(client, "/us/password", old=PASSWORD, **new) == 2
    assert hashed_by(known.test_client(), f"/join/{joins}", name="Ina", login="ina", **new) == 1
    assert hashed_by(known.test_client(), f"/recover/{back}", **new) == 1


# -- what was typed is kept ---------------------------------------------------------------------------------------
def test_a_form_whose_token_ran_out_is_offered_again(known: Flask, cast: Cast) -> None:
    client = enter(known, cast, "Gwen")
    path = f"/w/{cast.wearers['Nola']}/note"
    typed = {**hidden(client.get(path)), "csrf_token": "old", "text": "Slept at grandma's. <b>"}
    stale = client.post(path, data=typed, headers=HERE)
    assert stale.status_code == 400
    again = hidden(stale)
    assert again["text"] == typed["text"] and again["id"] == typed["id"]
    assert client.post(path, data=again, headers=HERE).status_code == 303
    assert "Slept at grandma's. <b>" in text(client.get(f"/w/{cast.wearers['Nola']}/diary/2026-11-02"))


def test_a_form_from_elsewhere_is_not_offered_again(known: Flask, cast: Cast) -> None:
    client = enter(known, cast, "Gwen")
    path = f"/w/{cast.wearers['Nola']}/note"
    answer = client.post(path, data={"text": "planted"}, headers={"Origin": "https://elsewhere.example"})
    assert answer.status_code == 400
    assert "planted" not in answer.get_data(as_text=True)


def test_a_form_of_somebody_signed_out_waits_for_the_sign_in(known: Flask, cast: Cast) -> None:
    client, path = known.test_client(), f"/w/{cast.wearers['Nola']}/note"
    asked = client.post(path, data={"text": "A new case.", "zone": "Europe/London"}, headers=HERE)
    assert asked.status_code == 401
    form = hidden(asked)
    wrong = client.post("/sign-in", data={**form, "login": "gwen", "password": "no"}, headers=HERE)
    assert hidden(wrong)["kept.text"] == "A new case.", "a wrong password loses nothing"
    entered = client.post("/sign-in", data={**hidden(wrong), "login": "gwen", "password": PASSWORD}, headers=HERE)
    assert entered.status_code == 200
    assert f'action="{path}"' in entered.get_data(as_text=True)
    assert hidden(entered)["text"] == "A new case."
