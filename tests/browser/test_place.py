"""The place for the emergency number on a journey: the phone asks again, with the network and without."""

from __future__ import annotations

from people import Cast
from windows import Open, Site
from wrong_walk import cut, family_phone

ASKED = "Are you somewhere else now? Tap the place where you are."
JOURNEY = """(() => {
    const { resolvedOptions } = Intl.DateTimeFormat.prototype;
    Intl.DateTimeFormat.prototype.resolvedOptions = function () {
        return { ...resolvedOptions.call(this), timeZone: "Asia/Singapore" };
    };
})()"""
"""The clock of the phone is in another zone from now on."""


def test_H10_on_a_journey_the_phone_asks_for_the_place_again(site: Site, cast: Cast, window: Open) -> None:
    mine = family_phone(window, site, cast, "Gwen")
    mine.go("/wrong")
    assert ASKED not in mine.says()
    mine.page.add_init_script(JOURNEY)
    mine.go("/tonight")
    mine.page.wait_for_function("() => document.cookie.includes('zone=Asia/Singapore')")
    mine.go("/wrong")
    assert ASKED in mine.says()
    cut(mine)
    mine.go("/wrong")
    mine.page.locator("[data-eyes]").first.wait_for()
    assert ASKED in mine.says("#place")
    mine.page.get_by_role("button", name="Singapore").click()
    assert mine.page.locator("section.alarm a").get_attribute("href") == "tel:995"
    assert ASKED not in mine.says()
    mine.page.reload()
    mine.page.locator("[data-eyes]").first.wait_for()
    assert ASKED not in mine.says()
    assert mine.page.locator("section.alarm a").get_attribute("href") == "tel:995"
