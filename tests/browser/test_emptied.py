"""A phone whose storage the browser has emptied: the app says so, once, and what was only there."""

from __future__ import annotations

import pytest
from handsets import agree
from looks import assert_readable_by_all
from people import Cast
from playwright.sync_api import Page, expect
from test_lock import speak
from windows import Open, Site, Window

EMPTY = """async () => {
    for (const one of await caches.keys()) await caches.delete(one);
    await new Promise((resolve, reject) => {
        const request = indexedDB.deleteDatabase("companion");
        request.onsuccess = resolve;
        request.onerror = () => reject(request.error);
    });
}"""
NOTICE = "#notice-emptied"


def synced(window: Window, path: str | None = None) -> Page:
    with window.page.expect_response("**/sync"):
        if path:
            window.go(path)
        else:
            window.sign_in("Gwen")
    window.page.wait_for_load_state("networkidle")
    return window.page


@pytest.mark.parametrize("language", ["en", "ar", "zh-Hans"])
def test_H3_an_emptied_phone_says_what_is_lost_until_it_is_read(
    site: Site, cast: Cast, window: Open, language: str
) -> None:
    agree(site, cast)
    speak(site, language)
    family, nola = window(language=language, script=True), cast.wearers["Nola"]
    page = synced(family)
    synced(family, f"/w/{nola}/tonight")
    expect(page.locator(NOTICE)).to_have_count(0)
    page.evaluate(EMPTY)
    synced(family, f"/w/{nola}/tonight")
    notice = page.locator(NOTICE)
    expect(notice).to_be_visible()
    assert page.evaluate("document.documentElement.lang") == language
    assert ("browser" in notice.inner_text()) == (language == "en")
    if language == "en":
        expect(notice).to_contain_text("The browser has emptied this app's memory on this phone.")
        expect(notice).to_contain_text("What was only on this phone is gone: look at last night in the diary.")
    expect(page.locator(".something-wrong")).to_be_in_viewport()
    assert_readable_by_all(page)
    synced(family, f"/w/{nola}/diary")
    expect(notice).to_be_visible()  # until it is read
    assert notice.locator("a").get_attribute("href") == f"/w/{nola}/diary"
    notice.locator("button").click()
    expect(notice).to_have_count(0)
    synced(family, f"/w/{nola}/tonight")
    expect(notice).to_have_count(0)


def test_a_phone_that_asks_to_keep_its_storage_asks_after_a_tap(site: Site, cast: Cast, window: Open) -> None:
    agree(site, cast)
    family = window(script=True)
    family.page.context.clock.install(time=site.clock())
    family.page.add_init_script(
        "window.asked = 0; StorageManager.prototype.persist = async () => { window.asked += 1; return true; }"
    )
    page = synced(family)
    assert page.evaluate("window.asked") == 0
    page.locator("form[data-entry] button.great").click()
    page.wait_for_function("() => window.asked === 1")
