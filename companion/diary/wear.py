"""From taps to wear: pairs the *in* and *out* of one eye, and keeps in sight whatever does not add up.

Nothing is dropped and nothing is guessed away: a tap that fits nowhere becomes an oddity under its night, to be
asked about. The family answers by correcting or withdrawing; to say "yes, that is how it was" is a correction to
the same words, and settles how long the wear was. All limits are design choices. Knows no plan and no clock.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time, timedelta
from enum import StrEnum

from companion.common.eyes import Eye, eyes_named
from companion.common.moments import NOON, hours_between, night_of, zone
from companion.diary.kinds import Kind
from companion.diary.merge import StandingEntry

SAME_TAP = timedelta(minutes=30)
"""Two phones (or two thumbs) that say the same within this time said it once."""
LONGEST_USUAL = timedelta(hours=20)
"""A lens is not thought to be in for longer, nor known to be out for longer, without anybody saying so."""
LONGEST_PAIRED = timedelta(hours=36)
"""An *out* this long after an *in* belongs to another night. Also the longest wear row of a record file."""
SHORTEST_USUAL_HOURS = 3.0
CLOCK_SKEW = timedelta(minutes=10)
FAST_CLOCK = timedelta(hours=2)
"""A phone clock fast by up to this much is taken for that: the tap counts as made when it was received."""
SLEEP_BEFORE_OUT = timedelta(hours=6)
"""An *out* without an *in* belongs to the night that was under way this long before it."""


class Odd(StrEnum):
    """What is asked about."""

    OUT_BEFORE_IN = "out_before_in"
    OUT_WITHOUT_IN = "out_without_in"
    IN_WITHOUT_OUT = "in_without_out"
    IN_AGAIN = "in_again"
    OUT_AGAIN = "out_again"
    VERY_LONG = "very_long"
    SHORT = "short"
    FUTURE_TIME = "future_time"
    WORN_AND_NOT = "worn_and_not"


@dataclass(frozen=True)
class Oddity:
    code: Odd
    entry_ids: tuple[str, ...]


@dataclass(frozen=True)
class Wear:
    """One time that a lens was in one eye. ``start`` or ``end`` is None where nobody logged it (yet)."""

    night: date
    zone: str
    start: datetime | None
    end: datetime | None
    entry_ids: tuple[str, ...] = ()
    oddities: tuple[Oddity, ...] = ()
    as_planned: bool = False
    """Nobody tapped: these are the usual times of a night said to have gone as planned."""
    settled: bool = False
    """One of its taps was corrected or confirmed: however long or short it is, that is what the family means."""

    @property
    def hours(self) -> float | None:
        """Return the hours worn; None if an end is missing or waits to be asked about."""
        if self.start is None or self.end is None or any(o.code is Odd.VERY_LONG for o in self.oddities):
            return None
        return hours_between(self.start, self.end)

    def noting(self, code: Odd, *entry_ids: str) -> Wear:
        return replace(self, oddities=(*self.oddities, Oddity(code, entry_ids)))

    def with_tap(self, entry: StandingEntry) -> Wear:
        ids = (*self.entry_ids, entry.id)
        return replace(self, entry_ids=ids, settled=self.settled or entry.corrected)


@dataclass(frozen=True)
class Tap:
    """One *in* or *out*, at the instant that counts."""

    entry: StandingEntry
    at: datetime
    future: bool

    @property
    def is_in(self) -> bool:
        return self.entry.kind is Kind.LENSES_IN

    def night(self, split: time, before: timedelta = timedelta(0)) -> date:
        return night_of(self.at - before, zone(self.entry.zone), split)


class LensPlace(StrEnum):
    IN = "in"
    OUT = "out"
    UNKNOWN = "unknown"


@dataclass(frozen=True)
class LensState:
    """Where the lens of one eye is, as far as the diary tells."""

    place: LensPlace
    since: datetime | None = None


@dataclass
class _Pairing:
    """The work in hand while the taps of one eye are paired in order of time."""

    split: time
    done: list[Wear] = field(default_factory=list)
    open: Wear | None = None

    def close(self) -> None:
        if self.open is not None:
            self.done.append(self.open)
            self.open = None


def concerns(entry: StandingEntry, eye: Eye) -> bool:
    return eye in eyes_named(entry.payload["eyes"])


def counted_at(entry: StandingEntry) -> tuple[datetime | None, bool]:
    """Return the instant at which a tap counts (None: nowhere) and whether its time lies in the future.

    Nothing happens after it was received. A little ahead is a fast clock; far ahead is a slip in a date, which
    counts for nothing until it is corrected.
    """
    ahead = entry.at - entry.received_at
    if ahead <= CLOCK_SKEW:
        return entry.at, False
    return (entry.received_at if ahead <= FAST_CLOCK else None), True


def taps_of(standing: Iterable[StandingEntry], eye: Eye) -> list[Tap]:
    """Return the taps of one eye that count, in order of time."""
    taps = []
    for entry in standing:
        if entry.kind in (Kind.LENSES_IN, Kind.LENSES_OUT) and concerns(entry, eye):
            at, future = counted_at(entry)
            if at is not None:
                taps.append(Tap(entry, at, future))
    return sorted(taps, key=lambda tap: (tap.at, tap.entry.seq, tap.entry.id))


def wears_of(taps: Iterable[Tap], split: time = NOON) -> list[Wear]:
    """Pair the taps of one eye, given in order of time. Wears come out in order and never overlap."""
    pairing = _Pairing(split)
    for tap in taps:
        (_take_in if tap.is_in else _take_out)(pairing, tap)
    pairing.close()
    return _swapped_made_one(pairing.done)


def _take_in(pairing: _Pairing, tap: Tap) -> None:
    entry, night = tap.entry, tap.night(pairing.split)
    now_open = pairing.open
    if now_open is not None and now_open.start is not None:
        since = tap.at - now_open.start
        if since <= SAME_TAP:
            pairing.open = now_open.with_tap(entry)
            return
        if night == now_open.night and since <= LONGEST_USUAL:
            pairing.open = now_open.with_tap(entry).noting(Odd.IN_AGAIN, now_open.entry_ids[0], entry.id)
            return
        pairing.open = now_open.noting(Odd.IN_WITHOUT_OUT, *now_open.entry_ids)
        pairing.close()
    wear = Wear(night, entry.zone, tap.at, None).with_tap(entry)
    last = pairing.done[-1] if pairing.done else None
    if last is not None and last.start is None and last.end is not None and tap.at - last.end <= SAME_TAP:
        # A slip of the thumb: "out", then at once what was meant.
        pairing.done.pop()
        wear = replace(wear, entry_ids=(*last.entry_ids, entry.id))
        wear = wear.noting(Odd.OUT_BEFORE_IN, *wear.entry_ids)
    pairing.open = wear


def _take_out(pairing: _Pairing, tap: Tap) -> None:
    entry, now_open = tap.entry, pairing.open
    if now_open is not None and now_open.start is not None:
        worn = tap.at - now_open.start
        if worn <= LONGEST_PAIRED:
            wear = replace(now_open.with_tap(entry), end=tap.at)
            if worn > LONGEST_USUAL and not wear.settled:
                wear = wear.noting(Odd.VERY_LONG, *wear.entry_ids)
            pairing.open = wear
            pairing.close()
            return
        pairing.open = now_open.noting(Odd.IN_WITHOUT_OUT, *now_open.entry_ids)
        pairing.close()
    night = tap.night(pairing.split, before=SLEEP_BEFORE_OUT)
    last = pairing.done[-1] if pairing.done else None
    if last is not None and last.end is not None:
        if tap.at - last.end <= SAME_TAP:
            pairing.done[-1] = last.with_tap(entry)
            return
        if night == last.night:
            pairing.done[-1] = last.with_tap(entry).noting(Odd.OUT_AGAIN, last.entry_ids[-1], entry.id)
            return
    lone = Wear(night, entry.zone, None, tap.at).with_tap(entry)
    pairing.done.append(lone.noting(Odd.OUT_WITHOUT_IN, entry.id))


def _swapped_made_one(wears: list[Wear]) -> list[Wear]:
    """Where a night has an *out* and, after it, an *in* that never ended: worn, at times nobody knows."""
    made: list[Wear] = []
    for wear in wears:
        last = made[-1] if made else None
        lone_out = last is not None and last.start is None and last.end is not None
        if last is not None and lone_out and wear.end is None and wear.night == last.night:
            ids = (*last.entry_ids, *wear.entry_ids)
            made[-1] = Wear(wear.night, wear.zone, None, None, ids).noting(Odd.OUT_BEFORE_IN, *ids)
        else:
            made.append(wear)
    return made


def lens_state(standing: Iterable[StandingEntry], eye: Eye, now: datetime, split: time = NOON) -> LensState:
    """Say whether the lens of ``eye`` is in or out at ``now``, and since when.

    The last word counts for 20 hours; after that a tap was forgotten and the answer is unknown. A *no lenses* said
    after an *in* of the same night contradicts it: unknown.
    """
    entries = list(standing)
    taps = [tap for tap in taps_of(entries, eye) if tap.at <= now + CLOCK_SKEW]
    refusals = [e for e in entries if e.kind is Kind.NO_LENSES and concerns(e, eye) and e.at <= now + CLOCK_SKEW]
    refusal = max(refusals, key=lambda e: (e.at, e.seq), default=None)
    last = taps[-1] if taps else None
    if refusal is not None and now - refusal.at <= LONGEST_USUAL and (last is None or refusal.at >= last.at):
        if last is None or not last.is_in:
            return LensState(LensPlace.OUT, last.at if last else None)
        if last.night(split).isoformat() == refusal.payload["night"]:
            return LensState(LensPlace.UNKNOWN)
    if last is None:
        return LensState(LensPlace.UNKNOWN)
    since = last.at
    if last.is_in:
        since = wears_of(taps, split)[-1].start or last.at
    if now - since > LONGEST_USUAL:
        return LensState(LensPlace.UNKNOWN)
    return LensState(LensPlace.IN if last.is_in else LensPlace.OUT, min(since, now))
