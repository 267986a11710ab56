"""What every answer says to the browser, and that no page loads or runs anything from elsewhere."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest
from fakes import Clock
from flask import Flask
from people import Cast
from visitors import enter

from companion.app import create_app
from companion.config import Settings
from companion.store.engine import Store
from companion.web.static_files import FOR_EVER, TREE

WEB = Path(__file__).resolve().parents[2] / "companion" / "web"
INLINE = re.compile(r"<style|\sstyle\s*=|\son[a-z]+\s*=\s*[\"']|javascript:|<script(?![^>]*\ssrc=)", re.IGNORECASE)
ELSEWHERE = re.compile(r"(?:src|href|action)\s*=\s*[\"']?\s*(?:https?:)?//", re.IGNORECASE)


@pytest.mark.parametrize("path", ["/", "/sign-in", "/wrong", "/wrong/questions?eyes=both", "/style", "/nowhere"])
def test_every_answer_allows_only_what_comes_from_here(app: Flask, path: str) -> None:
    answer = app.test_client().get(path)
    policy = answer.headers["Content-Security-Policy"]
    assert policy.startswith("default-src 'none'")
    assert not re.search(r"unsafe|nonce|\*|https?:|data:", policy)
    assert "frame-ancestors 'none'" in policy and "base-uri 'none'" in policy and "form-action 'self'" in policy
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert answer.headers["Referrer-Policy"] == "same-origin"
    assert answer.headers["Cache-Control"] == "no-store"


@pytest.mark.parametrize("path", sorted(WEB.rglob("templates/**/*.html")), ids=lambda path: path.name)
def test_no_template_holds_inline_code_or_loads_from_elsewhere(path: Path) -> None:
    source = path.read_text(encoding="utf-8")
    assert not INLINE.search(source)
    assert not ELSEWHERE.search(source)


@pytest.mark.parametrize("path", sorted(TREE.rglob("*.css")), ids=lambda path: path.name)
def test_no_stylesheet_loads_anything_or_takes_sides(path: Path) -> None:
    source = re.sub(r"/\*.*?\*/", "", path.read_text(encoding="utf-8"), flags=re.DOTALL)
    assert not re.search(r"url\(|@import|@font-face", source)
    sided = re.findall(r"(?:margin|padding|border|inset)-(?:left|right)\b|(?<![-\w])(?:left|right)\s*:", source)
    assert not sided, "logical directions only, so that right-to-left mirrors by itself"


def test_static_files_are_kept_for_ever_under_their_hash_and_nowhere_else(app: Flask) -> None:
    client = app.test_client()
    page = client.get("/sign-in").get_data(as_text=True)
    sheet = re.search(r'href="(/static/[0-9a-f]{16}/css/page\.css)"', page)
    assert sheet
    answer = client.get(sheet[1])
    assert answer.status_code == 200 and answer.headers["Cache-Control"] == FOR_EVER
    assert "Set-Cookie" not in answer.headers
    for wrong in ("/static/0000000000000000/css/page.css", sheet[1].replace("page.css", "../../app.py")):
        assert client.get(wrong).status_code == 404
        assert client.get(wrong).headers["Cache-Control"] == "no-store"


def test_a_private_page_is_never_kept(app: Flask, cast: Cast) -> None:
    page = enter(app, cast, "Gwen").get(f"/w/{cast.wearers['Nola']}/tonight")
    assert page.status_code == 200 and page.headers["Cache-Control"] == "no-store"


def test_the_cookie_is_strict_where_the_house_is_served_over_tls(
    settings: Settings, store: Store, cast: Cast, clock: Clock
) -> None:
    app = create_app(replace(settings, base_url="https://house.example"), store, clock)
    answer = app.test_client().get("/sign-in", base_url="https://house.example")
    cookie = answer.headers["Set-Cookie"]
    assert cookie.startswith("__Host-companion=")
    assert all(word in cookie for word in ("Secure", "HttpOnly", "SameSite=Lax", "Path=/"))
    assert answer.headers["Strict-Transport-Security"].startswith("max-age=")
