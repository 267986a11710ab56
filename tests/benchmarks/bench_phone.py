"""How long a family waits on a slow phone: medians of 9, beside a bare page of the same server.

    .venv/bin/python tests/benchmarks/bench_phone.py

A real Chromium with a processor slowed four times on a slow 3G network (400 kbit/s, 400 ms). A largest contentful
paint counts from the press on the link. The worker's own fetches are not slowed: it fills its cache unhurried.
Aims: 2.5 s on the first visit, 0.5 s on later ones from the worker's cache; and a night logged from a cold start,
the server out of reach, in under 10 s and with at most 2 taps. Reported, never asserted.
"""

from __future__ import annotations

import shutil
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory
from time import perf_counter
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from people import PASSWORD, settle
from playwright.sync_api import BrowserContext, Page, Playwright, sync_playwright
from sqlalchemy import update
from waitress.server import create_server

from companion.app import create_app
from companion.config import Settings
from companion.store import migrations
from companion.store.engine import Store
from companion.store.models import Person, Practice, Wearer
from companion.usecases.actor import actor_of
from companion.usecases.consents import TEXT_VERSION, give

TIMES = 9
SLOWER = 4
SLOW_3G = {"offline": False, "latency": 400, "downloadThroughput": 400_000 / 8, "uploadThroughput": 400_000 / 8}
PHONE = {"width": 360, "height": 740}
FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking"]
BARE = b"<!doctype html><html lang=en><meta charset=utf-8><title>bare</title><p>An empty page."
LARGEST = """() => new Promise((resolve) => {
    let last = null;
    new PerformanceObserver((list) => { last = list.getEntries().at(-1).startTime; })
        .observe({ type: "largest-contentful-paint", buffered: true });
    setTimeout(() => resolve(last), 300);
})"""


def now() -> datetime:
    return datetime.now(UTC)


def evening_zone() -> str:
    """Return a zone where it is about nine in the evening, so that lenses are to go in."""
    ahead = (21 - now().hour + 12) % 24 - 12
    return f"Etc/GMT{-ahead:+d}"


@contextmanager
def house(folder: Path, zone: str) -> Iterator[str]:
    """Serve a fresh house on a free port; return its address."""
    url = f"sqlite:///{folder / 'store.sqlite'}"
    store = Store(url)
    migrations.upgrade(store.engine)
    with store.writing() as session:
        cast = settle(session, now())
        for table in (Practice, Wearer):
            session.execute(update(table).values(zone=zone))
        session.commit()
        give(
            session, actor_of(session, session.get_one(Person, cast.people["Gwen"]), ""), TEXT_VERSION, "en", now()
        )
    app = create_app(Settings(database_url=url, secret_key="only for measuring"), store=store, clock=now)

    def answer(environ: Any, start: Callable[..., Any]) -> Any:
        if environ["PATH_INFO"] == "/bare":
            start("200 OK", [("Content-Type", "text/html"), ("Content-Length", str(len(BARE)))])
            return [BARE]
        return app(environ, start)

    server = create_server(answer, host="127.0.0.1", port=0, threads=8)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    yield f"http://127.0.0.1:{server.effective_port}"
    server.task_dispatcher.shutdown()
    server.close()
    store.close()


def slow(page: Page, network: bool = True) -> Page:
    session = page.context.new_cdp_session(page)
    session.send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
    if network:
        session.send("Network.enable")
        session.send("Network.emulateNetworkConditions", SLOW_3G)
    return page


def largest_paint(page: Page, address: str) -> float:
    """Return when the largest thing of a page was painted [ms]."""
    page.goto(address, wait_until="networkidle", timeout=60_000)
    took = float(page.evaluate(LARGEST))
    page.close()  # left open, with a slowed processor each, they would slow the next
    return took


def opened(playwright: Playwright, folder: Path, zone: str) -> BrowserContext:
    """A phone that keeps its folder, started anew."""
    path = shutil.which("chromium")
    assert path, "no chromium on this machine: tests/setup test installs it"
    return playwright.chromium.launch_persistent_context(
        folder, executable_path=path, args=FLAGS, viewport=PHONE, timezone_id=zone, locale="en-GB"
    )


def sign_in(page: Page, address: str) -> None:
    """Sign in, unhurried, and let the worker fill its cache."""
    page.goto(f"{address}/sign-in")
    page.fill("[name=login]", "gwen")
    page.fill("[name=password]", PASSWORD)
    with page.expect_response("**/sync"):
        page.click("main form button.act")
    page.wait_for_function("() => navigator.serviceWorker.controller", timeout=60_000)
    page.wait_for_load_state("networkidle")


def thumb(page: Page, address: str) -> float:
    """Open the app and log "lenses in" with one tap; return how long until it says that it is kept [ms]."""
    start = perf_counter()
    page.goto(f"{address}/app")
    page.locator("form:has(input[name=kind][value=lenses_in]) button.great").click()
    page.locator(".strip li").first.wait_for()
    took = 1000 * (perf_counter() - start)
    page.locator(".strip button.undo").click()
    page.locator("form:has(input[name=kind][value=lenses_in]) button.great").wait_for()
    return took


def say(name: str, times: list[float]) -> None:
    print(f"{name:64}{median(times) / 1000:7.2f} s   ({min(times) / 1000:.2f} to {max(times) / 1000:.2f})")


def main() -> None:
    zone = evening_zone()
    with TemporaryDirectory() as made, house(Path(made), zone) as address, sync_playwright() as playwright:
        phone = Path(made) / "phone"
        context = opened(playwright, phone, zone)
        sign_in(context.pages[0], address)
        context.pages[0].goto("about:blank")  # the app is open once: another page of it would sync at each turn
        cookies = context.cookies()
        later = [largest_paint(slow(context.new_page()), f"{address}/app") for _ in range(TIMES)]
        context.close()

        def first(path: str, known: bool) -> list[float]:
            times = []
            for n in range(TIMES):
                fresh = opened(playwright, Path(made) / f"fresh{path.replace('/', '-')}{n}", zone)
                if known:
                    fresh.add_cookies([one for one in cookies if one["name"] != "keeper"])
                times.append(largest_paint(slow(fresh.new_page()), address + path))
                fresh.close()
            return times

        say("bare: an empty page, first visit", first("/bare", known=False))
        say("the sign-in page, first visit", first("/sign-in", known=False))
        say("Tonight, first visit, signed in (aim 2.5)", first("/tonight", known=True))
        say("the app from the worker's cache, later visits (aim 0.5)", later)
        taps = []
        for _ in range(TIMES):
            context = opened(playwright, phone, zone)
            context.set_offline(True)
            taps.append(thumb(slow(context.pages[0], network=False), address))
            context.close()
        say("cold start to lenses in, no server, 1 tap (aim under 10)", taps)


if __name__ == "__main__":
    main()
