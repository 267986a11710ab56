"""Nothing typed is lost at the door: a form whose sign-in or token ran out is carried over and offered again.

Only for forms sent from our own pages; one that came from elsewhere is dropped, so nobody can be led to send it.
"""

from __future__ import annotations

from collections.abc import Iterable
from urllib.parse import urlsplit

from flask import render_template, request
from flask.typing import ResponseReturnValue

from companion.web.forms import Form

_NEVER = frozenset({"csrf_token", "old", "password", "password_again"})
_PREFIX = "kept."
Fields = list[tuple[str, str]]


def kept_fields() -> Fields:
    """Return what was typed into the form being sent, secrets left out."""
    if request.headers.get("Origin") != request.host_url.rstrip("/"):
        return []
    return [(name, value) for name, value in request.form.items(multi=True) if name not in _NEVER]


def sign_in_keeping(fields: Fields) -> ResponseReturnValue:
    """Ask for a sign-in, with the form that needs it riding along in hidden fields."""
    kept = [(_PREFIX + name, value) for name, value in fields]
    if kept:
        kept.append(("kept_path", request.full_path.rstrip("?")))
    return render_template("account/sign_in.html", form=Form(), kept=kept, signed_out=True), 401


def riding_along() -> Fields:
    """Return the hidden fields of a sign-in form that carries another form, for painting it again."""
    return [(name, value) for name, value in request.form.items(multi=True) if name.startswith("kept")]


def offer_again(path: str, fields: Iterable[tuple[str, str]], *, status: int = 200) -> ResponseReturnValue:
    """Show that what was typed is still here, with one button that sends it."""
    return render_template("kept.html", path=path, fields=list(fields)), status


def offer_riders(status: int = 200) -> ResponseReturnValue | None:
    """Offer the form that rode along with this sign-in, or None if there was none."""
    path = request.form.get("kept_path", "")
    if not path or not is_local(path):
        return None
    fields = [(name.removeprefix(_PREFIX), value) for name, value in riding_along() if name.startswith(_PREFIX)]
    return offer_again(path, fields, status=status)


def is_local(path: str) -> bool:
    """Say whether ``path`` stays on this site: browsers read ``//host`` and ``/\\host`` as somewhere else."""
    if not path.startswith("/") or path[1:2] in ("/", "\\") or any(ord(c) < 33 for c in path):
        return False
    parts = urlsplit(path)
    return not parts.scheme and not parts.netloc
