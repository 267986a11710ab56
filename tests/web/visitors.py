"""Browsers for the tests of pages: signed in by name, with the forms' token where a test is about it."""

from __future__ import annotations

import re
from html import unescape

from flask import Flask
from flask.testing import FlaskClient
from people import Cast
from werkzeug.test import TestResponse

from companion.store.engine import Store
from companion.store.models import Person
from companion.usecases import consents, signing
from companion.usecases.actor import Actor, actor_of
from companion.web import context

HERE = {"Origin": "http://localhost"}


def enter(app: Flask, cast: Cast, name: str, *, consent: bool = True) -> FlaskClient:
    """Return a browser in which ``name`` is signed in."""
    house: context.House = app.extensions["companion"]
    with house.store.writing() as session:
        token = signing.open_sign_in(session, cast.people[name], house.clock(), "tests")
        session.commit()
        if consent:
            actor = actor_of(session, session.get_one(Person, cast.people[name]), "")
            consents.give(session, actor, consents.TEXT_VERSION, "en", house.clock())
    client = app.test_client()
    with client.session_transaction() as browser:
        browser["_user_id"], browser["_fresh"] = token, True
    return client


def acting(store: Store, cast: Cast, name: str) -> Actor:
    """Return ``name`` as use cases know them."""
    with store.reading() as session:
        return actor_of(session, session.get_one(Person, cast.people[name]), "")


def text(page: TestResponse) -> str:
    """The page's text on one line."""
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", page.get_data(as_text=True))).split())


def hidden(page: TestResponse) -> dict[str, str]:
    """The hidden fields of a page's forms; of a name that comes twice, the last."""
    found = re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)">', page.get_data(as_text=True))
    return {name: unescape(value) for name, value in found}
