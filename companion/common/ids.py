"""Ids are UUIDs in canonical text form: a phone can mint one without asking anybody."""

from __future__ import annotations

import uuid


def new_id() -> str:
    """Return a fresh random id."""
    return str(uuid.uuid4())


def is_id(text: object) -> bool:
    """Say whether ``text`` is a UUID in its canonical lower-case form."""
    if not isinstance(text, str):
        return False
    try:
        return str(uuid.UUID(text)) == text
    except ValueError:
        return False
