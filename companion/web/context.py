"""What every view asks of its request: the store, the time, who is there, in which language and light."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from contextlib import AbstractContextManager
from dataclasses import dataclass
from datetime import datetime
from typing import Any, cast

from flask import Flask, Response, current_app, g, request
from flask_login import UserMixin, current_user
from sqlalchemy.orm import Session
from werkzeug.exceptions import RequestEntityTooLarge

from companion.config import Settings
from companion.phrasebook.languages import ENGLISH, LANGUAGES, Language
from companion.phrasebook.phrases import Customs, Phrases
from companion.store.engine import Store
from companion.usecases import signing
from companion.usecases.actor import Actor, at_practice

LANGUAGE_COOKIE, COUNTRY_COOKIE = "language", "country"
PRACTICE_COOKIE = "practice"
"""Whose desk somebody sees in this browser who works at several practices."""
PREFERENCE_SECONDS = 400 * 24 * 3600


@dataclass(frozen=True)
class House:
    """What the app stands on. ``clock`` is the one clock of the house; tests pass their own."""

    settings: Settings
    store: Store
    clock: Callable[[], datetime]


class SignedIn(UserMixin):  # type: ignore[misc]
    """Somebody signed in. The session holds the token of the sign-in, so that ending it ends every copy."""

    def __init__(self, token: str, actor: Actor) -> None:
        self.token, self.actor = token, actor

    def get_id(self) -> str:
        return self.token


def house() -> House:
    return cast(House, current_app.extensions["companion"])


def now() -> datetime:
    """Return the instant of this request: one request, one moment."""
    if "now" not in g:
        g.now = house().clock()
    return cast(datetime, g.now)


def reading() -> AbstractContextManager[Session]:
    return house().store.reading()


def writing() -> AbstractContextManager[Session]:
    return house().store.writing()


def visitor() -> Actor | None:
    """Return who is signed in, if anybody is, and the page is not one for anybody."""
    if g.get("for_anybody"):
        return None
    return current_user.actor if current_user.is_authenticated else None


def actor() -> Actor:
    """Return who is signed in. For pages behind the door only."""
    who = visitor()
    if who is None:
        raise RuntimeError("a page that asks for its actor must not be open")
    return who


def language() -> Language:
    """Return the language to speak: asked for now, one's own, the page's, picked before, the browser's."""
    offered = house().settings.languages
    who = visitor()
    own = who.language if who else None
    for tag in (request.args.get("lang"), own, g.get("addressed_in"), request.cookies.get(LANGUAGE_COOKIE)):
        if tag in offered:
            return LANGUAGES[tag]
    return LANGUAGES[request.accept_languages.best_match(offered) or (offered[0] if offered else ENGLISH.tag)]


def address_in(tag: str) -> None:
    """Speak a language on this page, to whoever has none of their own yet: one that they were invited in, say."""
    g.addressed_in = tag


def speak_to_anybody() -> None:
    """Show nothing of who is signed in on this page but their language: the phone keeps it, whoever holds it."""
    address_in(language().tag)
    g.for_anybody = True


def phrases() -> Phrases:
    if "phrases" not in g:
        who = visitor()
        g.phrases = Phrases(language(), Customs(who.hour_cycle, who.digits) if who else None)
    return cast(Phrases, g.phrases)


def country(otherwise: str | None) -> str | None:
    """Return where the person says they are: picked now, picked before, else what is known of the wearer."""
    picked = _given().get("country") or request.cookies.get(COUNTRY_COOKIE) or ""
    return picked if len(picked) == 2 and picked.isascii() and picked.isupper() else otherwise


def picks_country() -> bool:
    """Say whether this very request picks where the person is."""
    return bool(_given().get("country"))


def typed() -> dict[str, Any]:
    """Return the form as sent, each field once."""
    return {name: value for name, value in request.form.items() if name != "csrf_token"}


def load_visitor(token: str) -> SignedIn | None:
    """Return whose sign-in ``token`` is, for Flask-Login."""
    with reading() as session:
        who = signing.actor_for_token(session, token, now())
    picked = request.args.get("practice") or request.cookies.get(PRACTICE_COOKIE)
    return SignedIn(token, at_practice(who, picked)) if who else None


def _given() -> Mapping[str, str]:
    """Return what came in the address or a form; of a body that is too large to read, the address alone."""
    try:
        return request.values
    except RequestEntityTooLarge:
        return request.args


def keep(response: Response, cookie: str, picked: str) -> None:
    """Remember what was picked on this device."""
    secure = house().settings.cookie_secure
    response.set_cookie(
        cookie, picked, max_age=PREFERENCE_SECONDS, secure=secure, httponly=True, samesite="Lax"
    )  # fmt: skip


def install(app: Flask) -> None:
    """Remember what was picked on a page for the pages that follow: language and place, on this device alone."""

    @app.after_request
    def remember(response: Response) -> Response:
        for cookie, picked in (
            (LANGUAGE_COOKIE, request.args.get("lang")),
            (COUNTRY_COOKIE, _given().get("country")),
        ):
            if picked and len(picked) <= 20 and picked.replace("-", "").isalnum():
                keep(response, cookie, picked)
        return response
