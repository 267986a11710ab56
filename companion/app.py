"""Wiring, and nothing else: one app from settings, a store and a clock."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime

from flask import Flask
from flask_limiter import Limiter
from flask_limiter.util import get_remote_address
from flask_login import LoginManager
from flask_wtf import CSRFProtect
from werkzeug.middleware.proxy_fix import ProxyFix

from companion.config import Settings
from companion.store.engine import Store
from companion.usecases import signing
from companion.web import (
    account,
    ahead_painting,
    care,
    channels,
    context,
    days,
    diary,
    doors,
    errors,
    family,
    family_painting,
    headers,
    look_painting,
    painting,
    people,
    photos,
    plans,
    practice,
    promise,
    regimens,
    safety_voice,
    shell,
    static_files,
    stylebook,
    sync,
    tongues,
    us,
    ways_in,
    whereabouts,
    wrong,
)
from companion.web.context import House, load_visitor


def create_app(
    settings: Settings, store: Store | None = None, clock: Callable[[], datetime] | None = None
) -> Flask:
    """Return the app. Without a store it opens the one that the settings name."""
    app = Flask("companion.web", static_folder=None)
    app.extensions["companion"] = House(
        settings, store or Store(settings.database_url), clock or (lambda: datetime.now(UTC))
    )
    _keep_sessions(app, settings)
    _stand_behind_proxies(app, settings)
    context.install(app)
    headers.install(app, settings)
    static_files.install(app, shell.all_words(settings.languages))
    app.jinja_env.globals["words_file"] = shell.words_address
    painting.install(app)
    family_painting.install(app)
    look_painting.install(app)
    ahead_painting.install(app)
    safety_voice.install(app)
    whereabouts.install(app)
    _guard(app, settings)
    _open_rooms(app)
    errors.install(app)
    return app


def _keep_sessions(app: Flask, settings: Settings) -> None:
    app.config.update(
        SECRET_KEY=settings.secret_key,
        SESSION_COOKIE_NAME="__Host-companion" if settings.cookie_secure else "companion",
        SESSION_COOKIE_SECURE=settings.cookie_secure,
        SESSION_COOKIE_HTTPONLY=True,
        SESSION_COOKIE_SAMESITE="Lax",
        PERMANENT_SESSION_LIFETIME=signing.LASTS,
        # Set when it changes and never else: a stylesheet that comes late must not bring back an older session.
        SESSION_REFRESH_EACH_REQUEST=False,
        MAX_CONTENT_LENGTH=1_000_000,
        WTF_CSRF_TIME_LIMIT=None,  # as long as the session: a report may be thought over all night
    )


def _stand_behind_proxies(app: Flask, settings: Settings) -> None:
    if settings.trusted_proxies:
        n = settings.trusted_proxies
        app.wsgi_app = ProxyFix(app.wsgi_app, x_for=n, x_proto=n, x_host=n)  # type: ignore[method-assign]


def _guard(app: Flask, settings: Settings) -> None:
    """The sign-in first, then the door, then the forms' token, then the limits."""
    sign_ins = LoginManager(app)
    sign_ins.session_protection = None  # the token is the proof; a phone's address changes
    sign_ins.user_loader(load_visitor)
    doors.install(app)
    photos.install(app)
    forms = CSRFProtect(app)
    forms.exempt(wrong.stranger)  # it stores nothing, and must not hold up a report
    forms.exempt(sync.pages)  # guarded by origin, cookie and header: a phone may be a week behind any token
    forms.exempt(channels.script)  # guarded as sync is
    limiter = Limiter(get_remote_address, app=app, storage_uri="memory://")
    app.extensions["companion_limits"] = [
        limiter.limit(settings.sign_in_tries, methods=["POST"]),
        limiter.limit(settings.sign_in_tries, methods=["POST"], key_func=account.login_tried),
    ]


def _open_rooms(app: Flask) -> None:
    by_address, by_login = app.extensions.pop("companion_limits")
    family_rooms = (family, diary, days, care, wrong, photos)
    practice_rooms = (practice, plans, people, promise, regimens)
    for room in (account, *family_rooms, *practice_rooms, us, ways_in, tongues, stylebook, shell, sync):
        app.register_blueprint(room.pages)
    for pages in (channels.pages, channels.script):
        app.register_blueprint(pages)
    for endpoint in ("account.sign_in", "account.join", "us.password", "ways_in.recover", "ways_in.carry"):
        app.view_functions[endpoint] = by_address(app.view_functions[endpoint])
    # Guesses at one account may come from many addresses.
    app.view_functions["account.sign_in"] = by_login(app.view_functions["account.sign_in"])
