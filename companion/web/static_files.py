"""Static files under the hash of their content: cached for ever, and never stale.

One hash covers the whole tree, so that a stylesheet or module may name its neighbours by relative address. What
scripts read beside it (the rules of triage, emergency numbers, the words of each language) has its part in the
hash: a phone that has one build whole has everything that belongs together.
"""

from __future__ import annotations

import gzip
import hashlib
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path, PurePosixPath
from typing import cast

from flask import Flask, Response, abort, current_app, request, url_for

from companion.escalation.places import NUMBERS_FILE
from companion.regimen.care import CARE_FILE
from companion.triage.rules import RULES_FILE
from companion.web import bundling
from companion.web.doors import open_to_all

TREE = Path(__file__).parent / "static"
FROM_ROOMS = {
    "triage/rules.json": RULES_FILE,
    "escalation/emergency_numbers.json": NUMBERS_FILE,
    "regimen/care.json": CARE_FILE,
}
"""What the phone reads where it lies: there is one copy."""
FOR_EVER = "public, max-age=31536000, immutable"
KINDS = {
    ".css": "text/css",
    ".js": "text/javascript",
    ".json": "application/json",
    ".png": "image/png",
    ".svg": "image/svg+xml",
    ".webmanifest": "application/manifest+json",
}
PACKED_ALREADY = frozenset({".png"})
REMARK = re.compile(rb"^\s*//.*\n|^\n", re.MULTILINE)
"""A line of a module that is there for whoever reads the source: a phone has no need of it."""


@dataclass(frozen=True)
class Build:
    """What is served under one name."""

    version: str
    files: Mapping[str, bytes]
    """By path."""
    words: Mapping[str, bytes]
    """By the tag of the language."""
    folded: frozenset[str]
    """Modules and sheets that a phone has within another file. Each is served alone too, for whoever wants just
    that one."""


def build_of(words: Mapping[str, bytes]) -> Build:
    files = {
        one.relative_to(TREE).as_posix(): one.read_bytes()
        for one in sorted(TREE.rglob("*"))
        if one.is_file() and not one.name.startswith(".")
    }
    files |= {path: REMARK.sub(b"", text) for path, text in files.items() if path.endswith(".js")}
    files |= {path: one.read_bytes() for path, one in FROM_ROOMS.items()}
    folded = {*bundling.first_modules(files), *bundling.later_modules(files), *bundling.SHEETS}
    bundles = bundling.bundled(files)
    files |= bundles
    whole = hashlib.sha256()
    for path, content in (*files.items(), *sorted(words.items())):
        whole.update(path.encode() + b"\0" + hashlib.sha256(content).digest())
    return Build(whole.hexdigest()[:16], files, words, frozenset(folded - bundles.keys()))


def build() -> Build:
    return cast(Build, current_app.extensions["companion_build"])


def immutable(version: str, path: str, content: bytes | None) -> Response:
    """Answer with a file of this build, packed where that helps; another build's are gone."""
    if version != build().version or content is None:
        abort(404)
    suffix = PurePosixPath(path).suffix
    packs = suffix not in PACKED_ALREADY
    packed = packs and bool(request.accept_encodings["gzip"])
    response = Response(_packed(content) if packed else content, content_type=KINDS[suffix])
    response.headers["Cache-Control"] = FOR_EVER
    if packed:
        response.headers["Content-Encoding"] = "gzip"
    if packs:
        response.headers["Vary"] = "Accept-Encoding"
    return response


@lru_cache(maxsize=500)
def _packed(content: bytes) -> bytes:
    return gzip.compress(content, mtime=0)


def install(app: Flask, words: Mapping[str, bytes]) -> None:
    """Serve the static tree, and give templates ``static("css/page.css")``."""
    made = app.extensions["companion_build"] = build_of(words)

    @app.get("/static/<version>/<path:path>", endpoint="static")
    @open_to_all
    def serve(version: str, path: str) -> Response:
        return immutable(version, path, made.files.get(path))

    def static(path: str) -> str:
        if path not in made.files:
            raise LookupError(f"no static file {path}")
        return url_for("static", version=made.version, path=path)

    app.jinja_env.globals.update(static=static, static_build=build)
