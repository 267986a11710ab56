"""Right and left are always the wearer's own."""

from __future__ import annotations

from enum import StrEnum


class Eye(StrEnum):
    RIGHT = "right"
    LEFT = "left"


BOTH = "both"
EYES = (Eye.RIGHT, Eye.LEFT)


def eyes_named(word: str) -> tuple[Eye, ...]:
    """Turn ``right``, ``left`` or ``both`` into eyes. Raises ValueError for any other word."""
    return EYES if word == BOTH else (Eye(word),)
