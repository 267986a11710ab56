"""Sync: one POST from a phone with any number of entries, one reply. Never the forms' token: a page of ours must
have sent it, by its origin, the cookie's SameSite and a header that no form can carry."""

from __future__ import annotations

import gzip
from typing import Any

from flask import Blueprint, Response, jsonify, request
from flask.typing import ResponseReturnValue
from werkzeug.exceptions import RequestEntityTooLarge

from companion.common.errors import InvalidInput
from companion.usecases import device_keys, syncing
from companion.usecases.actor import Actor
from companion.usecases.sync_request import read_request
from companion.web.context import PREFERENCE_SECONDS, house, now, phrases, reading, visitor
from companion.web.doors import open_to_all
from companion.web.static_files import build

pages = Blueprint("sync", __name__)
SIGN = "X-Companion"
KEY_SCHEME = "Device "
KEEPER = "keeper"
"""A cookie that names the phone as it named itself: it outlives storage that the browser empties."""


@pages.post("/sync")
@open_to_all
def sync() -> ResponseReturnValue:
    """Take entries and answer. A device key stands in for a sign-in that is over: it takes reports alone."""
    if request.headers.get("Origin") != request.host_url.rstrip("/") or request.headers.get(SIGN) != "sync":
        return {"error": "origin"}, 403
    key = request.headers.get("Authorization", "")
    who = _bearer(key) if key else visitor()
    if who is None:
        return {"error": "signed_out"}, 401
    try:
        asked = read_request(request.get_data())
    except RequestEntityTooLarge:
        return {"error": "too_large"}, 413
    except InvalidInput as error:
        return {"error": "shape", "field": error.problems[0].field}, 400
    if asked.account not in (None, who.person_id):
        return {"error": "signed_out"}, 401
    reply: dict[str, Any]
    if key:
        reply = syncing.add_only(house().store, who, asked, phrases(), now())
    else:
        reply = syncing.sync(house().store, who, asked, phrases(), now(), demo=house().settings.demo)
        reply["emptied"] = request.cookies.get(KEEPER, asked.device) != asked.device
    response = _packed({**reply, "build": build().version})
    if not key:
        _know_again(response, asked.device)
    return response


def _know_again(response: Response, device: str) -> None:
    """A phone names itself anew only when nothing is left there of what it kept: then it can be told so."""
    secure = house().settings.cookie_secure
    response.set_cookie(
        KEEPER, device, max_age=PREFERENCE_SECONDS, path="/sync", secure=secure, httponly=True, samesite="Strict"
    )


def _packed(reply: dict[str, Any]) -> Response:
    """A reply packed where the phone can unpack it: a forecast is 50 kB. Never together with a secret."""
    response = jsonify(reply)
    if request.accept_encodings["gzip"] and "device_key" not in reply:
        response.set_data(gzip.compress(response.get_data(), 5))
        response.headers["Content-Encoding"] = "gzip"
    return response


def _bearer(key: str) -> Actor | None:
    if not key.startswith(KEY_SCHEME):
        return None
    with reading() as store:
        return device_keys.bearer(store, key.removeprefix(KEY_SCHEME))
