"""One hand in the dark: on every screen of the phone without a network the deed lies where a thumb gets, also with
text twice as large; and nothing moves for whoever wants no motion."""

from __future__ import annotations

from typing import Any

import pytest
from looks import ENLARGE, TWICE_AS_LARGE
from people import Cast
from playwright.sync_api import Page
from test_screens import lived_in  # noqa: F401
from test_tonight_offline import installed
from test_tonight_painted import speak
from windows import Open, Site

SMALL = {"width": 360, "height": 640}
SCREENS = ("tonight", "sight", "diary", "diary/2026-10-31", "note", "care", "care/help/stuck", "days", "wrong")
TOP_THIRD = SMALL["height"] / 3
"""Beyond a thumb that holds the phone; a practice's number that comes first on purpose may stand there."""
FOUND = """() => {
    const main = document.getElementById("main"), seen = (one) => one.getBoundingClientRect();
    const shown = (selector) => [...document.querySelectorAll(selector)].filter((one) => one.checkVisibility());
    const box = (one) => ({words: one.textContent.trim(), top: seen(one).top, height: seen(one).height});
    return {
        page: document.documentElement.scrollHeight,
        room: main.clientHeight,
        deeds: shown("main button.act, main a.act:not([href^=tel])").map(box),
        dock: shown(".dock a").map(box),
        moving: document.getAnimations().filter((one) => one.playState === "running").length,
        slow: [...document.querySelectorAll("*")].filter((one) => {
            const {transitionDuration: turns, animationDuration: moves} = getComputedStyle(one);
            return [turns, moves].some((each) => each.split(",").some((span) => parseFloat(span) > 0.01));
        }).map((one) => one.outerHTML.slice(0, 80)),
    };
}"""


def look(page: Page) -> dict[str, Any]:
    found: dict[str, Any] = page.evaluate(FOUND)
    return found


@pytest.mark.parametrize("language", ["en", "zh-Hans", "ar"])
def test_the_deed_of_each_screen_is_within_reach(
    site: Site,
    lived_in: Cast,  # noqa: F811
    window: Open,
    language: str,
) -> None:
    speak(site, language=language)
    page = installed(window(language=language, script=True, size=SMALL), "Gwen")
    for name in SCREENS:
        page.goto(site.url(f"/w/{lived_in.wearers['Nola']}/{name}"))
        page.locator("#shell .who, #wrong .who").first.wait_for()
        found = look(page)
        assert found["page"] == SMALL["height"], f"{name}: what scrolls is the page's own text, below it nothing"
        assert len(found["dock"]) == 5
        assert all(one["top"] > SMALL["height"] / 2 for one in found["dock"]), name
        assert all(one["top"] + one["height"] / 2 > TOP_THIRD for one in found["deeds"]), (name, found["deeds"])
        assert (found["moving"], found["slow"]) == (0, []), name

        page.evaluate(ENLARGE, TWICE_AS_LARGE)
        large = look(page)
        assert large["page"] == SMALL["height"] and large["room"] >= SMALL["height"] / 3, (name, large["room"])
        assert all(one["top"] + one["height"] <= SMALL["height"] for one in large["dock"]), name
        assert all(one["height"] <= large["room"] for one in large["deeds"]), (name, large["deeds"])
        page.evaluate(ENLARGE, "")
