"""Where the lens of an eye is, as far as the diary tells, whatever taps were forgotten."""

from __future__ import annotations

import pytest
from diary_makers import FATHER, Book, wall

from companion.common.eyes import Eye
from companion.diary.merge import standing
from companion.diary.wear import LensPlace, lens_state

LENS_STATES: list[tuple[str, LensPlace, str | None]] = [
    ("2026-10-01 21:00", LensPlace.UNKNOWN, None),
    ("2026-10-01 21:30", LensPlace.IN, "2026-10-01 21:30"),
    ("2026-10-02 06:29", LensPlace.IN, "2026-10-01 21:30"),
    ("2026-10-02 06:30", LensPlace.OUT, "2026-10-02 06:30"),
    ("2026-10-02 22:00", LensPlace.OUT, "2026-10-02 06:30"),
    ("2026-10-03 06:00", LensPlace.UNKNOWN, None),  # a night nobody logged
    ("2026-10-03 21:30", LensPlace.IN, "2026-10-03 21:30"),
    ("2026-10-04 17:31", LensPlace.UNKNOWN, None),  # in for over 20 hours: a forgotten tap
]


@pytest.mark.parametrize(("now", "place", "since"), LENS_STATES)
def test_where_the_lens_is(now: str, place: LensPlace, since: str | None) -> None:
    book = Book()
    book.lens_in("2026-10-01 21:30")
    book.lens_in("2026-10-01 21:45", author=FATHER)
    book.lens_out("2026-10-02 06:30")
    book.lens_in("2026-10-03 21:30")
    known = [entry for entry in standing(book.entries) if entry.at <= wall(now)]
    found = lens_state(known, Eye.LEFT, wall(now))
    assert (found.place, found.since) == (place, wall(since) if since else None)


def test_where_the_lens_is_after_no_lenses() -> None:
    book = Book()
    book.lens_out("2026-10-01 06:30")
    book.add("no_lenses", "2026-10-01 21:00", {"eyes": "both", "night": "2026-10-01"})
    now = wall("2026-10-02 06:30")
    found = lens_state(standing(book.entries), Eye.RIGHT, now)
    assert (found.place, found.since) == (LensPlace.OUT, wall("2026-10-01 06:30"))
    book.lens_in("2026-10-01 20:30")
    assert lens_state(standing(book.entries), Eye.RIGHT, now).place is LensPlace.UNKNOWN


def test_a_fast_phone_clock_does_not_hide_the_tap_just_made() -> None:
    book = Book()
    book.lens_in("2026-10-01 21:30", received=wall("2026-10-01 21:22"))
    assert lens_state(standing(book.entries), Eye.RIGHT, wall("2026-10-01 21:23")).place is LensPlace.IN
    book = Book()
    book.lens_in("2026-10-01 22:30", received=wall("2026-10-01 21:30"))
    assert lens_state(standing(book.entries), Eye.RIGHT, wall("2026-10-01 21:31")).place is LensPlace.IN
