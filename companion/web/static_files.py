"""Static files under the hash of their content: cached for ever, and never stale.

One hash covers the whole tree, so that a stylesheet or module may name its neighbours by relative address. What the
phone judges by lies in the rooms that own it and is served from there under the same hash: there is one copy.
"""

from __future__ import annotations

import hashlib
from pathlib import Path

from flask import Flask, Response, abort, send_from_directory, url_for

from companion.escalation.places import NUMBERS_FILE
from companion.triage.rules import RULES_FILE
from companion.web.doors import open_to_all

TREE = Path(__file__).parent / "static"
FROM_ROOMS = {one.name: one for one in (RULES_FILE, NUMBERS_FILE)}
"""Files of other rooms, as they stand at the top of the tree."""
FOR_EVER = "public, max-age=31536000, immutable"


def manifest(tree: Path) -> dict[str, bytes]:
    """Return the digest of each file that is served, by its path."""
    own = {one.relative_to(tree).as_posix(): one for one in tree.rglob("*") if one.is_file()}
    files = {path: one for path, one in own.items() if not one.name.startswith(".")} | FROM_ROOMS
    return {path: hashlib.sha256(files[path].read_bytes()).digest() for path in sorted(files)}


def install(app: Flask) -> None:
    """Serve the static tree, and give templates ``static("css/form.css")``."""
    files = manifest(TREE)
    whole = hashlib.sha256()
    for path, digest in files.items():
        whole.update(path.encode() + b"\0" + digest)
    version = whole.hexdigest()[:16]

    @app.get("/static/<version>/<path:path>", endpoint="static")
    @open_to_all
    def serve(version: str, path: str) -> Response:
        if version != current or path not in files:
            abort(404)
        response = send_from_directory(FROM_ROOMS[path].parent if path in FROM_ROOMS else TREE, path)
        response.headers["Cache-Control"] = FOR_EVER
        return response

    current = version

    def static(path: str) -> str:
        if path not in files:
            raise LookupError(f"no static file {path}")
        return url_for("static", version=current, path=path)

    app.jinja_env.globals["static"] = static
