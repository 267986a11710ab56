"""A real Chromium against the real app: waitress on a free loopback port, a fresh store, a real mail server.

A test opens windows with ``window(...)``: script off unless it asks for it, since every screen must work without.
Each window notes what it was sent, so that a test can say that nothing came from elsewhere.
"""

from __future__ import annotations

import re
import shutil
import threading
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pytest
from fakes import PATIENCE_S, Clock, Postbox
from people import ZONE
from playwright.sync_api import Browser, BrowserContext, expect
from waitress.server import create_server
from windows import PHONE, Open, Site, Window

from companion.app import create_app
from companion.config import Settings
from companion.store.engine import Store

FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)


expect.set_options(timeout=PATIENCE_S * 1000)
OTHER_LANGUAGE = re.compile(r"[-\[](zh-Hans|ar|mirror)[-\]]")
QUICK = frozenset(
    f"test_{one}"
    for one in (
        "desk_live",
        "inside",
        "left_open",
        "offline_walk",
        "promise_story",
        "queue_schedules",
        "story",
        "sync_outcomes",
        "triage_proof",
        "weight",
    )
)
"""What a quick run looks at, in English: the main walks, the queue, what is left open, both judges."""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if "browser" in item.path.parts:
            item.add_marker("browser")
            if item.path.stem not in QUICK or OTHER_LANGUAGE.search(item.name):
                item.add_marker("slow")


@pytest.fixture(scope="session")
def browser_type_launch_args(browser_type_launch_args: dict[str, Any]) -> dict[str, Any]:
    found = shutil.which("chromium")
    assert found, "no chromium on this machine: tests/setup test installs it"
    return {**browser_type_launch_args, "executable_path": found, "args": list(FLAGS)}


@pytest.fixture
def site(store: Store, settings: Settings, clock: Clock, postbox: Postbox) -> Iterator[Site]:
    # The port is taken before the app is made, so that links in its mail lead back to it.
    lines: dict[int, Any] = {}
    server = create_server(
        lambda environ, answer: app(environ, answer), map=lines, host="127.0.0.1", port=0, threads=4
    )
    address = f"http://127.0.0.1:{server.effective_port}"
    settings = replace(settings, base_url=address)
    app = create_app(settings, store=store, clock=clock)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    yield Site(address, app, store, clock, postbox, settings)
    # Its loop ends once it has no line left; a browser that is gone may have left some open.
    left = list(lines.values())
    lines.clear()
    server.pull_trigger()
    thread.join(timeout=10)
    server.task_dispatcher.shutdown()
    for one in left:
        one.close()


@pytest.fixture
def window(browser: Browser, site: Site) -> Iterator[Open]:
    contexts: list[BrowserContext] = []

    def open_window(
        size: dict[str, int] = PHONE, language: str = "en", script: bool = False, dark: bool = False
    ) -> Window:
        context = browser.new_context(
            viewport=size,
            java_script_enabled=script,
            timezone_id=ZONE,
            reduced_motion="reduce",
            color_scheme="dark" if dark else "light",
            locale="en-GB",
        )
        context.add_cookies([{"name": "language", "value": language, "url": site.address}])
        context.set_default_timeout(PATIENCE_S * 1000)
        if script:  # no test depends on the hour at which it is run
            context.clock.install(time=site.clock())
            site.clock.followers.append(context.clock.set_system_time)
        contexts.append(context)
        opened = Window(site, context.new_page())
        opened.page.on("response", lambda response: opened.responses.append(response))
        return opened

    yield open_window
    site.clock.followers.clear()
    for context in contexts:
        context.close()
