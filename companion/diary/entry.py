"""One entry of the diary: an immutable statement with an id made on the phone.

``check_shape`` is the door: what comes in is a mapping of anything, what goes on is a ``Draft`` in its one normal
form, so that the same statement sent twice is equal to itself. A draft becomes an ``Entry`` when the server has
given it a sequence number. Whether the entries agree with each other is for ``merge`` and ``nights``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from companion.common.errors import InvalidInput, Problem
from companion.common.moments import is_aware
from companion.diary.kinds import SHAPES, Kind
from companion.diary.shape import Shape, a_zone, an_id, an_instant, one_of

__all__ = ["Draft", "Entry", "Kind", "check_shape"]


@dataclass(frozen=True)
class Draft:
    """What somebody says, well formed, not yet received."""

    id: str
    wearer_id: str
    kind: Kind
    at: datetime
    """When the thing happened, UTC."""
    zone: str
    """IANA name of the zone at that place."""
    made_at: datetime
    """What the clock of the phone (or the server, for its own forms) showed at the tap, UTC."""
    payload: Mapping[str, Any]
    """Plain JSON values in normal form; the keys depend on the kind."""

    def received(self, *, seq: int, author_id: str, received_at: datetime, verified: bool = True) -> Entry:
        """Return the entry that this draft becomes on receipt."""
        return Entry(
            self.id, self.wearer_id, seq, self.kind, author_id, self.at, self.zone,
            self.made_at, received_at, self.payload, verified,
        )  # fmt: skip


@dataclass(frozen=True)
class Entry:
    """What somebody said, as received. Nothing of it ever changes."""

    id: str
    wearer_id: str
    seq: int
    """Counts the entries of one wearer in the order in which they were received."""
    kind: Kind
    author_id: str
    at: datetime
    zone: str
    made_at: datetime
    received_at: datetime
    payload: Mapping[str, Any]
    verified: bool = True
    """False: the author's right or log-in had ended; a report still reaches the practice."""

    def __post_init__(self) -> None:
        for moment in (self.at, self.made_at, self.received_at):
            if not is_aware(moment):
                raise ValueError("naive datetime in an entry")


def _kind(value: object, path: str) -> Kind:
    return Kind(one_of(*Kind)(value, path))


_FRAME = Shape(
    {"id": an_id, "wearer_id": an_id, "kind": _kind, "at": an_instant, "zone": a_zone, "made_at": an_instant,
     "payload": lambda value, path: value}
)  # fmt: skip


def check_shape(raw: object) -> Draft:
    """Return the draft that ``raw`` describes.

    ``raw`` has the keys id, wearer_id, kind, at, zone, made_at and payload; times are ISO 8601 with an offset (or
    aware datetimes). Raises InvalidInput with every problem found, each under its path (``payload.eyes``).
    """
    problems: list[Problem] = []
    frame: dict[str, Any] = {}
    try:
        frame = _FRAME(raw, "")
    except InvalidInput as error:
        problems += error.problems
    kind = raw.get("kind") if isinstance(raw, Mapping) else None
    if isinstance(kind, str) and kind in list(Kind) and isinstance(raw, Mapping) and "payload" in raw:
        try:
            frame["payload"] = SHAPES[Kind(kind)](raw["payload"], "payload")
        except InvalidInput as error:
            problems += error.problems
    if problems:
        raise InvalidInput(*problems)
    return Draft(**frame)
