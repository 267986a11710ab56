"""Nights out of spans: which is tonight, usual hours, nights off across clock changes and flights."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from companion.regimen.nights import (
    Diary,
    NightsOff,
    UsualHours,
    WearSpan,
    joined,
    known_spans,
    nights_between,
    nights_off,
    tonight,
    under_way,
    usual_hours,
    worn_hours,
    worn_nights,
)

SINGAPORE = ZoneInfo("Asia/Singapore")
BERLIN = ZoneInfo("Europe/Berlin")
FIRST = date(2026, 10, 1)


def at(text: str) -> datetime:
    return datetime.fromisoformat(text)


def night(n: int, start: str = "21:30", end: str | None = "06:30", offset: str = "+08:00") -> WearSpan:
    """Return a span in the night ``n`` days after the first; times before noon are of the next date."""
    day = FIRST + timedelta(days=n)
    moments = [
        None if clock is None else at(f"{day + timedelta(days=clock < '12:00')}T{clock}{offset}")
        for clock in (start, end)
    ]
    assert moments[0] is not None
    return WearSpan(moments[0], moments[1], day)


@pytest.mark.parametrize(
    ("as_of", "expected"),
    [
        ("2026-10-05T20:00", "2026-10-05"),
        ("2026-10-05T12:00", "2026-10-05"),
        ("2026-10-05T11:59", "2026-10-05"),
        ("2026-10-06T03:59", "2026-10-05"),
        ("2026-10-06T04:00", "2026-10-06"),
    ],
)
def test_tonight_is_the_first_free_night_and_from_04_00_the_last_one_is_over(as_of: str, expected: str) -> None:
    assert tonight(at(f"{as_of}+08:00"), SINGAPORE, frozenset()) == date.fromisoformat(expected)


def test_a_night_that_is_worn_or_being_worn_is_not_tonight() -> None:
    taken = {date(2026, 10, 5), date(2026, 10, 6)}
    assert tonight(at("2026-10-05T22:00+08:00"), SINGAPORE, taken) == date(2026, 10, 7)


def test_usual_hours_are_the_medians_of_the_last_14_worn_nights() -> None:
    early = [night(n, "19:00", "05:00") for n in range(6)]
    late = [night(n, "22:00", "07:00") for n in range(6, 13)]
    nap = [WearSpan(at("2026-10-14T14:00+08:00"), at("2026-10-14T15:00+08:00"), date(2026, 10, 14))]
    usual = usual_hours([*early, *late, *nap], at("2026-10-20T12:00+08:00"), SINGAPORE)
    assert usual == UsualHours(timedelta(hours=10), timedelta(hours=19))
    many = [night(n, "19:00", "05:00") for n in range(20)] + [night(n, "23:00", "08:00") for n in range(20, 34)]
    usual = usual_hours(many, at("2026-12-01T12:00+08:00"), SINGAPORE)
    assert usual.insertion_on(FIRST, SINGAPORE) == at("2026-10-01T23:00+08:00")


def test_usual_hours_after_midnight_stay_after_midnight() -> None:
    usual = usual_hours(
        [night(0, "23:50"), night(1, "00:10"), night(2, "00:30")], at("2026-10-09T12:00Z"), SINGAPORE
    )
    assert usual.insertion_on(FIRST, SINGAPORE) == at("2026-10-02T00:10+08:00")


def test_without_worn_nights_the_usual_hours_are_21_30_and_06_30() -> None:
    usual = usual_hours([night(0, end=None)], at("2026-10-01T23:00+08:00"), SINGAPORE)
    assert usual.insertion_on(FIRST, SINGAPORE) == at("2026-10-01T21:30+08:00")
    assert usual.removal_on(FIRST, SINGAPORE) == at("2026-10-02T06:30+08:00")


def test_a_night_under_way_ends_at_the_usual_time_or_now() -> None:
    usual = UsualHours()
    for span in (night(0, end=None), night(0, end="09:00")):
        early, late = (
            known_spans([span], at(moment), usual, SINGAPORE)[0]
            for moment in ("2026-10-01T23:00+08:00", "2026-10-02T08:15+08:00")
        )
        assert early.end == at("2026-10-02T06:30+08:00")
        assert late.end == at("2026-10-02T08:15+08:00")
        assert under_way([span], at("2026-10-01T23:00+08:00")) == span
        assert known_spans([span], at("2026-10-01T21:00+08:00"), usual, SINGAPORE) == ()


def test_touching_spans_are_one_and_short_wear_is_no_worn_night() -> None:
    parts = [night(0, "02:00", "06:30"), night(0, "21:30", "02:00")]
    assert joined(parts) == (night(0),)
    hours = worn_hours([*joined(parts), night(1, "21:30", "00:29"), night(2, "21:30", "00:30")])
    assert worn_nights(hours) == {FIRST, FIRST + timedelta(days=2)}


@pytest.mark.parametrize(
    ("removed", "inserted", "nights"),
    [
        ("2026-10-02T06:30+08:00", "2026-10-02T21:30+08:00", 0),
        ("2026-10-02T06:30+08:00", "2026-10-03T21:30+08:00", 1),
        ("2026-10-02T01:00+08:00", "2026-10-02T21:30+08:00", 0),
        ("2026-10-02T11:00+08:00", "2026-10-03T20:00+08:00", 1),
        ("2026-10-02T06:30+08:00", "2026-10-09T21:30+08:00", 7),
        # The clocks go back, then forward: the same seven nights.
        ("2026-10-22T06:30+02:00", "2026-10-29T21:30+01:00", 7),
        ("2027-03-25T06:30+01:00", "2027-04-01T21:30+02:00", 7),
        # Singapore to Los Angeles: 30 hours without lenses hide no night; two evenings on the same date make none.
        ("2026-10-02T06:30+08:00", "2026-10-02T21:30-07:00", 1),
        ("2026-10-02T06:30-07:00", "2026-10-03T21:30+08:00", 0),
        ("2026-10-02T21:30+08:00", "2026-10-02T06:30+08:00", 0),
    ],
)
def test_nights_off_are_counted_from_instants(removed: str, inserted: str, nights: int) -> None:
    assert nights_between(at(removed), at(inserted)) == nights


def diary(worn: set[int], off: set[int] = frozenset(), complete: bool = True) -> Diary:  # type: ignore[assignment]
    days = {n: FIRST + timedelta(days=n) for n in range(40)}
    nights = frozenset(days[n] for n in worn)
    return Diary(nights, nights, frozenset(days[n] for n in off), min(nights, default=None), complete)


def test_silence_is_unknown_only_where_the_record_is_not_complete() -> None:
    silent = diary({0, 1, 5}, off={3}, complete=False)
    tonight_ = FIRST + timedelta(days=6)
    assert silent.unknown_before(tonight_, 14) == (FIRST + timedelta(days=2), FIRST + timedelta(days=4))
    assert diary({0, 1, 5}).unknown_before(tonight_, 14) == ()


@pytest.mark.parametrize(
    ("known", "expected"),
    [
        (diary({0}), NightsOff(8, 8)),
        (diary({0}, off=set(range(1, 9)), complete=False), NightsOff(8, 8)),
        (diary({0}, complete=False), NightsOff(0, 8)),
        (diary({0}, off={5, 6, 7, 8}, complete=False), NightsOff(4, 8)),
        (diary({0}, off={1, 2, 3}, complete=False), NightsOff(0, 8)),
    ],
)
def test_silence_is_no_known_night_off_but_may_be_one(known: Diary, expected: NightsOff) -> None:
    tonight_ = FIRST + timedelta(days=9)
    insertion = datetime(2026, 10, 10, 13, 30, tzinfo=UTC)
    assert nights_off(known, at("2026-10-02T06:30+08:00"), tonight_, insertion) == expected


def test_without_a_worn_night_nights_off_go_by_dates() -> None:
    known = Diary(frozenset(), frozenset(), frozenset({FIRST, FIRST + timedelta(days=1)}), None, True)
    insertion = datetime(2026, 10, 3, 13, 30, tzinfo=UTC)
    assert nights_off(known, None, FIRST + timedelta(days=2), insertion) == NightsOff(2, 2)


def test_usual_hours_keep_the_wall_clock_across_a_clock_change() -> None:
    usual = UsualHours()
    before, after = date(2026, 10, 24), date(2026, 10, 25)
    assert usual.removal_on(before, BERLIN) == at("2026-10-25T06:30+01:00")
    assert usual.insertion_on(before, BERLIN) == at("2026-10-24T21:30+02:00")
    assert usual.insertion_on(after, BERLIN) == at("2026-10-25T21:30+01:00")
