"""What *Tonight* weighs on the wire, on a phone that has nothing of it yet."""

from __future__ import annotations

from collections import Counter
from pathlib import PurePosixPath
from typing import Any
from urllib.parse import urlsplit

import pytest
from people import Cast
from test_screens import lived_in  # noqa: F401
from test_tonight_painted import speak
from windows import Open, Site, Window

MOST, MOST_SCRIPT = 90_000, 35_000
"""Bytes as they are sent: all of it with the answers' headers; of the scripts, what is in them."""
BEHIND = frozenset({"/sw.js", "/sync"})
"""The worker comes after the page, and once a build; what it carries is the diary's, not the page's."""


def weigh(window: Window, path: str) -> dict[str, tuple[int, int]]:
    """Open a page with an empty cache and no worker; return each file's bytes on the wire: headers and content."""
    session = window.page.context.new_cdp_session(window.page)
    session.send("Network.enable")
    session.send("Network.clearBrowserCache")
    session.send("Network.setBypassServiceWorker", {"bypass": True})
    paths: dict[str, str] = {}
    heads: dict[str, int] = {}
    sizes: dict[str, int] = {}

    def begun(event: dict[str, Any]) -> None:
        one = event["requestId"]
        paths[one] = urlsplit(event["response"]["url"]).path
        heads[one] = int(event["response"]["encodedDataLength"])

    def done(event: dict[str, Any]) -> None:
        sizes[event["requestId"]] = int(event["encodedDataLength"])

    session.on("Network.responseReceived", begun)
    session.on("Network.loadingFinished", done)
    window.go(path)
    window.page.wait_for_load_state("networkidle")
    return {paths[one]: (heads[one], size - heads[one]) for one, size in sizes.items() if paths[one] not in BEHIND}


@pytest.mark.parametrize("language", ["en", "zh-Hans", "ar"])
@pytest.mark.parametrize("painter", ["phone", "server"])
def test_tonight_stays_light(
    site: Site,
    lived_in: Cast,  # noqa: F811
    window: Open,
    language: str,
    painter: str,
    record_property: Any,
) -> None:
    speak(site, language=language)
    family = window(language=language, script=True)
    family.sign_in("Gwen")
    family.page.wait_for_load_state("networkidle")
    found = weigh(family, "/app" if painter == "phone" else f"/w/{lived_in.wearers['Nola']}/tonight")
    kinds: Counter[str] = Counter()
    for path, (_, content) in found.items():
        kinds[PurePosixPath(path).suffix or "page"] += content
    whole = sum(head + content for head, content in found.values())
    for kind, size in (*kinds.items(), ("whole", whole)):
        record_property(kind, size)
    assert any(path.endswith("/app.js") for path in found)
    assert kinds[".js"] <= MOST_SCRIPT, kinds
    assert whole <= MOST, (whole, kinds)
