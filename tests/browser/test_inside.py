"""A window inside another app says, in drawings, how to get to the browser. An app of its own says nothing."""

from __future__ import annotations

import pytest
from looks import assert_fits, assert_no_english, assert_readable_by_all
from people import Cast
from playwright.sync_api import Browser, Page, expect
from windows import PHONE, Site, Window

PLAIN = (
    "Mozilla/5.0 (Linux; Android 14; K) AppleWebKit/537.36"
    " (KHTML, like Gecko) Chrome/130.0.0.0 Mobile Safari/537.36"
)
VIEW = (
    "Mozilla/5.0 (Linux; Android 14; K; wv) AppleWebKit/537.36 (KHTML, like Gecko) Version/4.0 Chrome/130.0.0.0"
    " Mobile Safari/537.36"
)
IPHONE = (
    "Mozilla/5.0 (iPhone; CPU iPhone OS 17_5 like Mac OS X) AppleWebKit/605.1.15 (KHTML, like Gecko) Mobile/15E148"
)
INSIDE = [
    VIEW,
    *(
        f"{IPHONE} {token}"
        for token in ("[FBAN/FBIOS;FBAV/470.0]", "Instagram 340.0", "MicroMessenger/8.0", "WhatsApp/2")
    ),
    f"{IPHONE} Safari Line/14.9.0",
]
NOTICE = "#notice-inside"


def opened(browser: Browser, site: Site, agent: str, path: str, language: str = "en") -> Page:
    context = browser.new_context(viewport=PHONE, user_agent=agent, locale="en-GB", reduced_motion="reduce")
    context.add_cookies([{"name": "language", "value": language, "url": site.address}])
    page = context.new_page()
    page.goto(site.url(path), wait_until="networkidle")
    return page


@pytest.mark.parametrize("agent", INSIDE)
def test_another_apps_window_is_known_by_its_name(browser: Browser, site: Site, agent: str) -> None:
    page = opened(browser, site, agent, "/sign-in")
    expect(page.locator(NOTICE)).to_be_visible()
    page.context.close()


def test_a_browser_is_not_taken_for_one(browser: Browser, site: Site) -> None:
    for agent in (PLAIN, f"{IPHONE} Version/17.5 Safari/604.1", f"{PLAIN} Offline/1 Online/2"):
        page = opened(browser, site, agent, "/sign-in")
        expect(page.locator("form button.act")).to_be_visible()
        assert page.locator(NOTICE).count() == 0
        page.context.close()


@pytest.mark.parametrize("language", ["en", "ar", "zh-Hans", "en-x-mirror"])
def test_it_is_told_in_drawings_until_it_is_put_away(browser: Browser, site: Site, language: str) -> None:
    page = opened(browser, site, VIEW, "/sign-in", language)
    notice = page.locator(NOTICE)
    assert notice.locator("svg").count() == 2 and notice.locator("li").count() == 2
    expect(page.locator(".something-wrong")).to_be_in_viewport()
    assert_readable_by_all(page)
    assert_fits(page)
    if language in ("ar", "zh-Hans"):
        assert_no_english(page)
    notice.locator("button").click()
    expect(notice).to_have_count(0)
    page.reload(wait_until="networkidle")
    expect(notice).to_have_count(0)
    page.context.close()


def test_H3_it_is_never_in_the_way_of_something_is_wrong(browser: Browser, site: Site, cast: Cast) -> None:
    page = opened(browser, site, VIEW, "/app")
    window = Window(site, page)
    window.go("/sign-in")
    expect(page.locator(NOTICE)).to_be_visible()
    window.press(".something-wrong")
    page.wait_for_load_state("networkidle")
    assert window.path == "/wrong"
    assert page.locator(NOTICE).count() == 0
    page.context.close()
