"""The running app, and a person's browser on it: what the browser tests hold in their hands."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import urlsplit

import pytest
from fakes import Clock, Postbox
from people import PASSWORD
from playwright.sync_api import Page, Response

from companion.clockwork.worker import ticker
from companion.config import Settings
from companion.phrasebook.languages import LANGUAGES
from companion.store.engine import Store

PHONE = {"width": 360, "height": 740}
DESK = {"width": 1280, "height": 900}
OWN_NAMES = tuple(one.own_name for one in LANGUAGES.values())
"""Languages name themselves, in every language."""
EVERY_WAY = [
    pytest.param(PHONE, "en", id="phone-en"),
    pytest.param(DESK, "en-x-mirror", id="desk-en-x-mirror", marks=pytest.mark.long),
    pytest.param(PHONE, "ar", id="phone-ar"),
    pytest.param(DESK, "zh-Hans", id="desk-zh-Hans", marks=pytest.mark.slow),
]
"""Both widths, both directions and every script; a quick run takes each direction once. Arabic and Chinese tell
what no catalogue has as well as the invented language does, which only a long run takes."""


@dataclass(frozen=True)
class Site:
    """The running app."""

    address: str
    app: Any
    store: Store
    clock: Clock
    postbox: Postbox

    settings: Settings

    def url(self, path: str) -> str:
        return self.address + path

    def work(self) -> None:
        """Do what the worker would do now: send, climb, forecast."""
        worker = ticker(self.settings, self.store, self.clock)
        for job in worker.jobs:
            worker.tick(job)


@dataclass
class Window:
    """One person's browser."""

    site: Site
    page: Page
    responses: list[Response] = field(default_factory=list)

    def go(self, path: str) -> None:
        self.page.goto(self.site.url(path))

    @property
    def path(self) -> str:
        return urlsplit(self.page.url).path

    def press(self, selector: str) -> None:
        """Press something that leads to another page, and wait for that page."""
        with self.page.expect_navigation():
            self.page.locator(selector).first.click()

    def fill(self, **fields: str) -> None:
        for name, value in fields.items():
            self.page.locator(f"[name={name}]:visible").first.fill(value)

    def choose(self, name: str, value: str) -> None:
        self.page.locator(f"input[name='{name}'][value='{value}']").check()

    def says(self, selector: str = "main") -> str:
        return self.page.locator(selector).first.inner_text()

    def sign_in(self, name: str) -> None:
        self.go("/sign-in")
        self.fill(login=name.lower(), password=PASSWORD)
        self.press("form button.act")


Open = Callable[..., Window]
