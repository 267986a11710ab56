"""Pages that are left open: what they say is brought up to date, and nobody's work on them is lost."""

from __future__ import annotations

import pytest
from people import Cast
from playwright.sync_api import Locator, expect
from telling import RED_PAIN, actor_named, report, tell
from windows import Open, Site, Window
from wrong_walk import cut, family_phone, on_the_phone, start_over

RED = {"right": {"redness": "red"}}
LOOKED_AT_AGAIN = "() => document.dispatchEvent(new Event('visibilitychange'))"
ALONE = "delete ServiceWorkerRegistration.prototype.sync"
"""The worker, whose clock no test moves, is not woken to send."""
FULL = """() => {
    IDBObjectStore.prototype.put = () => { throw new DOMException("full", "QuotaExceededError"); };
}"""


def result(window: Window) -> Locator:
    return window.page.locator("#main section h1:visible")


def reported(family: Window) -> Window:
    """Gwen's phone, with a report of Nola's right eye made on it and sent."""
    family.go("/app")
    family.page.locator("main .columns").wait_for()
    cut(family)
    start_over(family)
    on_the_phone(family, RED)
    with family.page.expect_response("**/sync"):
        cut(family, off=False)
    return family


@pytest.mark.parametrize("place", ["the server's page", "the phone's own"])
def test_H3_a_result_left_open_says_who_is_there_when_it_is_looked_at_again(
    site: Site, cast: Cast, window: Open, place: str
) -> None:
    site.clock.now = site.clock().replace(hour=17, minute=50)  # they shut at six
    if place == "the phone's own":
        family = reported(family_phone(window, site, cast, "Gwen"))
    else:
        family = family_phone(window, site, cast, "Gwen")
        gwen = actor_named(site.store, cast.people["Gwen"])
        told = tell(site.store, gwen, cast.wearers["Nola"], site.clock(), report(site.clock(), **RED))
        family.go(f"/w/{cast.wearers['Nola']}/reports/{told.reports[0]}")
    expect(result(family)).to_contain_text("They are open now.")
    site.clock.advance(minutes=20)
    family.page.evaluate(LOOKED_AT_AGAIN)
    expect(result(family)).not_to_contain_text("They are open now.")
    expect(result(family)).to_contain_text("08:30")


def test_H2_a_report_that_the_phone_could_not_keep_is_never_said_to_be_with_the_practice(
    site: Site, cast: Cast, window: Open
) -> None:
    family = family_phone(window, site, cast, "Gwen")
    family.go("/app")
    family.page.locator("main .columns").wait_for()
    cut(family)
    start_over(family)
    family.page.evaluate(FULL)
    on_the_phone(family, RED)
    told = family.page.locator("#told")
    expect(told).to_contain_text("This phone could not keep the report.")
    family.page.evaluate(LOOKED_AT_AGAIN)
    family.page.evaluate("() => dispatchEvent(new PopStateEvent('popstate'))")
    expect(told).to_contain_text("This phone could not keep the report.")
    assert "The practice has this report" not in family.says()


@pytest.mark.parametrize("at", ["/app", "/w/{nola}/tonight"])
def test_H12_work_on_tonight_is_kept_but_hides_no_stop_of_wear(
    site: Site, cast: Cast, window: Open, at: str
) -> None:
    nola = cast.wearers["Nola"]
    family = family_phone(window, site, cast, "Gwen")
    page = family.page
    family.go(at.format(nola=nola))
    page.locator("main .columns").wait_for()
    earlier = page.locator("details", has=page.locator("input[type=time]"))
    earlier.locator("summary").click()
    with page.expect_response("**/sync"):
        page.evaluate(LOOKED_AT_AGAIN)
    page.wait_for_load_state("networkidle")
    page.locator("input[type=time]:visible").fill("20:10")
    with page.expect_response("**/sync"):
        page.evaluate(LOOKED_AT_AGAIN)
    page.wait_for_load_state("networkidle")
    assert page.locator("input[type=time]:visible").input_value() == "20:10"
    gus = actor_named(site.store, cast.people["Gus"])
    tell(site.store, gus, nola, site.clock(), report(site.clock(), right=RED_PAIN, left=RED_PAIN))
    page.evaluate(LOOKED_AT_AGAIN)
    expect(page.locator("main h1").first).to_contain_text("No lenses for now.")
    assert page.locator("main button.great", has_text="Lenses in").count() == 0


def test_H3_a_result_left_open_past_closing_time_without_a_network_says_so_by_itself(
    site: Site, cast: Cast, window: Open
) -> None:
    site.clock.now = site.clock().replace(hour=17, minute=50)
    family = family_phone(window, site, cast, "Gwen")
    family.page.add_init_script(ALONE)
    family.page.clock.install(time=site.clock())
    reported(family)
    expect(result(family)).to_contain_text("They are open now.")
    cut(family)
    family.page.clock.fast_forward(8 * 60_000)
    assert "They are open now." in family.says("#main section h1:visible")
    family.page.clock.fast_forward(3 * 60_000)
    expect(result(family)).not_to_contain_text("They are open now.")
