"""The pages beside *Tonight* as script paints them from a sync's reply, beside the server's own."""

from __future__ import annotations

import difflib
from typing import Any

from test_tonight_painted import REPLY, WORDS
from windows import Window

# What stands in the shell of an earlier look is no news: the page is painted into an element of its own.
PAINTED = f"""async ({{reply, now, path}}) => {{
    const modules = new URL(document.querySelector("script[type=module][src]").src);
    const load = (name) => import(new URL(`./${{name}}.js`, modules));
    const names = ["pages", "pages_voice", "speaker"];
    const [{{pageFrom}}, {{allWords, voiceOf}}] = await Promise.all(names.map(load));
    const {{digits, hour_cycle}} = reply.account;
    const voice = voiceOf(await allWords(), digits, hour_cycle);
    const kept = {{...reply.wearers[0], fetched_at: reply.now, account: "me"}};
    const where = new URL(path, location.href), others = reply.wearers.length > 1;
    const page = await pageFrom(voice, kept, [], where, others, Date.parse(now));
    const root = document.createElement("div");
    root.append(...page.nodes.flat(Infinity).filter(Boolean));
    return {{words: ({WORDS})(root), title: page.title}};
}}"""
# Only the server moves an entry to another child.
SERVER = f"""() => {{
    const main = document.getElementById("main").cloneNode(true);
    for (const one of main.querySelectorAll("form[action$='/move'], [data-only-server]")) one.remove();
    return ({WORDS})(main);
}}"""


def assert_page_same(window: Window, path: str, at: str) -> dict[str, Any]:
    """Both painters' pages at this address say the same. Returns the reply that the script's was painted from."""
    window.go(path)
    server = window.page.evaluate(SERVER)
    reply: dict[str, Any] = window.page.evaluate(REPLY)
    painted = window.page.evaluate(PAINTED, {"reply": reply, "now": at, "path": path})
    differ = "\n".join(difflib.unified_diff(server, painted["words"], "server", "phone", lineterm="", n=4))
    assert painted["words"] == server, f"{path}\n{differ}"
    assert window.page.title().startswith(painted["title"])
    return reply
