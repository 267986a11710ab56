"""The app on a phone: the page that opens without a network, its worker, its manifest, the words for its scripts.

Nothing here is private. A phone keeps all of it, whoever holds the phone.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping
from functools import cache
from typing import Any

from flask import Blueprint, Response, render_template, url_for

from companion.phrasebook import diary_words, phone_words
from companion.phrasebook.languages import ENGLISH, LANGUAGES, Language
from companion.phrasebook.marks import N_
from companion.phrasebook.script_words import more_words_of, words_of
from companion.web import bundling, context, static_files
from companion.web.doors import open_to_all
from companion.web.static_files import build

pages = Blueprint("shell", __name__)
WORKER = "js/worker.js"
MORE = ".pages"
"""Ends the name of the words that the pages beside *Tonight* need as well."""
NOT_KEPT = frozenset({WORKER, "css/practice.css"})
"""What no phone needs without a network; nor the practice's modules, nor the pictures for home screens, which the
phone asks for itself."""
ICONS, DESK = "icons/", "js/desk"
GREEN, PAPER = "#17504c", "#f6f2e9"
DESCRIPTION = N_("Nights in lenses, what tonight should be, and what to do when an eye is in trouble.")


@pages.get("/app")
@open_to_all
def app() -> Response:
    """The page into which the phone paints what it keeps. Emergency advice is on it, and needs no script."""
    context.speak_to_anybody()
    page = render_template("shell.html", notices=phone_words.NOTICE)
    return _asked_again(Response(page, mimetype="text/html"))


@pages.get("/sw.js")
@open_to_all
def worker() -> Response:
    """The service worker, told its build and what to keep."""
    context.speak_to_anybody()
    made = build()
    left_out = NOT_KEPT | made.folded
    paths = [one for one in made.files if one not in left_out and not one.startswith((ICONS, DESK))]
    kept = [url_for("shell.app"), *(url_for("static", version=made.version, path=one) for one in paths)]
    tags = sorted({context.language().tag, ENGLISH.tag})
    kept += [words_address(f"{tag}{more}") for tag in tags for more in ("", MORE)]
    told = json.dumps({"build": made.version, "files": kept})
    script = f"self.COMPANION = {told};\n{bundling.one_script(made.files, WORKER)}"
    response = Response(script, content_type="text/javascript; charset=utf-8")
    response.headers["Service-Worker-Allowed"] = "/"
    return _asked_again(response)


@pages.get("/app.webmanifest")
@open_to_all
def manifest() -> Response:
    """How the app stands on a home screen. A browser asks for it without cookies: its link names the language."""
    context.speak_to_anybody()
    home, language = url_for("shell.app"), context.language()
    name, kinds = context.phrases().gettext("The companion"), diary_words.KINDS
    shortcuts = {"in": kinds["lenses_in"], "out": kinds["lenses_out"], "wrong": kinds["symptom_report"]}
    document = {
        "id": home,
        "start_url": home,
        "scope": "/",
        "display": "standalone",
        "name": name,
        "short_name": name,
        "description": context.phrases().say(DESCRIPTION),
        "lang": language.tag,
        "dir": "rtl" if language.right_to_left else "ltr",
        "theme_color": GREEN,
        "background_color": PAPER,
        "icons": [
            _icon("icon-192.png", 192, "any"),
            _icon("icon-512.png", 512, "any"),
            _icon("maskable-512.png", 512, "maskable"),
        ],
        "shortcuts": [
            {"name": context.phrases().say(said), "url": f"{home}#{place}"} for place, said in shortcuts.items()
        ],
    }
    text = json.dumps(document, ensure_ascii=False)
    return _asked_again(Response(text, content_type=static_files.KINDS[".webmanifest"]))


@pages.get("/words/<version>/<tag>.json")
@open_to_all
def words(version: str, tag: str) -> Response:
    return static_files.immutable(version, f"{tag}.json", build().words.get(tag))


def words_address(tag: str) -> str:
    return url_for("shell.words", version=build().version, tag=tag)


def all_words(tags: Iterable[str]) -> Mapping[str, bytes]:
    """Return the words of these languages and of English, which safety text may need beside, as they are sent."""
    spoken = [LANGUAGES[tag] for tag in sorted({*tags, ENGLISH.tag})]
    return {one.tag: _written(words_of, one) for one in spoken} | {
        one.tag + MORE: _written(more_words_of, one) for one in spoken
    }


@cache
def _written(words_in: Callable[[Language], dict[str, Any]], language: Language) -> bytes:
    return json.dumps(words_in(language), ensure_ascii=False, separators=(",", ":")).encode()


def _icon(name: str, width: int, purpose: str) -> dict[str, str]:
    source = url_for("static", version=build().version, path=ICONS + name)
    return {"src": source, "sizes": f"{width}x{width}", "type": "image/png", "purpose": purpose}


def _asked_again(response: Response) -> Response:
    """Let a browser keep it, and ask each time whether it is still the same."""
    response.headers["Cache-Control"] = "no-cache"
    response.vary.update(["Cookie", "Accept-Language"])
    return response
