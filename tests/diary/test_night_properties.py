"""Whatever was tapped, in whatever zones and order: no tap is lost and no hours are absurd."""

from __future__ import annotations

from datetime import date
from zoneinfo import ZoneInfo

from diary_makers import BERLIN, TAPS, ZONES, Book, every_night, scribbled
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.common.eyes import Eye
from companion.diary.merge import standing
from companion.diary.nights import Habits, Night, NightState, nights_of

HOME = Habits(ZoneInfo(BERLIN))
FIRST, LAST = date(2026, 10, 18), date(2026, 11, 2)


def nights(book: Book) -> tuple[Night, ...]:
    return nights_of(standing(book.entries), every_night, FIRST, LAST, HOME)


@settings(max_examples=200, derandomize=True, deadline=None)
@given(TAPS, ZONES, st.randoms(use_true_random=False))
def test_no_tap_is_lost_whatever_was_tapped(
    taps: list[tuple[str, int, str]], zones: list[str], order: object
) -> None:
    book = scribbled(taps, zones)
    folded = nights(book)
    for eye in Eye:
        mine = {e.id for e in book.entries if e.kind != "no_lenses" and e.payload["eyes"] in (eye.value, "both")}
        kept = [i for n in folded for w in n.eyes[eye].wears for i in w.entry_ids]
        assert sorted(kept) == sorted(mine), "each tap is in exactly one wear"
    shuffled = list(book.entries)
    order.shuffle(shuffled)  # type: ignore[attr-defined]
    again = nights_of(reversed(standing(shuffled)), every_night, FIRST, LAST, HOME)
    assert again == folded


@settings(max_examples=200, derandomize=True, deadline=None)
@given(TAPS, ZONES)
def test_hours_are_never_absurd(taps: list[tuple[str, int, str]], zones: list[str]) -> None:
    for night in nights(scribbled(taps, zones)):
        for of_eye in night.eyes.values():
            assert of_eye.hours is None or 0 <= of_eye.hours <= 48
            assert (of_eye.state is NightState.NOT_WORN) == (of_eye.hours == 0 and not of_eye.wears)
            assert of_eye.state is not NightState.UNKNOWN or of_eye.hours is None
