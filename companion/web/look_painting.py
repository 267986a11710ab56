"""What templates say around a report: looking again, asking for more, a young wearer alone, triage switched off.
Words and addresses; decides nothing."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from flask import Flask, url_for

from companion.common.eyes import eyes_named
from companion.phrasebook import look_words, red_flags, young_words
from companion.web.questions import WORSE


def look_address(wearer_id: str, eyes: str, said: str) -> str:
    """Return where the questions begin again after a look; *worse* is known there, and still asked about."""
    known: Mapping[str, Any] = {}
    if said == "worse":
        known = {f"{eye.value}.{WORSE[0]}": WORSE[1] for eye in eyes_named(eyes)}
    return url_for("wrong.questions_of", wearer_id=wearer_id, eyes=eyes, **known)


def install(app: Flask) -> None:
    words = {"look_words": look_words, "young_words": young_words, "red_flags_words": red_flags}
    app.jinja_env.globals.update(words, look_address=look_address)
