"""Ways to be told beside mail: alerts on a device, which a person switches on there, and a practice's gateway."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, g, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from companion.common.errors import InvalidInput, NotAllowed
from companion.usecases import gateways, signing, subscribing
from companion.web.context import actor, house, now, reading, typed, visitor, writing
from companion.web.desk_painting import desk_words
from companion.web.doors import open_to_all
from companion.web.forms import Form
from companion.web.sync import SIGN

pages = Blueprint("channels", __name__)
pages.context_processor(desk_words)
script = Blueprint("channels_script", __name__)
"""What a page's script posts: JSON, never the forms' token; guarded as sync is."""


# -- alerts on this device --
@pages.get("/us/alerts")
def alerts() -> ResponseReturnValue:
    with reading() as store:
        view = subscribing.devices(store, actor(), now())
        g.frame = signing.frame(store, actor(), now())
    sender = house().settings.push
    key = sender and sender.public_key
    return render_template("account/alerts.html", view=view, frame=g.frame, key=key)


@pages.post("/us/alerts/<subscription_id>/end")
def end_device(subscription_id: str) -> ResponseReturnValue:
    with writing() as store:
        subscribing.unsubscribe(store, actor(), subscription_id, now())
    return redirect(url_for("channels.alerts", saved=1), 303)


@pages.post("/us/alerts/test")
def test_devices() -> ResponseReturnValue:
    with writing() as store:
        sent = subscribing.send_test(store, actor(), now())
    return redirect(url_for("channels.alerts", sent=sent), 303)


@script.post("/us/alerts/on")
@open_to_all
def switch_on() -> ResponseReturnValue:
    asked, refusal = _asked()
    if refusal:
        return refusal
    agent = request.user_agent.string
    try:
        with writing() as store:
            return subscribing.subscribe(store, actor(), asked, agent, house().settings.outgoing, now())
    except InvalidInput as error:
        return {"error": error.problems[0].code}, 422
    except NotAllowed:
        return {"error": "not_allowed"}, 403


@script.post("/us/alerts/off")
@open_to_all
def switch_off() -> ResponseReturnValue:
    asked, refusal = _asked()
    if refusal:
        return refusal
    try:
        with writing() as store:
            subscribing.unsubscribe_here(store, actor(), str(asked.get("endpoint", "")), now())
    except NotAllowed:
        return {"error": "not_allowed"}, 403
    return {}


def _asked() -> tuple[dict[str, Any], ResponseReturnValue | None]:
    """Return what a page of ours asks for, or why it is not heard: nobody else's page can send the header."""
    if request.headers.get("Origin") != request.host_url.rstrip("/") or request.headers.get(SIGN) != "alerts":
        return {}, ({"error": "origin"}, 403)
    if visitor() is None:
        return {}, ({"error": "signed_out"}, 401)
    asked = request.get_json(silent=True)
    return (asked, None) if isinstance(asked, dict) else ({}, ({"error": "shape"}, 400))


# -- a practice's gateway --
@pages.route("/practice/gateway", methods=["GET", "POST"])
def gateway() -> ResponseReturnValue:
    """The address, and once the secret: it is on this page only when it is fresh."""
    form, secret = Form(), None
    if request.method == "POST":
        try:
            with writing() as store:
                secret = gateways.set_up(store, actor(), typed(), house().settings.outgoing, now())
        except InvalidInput as error:
            form = Form.refused(typed(), error)
    with reading() as store:
        view = gateways.gateway(store, actor(), now())
    page = render_template("practice/gateway.html", view=view, form=form, secret=secret, here="practice")
    return page, 422 if form.problems else 200


@pages.post("/practice/gateway/end")
def end_gateway() -> ResponseReturnValue:
    with writing() as store:
        gateways.end(store, actor(), now())
    return redirect(url_for("channels.gateway", saved=1), 303)


@pages.post("/practice/gateway/test")
def test_gateway() -> ResponseReturnValue:
    with writing() as store:
        gateways.send_test(store, actor(), now())
    return redirect(url_for("channels.gateway", sent=1), 303)
