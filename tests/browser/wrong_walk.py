"""One walk through *Something is wrong* for the server's pages and the phone's: same questions, same answers."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from handsets import UNTIL
from people import Cast
from playwright.sync_api import Page
from windows import Open, Site, Window

from companion.common.eyes import EYES
from companion.store.models import Person
from companion.triage.answers import answers_from_file
from companion.usecases.actor import actor_of
from companion.usecases.consents import TEXT_VERSION, give

Answers = Mapping[str, Mapping[str, str]]
READY = "async () => { await navigator.serviceWorker.ready; }"
CONTROLLED = "() => navigator.serviceWorker.controller?.state === 'activated'"
ASKING = "main form:has(input[type=radio])"
"""Tonight's own forms may stand behind it."""
KEPT = """async () => {
    const {load} = await import(new URL("./app.js", document.querySelector("script[src*='/js/']").src));
    const {reading} = await load("db");
    return (await reading(({wearers}) => wearers.all())).some((one) => one.tonight);
}"""
"""What the first sync brought is on the phone's disk."""
PICK = """answers => {
    for (const one of document.querySelectorAll("main input[type=radio]")) {
        const [part, id] = one.name.split(".");
        one.checked = answers[part]?.[id] === one.value;
    }
}"""


def full(said: Answers) -> dict[str, dict[str, str]]:
    """Answer every question, a file's way: what is left out at its best."""
    return answers_from_file(said).document()


def eyes_in(said: Answers) -> str:
    named = [eye.value for eye in EYES if said.get(eye.value)]
    return named[0] if len(named) == 1 else "both"


def ready(window: Window) -> Window:
    """Wait until the worker has all that opens without a network."""
    window.page.evaluate(READY)
    window.page.reload()  # a page that was on its way while the worker took over is not the worker's
    window.page.wait_for_function(CONTROLLED)
    return window


def cut(window: Window, off: bool = True) -> Window:
    """Switch the network off."""
    window.page.context.set_offline(off)
    return window


def phone(open_window: Open, language: str = "en", **more: Any) -> Window:
    """A stranger's phone that was here once, and has no network now."""
    opened = open_window(language=language, script=True, **more)
    opened.go("/sign-in")
    return cut(ready(opened))


def family_phone(open_window: Open, site: Site, cast: Cast, name: str, language: str = "en") -> Window:
    """The phone of somebody who is signed in and has agreed, after its first sync."""
    with site.store.writing() as session:
        person = session.get_one(Person, cast.people[name])
        person.language = language
        session.flush()
        give(session, actor_of(session, person, ""), TEXT_VERSION, language, site.clock())
    opened = open_window(language=language, script=True)
    with opened.page.expect_response("**/sync"):
        opened.sign_in(name)
    opened.page.evaluate(UNTIL % KEPT)
    return ready(opened)


def on_the_phone(window: Window, said: Answers, look: Callable[[str], None] = lambda words: None) -> str:
    """Answer all pages on the phone; return what the result says. ``look`` hears what each page said."""
    page = window.page
    page.locator(f"[data-eyes={eyes_in(said)}]").first.click()
    while page.locator("main form input[type=radio]").count():
        look(window.says())
        page.evaluate(PICK, full(said))
        form = page.locator(ASKING).element_handle()
        page.locator(f"{ASKING} button.great").click()
        page.wait_for_function("form => !form.isConnected", arg=form)
    page.locator("main ol.steps").wait_for()
    return window.says()


def on_the_server(
    window: Window, start: str, said: Answers, look: Callable[[str], None] = lambda words: None
) -> str:
    """The same on the server's pages."""
    page = window.page
    window.go(f"{start}?eyes={eyes_in(said)}")
    while page.locator("main form input[type=radio]").count():
        look(window.says())
        page.evaluate(PICK, full(said))
        window.press("main form button.great")
    return window.says()


def start_over(window: Window) -> None:
    """Tap *Something is wrong* on the phone."""
    window.page.locator("a.something-wrong").click()
    window.page.locator("[data-eyes]").first.wait_for()


def part_of(page: Page, selector: str) -> list[str]:
    return page.locator(selector).all_inner_texts()
