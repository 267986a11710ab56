"""Alerts on a device, in a real browser: switched on by hand, pushed through the fake push service, shown, tapped.

Chromium subscribes at its maker's service alone, so a page's ``subscribe`` gives out the fake service's place. All
else is real: the page, the server, the encryption, the worker and what it shows.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from fake_channels import FakeBrowser, PushService
from handsets import Phone, agree
from looks import assert_well
from people import PASSWORD, Cast
from playwright.sync_api import Playwright
from telling import RED_PAIN, report
from test_screens import NAMES, speak
from windows import EVERY_WAY, Open, Site

from companion.clockwork.worker import carriers
from companion.store.models import Person, Practice, PushSubscription
from companion.usecases.actor import actor_of
from companion.usecases.recording import record_entries
from companion.usecases.sending import send_due

PLACE = """(told) => {
    const key = (options) => btoa(String.fromCharCode(...new Uint8Array(options.applicationServerKey)))
        .replaceAll("+", "-").replaceAll("/", "_").replaceAll("=", "");
    const taken = () => localStorage.getItem("fake place") && {
        endpoint: told.plain.endpoint,
        toJSON: () => told.plain,
        unsubscribe: async () => localStorage.removeItem("fake place"),
    };
    PushManager.prototype.getSubscription = async () => taken() || null;
    PushManager.prototype.subscribe = async (options) => {
        if (told.fails) throw new DOMException("no push service", "AbortError");
        if (!options.userVisibleOnly || key(options) !== told.key) throw new TypeError("not our key");
        localStorage.setItem("fake place", "taken");
        return taken();
    };
}"""
SHOWN = """async () => {
    await navigator.serviceWorker.ready;
    const shown = await (await navigator.serviceWorker.getRegistration("/")).getNotifications();
    return shown.map(({ title, body, lang, tag, data, icon }) => ({ title, body, lang, tag, data, icon }));
}"""
# Its end, not a look now and then: to look at what is shown while it is about to be takes it away in this browser.
SHOWING = """() => {
    const real = ServiceWorkerRegistration.prototype.showNotification;
    self.showing = new Promise((shown, failed) => {
        ServiceWorkerRegistration.prototype.showNotification = function (...told) {
            const showing = real.apply(this, told);
            showing.then(shown, failed);
            return showing;
        };
    });
}"""
TAPPED = """async () => {
    self.opened = [];
    Clients.prototype.openWindow = async (url) => { self.opened.push(url); };
    WindowClient.prototype.focus = async function () { self.opened.push(new URL(this.url).pathname); };
    const [notification] = await self.registration.getNotifications();
    await openPushed(notification);
    return { opened: self.opened, left: (await self.registration.getNotifications()).length };
}"""


@pytest.fixture
def own(
    site: Site,
    playwright: Playwright,
    tmp_path: Path,
    cast: Cast,
    push_service: PushService,
    browser_type_launch_args: dict[str, Any],
) -> Iterator[Callable[..., tuple[Phone, FakeBrowser]]]:
    """Open somebody's device at *Alerts on this device*, in a browser that has a place at the push service."""
    agree(site, cast)
    phones: list[Phone] = []

    def open_one(name: str, *, asks: str = "granted", fails: bool = False) -> tuple[Phone, FakeBrowser]:
        sender = site.settings.push
        assert sender is not None
        place = push_service.subscribe(sender.public_key)
        phone = Phone(site, tmp_path / f"phone-{len(phones)}", playwright, browser_type_launch_args)
        phones.append(phone)
        phone.open()
        assert phone.context is not None
        told = {"plain": place.plain, "key": sender.public_key, "fails": fails}
        phone.context.add_init_script(f"({PLACE})({json.dumps(told)})")
        if asks == "granted":
            phone.context.grant_permissions(["notifications"], origin=site.address)
        phone.go("/sign-in")
        phone.page.fill("[name=login]", name.lower())
        phone.page.fill("[name=password]", PASSWORD)
        with phone.page.expect_navigation():
            phone.page.click("main form button.act")
        phone.go("/us/alerts")
        return phone, place

    yield open_one
    for phone in phones:
        if phone.context:
            phone.kill()


def switch_on(phone: Phone) -> None:
    phone.page.click("#alerts-on")
    phone.page.wait_for_url("**/us/alerts?saved=1")
    phone.page.get_by_text("Alerts are on here.").wait_for()


def send(site: Site) -> None:
    send_due(site.store, carriers(site.settings, site.store), site.address, "one", site.clock)


def deliver(phone: Phone, raw: str) -> list[dict[str, Any]]:
    """Let the browser hand a push to its worker; return what the device then shows."""
    assert phone.context is not None
    session = phone.context.new_cdp_session(phone.page)
    known: list[str] = []

    def note(event: dict[str, Any]) -> None:
        known.extend(one["registrationId"] for one in event["registrations"] if not one["isDeleted"])

    session.on("ServiceWorker.workerRegistrationUpdated", note)
    session.send("ServiceWorker.enable")
    phone.until("async () => (await navigator.serviceWorker.ready).active.state === 'activated'")
    worker = phone.context.service_workers[0]
    worker.evaluate(SHOWING)
    push = {"origin": phone.site.address, "registrationId": known[-1], "data": raw}
    session.send("ServiceWorker.deliverPushMessage", push)
    worker.evaluate("() => self.showing")
    return phone.page.evaluate(SHOWN)  # type: ignore[no-any-return]


def tap(phone: Phone) -> dict[str, Any]:
    """Tap what is shown; no test can press it, so the worker is asked to do what it does then."""
    assert phone.context is not None
    worker = phone.context.service_workers[0]
    return worker.evaluate(TAPPED)  # type: ignore[no-any-return]


def report_on_nola(site: Site, cast: Cast) -> None:
    """A red painful eye, which Asta is told of first."""
    with site.store.writing() as session:
        mill = session.get_one(Practice, cast.practices["mill"])
        mill.alert_plan = [{"person_id": cast.people["Asta"], "channel": "push"}]
        session.commit()
    with site.store.writing() as session:
        gwen = actor_of(session, session.get_one(Person, cast.people["Gwen"]), "")
        told = [report(site.clock(), right=RED_PAIN)]
        assert not record_entries(session, gwen, cast.wearers["Nola"], told, site.clock()).rejected


def test_H2_a_report_shows_on_the_device_of_whoever_is_to_act_and_names_nobody(
    site: Site, cast: Cast, own: Callable[..., tuple[Phone, FakeBrowser]], push_service: PushService
) -> None:
    phone, place = own("Asta")
    switch_on(phone)
    report_on_nola(site, cast)
    send(site)
    (push,) = push_service.pushes_to(place)
    (shown,) = deliver(phone, push.raw)
    assert (shown["title"], shown["body"]) == ("The companion", "You are needed now. Tap to see why.")
    assert not any(name in json.dumps(shown) for name in (*cast.people, *cast.wearers))
    told = tap(phone)
    assert told["left"] == 0
    (address,) = told["opened"]
    phone.page.goto(address)
    assert phone.page.get_by_role("button", name="Take it").is_visible()


def test_a_family_asks_for_a_test_and_sees_it(
    site: Site, own: Callable[..., tuple[Phone, FakeBrowser]], push_service: PushService
) -> None:
    phone, place = own("Gwen")
    switch_on(phone)
    with phone.page.expect_navigation():
        phone.page.get_by_role("button", name="Send me a test").click()
    send(site)
    (push,) = push_service.pushes_to(place)
    (shown,) = deliver(phone, push.raw)
    assert shown["body"] == "This is a test. Alerts reach this device."
    assert tap(phone)["opened"] == ["/us/alerts"], "the window that shows it comes to the front"


def test_a_push_that_nobody_can_read_still_shows_something_neutral_and_asks_the_network_for_nothing(
    own: Callable[..., tuple[Phone, FakeBrowser]],
) -> None:
    phone, _ = own("Gwen")
    switch_on(phone)
    phone.offline()
    (shown,) = deliver(phone, "not what we send")
    assert shown["icon"] == ""
    assert (shown["title"], shown["body"], shown["data"]) == ("The companion", "", {"path": "/"})


def test_it_is_switched_off_and_on_again_with_more_words(
    site: Site, own: Callable[..., tuple[Phone, FakeBrowser]]
) -> None:
    phone, _ = own("Gwen")
    phone.page.locator("label", has=phone.page.locator("#says-more")).click()
    switch_on(phone)
    with site.store.reading() as session:
        assert [one.says_more for one in session.query(PushSubscription)] == [True]
    phone.page.click("#alerts-off")
    phone.page.locator("#alerts-on").wait_for()
    with site.store.reading() as session:
        assert all(one.ended_at for one in session.query(PushSubscription))


@pytest.mark.parametrize(
    ("how", "words"),
    [
        ({"asks": "denied"}, "This browser blocks alerts from here."),
        ({"fails": True}, "It did not work."),
    ],
)
def test_a_browser_that_will_not_is_a_normal_case(
    own: Callable[..., tuple[Phone, FakeBrowser]], how: dict[str, Any], words: str
) -> None:
    phone, _ = own("Gwen", **how)
    phone.page.locator("#alerting[data-state]").wait_for()
    if phone.page.locator("#alerts-on").is_visible():
        phone.page.click("#alerts-on")
    phone.page.get_by_text(words).wait_for()


@pytest.mark.parametrize(("size", "language"), EVERY_WAY)
def test_the_screens_of_the_channels(
    site: Site, cast: Cast, window: Open, size: dict[str, int], language: str
) -> None:
    agree(site, cast)
    speak(site, language)
    family = window(size, language)
    family.sign_in("Gwen")
    family.go("/us/alerts")
    assert_well(family, NAMES)
    manager = window(size, language)
    manager.sign_in("Mina")
    for path in ("/us/alerts", "/practice/gateway"):
        manager.go(path)
        assert_well(manager, (*NAMES, "https://"))
    manager.fill(url="https://gateway.example/alerts")
    manager.press("form[action$='/practice/gateway'] button.act")
    assert manager.page.locator("code.secret").is_visible()
    assert_well(manager, (*NAMES, "https://"))
