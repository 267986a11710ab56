"""From tapping *Something is wrong* to advice on the screen: a cold start on a slow phone without a network.

    .venv/bin/python tests/benchmarks/bench_wrong.py

A real Chromium, started anew each time, its processor slowed four times, the server out of reach; medians of 9.
The tap comes as soon as the link is seen. Aim: under 1 s from the tap to advice. Beside it the whole cold start,
when the eye may be named, and the way from there to what to do without reading. Reported, never asserted.
"""

from __future__ import annotations

import sys
from pathlib import Path
from tempfile import TemporaryDirectory
from time import perf_counter

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "browser"))

from bench_phone import TIMES, evening_zone, house, opened, say, sign_in, slow
from playwright.sync_api import Page, sync_playwright
from wrong_walk import PICK, full

RED = {"right": {"redness": "red", "pain": "moderate", "course": "over_1h"}}
TAP = """() => new Promise((resolve) => {
    const start = performance.now();
    document.querySelector("a.something-wrong").click();
    (function look() {
        const advice = document.querySelector("#wrong .alarm li, main .alarm li");
        // One frame more: what is laid out by now is on the screen then.
        if (advice?.checkVisibility()) requestAnimationFrame(() => resolve(performance.now() - start));
        else requestAnimationFrame(look);
    }());
})"""


def walk(page: Page, address: str) -> tuple[float, float, float, float]:
    """Open the app, tap, and report a red painful eye; return how long each took [ms]."""
    start = perf_counter()
    page.goto(f"{address}/app", wait_until="commit")
    page.locator("a.something-wrong").wait_for()
    tapped = page.evaluate(TAP)
    advised = 1000 * (perf_counter() - start)
    page.locator("[data-eyes=right]").first.wait_for()
    asked = 1000 * (perf_counter() - start)
    begun = perf_counter()
    page.locator("[data-eyes=right]").first.click()
    while page.locator("main form:has(input[type=radio])").count():
        form = page.locator("main form:has(input[type=radio])").element_handle()
        page.evaluate(PICK, full(RED))
        page.locator("main form:has(input[type=radio]) button.great").click()
        page.wait_for_function("form => !form.isConnected", arg=form)
    page.locator("ol.steps").wait_for()
    return tapped, advised, asked, 1000 * (perf_counter() - begun)


def main() -> None:
    zone = evening_zone()
    with TemporaryDirectory() as made, house(Path(made), zone) as address, sync_playwright() as playwright:
        phone = Path(made) / "phone"
        context = opened(playwright, phone, zone)
        sign_in(context.pages[0], address)
        context.close()
        rows = []
        for _ in range(TIMES):
            context = opened(playwright, phone, zone)
            context.set_offline(True)
            rows.append(walk(slow(context.pages[0], network=False), address))
            context.close()
        tapped, advised, asked, judged = (list(one) for one in zip(*rows, strict=True))
        say("from the tap to advice on the screen (aim under 1)", tapped)
        say("from opening the app, cold, to that advice", advised)
        say("from opening the app, cold, to the first question", asked)
        say("from the first question to what to do, without reading", judged)


if __name__ == "__main__":
    main()
