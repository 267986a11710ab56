"""The phone without a network: what is tapped is kept first, shown at once, survives, and arrives exactly once."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from contextlib import suppress
from datetime import UTC, datetime, timedelta
from pathlib import Path
from random import Random
from typing import Any

import pytest
from handsets import ENTRIES, Phone, agree, on_server
from looks import assert_fit_for_thumbs, assert_fits, assert_readable_by_all
from people import Cast
from playwright.sync_api import Error, Playwright, Route
from windows import Open, Site

from companion.app import create_app
from companion.store.models import SignIn
from companion.web import entries, static_files

Own = Callable[..., Phone]
SEEDS = [pytest.param(seed, marks=[pytest.mark.slow] if seed else []) for seed in range(10)]
STEPS = 10
TAKEN_OVER = """async (name) => {
    const { installing, waiting } = await navigator.serviceWorker.ready;
    return !installing && !waiting && await caches.match("/app", { cacheName: name, ignoreVary: true });
}"""


def deaf(route: Route) -> None:
    """The request arrives, and its answer never does."""
    with suppress(Error):  # the page has gone on, or ended, meanwhile
        route.fetch()
        route.abort()


@pytest.fixture
def own(
    site: Site, playwright: Playwright, tmp_path: Path, cast: Cast, browser_type_launch_args: dict[str, Any]
) -> Iterator[Own]:
    """Make phones, each with a folder of its own, signed in and ready for a night without a network."""
    phones: list[Phone] = []
    agree(site, cast)

    def make(name: str, *, wakes: bool = False) -> Phone:
        phone = Phone(site, tmp_path / f"phone-{len(phones)}", playwright, browser_type_launch_args, wakes)
        phones.append(phone)
        phone.open()
        phone.sign_in(name)
        return phone

    yield make
    for phone in phones:
        if phone.context:
            phone.kill()


def test_H3_a_tap_without_a_network_outlives_the_browser_and_arrives_once(
    own: Own, site: Site, cast: Cast
) -> None:
    phone, nola = own("Gwen"), cast.wearers["Nola"]
    phone.offline()
    tapped = phone.tap("lenses_in")
    phone.says("Both lenses in")
    phone.says("Saved on this phone.")
    assert_readable_by_all(phone.page)
    assert_fits(phone.page)
    assert_fit_for_thumbs(phone.page)
    assert [row["state"] for row in phone.kept()["entries"]] == ["here"]
    assert on_server(site, nola) == []
    phone.kill()
    phone.open(f"/w/{nola}/tonight", offline=True)
    phone.says("Both lenses in")
    assert [row["id"] for row in phone.kept()["entries"]] == [tapped]
    phone.offline(False)
    phone.waits_for_none()
    assert on_server(site, nola) == [tapped]
    assert [row["id"] for row in phone.kept()["seen"]] == [tapped]


def test_the_worker_sends_what_waits_when_the_system_wakes_it(own: Own, site: Site, cast: Cast) -> None:
    phone, nola = own("Gwen", wakes=True), cast.wearers["Nola"]
    phone.offline()
    tapped = phone.tap("lenses_in")
    phone.says("Saved on this phone.")
    phone.kill()
    phone.open()  # no page of ours
    for _ in range(2000):
        if on_server(site, nola):
            break
        phone.page.evaluate("new Promise((resolve) => requestAnimationFrame(resolve))")
    assert on_server(site, nola) == [tapped]


def test_a_double_tap_is_one_entry(own: Own, site: Site, cast: Cast) -> None:
    phone, nola = own("Gwen"), cast.wearers["Nola"]
    phone.offline()
    phone.page.evaluate(
        """() => {
            const button = document.querySelector("form[data-entry] button.great");
            for (let n = 0; n < 3; n += 1) button.form.requestSubmit(button);
        }"""
    )
    phone.says("Both lenses in")
    assert len(phone.kept()["entries"]) == 1
    phone.offline(False)
    phone.waits_for_none()
    assert len(on_server(site, nola)) == 1


def test_undo_takes_back_what_never_left_the_phone(own: Own, site: Site, cast: Cast) -> None:
    phone, nola = own("Gwen"), cast.wearers["Nola"]
    phone.offline()
    phone.page.evaluate("void navigator.locks.request('companion sync', () => new Promise(() => {}))")
    phone.tap("lenses_in")
    phone.page.locator(".strip button.undo").click()
    phone.page.locator(".strip", has_text="Both lenses in").wait_for(state="hidden")
    assert phone.kept()["entries"] == []
    assert on_server(site, nola) == []


def test_undo_follows_what_may_have_left_the_phone(own: Own, site: Site, cast: Cast) -> None:
    """The request arrives and its answer does not: only a withdrawal can take the tap back."""
    phone, nola = own("Gwen"), cast.wearers["Nola"]
    phone.page.route("**/sync", deaf)
    # Not the request that asks for news, which may fail in between: the one that carries the tap.
    with phone.page.expect_event("requestfailed", lambda request: "lenses_in" in (request.post_data or "")):
        tapped = phone.tap("lenses_in")
    phone.page.locator(".strip button.undo").click()
    phone.page.locator(".strip", has_text="Both lenses in").wait_for(state="hidden")
    phone.page.unroute("**/sync")
    phone.go(f"/w/{nola}/tonight")
    phone.waits_for_none()
    first, second = on_server(site, nola)
    assert first == tapped
    assert [row["payload"] for row in phone.kept()["seen"] if row["id"] == second] == [{"withdraws": tapped}]


def test_two_phones_that_log_one_night_agree_and_keep_both_entries(own: Own, site: Site, cast: Cast) -> None:
    gwen, gus, nola = own("Gwen"), own("Gus"), cast.wearers["Nola"]
    gwen.offline()
    gus.offline()
    tapped = {gwen.tap("lenses_in"), gus.tap("lenses_in")}
    gwen.offline(False)
    gwen.waits_for_none()
    gus.offline(False)
    gus.waits_for_none()
    for phone in (gwen, gus):
        phone.go(f"/w/{nola}/tonight")
        phone.page.wait_for_load_state("networkidle")
        assert {row["id"] for row in phone.kept()["seen"]} == tapped
    assert set(on_server(site, nola)) == tapped


def test_a_new_build_takes_over_and_loses_nothing(
    own: Own, site: Site, cast: Cast, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    phone, nola = own("Gwen"), cast.wearers["Nola"]
    old = site.app.extensions["companion_build"].version
    phone.offline()
    tapped = phone.tap("lenses_in")
    shutil.copytree(static_files.TREE, tmp_path / "static")
    with (tmp_path / "static" / "js" / "app.js").open("a") as script:
        script.write("globalThis.nextBuild = true;\n")
    monkeypatch.setattr(static_files, "TREE", tmp_path / "static")
    next_app = create_app(site.settings, store=site.store, clock=site.clock)
    new = next_app.extensions["companion_build"].version
    assert new != old
    monkeypatch.setattr(site.app, "wsgi_app", next_app.wsgi_app)
    phone.page.route("**/sync", lambda route: route.abort())
    phone.offline(False)
    phone.go(f"/w/{nola}/tonight")
    phone.until(TAKEN_OVER, f"companion {new}")
    phone.says("Both lenses in")
    old_file = f"/static/{old}/js/later.js"
    assert phone.page.evaluate("async (url) => (await fetch(url)).status", old_file) == 200, "for pages still open"
    phone.page.unroute("**/sync")
    phone.kill()
    phone.open("/app", offline=True)
    assert phone.page.evaluate("document.documentElement.dataset.build") == new
    phone.offline(False)
    phone.waits_for_none()
    assert on_server(site, nola) == [tapped]


def test_H3_signing_out_names_what_is_not_sent_and_keeps_it_for_that_person_alone(
    own: Own, site: Site, cast: Cast
) -> None:
    phone, nola = own("Gwen"), cast.wearers["Nola"]
    phone.page.route("**/sync", lambda route: route.abort())
    tapped = phone.tap("lenses_in")
    phone.go("/us")
    phone.page.locator("form[action='/sign-out'] button").click()
    dialog = phone.page.locator("dialog")
    dialog.locator("li", has_text="Both lenses in").wait_for()
    with phone.page.expect_navigation():
        dialog.locator("button[value=keep]").click()
    phone.page.unroute("**/sync")
    phone.sign_in("Gus")
    phone.until(f"async () => (await ({ENTRIES})()).wearers.length > 0")
    kept = phone.kept()
    assert [row["id"] for row in kept["entries"]] == [tapped]
    assert {row["account"] for row in kept["wearers"]} == {cast.people["Gus"]}
    assert on_server(site, nola) == []
    phone.go("/us")
    with phone.page.expect_navigation():
        phone.page.locator("form[action='/sign-out'] button").click()
    phone.sign_in("Gwen")
    phone.waits_for_none()
    assert on_server(site, nola) == [tapped]


def test_a_sign_in_that_is_over_keeps_the_tap_and_asks_for_one(own: Own, site: Site, cast: Cast) -> None:
    phone, nola = own("Gwen"), cast.wearers["Nola"]
    with site.store.writing() as session:
        for row in session.query(SignIn):
            row.ended_at = site.clock()
        session.commit()
    tapped = phone.tap("lenses_in")
    phone.says("Sign in, and it is sent.")
    assert on_server(site, nola) == []
    phone.sign_in("Gwen")
    phone.waits_for_none()
    assert on_server(site, nola) == [tapped]


@pytest.mark.parametrize("seed", SEEDS)
def test_H15_phones_that_are_cut_off_and_killed_at_random_agree_in_the_end(
    seed: int, own: Own, site: Site, cast: Cast
) -> None:
    rng, nola = Random(seed), cast.wearers["Nola"]
    phones = [own("Gwen"), own("Gus")]
    tapped: set[str] = set()
    for _ in range(STEPS):
        phone = rng.choice(phones)
        match rng.choice(["tap", "tap", "tap", "cut", "join", "drop", "deaf", "kill"]):
            case "tap":
                ways = phone.page.locator("main form[data-entry='tap'] button:visible:enabled")
                if ways.count():
                    tapped.add(phone.press(ways.nth(rng.randrange(ways.count()))))
            case "cut":
                phone.offline()
            case "join":
                phone.offline(False)
            case "drop":
                phone.page.route("**/sync", lambda route: route.abort(), times=1)
            case "deaf":
                phone.page.route("**/sync", deaf, times=1)
            case "kill":
                phone.kill()
                site.clock.advance(minutes=rng.randrange(1, 600))
                phone.open(f"/w/{nola}/tonight", offline=rng.random() < 0.7)
    for phone in rng.sample(phones, 2):
        phone.page.unroute_all(behavior="ignoreErrors")
        phone.offline(False)
        phone.go(f"/w/{nola}/tonight")
        phone.waits_for_none()
    told = on_server(site, nola)
    assert sorted(told) == sorted(tapped)
    for phone in phones:
        phone.page.reload()
        phone.page.wait_for_load_state("networkidle")
        assert sorted(row["id"] for row in phone.kept()["seen"]) == sorted(told)


def test_a_time_of_day_is_the_instant_that_the_server_would_have_read(site: Site, window: Open) -> None:
    """Both rules on the same clocks, around clock changes and far from them."""
    rng = Random(5)
    zones = ("Europe/London", "Asia/Singapore", "America/St_Johns", "Australia/Lord_Howe", "Africa/Cairo")
    changes = [datetime(2026, 3, 29, 3, tzinfo=UTC), datetime(2026, 10, 25, 5, tzinfo=UTC), site.clock()]
    cases = []
    for zone in zones:
        for change in changes:
            for _ in range(20):
                now = change + timedelta(minutes=rng.randrange(-1500, 1500))
                clock = f"{rng.randrange(24):02}:{rng.randrange(60):02}"
                cases.append((clock, zone, now))
    page = window(script=True).page
    page.goto(site.url("/style"))
    version = site.app.extensions["companion_build"].version
    said = page.evaluate(
        """async ([url, cases]) => {
            const { lastTime } = await import(url);
            return cases.map(([clock, zone, now]) => lastTime(clock, zone, now));
        }""",
        [
            f"/static/{version}/js/moments.js",
            [(clock, zone, int(now.timestamp() * 1000)) for clock, zone, now in cases],
        ],
    )
    wanted = [entries.when({"clock": clock, "zone": zone}, now) for clock, zone, now in cases]
    assert [datetime.fromtimestamp(one / 1000, UTC) for one in said] == wanted
