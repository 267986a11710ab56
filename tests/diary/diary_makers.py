"""Makes entries for the tests of the diary: one call, one entry, received in the order of making."""

from __future__ import annotations

import itertools
import uuid
from datetime import UTC, date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from hypothesis import strategies as st

from companion.diary.entry import Entry, check_shape

WEARER = "00000000-0000-4000-8000-00000000000a"
MOTHER, FATHER = "mother", "father"
BERLIN = "Europe/Berlin"


def wall(text: str, zone: str = BERLIN, fold: int = 0) -> datetime:
    """``2026-03-28 21:30`` on the wall of ``zone``, as UTC."""
    return datetime.fromisoformat(text).replace(tzinfo=ZoneInfo(zone), fold=fold).astimezone(UTC)


def raw(kind: str, at: datetime, payload: dict[str, Any], zone: str = BERLIN, /, **changes: Any) -> dict[str, Any]:
    return {
        "id": str(uuid.uuid4()), "wearer_id": WEARER, "kind": kind, "at": at.isoformat(), "zone": zone,
        "made_at": at.isoformat(), "payload": payload, **changes,
    }  # fmt: skip


class Book:
    """Collects entries; ``book.tap(...)`` returns the entry it added."""

    def __init__(self, zone: str = BERLIN) -> None:
        self.zone = zone
        self.entries: list[Entry] = []
        self._seq = itertools.count(1)

    def add(
        self, kind: str, at: str | datetime, payload: dict[str, Any], *, author: str = MOTHER, zone: str = "",
        received: datetime | None = None, verified: bool = True,
    ) -> Entry:  # fmt: skip
        zone = zone or self.zone
        moment = wall(at, zone) if isinstance(at, str) else at
        entry = check_shape(raw(kind, moment, payload, zone)).received(
            seq=next(self._seq), author_id=author, received_at=received or moment + timedelta(seconds=2),
            verified=verified,
        )  # fmt: skip
        self.entries.append(entry)
        return entry

    def lens_in(self, at: str | datetime, eyes: str = "both", **more: Any) -> Entry:
        return self.add("lenses_in", at, {"eyes": eyes}, **more)

    def lens_out(self, at: str | datetime, eyes: str = "both", **more: Any) -> Entry:
        return self.add("lenses_out", at, {"eyes": eyes}, **more)

    def correct(
        self, target: Entry, at: str | datetime, payload: dict[str, Any] | None = None, **more: Any
    ) -> Entry:
        """Say that ``target`` (an original or a correction) happened at ``at`` with ``payload``."""
        first = target.payload if target.kind == "correction" else None
        said = {
            "replaces": target.id,
            "kind": first["kind"] if first else str(target.kind),
            "at": (wall(at, self.zone) if isinstance(at, str) else at).isoformat(),
            "zone": self.zone,
            "payload": dict(payload or (first["payload"] if first else target.payload)),
        }
        return self.add("correction", target.received_at + timedelta(hours=1), said, **more)

    def withdraw(self, target: Entry, **more: Any) -> Entry:
        return self.add("withdrawal", target.received_at + timedelta(minutes=1), {"withdraws": target.id}, **more)


def every_night(_: date) -> bool:
    return True


TAPS = st.lists(
    st.tuples(
        st.sampled_from(["in", "out", "none"]), st.integers(0, 12_000), st.sampled_from(["right", "left", "both"])
    ),
    max_size=25,
)
ZONES = st.lists(st.sampled_from([BERLIN, "Pacific/Auckland", "America/Los_Angeles"]), min_size=25, max_size=25)


def scribbled(taps: list[tuple[str, int, str]], zones: list[str]) -> Book:
    """Whatever a family might tap in nine days around the clock change of October, on phones far apart."""
    book = Book()
    for (what, minutes, eyes), where in zip(taps, zones, strict=False):
        moment = wall("2026-10-20 12:00") + timedelta(minutes=minutes)
        if what == "none":
            night = moment.date().isoformat()
            book.add("no_lenses", moment, {"eyes": eyes, "night": night}, zone=where)
        elif what == "in":
            book.lens_in(moment, eyes, zone=where)
        else:
            book.lens_out(moment, eyes, zone=where)
    return book
