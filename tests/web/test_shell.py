"""What a phone keeps whoever holds it, and nothing private: shell, worker, manifest, icons, words."""

from __future__ import annotations

import gzip
import json
import re
import struct
import zlib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from flask import Flask
from people import Cast
from visitors import enter

from companion.store.engine import Store
from companion.store.models import Person
from companion.web import icons, shell
from companion.web.static_files import FOR_EVER, KINDS, TREE, Build

JS = TREE / "js"
KEY = re.compile(r"""\bsay\(\s*(?:\w+ \? )?["'`]([a-z_]+\.[a-z_.0-9]+)["'`]""")


def served(app: Flask, path: str, **headers: str) -> Any:
    answer = app.test_client().get(path, headers=headers)
    assert answer.status_code == 200, path
    return answer


def words(app: Flask, tag: str, more: str = "") -> dict[str, Any]:
    page = served(app, f"/app?lang={tag}").get_data(as_text=True)
    found = re.search(r'data-words="([^"]+)"', page)
    assert found
    document: dict[str, Any] = served(app, found[1].replace(".json", f"{more}.json")).get_json()
    return document


# -- the shell --
def test_the_shell_is_the_same_for_everybody_who_reads_one_language(app: Flask, cast: Cast, store: Store) -> None:
    with store.writing() as session:
        gwen = session.get_one(Person, cast.people["Gwen"])
        gwen.theme, gwen.digits, gwen.text_size = "lamp", "native", "largest"
        session.commit()
    nobody = app.test_client().get("/app").data
    for name in ("Gwen", "Wim", "Asta"):
        page = enter(app, cast, name).get("/app")
        assert page.data == nobody
        assert page.headers["Cache-Control"] == "no-cache"
        assert "Set-Cookie" not in page.headers
    assert b"csrf" not in nobody and b"data-account" not in nobody


def test_the_shell_speaks_ones_own_language(app: Flask, cast: Cast, store: Store) -> None:
    with store.writing() as session:
        session.get_one(Person, cast.people["Gwen"]).language = "ar"
        session.commit()
    assert b'<html lang="ar" dir="rtl"' in enter(app, cast, "Gwen").get("/app").data


def test_H3_emergency_advice_is_in_the_shell_without_any_script(app: Flask) -> None:
    page = served(app, "/app").get_data(as_text=True)
    advice = page[page.index('id="wrong"') :]
    for word in (
        "Is it an emergency?",
        "Rinse",
        "Do not touch it. Do not rinse.",
        "Call your local emergency number",
    ):
        assert word in advice
    assert 'href="#wrong"' in page
    assert ".only-asked:not(:target" in (TREE / "css" / "shell.css").read_text()
    arabic = served(app, "/app?lang=ar").get_data(as_text=True)
    assert 'lang="en"' in arabic[arabic.index('id="wrong"') :], "nobody has reviewed it: the English stands beside"


def test_the_shell_fetches_one_script_for_all_that_tonight_needs(app: Flask) -> None:
    page = served(app, "/app").get_data(as_text=True)
    assert re.findall(r'<script type="module" src="/static/\w+/js/(\w+)\.js" ', page) == ["app"]
    build: Build = app.extensions["companion_build"]
    script = build.files["js/app.js"].decode()
    assert all(f"$modules.{name} = " in script for name in ("tonight", "db", "band")), "each is in it"
    assert "$modules.triage" not in script, "what comes later does not weigh on every page"


def test_pages_of_families_name_what_the_script_needs(app: Flask, cast: Cast) -> None:
    nola = cast.wearers["Nola"]
    page = enter(app, cast, "Gwen").get(f"/w/{nola}/tonight").get_data(as_text=True)
    assert f'data-account="{cast.people["Gwen"]}" data-wearer="{nola}"' in page
    assert 'type="module"' in page and 'rel="manifest"' in page
    assert "data-account" not in served(app, "/sign-in").get_data(as_text=True)
    desk = enter(app, cast, "Asta").get("/desk").get_data(as_text=True)
    assert "data-account" not in desk and "js/app.js" not in desk


# -- the worker --
def worker(app: Flask, **headers: str) -> dict[str, Any]:
    answer = served(app, "/sw.js", **headers)
    assert answer.headers["Service-Worker-Allowed"] == "/" and answer.headers["Cache-Control"] == "no-cache"
    assert answer.mimetype == "text/javascript"
    first, rest = answer.get_data(as_text=True).split("\n", 1)
    assert "addEventListener" in rest
    told: dict[str, Any] = json.loads(first.removeprefix("self.COMPANION = ").removesuffix(";"))
    return told


def test_the_worker_knows_its_build_and_all_that_it_keeps(app: Flask) -> None:
    told = worker(app)
    for path in told["files"]:
        assert path == "/app" or told["build"] in path
        assert "Set-Cookie" not in served(app, path).headers
    kept = {path.split("/", 3)[-1] for path in told["files"]}
    build: Build = app.extensions["companion_build"]
    modules = {path for path in build.files if path.endswith(".js") and not path.startswith(shell.DESK)}
    assert modules - build.folded - {"js/worker.js"} <= kept, "itself, or the file that it is folded into"
    assert {"js/app.js", "js/later.js", "js/early.js"} <= kept
    assert {"css/page.css", "css/lamp.css", "triage/rules.json", "en.json"} <= kept
    assert not any("practice" in path or "icons/" in path for path in kept)


def test_the_worker_keeps_the_readers_language_and_english(app: Flask) -> None:
    kept = [path for path in worker(app, **{"Accept-Language": "ar"})["files"] if path.startswith("/words/")]
    assert [path.rpartition("/")[2] for path in kept] == ["ar.json", "ar.pages.json", "en.json", "en.pages.json"]


# -- the manifest and its icons --
@pytest.mark.parametrize(("tag", "direction"), [("en", "ltr"), ("zh-Hans", "ltr"), ("ar", "rtl")])
def test_the_manifest_is_whole(app: Flask, tag: str, direction: str) -> None:
    page = served(app, f"/sign-in?lang={tag}").get_data(as_text=True)
    found = re.search(r'rel="manifest" href="([^"]+)"', page)
    assert found
    answer = served(app, found[1])
    assert answer.mimetype == "application/manifest+json"
    manifest = answer.get_json(force=True)
    assert (manifest["lang"], manifest["dir"]) == (tag, direction)
    assert (manifest["id"], manifest["start_url"], manifest["scope"]) == ("/app", "/app", "/")
    assert manifest["display"] == "standalone" and manifest["name"] and manifest["short_name"]
    assert [one["url"] for one in manifest["shortcuts"]] == ["/app#in", "/app#out", "/app#wrong"]
    assert len({one["name"] for one in manifest["shortcuts"]}) == 3
    assert {(one["sizes"], one["purpose"]) for one in manifest["icons"]} >= {
        ("192x192", "any"), ("512x512", "any"), ("512x512", "maskable"),
    }  # fmt: skip
    for one in manifest["icons"]:
        picture = served(app, one["src"])
        assert picture.mimetype == one["type"] == "image/png"
        assert "x".join(map(str, struct.unpack(">II", picture.data[16:24]))) == one["sizes"]


def pixels(file: Path) -> Any:
    """Read back what ``icons.png`` writes."""
    data = file.read_bytes()
    width, height = struct.unpack(">II", data[16:24])
    length = struct.unpack(">I", data[33:37])[0]
    rows = np.frombuffer(zlib.decompress(data[41 : 41 + length]), dtype=np.uint8).reshape(height, 1 + 4 * width)
    return rows[:, 1:].reshape(height, width, 4)


@pytest.mark.parametrize("name", icons.FILES)
def test_the_icons_are_what_their_script_draws(name: str) -> None:
    width, rounded = icons.FILES[name]
    picture = pixels(icons.FOLDER / name)
    assert np.array_equal(picture, icons.drawn(width, rounded))
    assert tuple(picture[width // 2, width // 2, :3]) == icons.GROUND, "the pupil"
    assert tuple(picture[width // 2, width // 4, :3]) == icons.PAPER, "the white of the eye"
    assert picture[0, 0, 3] == (0 if rounded else 255)
    # A maskable icon may be cut to a circle of 80 % of its width (W3C, Web Application Manifest, "safe zone").
    y, x = np.nonzero((picture[:, :, :3] == icons.PAPER).all(axis=2))
    assert np.hypot(x - width / 2, y - width / 2).max() < 0.4 * width


# -- the words --
@pytest.mark.parametrize("tag", ["en", "zh-Hans", "ar", "en-x-pseudo", "en-x-mirror"])
def test_words_are_kept_for_ever_under_their_build(app: Flask, tag: str) -> None:
    assert words(app, tag)["tag"] == tag
    page = served(app, "/app").get_data(as_text=True)
    english = re.search(r'data-english="([^"]+)"', page)
    assert english
    assert served(app, english[1]).headers["Cache-Control"] == FOR_EVER
    other = english[1].replace("/words/", "/words/0")
    assert app.test_client().get(other).status_code == 404
    assert app.test_client().get(english[1].replace("en.json", "xx.json")).status_code == 404


def test_every_word_that_a_script_says_is_there(app: Flask) -> None:
    known = words(app, "en")["words"] | words(app, "en", ".pages")["words"]
    said = {(one.name, key) for one in JS.glob("*.js") for key in KEY.findall(one.read_text(encoding="utf-8"))}
    assert [one for one in sorted(said) if one[1] not in known] == []


# -- static files --
def test_every_kind_of_static_file_is_known() -> None:
    assert {one.suffix for one in TREE.rglob("*") if one.is_file()} <= KINDS.keys()


def test_what_is_packed_is_the_same_unpacked(app: Flask) -> None:
    for path in worker(app)["files"][1:]:
        packed = served(app, path, **{"Accept-Encoding": "gzip"})
        assert packed.headers["Content-Encoding"] == "gzip" and "Accept-Encoding" in packed.headers["Vary"]
        assert gzip.decompress(packed.data) == served(app, path).data
        refused = served(app, path, **{"Accept-Encoding": "gzip;q=0"})
        assert "Content-Encoding" not in refused.headers
