"""Nights folded from statements: worn, not worn, unknown; hours from instants; oddities asked about and kept."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from diary_makers import BERLIN, FATHER, MOTHER, Book, every_night, wall

from companion.common.eyes import Eye
from companion.diary.merge import standing
from companion.diary.nights import (
    EyeNight,
    Habits,
    Night,
    NightState,
    Source,
    nights_of,
    open_questions,
    summary,
)
from companion.diary.wear import Odd

HOME = Habits(ZoneInfo(BERLIN))
FIRST = date(2026, 10, 1)
WORN, NOT_WORN, UNKNOWN = NightState.WORN, NightState.NOT_WORN, NightState.UNKNOWN


def no_weekends(night: date) -> bool:
    return night.weekday() < 5


def nights(
    book: Book,
    last: int = 1,
    first: date = FIRST,
    habits: Habits = HOME,
    plan: Callable[[date], bool] = every_night,
) -> tuple[Night, ...]:
    return nights_of(standing(book.entries), plan, first, first + timedelta(days=last - 1), habits)


def right(book: Book, night: date = FIRST, habits: Habits = HOME) -> EyeNight:
    return nights(book, 1, night, habits)[0].eyes[Eye.RIGHT]


def codes(of_eye: EyeNight) -> list[str]:
    return [oddity.code.value for oddity in of_eye.oddities]


# -- plain nights --------------------------------------------------------------------------------------------


def test_a_logged_night_is_worn_for_its_hours() -> None:
    book = Book()
    book.lens_in("2026-10-01 21:30")
    book.lens_out("2026-10-02 06:30")
    of_eye = right(book)
    assert (of_eye.state, of_eye.source, of_eye.hours, codes(of_eye)) == (WORN, Source.LOGGED, 9.0, [])


def test_silence_is_unknown_never_not_worn() -> None:
    (night,) = nights(Book())
    assert [(of.state, of.hours, of.source) for of in night.eyes.values()] == [(UNKNOWN, None, None)] * 2


def test_one_eye_says_nothing_of_the_other() -> None:
    book = Book()
    book.lens_in("2026-10-01 21:30", "right")
    book.lens_out("2026-10-02 06:30", "right")
    book.add("no_lenses", "2026-10-02 20:00", {"eyes": "left", "night": "2026-10-02"})
    first, second = nights(book, 2)
    assert (first.eyes[Eye.RIGHT].state, first.eyes[Eye.LEFT].state) == (WORN, UNKNOWN)
    assert (second.eyes[Eye.RIGHT].state, second.eyes[Eye.LEFT].state) == (UNKNOWN, NOT_WORN)


def test_only_treated_eyes_are_listed() -> None:
    book = Book()
    book.lens_in("2026-10-01 21:30", "both")
    (night,) = nights_of(standing(book.entries), every_night, FIRST, FIRST, HOME, eyes=(Eye.LEFT,))
    assert list(night.eyes) == [Eye.LEFT]


def test_one_lens_taken_out_early_ends_that_eye_only() -> None:
    book = Book()
    book.lens_in("2026-10-01 21:30")
    book.lens_out("2026-10-02 02:30", "left")
    book.lens_out("2026-10-02 06:30", "right")
    (night,) = nights(book)
    assert {eye: of.hours for eye, of in night.eyes.items()} == {Eye.RIGHT: 9.0, Eye.LEFT: 5.0}


def test_a_lens_still_in_is_a_worn_night_of_unknown_hours() -> None:
    book = Book()
    book.lens_in("2026-10-01 21:30")
    assert (right(book).state, right(book).hours, codes(right(book))) == (WORN, None, [])


def test_two_wears_in_one_night_add_up() -> None:
    book = Book()
    book.lens_in("2026-10-01 21:30")
    book.lens_out("2026-10-02 01:00")
    book.lens_in("2026-10-02 02:00")
    book.lens_out("2026-10-02 07:00")
    assert (right(book).hours, len(right(book).wears)) == (8.5, 2)


# -- H13: clocks, zones, split hours ---------------------------------------------------------------------------

CLOCK_CHANGES = [  # Europe/Berlin 2026: 29 March 02:00 -> 03:00, 25 October 03:00 -> 02:00 (IANA tz database)
    ("2026-03-28 21:30", "2026-03-29 06:30", date(2026, 3, 28), 8.0),
    ("2026-10-24 21:30", "2026-10-25 06:30", date(2026, 10, 24), 10.0),
    ("2026-03-27 21:30", "2026-03-28 06:30", date(2026, 3, 27), 9.0),
    ("2026-03-29 00:30", "2026-03-29 06:30", date(2026, 3, 28), 5.0),
]


@pytest.mark.parametrize(("into", "out", "night", "hours"), CLOCK_CHANGES)
def test_H13_hours_are_real_hours_in_the_nights_of_a_clock_change(
    into: str, out: str, night: date, hours: float
) -> None:
    book = Book()
    book.lens_in(into)
    book.lens_out(out)
    assert (right(book, night).state, right(book, night).hours) == (WORN, hours)


def test_H13_both_half_past_twos_of_october_are_told_apart() -> None:
    book = Book()
    book.lens_in(wall("2026-10-25 02:30", fold=0))
    book.lens_out(wall("2026-10-25 02:30", fold=1) + timedelta(hours=4))
    assert right(book, date(2026, 10, 24)).hours == 5.0


def test_H13_the_usual_times_follow_the_wall_clock() -> None:
    book = Book()
    book.add("as_planned", "2026-03-30 12:00", {"since": "2026-03-27", "until": "2026-03-29"})
    found = [night.eyes[Eye.LEFT].hours for night in nights(book, 3, date(2026, 3, 27))]
    assert found == [9.0, 8.0, 9.0]


def test_H13_a_flight_west_over_the_date_line_keeps_both_nights() -> None:
    book = Book()
    book.lens_in("2026-10-10 22:00", zone="Pacific/Auckland")
    book.lens_out("2026-10-11 06:00", zone="Pacific/Auckland")
    book.lens_in("2026-10-10 22:00", zone="America/Los_Angeles")
    book.lens_out("2026-10-11 06:00", zone="America/Los_Angeles")
    of_eye = right(book, date(2026, 10, 10))
    assert (of_eye.hours, len(of_eye.wears), codes(of_eye)) == (16.0, 2, [])


def test_H13_a_night_belongs_to_the_zone_where_the_lens_went_in() -> None:
    book = Book()
    book.lens_in("2026-10-01 23:30", zone="Asia/Singapore")  # 17:30 in Berlin
    book.lens_out("2026-10-02 07:00", zone=BERLIN)  # landed
    assert right(book).hours == 13.5
    book.lens_in("2026-10-03 00:30", zone="America/New_York")
    assert right(book, date(2026, 10, 2)).state is WORN


SPLITS = [
    (time(12), "2026-10-02 11:59", date(2026, 10, 1)),
    (time(12), "2026-10-02 12:00", date(2026, 10, 2)),
    (time(20), "2026-10-02 08:00", date(2026, 10, 1)),  # sleeps by day after a night shift
    (time(20), "2026-10-02 19:59", date(2026, 10, 1)),
    (time(20), "2026-10-02 20:00", date(2026, 10, 2)),
]


@pytest.mark.parametrize(("split", "into", "night"), SPLITS)
def test_the_split_hour_decides_the_date(split: time, into: str, night: date) -> None:
    book = Book()
    book.lens_in(into)
    assert right(book, night, Habits(ZoneInfo(BERLIN), split)).state is WORN


def test_a_day_sleepers_usual_times_lie_in_one_night() -> None:
    habits = Habits(ZoneInfo(BERLIN), time(20), time(8), time(15))
    assert habits.usual_wear(FIRST) == (wall("2026-10-02 08:00"), wall("2026-10-02 15:00"))
    assert Habits(ZoneInfo(BERLIN), usual_in=time(0, 30)).usual_wear(FIRST)[0] == wall("2026-10-02 00:30")


# -- oddities ---------------------------------------------------------------------------------------------------


def test_H15_two_phones_that_log_the_same_night_make_one_night() -> None:
    book = Book()
    book.lens_in("2026-10-01 21:30", author=MOTHER)
    book.lens_in("2026-10-01 21:50", author=FATHER)
    book.lens_out("2026-10-02 06:30", author=FATHER)
    book.lens_out("2026-10-02 06:45", author=MOTHER)
    of_eye = right(book)
    assert (of_eye.hours, codes(of_eye), len(of_eye.wears)) == (9.0, [], 1)
    assert set(of_eye.wears[0].entry_ids) == {entry.id for entry in book.entries}, "all four are kept"


def test_ins_far_apart_in_one_night_are_asked_about() -> None:
    book = Book()
    book.lens_in("2026-10-01 20:30")
    book.lens_in("2026-10-01 23:30")
    book.lens_out("2026-10-02 06:30")
    assert (right(book).hours, codes(right(book))) == (10.0, ["in_again"])


def test_outs_far_apart_are_asked_about_and_the_first_counts() -> None:
    book = Book()
    book.lens_in("2026-10-01 21:30")
    book.lens_out("2026-10-02 06:30")
    book.lens_out("2026-10-02 08:30")
    assert (right(book).hours, codes(right(book))) == (9.0, ["out_again"])


def test_an_out_alone_means_worn_for_unknown_hours() -> None:
    for at in ("2026-10-02 06:30", "2026-10-02 13:00"):
        book = Book()
        book.lens_out(at)
        assert (right(book).state, right(book).hours, codes(right(book))) == (WORN, None, ["out_without_in"])


def test_times_told_the_wrong_way_round_are_asked_about() -> None:
    book = Book()
    book.lens_out("2026-10-01 21:30")
    book.lens_in("2026-10-02 06:30")
    book.lens_in("2026-10-02 21:30")
    assert (right(book).state, right(book).hours, codes(right(book))) == (WORN, None, ["out_before_in"])
    assert codes(right(book, date(2026, 10, 2))) == []


def test_a_slip_of_the_thumb_before_the_in_leaves_the_hours() -> None:
    book = Book()
    book.lens_out("2026-10-01 21:29")
    book.lens_in("2026-10-01 21:30")
    book.lens_out("2026-10-02 06:30")
    assert (right(book).hours, codes(right(book))) == (9.0, ["out_before_in"])


def test_a_forgotten_out_is_asked_about_when_the_next_in_comes() -> None:
    book = Book()
    book.lens_in("2026-10-01 21:30")
    book.lens_in("2026-10-02 21:30")
    book.lens_out("2026-10-03 06:30")
    first, second = (night.eyes[Eye.RIGHT] for night in nights(book, 2))
    assert (first.state, first.hours, codes(first)) == (WORN, None, ["in_without_out"])
    assert (second.hours, codes(second)) == (9.0, [])


def test_a_forgotten_out_is_asked_about_after_twenty_hours() -> None:
    book = Book()
    book.lens_in("2026-10-01 21:30")
    folded = nights(book)
    assert open_questions(folded, wall("2026-10-02 17:30")) == ()
    (question,) = open_questions(folded, wall("2026-10-02 17:31"))
    assert (question.oddity.code, question.eyes) == (Odd.IN_WITHOUT_OUT, (Eye.RIGHT, Eye.LEFT))


def test_a_very_long_wear_has_no_hours_until_somebody_confirms_it() -> None:
    book = Book()
    book.lens_in("2026-10-01 21:30")
    out = book.lens_out("2026-10-02 18:00")
    assert (right(book).hours, codes(right(book))) == (None, ["very_long"])
    book.correct(out, "2026-10-02 18:00")
    assert (right(book).hours, codes(right(book))) == (20.5, [])


def test_an_out_days_later_belongs_to_another_night() -> None:
    book = Book()
    book.lens_in("2026-10-01 21:30")
    book.lens_out("2026-10-04 06:30")
    found = [codes(night.eyes[Eye.RIGHT]) for night in nights(book, 3)]
    assert found == [["in_without_out"], [], ["out_without_in"]]


def test_a_short_night_is_worn_and_asked_about() -> None:
    book = Book()
    book.lens_in("2026-10-01 21:30")
    out = book.lens_out("2026-10-02 00:00")
    assert (right(book).state, right(book).hours, codes(right(book))) == (WORN, 2.5, ["short"])
    book.correct(out, "2026-10-02 00:00")
    assert codes(right(book)) == []


def test_a_future_time_is_asked_about_on_the_day_it_was_received() -> None:
    book = Book()
    received = wall("2026-10-01 21:30")
    book.lens_in("2027-10-01 21:30", received=received)
    assert (right(book).state, codes(right(book))) == (UNKNOWN, ["future_time"])
    assert right(book, date(2027, 10, 1)).state is UNKNOWN, "it counts for nothing until it is corrected"
    book = Book()
    book.lens_in("2026-10-01 22:00", received=received)
    book.lens_out("2026-10-02 06:30")
    assert (right(book).hours, codes(right(book))) == (9.0, ["future_time"]), "a fast clock: counts on receipt"
    book = Book()
    book.lens_in("2026-10-01 21:39", received=received)
    assert codes(right(book)) == []


def test_no_lenses_after_an_in_contradicts_it() -> None:
    book = Book()
    book.lens_in("2026-10-01 21:30", author=FATHER)
    book.lens_out("2026-10-02 06:30", author=FATHER)
    book.add("no_lenses", "2026-10-02 08:00", {"eyes": "both", "night": "2026-10-01"}, author=MOTHER)
    of_eye = right(book)
    assert (of_eye.state, of_eye.hours, codes(of_eye)) == (UNKNOWN, None, ["worn_and_not"])
    assert len(of_eye.oddities[0].entry_ids) == 3
    assert len(of_eye.wears) == 1, "the taps are kept in sight"


def test_an_in_after_no_lenses_is_a_change_of_mind() -> None:
    book = Book()
    book.add("no_lenses", "2026-10-01 20:00", {"eyes": "both", "night": "2026-10-01"})
    assert right(book).state is NOT_WORN
    book.lens_in("2026-10-01 21:30")
    book.lens_out("2026-10-02 06:30")
    assert (right(book).state, right(book).hours, codes(right(book))) == (WORN, 9.0, [])


def test_no_lenses_in_a_later_night_is_an_intention() -> None:
    book = Book()
    book.add("no_lenses", "2026-10-01 20:00", {"eyes": "both", "night": "2026-10-02"})
    assert codes(right(book)) == ["future_time"]
    assert right(book, date(2026, 10, 2)).state is UNKNOWN
    book = Book()
    book.add("no_lenses", "2026-10-01 08:00", {"eyes": "both", "night": "2026-10-01"})
    assert right(book).state is NOT_WORN, "decided at breakfast for the coming evening"


def test_a_withdrawn_or_corrected_tap_moves_the_night() -> None:
    book = Book()
    wrong = book.lens_in("2026-10-02 21:30")
    book.lens_out("2026-10-02 06:30")
    book.correct(wrong, "2026-10-01 21:30")
    assert (right(book).hours, right(book, date(2026, 10, 2)).state) == (9.0, UNKNOWN)
    book.withdraw(wrong)
    assert right(book).hours is None


# -- all as planned ----------------------------------------------------------------------------------------------


def test_as_planned_fills_what_nobody_logged() -> None:
    book = Book()  # 1 October 2026 is a Thursday
    said = {"since": "2026-10-01", "until": "2026-10-07", "except": ["2026-10-03", "2026-10-06"]}
    book.lens_in("2026-10-05 23:00")
    book.lens_out("2026-10-06 06:00")
    book.add("as_planned", "2026-10-08 09:00", said)
    found = [
        (of.state, of.source, of.hours) for of in (n.eyes[Eye.LEFT] for n in nights(book, 8, plan=no_weekends))
    ]
    planned = Source.AS_PLANNED
    assert found == [
        (WORN, planned, 9.0),  # Thu
        (WORN, planned, 9.0),  # Fri
        (UNKNOWN, None, None),  # Sat, free by plan but named as an exception: it went otherwise
        (NOT_WORN, planned, 0.0),  # Sun, free by plan
        (WORN, Source.LOGGED, 7.0),  # Mon
        (NOT_WORN, planned, 0.0),  # Tue, the exception
        (WORN, planned, 9.0),  # Wed
        (UNKNOWN, None, None),  # not covered
    ]


def test_as_planned_says_nothing_of_nights_to_come() -> None:
    book = Book()
    book.add("as_planned", "2026-10-03 06:00", {"since": "2026-10-01", "until": "2026-10-07"})
    found = [night.eyes[Eye.RIGHT] for night in nights(book, 4)]
    assert [of.state for of in found] == [WORN, WORN, UNKNOWN, UNKNOWN]
    assert found[1].hours == 8.5, "said half an hour before the usual removal"


def test_of_two_as_planned_the_last_received_counts() -> None:
    book = Book()
    book.add("as_planned", "2026-10-08 09:00", {"since": "2026-10-01", "until": "2026-10-07"})
    said = {"since": "2026-10-01", "until": "2026-10-02", "except": ["2026-10-01"]}
    book.add("as_planned", "2026-10-08 08:00", said)
    assert [night.eyes[Eye.RIGHT].state for night in nights(book, 3)] == [NOT_WORN, WORN, WORN]


def test_as_planned_fills_the_eye_nobody_logged() -> None:
    book = Book()
    book.add("no_lenses", "2026-10-01 20:00", {"eyes": "right", "night": "2026-10-01"})
    book.add("as_planned", "2026-10-02 09:00", {"since": "2026-10-01", "until": "2026-10-01"})
    (night,) = nights(book)
    assert [of.state for of in night.eyes.values()] == [NOT_WORN, WORN]


# -- summaries and the hour's question ---------------------------------------------------------------------------


def test_summary_counts_the_last_nights() -> None:
    book = Book()
    for day in range(1, 11):
        book.lens_in(f"2026-10-{day:02} 21:30")
        book.lens_out(f"2026-10-{day + 1:02} 0{6 + day % 2}:30")
    book.add("no_lenses", "2026-10-12 20:00", {"eyes": "both", "night": "2026-10-12"})
    found = summary(nights(book, 14), Eye.RIGHT, last=7)  # 8 to 14 October, weekend nights asked for too
    assert (found.worn, found.not_worn, found.unknown) == (3, 1, 3)
    assert (found.planned, found.planned_not_worn, found.median_hours) == (7, 1, 9.0)
    assert summary((), Eye.RIGHT).median_hours is None
