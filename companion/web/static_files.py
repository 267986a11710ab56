"""Static files under the hash of their content: cached for ever, and never stale.

One hash covers the whole tree, so that a stylesheet or module may name its neighbours by relative address.
"""

from __future__ import annotations

import hashlib
from pathlib import Path

from flask import Flask, Response, abort, send_from_directory, url_for

from companion.web.doors import open_to_all

TREE = Path(__file__).parent / "static"
FOR_EVER = "public, max-age=31536000, immutable"


def manifest(tree: Path) -> dict[str, bytes]:
    """Return the digest of each file of ``tree`` by its path."""
    files = sorted(one for one in tree.rglob("*") if one.is_file() and not one.name.startswith("."))
    return {one.relative_to(tree).as_posix(): hashlib.sha256(one.read_bytes()).digest() for one in files}


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
        response = send_from_directory(TREE, path)
        response.headers["Cache-Control"] = FOR_EVER
        return response

    current = version

    def static(path: str) -> str:
        if path not in files:
            raise LookupError(f"no static file {path}")
        return url_for("static", version=current, path=path)

    app.jinja_env.globals["static"] = static
