"""Who gets past the door: nobody, unless signed in or unless the page is spelled out as open.

A view says ``@open_to_all``; everything else needs a sign-in. What the person may then do is for the use cases.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

from flask import Flask, redirect, request, url_for
from flask.typing import ResponseReturnValue
from flask_login import current_user

from companion.web.kept import kept_fields, sign_in_keeping

_View = TypeVar("_View", bound=Callable[..., ResponseReturnValue])


def open_to_all(view: _View) -> _View:
    """Let anybody in, signed in or not."""
    view.open_to_all = True  # type: ignore[attr-defined]
    return view


def is_open(app: Flask, endpoint: str) -> bool:
    """Say whether a stranger may open this page."""
    return getattr(app.view_functions[endpoint], "open_to_all", False)


def install(app: Flask) -> None:
    """Guard every page of ``app``. Installed before the forms' guard: a stranger's form needs a sign-in first."""

    @app.before_request
    def guard() -> ResponseReturnValue | None:
        if request.endpoint is None or is_open(app, request.endpoint) or current_user.is_authenticated:
            return None
        if request.endpoint == "wrong.questions_of" and request.method == "POST":
            # Never hold up a report: judge it as a stranger's, and say that the practice has not been told.
            return app.ensure_sync(app.view_functions["wrong.stranger"])()  # type: ignore[no-any-return]
        if request.method == "POST":
            return sign_in_keeping(kept_fields())
        return redirect(url_for("account.sign_in", next=request.full_path.rstrip("?")))
