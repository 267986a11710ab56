"""*Tonight* has two painters, the server and the phone's script. From the same view they say the same, word for word.

The real page is asked for at every hour, and the use case's view is then bent into each of the other answers; what
the phone works out again by itself (the hour, the deed, where the lenses are) must come out the same too.
"""

from __future__ import annotations

import copy
import difflib
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from people import Cast
from sqlalchemy import update
from test_screens import lived_in  # noqa: F401  (two weeks of Nola's nights)
from windows import Open, Site, Window

from companion.store.models import Person
from companion.usecases import tonight

View = dict[str, Any]
LANGUAGES = ("en", "zh-Hans", "ar", "en-x-mirror")
REPLY = """async () => (await fetch("/sync", {
    method: "POST",
    headers: {"Content-Type": "application/json", "X-Companion": "sync"},
    body: JSON.stringify({version: 1, device: crypto.randomUUID(), sent_at: new Date().toISOString(),
                          zone: "Europe/London", wearers: {}}),
})).json()"""
# The words of an element in the order of reading, and what is said to ears alone. What was folded away counts.
WORDS = """(root) => {
    const words = [], walk = document.createTreeWalker(root, NodeFilter.SHOW_TEXT | NodeFilter.SHOW_ELEMENT);
    while (walk.nextNode()) {
        const node = walk.currentNode;
        if (node.nodeType === 3) words.push(node.data);
        else words.push(node.getAttribute("aria-label") ?? "", node.getAttribute("href") ?? "");
    }
    return words.join(" ").split(/\\s+/).filter(Boolean);
}"""
# Ways to what only the server shows: moving an entry to the other child, and the days to come.
SERVER = f"""() => {{
    const main = document.getElementById("main").cloneNode(true);
    for (const one of main.querySelectorAll("form[action$='/move'], [data-ahead]")) one.remove();
    return ({WORDS})(main);
}}"""
PAINTED = f"""async ({{reply, now}}) => {{
    const modules = new URL(document.querySelector("script[src]").src);
    const load = (name) => import(new URL(`./${{name}}.js`, modules));
    const [{{pageOf}}, {{viewNow}}, {{speaker, loadWords}}, {{calendar}}] =
        await Promise.all(["tonight", "now", "speaker", "dates"].map(load));
    const words = await loadWords(), one = reply.wearers[0], {{digits, hour_cycle}} = reply.account;
    const voice = {{...speaker(words, digits), ...calendar(words.locale, digits, hour_cycle)}};
    const view = viewNow({{...one, fetched_at: reply.now}}, [], {{}}, Date.parse(now));
    const page = pageOf(voice, view, reply.wearers.length > 1), root = document.createElement("div");
    root.append(...page.nodes);
    return {{words: ({WORDS})(root), title: page.title, hour: view.hour, action: view.action, lens: view.lens}};
}}"""
AT = {"evening": (20, 30), "late": (23, 45), "night": (2, 0), "morning": (6, 45), "forenoon": (11, 0), "day": (14, 0)}


def assert_same(window: Window, wearer_id: str, at: str) -> View:
    """Both painters' pages say the same. Returns the server's view."""
    window.go(f"/w/{wearer_id}/tonight")
    server = window.page.evaluate(SERVER)
    reply = window.page.evaluate(REPLY)
    painted = window.page.evaluate(PAINTED, {"reply": reply, "now": at})
    view: View = reply["wearers"][0]["tonight"]
    assert {part: painted[part] for part in ("hour", "action", "lens")} == {
        part: view[part] for part in ("hour", "action", "lens")
    }
    assert painted["words"] == server, "\n".join(difflib.unified_diff(server, painted["words"], lineterm="", n=3))
    assert window.page.title().startswith(painted["title"])
    return view


def speak(site: Site, **customs: str) -> None:
    with site.store.writing() as session:
        session.execute(update(Person).values(**customs))
        session.commit()


@pytest.mark.parametrize("language", LANGUAGES)
def test_at_every_hour_both_painters_say_the_same(site: Site, lived_in: Cast, window: Open, language: str) -> None:  # noqa: F811
    speak(site, language=language)
    family = window(language=language, script=True)
    family.sign_in("Gwen")
    hours = set()
    for hour, minute in AT.values():
        later = site.clock().replace(hour=hour, minute=minute)
        site.clock.now = later if later >= site.clock() else later + timedelta(days=1)
        view = assert_same(family, lived_in.wearers["Nola"], site.clock().isoformat())
        hours.add(view["hour"])
    assert hours == {"evening", "night", "morning", "day"}
