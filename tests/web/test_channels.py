"""Alerts on a device and a practice's gateway, from the page to the fake push service and back."""

from __future__ import annotations

import re
from typing import Any

import pytest
from fake_channels import Answer, FakeBrowser, FakeGateway, PushService
from fakes import Clock
from flask import Flask
from flask.testing import FlaskClient
from people import Cast
from sqlalchemy import select
from visitors import enter, text

from companion.clockwork.worker import carriers
from companion.config import Settings
from companion.delivery.outgoing import Outgoing
from companion.store.engine import Store
from companion.store.models import Outbox, PushSubscription, Webhook
from companion.store.queries.channels import subscriptions_of, webhook_of
from companion.usecases.checking import findings
from companion.usecases.sending import Sent, send_due
from companion.usecases.subscribing import MOST

FROM_SCRIPT = {"Origin": "http://localhost", "X-Companion": "alerts"}


@pytest.fixture(autouse=True)
def without_tokens(app: Flask) -> None:
    app.config["WTF_CSRF_ENABLED"] = False


def switch_on(client: FlaskClient, browser: FakeBrowser, **more: Any) -> Any:
    return client.post("/us/alerts/on", json={"subscription": browser.plain, **more}, headers=FROM_SCRIPT)


def taking(store: Store, cast: Cast, name: str) -> list[str]:
    with store.reading() as session:
        return [one.endpoint for one in subscriptions_of(session, cast.people[name])]


def run(store: Store, settings: Settings, clock: Clock) -> Sent:
    return send_due(store, carriers(settings, store), settings.base_url, "one", clock)


@pytest.mark.parametrize("name", ["Asta", "Gwen"])
def test_a_test_reaches_the_browser_that_was_switched_on(
    app: Flask, cast: Cast, store: Store, settings: Settings, clock: Clock, push_service: PushService, name: str
) -> None:
    client = enter(app, cast, name)
    assert settings.push is not None
    assert settings.push.public_key in client.get("/us/alerts").get_data(as_text=True)
    browser = push_service.subscribe(settings.push.public_key)
    assert switch_on(client, browser).status_code == 200
    assert client.post("/us/alerts/test").location == "/us/alerts?sent=1"
    assert client.post("/us/alerts/test").status_code == 303
    assert run(store, settings, clock) == Sent(sent=1), "a test under way is not doubled"
    (push,) = push_service.pushes_to(browser)
    assert push.told["text"] == "This is a test. Alerts reach this device."
    assert push.told["path"] == "/us/alerts"
    assert "took the last one" in text(client.get("/us/alerts"))


def test_switched_on_twice_it_is_one_browser(
    app: Flask, cast: Cast, store: Store, push_service: PushService
) -> None:
    client, browser = enter(app, cast, "Asta"), push_service.subscribe()
    first, again = switch_on(client, browser), switch_on(client, browser, says_more=True)
    assert first.get_json()["id"] == again.get_json()["id"]
    assert again.get_json()["says_more"] is True
    assert taking(store, cast, "Asta") == [browser.endpoint]


def test_whoever_had_the_browser_before_gets_nothing_there(
    app: Flask, cast: Cast, store: Store, push_service: PushService
) -> None:
    browser = push_service.subscribe()
    switch_on(enter(app, cast, "Asta"), browser)
    switch_on(enter(app, cast, "Gwen"), browser)
    assert taking(store, cast, "Asta") == []
    assert taking(store, cast, "Gwen") == [browser.endpoint]


def test_it_is_switched_off_there_from_elsewhere_and_by_signing_out(
    app: Flask, cast: Cast, store: Store, push_service: PushService
) -> None:
    phone, desk = enter(app, cast, "Asta"), enter(app, cast, "Asta")
    browsers = [push_service.subscribe() for _ in range(3)]
    switch_on(phone, browsers[0])
    phone.post("/us/alerts/off", json={"endpoint": browsers[0].endpoint}, headers=FROM_SCRIPT)
    assert taking(store, cast, "Asta") == []
    listed = switch_on(phone, browsers[1]).get_json()["id"]
    assert desk.post(f"/us/alerts/{listed}/end").status_code == 303
    assert taking(store, cast, "Asta") == []
    switch_on(phone, browsers[2])
    phone.post("/sign-out")
    assert taking(store, cast, "Asta") == []


def test_nobody_switches_off_somebody_elses(
    app: Flask, cast: Cast, store: Store, push_service: PushService
) -> None:
    browser = push_service.subscribe()
    listed = switch_on(enter(app, cast, "Asta"), browser).get_json()["id"]
    gwen = enter(app, cast, "Gwen")
    assert gwen.post(f"/us/alerts/{listed}/end").status_code == 404
    gwen.post("/us/alerts/off", json={"endpoint": browser.endpoint}, headers=FROM_SCRIPT)
    assert taking(store, cast, "Asta") == [browser.endpoint]


def test_a_browser_that_moved_takes_its_owners_wish_along(
    app: Flask, cast: Cast, store: Store, push_service: PushService
) -> None:
    client, old, new = enter(app, cast, "Asta"), push_service.subscribe(), push_service.subscribe()
    switch_on(client, old, says_more=True)
    assert switch_on(client, new, instead_of=old.endpoint).get_json()["says_more"] is True
    assert taking(store, cast, "Asta") == [new.endpoint]
    assert switch_on(client, push_service.subscribe(), instead_of=old.endpoint).status_code == 422


def test_one_that_forgot_its_old_place_moves_for_whoever_switched_it_on_and_for_nobody_else(
    app: Flask, cast: Cast, store: Store, push_service: PushService
) -> None:
    client, old, new = enter(app, cast, "Asta"), push_service.subscribe(), push_service.subscribe()
    switch_on(client, old, says_more=True)
    assert switch_on(enter(app, cast, "Gwen"), new, instead_of=None).status_code == 422, "she never asked for any"
    elsewhere = enter(app, cast, "Asta")
    assert switch_on(elsewhere, new, instead_of=None).status_code == 422, "another of her browsers"
    assert switch_on(client, new, instead_of=None).get_json()["says_more"] is True
    assert (taking(store, cast, "Asta"), taking(store, cast, "Gwen")) == ([new.endpoint], [])


def test_the_oldest_browser_makes_room(
    app: Flask, cast: Cast, store: Store, clock: Clock, push_service: PushService
) -> None:
    client = enter(app, cast, "Asta")
    browsers = [push_service.subscribe() for _ in range(MOST + 1)]
    for browser in browsers:
        clock.advance(minutes=1)
        switch_on(client, browser)
    assert taking(store, cast, "Asta") == [one.endpoint for one in browsers[1:]]


@pytest.mark.parametrize(
    "headers",
    [
        {},
        {"Origin": "http://localhost"},
        {"X-Companion": "alerts"},
        {"Origin": "http://elsewhere.example", "X-Companion": "alerts"},
        {"Origin": "null", "X-Companion": "alerts"},
        {"Origin": "http://localhost", "X-Companion": "sync"},
    ],
)
@pytest.mark.parametrize("deed", ["on", "off"])
def test_only_a_script_of_our_own_page_switches(
    app: Flask, cast: Cast, store: Store, push_service: PushService, headers: dict[str, str], deed: str
) -> None:
    client, browser = enter(app, cast, "Asta"), push_service.subscribe()
    if deed == "off":
        switch_on(client, browser)
    body = {"subscription": browser.plain, "endpoint": browser.endpoint}
    answer = client.post(f"/us/alerts/{deed}", json=body, headers=headers)
    assert (answer.status_code, answer.get_json()) == (403, {"error": "origin"})
    assert taking(store, cast, "Asta") == ([browser.endpoint] if deed == "off" else [])


@pytest.mark.parametrize(
    "told",
    [
        [],
        {},
        {"subscription": None},
        {"subscription": {"endpoint": "https://push.example.net/1"}},
        {"subscription": {"endpoint": 1, "keys": {"p256dh": "x", "auth": "y"}}},
        {"subscription": {"endpoint": "https://push.example.net/1", "keys": {"p256dh": "x", "auth": "y"}}},
        {"says_more": "yes"},
    ],
)
def test_what_is_no_subscription_is_refused(
    app: Flask, cast: Cast, store: Store, push_service: PushService, told: Any
) -> None:
    if told == {"says_more": "yes"}:
        told = {"subscription": push_service.subscribe().plain, **told}
    answer = enter(app, cast, "Asta").post("/us/alerts/on", json=told, headers=FROM_SCRIPT)
    assert answer.status_code in (400, 422)
    assert taking(store, cast, "Asta") == []


@pytest.mark.parametrize("endpoint", ["https://10.0.0.1/p", "http://push.example.net/p", "https://[::1]/p"])
def test_a_place_inside_a_private_network_is_no_browsers(
    app: Flask, cast: Cast, settings: Settings, push_service: PushService, endpoint: str
) -> None:
    object.__setattr__(settings, "outgoing", Outgoing())  # as in a real house: nothing on this machine
    told = push_service.subscribe().plain | {"endpoint": endpoint}
    answer = enter(app, cast, "Asta").post("/us/alerts/on", json={"subscription": told}, headers=FROM_SCRIPT)
    assert (answer.status_code, answer.get_json()) == (422, {"error": "subscription_form"})


def test_a_house_without_a_key_says_so(app: Flask, cast: Cast, settings: Settings) -> None:
    object.__setattr__(settings, "push", None)
    page = text(enter(app, cast, "Asta").get("/us/alerts"))
    assert "This house sends no alerts to devices." in page


# -- a practice's gateway --
SECRET = re.compile(r'<code class="secret"[^>]*>([^<]+)</code>')


def test_a_gateway_is_set_up_with_a_secret_that_is_shown_once(
    app: Flask, cast: Cast, store: Store, settings: Settings, clock: Clock, gateway: FakeGateway
) -> None:
    mina = enter(app, cast, "Mina")
    found = SECRET.search(mina.post("/practice/gateway", data={"url": gateway.url}).get_data(as_text=True))
    assert found is not None
    gateway.secret = found[1]
    assert gateway.secret not in mina.get("/practice/gateway").get_data(as_text=True)
    mina.post("/practice/gateway/test")
    assert run(store, settings, clock) == Sent(sent=1)
    (call,) = gateway.requests
    assert call.told["event"] == "gateway_test"
    assert "It took the last message" in text(mina.get("/practice/gateway"))


def test_a_new_secret_makes_the_old_one_worthless(
    app: Flask, cast: Cast, store: Store, settings: Settings, clock: Clock, gateway: FakeGateway
) -> None:
    mina = enter(app, cast, "Mina")
    for _ in range(2):
        found = SECRET.search(mina.post("/practice/gateway", data={"url": gateway.url}).get_data(as_text=True))
        gateway.secret = gateway.secret if gateway.secret != "only for tests" else found[1] if found else ""
    mina.post("/practice/gateway/test")
    assert run(store, settings, clock) == Sent(put_off=1)
    assert gateway.requests == []
    assert "It takes no messages" in text(mina.get("/practice/gateway"))


def test_a_gateway_that_is_used_no_more_is_told_nothing(
    app: Flask, cast: Cast, store: Store, settings: Settings, clock: Clock, gateway: FakeGateway
) -> None:
    mina = enter(app, cast, "Mina")
    mina.post("/practice/gateway", data={"url": gateway.url})
    mina.post("/practice/gateway/test")
    mina.post("/practice/gateway/end")
    assert run(store, settings, clock) == Sent(given_up=1)
    assert gateway.calls == []
    with store.reading() as session:
        assert webhook_of(session, cast.practices["mill"]) is None
        assert session.scalars(select(Webhook.secret)).all() == [""]


@pytest.mark.parametrize("url", ["", "gateway.example", "ftp://gateway.example/", "https://10.0.0.1/"])
def test_an_address_that_we_would_never_call_is_refused(app: Flask, cast: Cast, store: Store, url: str) -> None:
    page = enter(app, cast, "Mina").post("/practice/gateway", data={"url": url})
    assert page.status_code == 422
    with store.reading() as session:
        assert webhook_of(session, cast.practices["mill"]) is None


def test_H2_a_failing_browser_is_shown_to_its_owner(
    app: Flask, cast: Cast, store: Store, settings: Settings, clock: Clock, push_service: PushService
) -> None:
    client = enter(app, cast, "Asta")
    switch_on(client, push_service.subscribe())
    push_service.answer = Answer.TROUBLE
    client.post("/us/alerts/test")
    run(store, settings, clock)
    assert "It takes no alerts at the moment." in text(client.get("/us/alerts"))


def test_H2_a_browser_that_stopped_by_itself_is_shown_until_it_is_on_again(
    app: Flask, cast: Cast, store: Store, settings: Settings, clock: Clock, push_service: PushService
) -> None:
    client = enter(app, cast, "Asta")
    switch_on(client, push_service.subscribe())
    push_service.answer = Answer.GONE
    client.post("/us/alerts/test")
    assert run(store, settings, clock) == Sent(given_up=1)
    with store.reading() as session:
        assert [one.code for one in findings(session, clock()) if one.area == "channels"] == ["devices_gone"]
    assert "takes no alerts any more" in text(client.get("/us/alerts"))
    push_service.answer = Answer.ACCEPT
    other = push_service.subscribe()
    switch_on(client, other)
    assert "takes no alerts any more" not in text(client.get("/us/alerts"))
    with store.reading() as session:
        assert not [one for one in findings(session, clock()) if one.area == "channels"]
    client.post("/us/alerts/off", json={"endpoint": other.endpoint}, headers=FROM_SCRIPT)
    clock.advance(days=31)
    assert "takes no alerts any more" not in text(client.get("/us/alerts"))


def test_looking_sends_nothing(app: Flask, cast: Cast, store: Store, push_service: PushService) -> None:
    client = enter(app, cast, "Asta")
    switch_on(client, push_service.subscribe())
    for _ in range(3):
        client.get("/us/alerts")
    with store.reading() as session:
        assert session.scalars(select(Outbox)).all() == []
        assert len(session.scalars(select(PushSubscription)).all()) == 1


def test_what_is_stored_names_the_devices_and_no_secret(
    app: Flask, cast: Cast, push_service: PushService
) -> None:
    client, browser = enter(app, cast, "Gwen"), push_service.subscribe()
    switch_on(client, browser)
    assert "Alerts on devices 1 place" in text(client.get("/us/stored"))
    told = client.get("/us/stored.json").get_data(as_text=True)
    assert '"pushed_by": "127.0.0.1"' in told
    assert browser.auth not in told and browser.endpoint not in told
