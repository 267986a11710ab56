"""The quick lock of a shared phone: what it covers, what it never covers, and the ways back in."""

from __future__ import annotations

import pytest
from handsets import agree
from looks import assert_fits, assert_no_english, assert_readable_by_all
from people import PASSWORD, Cast
from playwright.sync_api import Page, expect
from sqlalchemy import update
from test_screens import NAMES
from windows import Open, Site, Window

from companion.store.models import Person

CODE = "2580"
AWAY = """(minutes) => {
    const lock = JSON.parse(localStorage.getItem("lock"));
    localStorage.setItem("lock", JSON.stringify({...lock, seen_at: Date.now() - minutes * 60000}));
}"""
BACK = "document.dispatchEvent(new Event('visibilitychange'))"
SHOWN = "(name) => document.body.innerText.includes(name) || document.title.includes(name)"


def speak(site: Site, language: str) -> None:
    with site.store.writing() as session:
        session.execute(update(Person).where(Person.name == "Gwen").values(language=language))
        session.commit()


def locked(site: Site, cast: Cast, open_window: Open, language: str = "en") -> Window:
    """A phone of Gwen's that was locked at once."""
    agree(site, cast)
    speak(site, language)
    family = open_window(language=language, script=True)
    with family.page.expect_response("**/sync"):
        family.sign_in("Gwen")
    family.go("/us")
    family.page.locator("#new-code").fill(CODE)
    family.page.locator("#locking form button").click()
    family.page.locator("#locking [role=status]").wait_for()
    assert_readable_by_all(family.page)
    family.page.locator("#locking button").first.click()
    expect(family.page.locator(".lock")).to_be_visible()
    return family


def try_code(page: Page, code: str) -> None:
    page.locator("#lock-code").fill(code)
    page.locator(".lock form button").click()


@pytest.mark.parametrize("language", ["en", "ar", "zh-Hans"])
def test_a_locked_app_shows_no_name_on_any_page(site: Site, cast: Cast, window: Open, language: str) -> None:
    family, nola = locked(site, cast, window, language), cast.wearers["Nola"]
    page = family.page
    for path in ("/us", f"/w/{nola}/tonight", f"/w/{nola}/diary", "/app"):
        family.go(path)
        expect(page.locator(".lock h1")).to_be_visible()
        page.wait_for_load_state("networkidle")
        expect(page.locator("#main")).to_be_hidden()
        assert not page.evaluate(SHOWN, "Nola") and not page.evaluate(SHOWN, "Gwen"), path
        expect(page.locator(".something-wrong")).to_be_in_viewport()
    assert_readable_by_all(page)
    assert_fits(page)
    family.go("/us")
    expect(page.locator(".lock h1")).to_be_visible()
    if language != "en":
        assert_no_english(page, NAMES)
    try_code(page, "1111")
    expect(page.locator(".lock [role=alert]")).not_to_be_empty()
    try_code(page, CODE)
    expect(page.locator("#main")).to_be_visible()
    expect(page.locator(".lock")).to_have_count(0)
    page.reload()
    expect(page.locator("#main")).to_be_visible()


@pytest.mark.parametrize("offline", [False, True])
def test_H3_something_is_wrong_opens_without_the_code(site: Site, cast: Cast, window: Open, offline: bool) -> None:
    family, nola = locked(site, cast, window), cast.wearers["Nola"]
    page = family.page
    page.wait_for_function("() => navigator.serviceWorker.controller")
    page.context.set_offline(offline)
    family.go("/app")
    expect(page.locator(".lock")).to_be_visible()
    page.locator(".something-wrong").click()
    expect(page.locator("#wrong")).to_contain_text("Is it an emergency?")
    expect(page.locator("#wrong")).to_contain_text("Call your local emergency number")
    expect(page.locator("#wrong a[href='tel:+441632960000']")).to_be_visible()
    expect(page.locator(".lock")).to_have_count(0)
    page.go_back()
    expect(page.locator(".lock")).to_be_visible()
    family.go(f"/w/{nola}/tonight")
    expect(page.locator(".lock")).to_be_visible()
    family.press(".something-wrong")
    expect(page.get_by_text("Is it an emergency?").first).to_be_visible()
    expect(page.locator(".lock")).to_have_count(0)


def test_it_locks_after_five_minutes_away_and_not_before(site: Site, cast: Cast, window: Open) -> None:
    family = locked(site, cast, window)
    page = family.page
    try_code(page, CODE)
    expect(page.locator("#main")).to_be_visible()
    page.evaluate(AWAY, 4)
    page.evaluate(BACK)
    expect(page.locator("#main")).to_be_visible()
    page.evaluate(AWAY, 6)
    page.evaluate(BACK)
    expect(page.locator(".lock")).to_be_visible()
    expect(page.locator("#main")).to_be_hidden()
    try_code(page, CODE)
    expect(page.locator("#main")).to_be_visible()
    page.evaluate(AWAY, 6)
    cold = page.context.new_page()  # as after the system has put the app away
    cold.goto(site.url("/app"))
    expect(cold.locator(".lock")).to_be_visible()
    expect(page.locator(".lock")).to_be_visible()  # and so is every other window


def test_five_wrong_codes_want_a_sign_in_which_forgets_the_code(site: Site, cast: Cast, window: Open) -> None:
    family = locked(site, cast, window)
    page = family.page
    for n in range(5):
        try_code(page, f"000{n}")
        page.wait_for_function("(n) => JSON.parse(localStorage.lock).tries === n", arg=n + 1)
        expect(page.locator("#lock-code:disabled")).to_have_count(0)
    expect(page.locator(".lock")).to_contain_text("Sign in again.")
    page.reload()
    expect(page.locator("#lock-code")).to_have_count(0)
    page.context.set_offline(True)
    page.locator(".lock button").click()
    expect(page.locator(".lock")).to_contain_text("needs a network")
    page.context.set_offline(False)
    page.locator(".lock button").click()
    page.wait_for_url("**/sign-in?bye=1")
    family.fill(login="gwen", password=PASSWORD)
    family.press("form button.act")
    expect(page.locator("#main")).to_be_visible()
    expect(page.locator("h1").first).to_be_visible()
    assert page.evaluate("localStorage.getItem('lock')") is None


def test_a_sign_out_page_by_its_address_opens_nothing(site: Site, cast: Cast, window: Open) -> None:
    family = locked(site, cast, window)
    family.go("/sign-in?bye=1")
    family.page.wait_for_load_state("networkidle")
    family.go("/us")
    expect(family.page.locator(".lock")).to_be_visible()


def test_only_a_slow_hash_of_the_code_is_kept_and_only_here(site: Site, cast: Cast, window: Open) -> None:
    family = locked(site, cast, window)
    kept = family.page.evaluate("JSON.parse(localStorage.getItem('lock'))")
    assert kept.keys() == {"account", "salt", "rounds", "hash", "tries", "shut", "seen_at"}
    assert kept["rounds"] >= 300_000 and len(kept["hash"]) == 64 and len(kept["salt"]) == 32
    try_code(family.page, CODE)
    expect(family.page.locator("#main")).to_be_visible()
    family.page.locator("#locking button").nth(1).click()
    expect(family.page.locator("#new-code")).to_be_visible()
    assert family.page.evaluate("localStorage.getItem('lock')") is None
