"""Wear as intervals and nights off as real time."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from diary_makers import BERLIN, TAPS, ZONES, Book, every_night, scribbled, wall
from hypothesis import given, settings

from companion.common.eyes import Eye
from companion.diary.merge import standing
from companion.diary.nights import Habits, Night, nights_of
from companion.diary.spans import (
    Gap,
    WearInterval,
    gaps,
    nights_off_between,
    nights_off_since,
    wear_intervals,
)

HOME = Habits(ZoneInfo(BERLIN))


def fold(book: Book, now: datetime) -> tuple[tuple[WearInterval, ...], tuple[Gap, ...]]:
    nights: tuple[Night, ...] = nights_of(
        standing(book.entries), every_night, date(2026, 10, 1), date(2026, 11, 30), HOME
    )
    spans = wear_intervals(nights, Eye.RIGHT, HOME, now)
    until = [night for night in nights if night.night <= now.date()]
    return spans, gaps(spans, until, Eye.RIGHT, now)


def test_logged_wear_is_taken_as_logged() -> None:
    book = Book()
    book.lens_in("2026-10-01 21:00")
    book.lens_out("2026-10-02 06:00")
    (span,), _ = fold(book, wall("2026-10-02 12:00"))
    assert (span.start, span.end) == (wall("2026-10-01 21:00"), wall("2026-10-02 06:00"))
    assert not span.start_assumed
    assert not span.end_assumed


def test_missing_ends_are_the_usual_times_and_say_so() -> None:
    book = Book()
    book.lens_in("2026-10-01 22:00")
    book.lens_out("2026-10-03 06:00")
    book.lens_in("2026-10-03 22:00")
    spans, _ = fold(book, wall("2026-10-10 12:00"))
    assert [(s.start, s.end) for s in spans] == [
        (wall("2026-10-01 22:00"), wall("2026-10-02 06:30")),  # 32 hours to the next tap: asked about
        (wall("2026-10-03 22:00"), wall("2026-10-04 06:30")),  # never logged out
    ]
    assert [s.end_assumed for s in spans] == [True, True]


def test_a_lens_still_in_has_no_end() -> None:
    book = Book()
    book.lens_in("2026-10-01 22:00")
    (span,), off = fold(book, wall("2026-10-02 05:00"))
    assert (span.end, span.end_assumed, off) == (None, False, ())


def test_an_out_alone_gets_the_usual_start() -> None:
    book = Book()
    book.lens_out("2026-10-02 06:00")
    (span,), _ = fold(book, wall("2026-10-02 12:00"))
    assert (span.start, span.end, span.start_assumed) == (
        wall("2026-10-01 21:30"), wall("2026-10-02 06:00"), True,
    )  # fmt: skip


def test_a_contradicted_night_is_no_wear() -> None:
    book = Book()
    book.lens_in("2026-10-01 22:00")
    book.add("no_lenses", "2026-10-02 07:00", {"eyes": "both", "night": "2026-10-01"})
    assert fold(book, wall("2026-10-02 12:00"))[0] == ()


OFF_BETWEEN = [  # local evening, zone, next local evening, zone, nights off
    ("2026-10-01 21:30", BERLIN, "2026-10-02 21:30", BERLIN, 0),
    ("2026-10-01 20:30", BERLIN, "2026-10-02 23:30", BERLIN, 0),
    ("2026-10-01 21:30", BERLIN, "2026-10-03 21:30", BERLIN, 1),
    ("2026-10-01 21:30", BERLIN, "2026-10-08 21:30", BERLIN, 6),
    ("2026-10-24 21:30", BERLIN, "2026-10-25 21:30", BERLIN, 0),  # a day of 25 hours
    ("2026-03-28 21:30", BERLIN, "2026-03-29 21:30", BERLIN, 0),  # a day of 23 hours
    ("2026-10-01 22:00", BERLIN, "2026-10-03 22:00", "Asia/Singapore", 1),  # a night in the air
    ("2026-10-01 22:00", "Asia/Singapore", "2026-10-02 22:00", BERLIN, 0),  # 30 hours
    ("2026-10-10 22:00", "Pacific/Auckland", "2026-10-10 22:00", "America/Los_Angeles", 0),  # the same date twice
    ("2026-10-10 22:00", "America/Los_Angeles", "2026-10-13 22:00", "Pacific/Auckland", 1),  # two dates, one night
]


@pytest.mark.parametrize(("evening", "where", "following", "there", "off"), OFF_BETWEEN)
def test_H13_neither_a_flight_nor_a_clock_change_makes_or_hides_a_night(
    evening: str, where: str, following: str, there: str, off: int
) -> None:
    assert nights_off_between(wall(evening, where), wall(following, there)) == off


@pytest.mark.parametrize(
    ("now", "off"),
    [
        ("2026-10-02 21:30", 0),
        ("2026-10-03 03:29", 0),
        ("2026-10-03 03:30", 1),
        ("2026-10-04 03:29", 1),
        ("2026-10-08 08:00", 6),
        ("2026-10-09 08:00", 7),
    ],
)
def test_nights_off_so_far(now: str, off: int) -> None:
    assert nights_off_since(wall("2026-10-01 21:30"), wall(now)) == off


def test_gaps_name_the_nights_nobody_logged() -> None:
    book = Book()
    for day in (1, 4):
        book.lens_in(f"2026-10-0{day} 21:30")
        book.lens_out(f"2026-10-0{day + 1} 06:30")
    book.add("no_lenses", "2026-10-02 21:00", {"eyes": "both", "night": "2026-10-02"})
    _, found = fold(book, wall("2026-10-07 12:00"))
    assert found == (
        Gap(wall("2026-10-02 06:30"), wall("2026-10-04 21:30"), 2, 1),
        Gap(wall("2026-10-05 06:30"), None, 2, 2),
    )


def test_weekly_telling_leaves_no_gap() -> None:
    book = Book()
    said = {"since": "2026-10-01", "until": "2026-10-07", "except": ["2026-10-04"]}
    book.add("as_planned", "2026-10-08 09:00", said)
    spans, found = fold(book, wall("2026-10-08 09:00"))
    assert len(spans) == 6
    assert [(gap.nights_off, gap.unknown_nights) for gap in found] == [(1, 0)]


@settings(max_examples=200, derandomize=True, deadline=None)
@given(TAPS, ZONES)
def test_intervals_never_overlap_and_always_end_but_the_last(
    taps: list[tuple[str, int, str]], zones: list[str]
) -> None:
    book = scribbled(taps, zones)
    book.add("as_planned", "2026-10-30 12:00", {"since": "2026-10-18", "until": "2026-10-29"})
    spans, _ = fold(book, wall("2026-10-30 12:00"))
    for one, following in pairwise(spans):
        assert one.end is not None
        assert one.start < one.end <= following.start
    assert all(s.end is None or s.end - s.start <= timedelta(hours=36) for s in spans)
