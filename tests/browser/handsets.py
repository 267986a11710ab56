"""A family's phone: a browser with script and a disk of its own, to be cut off, killed and opened again.

Each phone keeps its folder between openings, as a real one keeps its storage. Its clock starts at the time of the
house, so that what it taps belongs to the same evening.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from fakes import PATIENCE_S
from people import PASSWORD, Cast
from playwright.sync_api import BrowserContext, Locator, Page, Playwright
from sqlalchemy import select
from windows import PHONE, Site

from companion.store.models import EntryRow, Person
from companion.usecases.actor import actor_of
from companion.usecases.consents import TEXT_VERSION, give

ENTRIES = """async () => {
    const db = await new Promise((resolve, reject) => {
        const request = indexedDB.open("companion");
        request.onsuccess = () => resolve(request.result);
        request.onerror = () => reject(request.error);
    });
    const all = (name) => new Promise((resolve) => {
        const request = db.transaction(name).objectStore(name).getAll();
        request.onsuccess = () => resolve(request.result);
    });
    const kept = {};
    for (const name of ["entries", "seen", "wearers", "meta"]) kept[name] = await all(name);
    db.close();
    return kept;
}"""
CONTROLLED = "() => navigator.serviceWorker.controller"
FRESH = f"""async (before) => {{
    const kept = await ({ENTRIES})();
    return [...kept.entries, ...kept.seen].map((row) => row.id).find((id) => !before.includes(id));
}}"""
UNTIL = """async (arg) => {
    const ask = %s, end = performance.now() + 60000;
    for (;;) {
        const answer = await ask(arg);
        if (answer) return answer;
        if (performance.now() > end) throw new Error("it never came");
        await new Promise((resolve) => requestAnimationFrame(resolve));
    }
}"""
TAP = "form:has(input[name=kind][value={kind}]) button.great"


@dataclass
class Phone:
    site: Site
    folder: Path
    playwright: Playwright
    launch: dict[str, Any]
    wakes: bool = False
    """The system may wake its worker to send, whenever it likes: at odds with a test that says when."""
    context: BrowserContext | None = None
    page: Page = None  # type: ignore[assignment]

    def open(self, path: str | None = None, *, offline: bool = False) -> Page:
        """Start the browser, as after a kill: what it kept is there."""
        assert self.context is None, "it is open already"
        self.context = self.playwright.chromium.launch_persistent_context(
            self.folder,
            **self.launch,
            viewport=PHONE,
            timezone_id="Europe/London",
            locale="en-GB",
            reduced_motion="reduce",
        )
        self.context.set_default_timeout(PATIENCE_S * 1000)
        if self.wakes:
            self.context.grant_permissions(["background-sync"], origin=self.site.address)
        else:
            self.context.add_init_script("delete ServiceWorkerRegistration.prototype.sync")
        self.context.set_offline(offline)
        self.page = self.context.pages[0]
        self.page.clock.install(time=self.site.clock())
        if path:
            self.go(path)
        return self.page

    def kill(self) -> None:
        """End the browser as it is."""
        assert self.context is not None
        self.context.close()
        self.context = None

    def offline(self, cut: bool = True) -> None:
        assert self.context is not None
        self.context.set_offline(cut)

    def go(self, path: str) -> None:
        self.page.goto(self.site.url(path))

    def sign_in(self, name: str) -> None:
        """Sign in, and wait until the worker has the shell and the first sync is done."""
        self.go("/sign-in")
        self.page.fill("[name=login]", name.lower())
        self.page.fill("[name=password]", PASSWORD)
        with self.page.expect_response("**/sync"):
            self.page.click("main form button.act")
        self.page.evaluate("async () => { await navigator.serviceWorker.ready }")
        self.page.reload()  # a page that was on its way while the worker took over is not the worker's
        self.page.wait_for_function(CONTROLLED)
        self.started()

    def started(self) -> None:
        """Wait until the page's script takes the taps; before it does, they are the server's."""
        self.page.locator(".strip").wait_for(state="attached")

    def kept(self) -> dict[str, list[dict[str, Any]]]:
        """What stands in its database."""
        return self.page.evaluate(ENTRIES)  # type: ignore[no-any-return]

    def ids(self) -> set[str]:
        """Every entry that it knows of, its own or from the house."""
        kept = self.kept()
        return {row["id"] for row in (*kept["entries"], *kept["seen"])}

    def tap(self, kind: str) -> str:
        """Press the large button; return the id under which it was kept."""
        return self.press(self.page.locator(TAP.format(kind=kind)))

    def press(self, button: Locator) -> str:
        """Press a button that makes an entry; return the id under which it was kept."""
        self.started()
        before = self.ids()
        button.click()
        return str(self.until(FRESH, list(before)))

    def until(self, question: str, arg: Any = None) -> Any:
        """Wait for the first truthy answer; ``wait_for_function`` would take the question's promise for one."""
        return self.page.evaluate(UNTIL % question, arg)

    def says(self, words: str) -> None:
        """Wait until the strip says this."""
        self.page.locator(".strip", has_text=words).wait_for()

    def waits_for_none(self) -> None:
        """Wait until nothing is left to send."""
        self.until(f"async () => (await ({ENTRIES})()).entries.length === 0")


def agree(site: Site, cast: Cast) -> None:
    """Gwen and Gus have read what is kept, and agree."""
    with site.store.writing() as session:
        for name in ("Gwen", "Gus"):
            give(
                session,
                actor_of(session, session.get_one(Person, cast.people[name]), ""),
                TEXT_VERSION,
                "en",
                site.clock(),
            )


def on_server(site: Site, wearer_id: str) -> list[str]:
    """Return the ids of all entries of a wearer, in the server's order."""
    with site.store.reading() as session:
        rows = session.scalars(select(EntryRow.id).where(EntryRow.wearer_id == wearer_id).order_by(EntryRow.seq))
        return list(rows)
