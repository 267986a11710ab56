"""The peroxide clock is never early, also where clocks change; the stuck clock is never late."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.regimen.care import load_care
from companion.regimen.clocks import SoakState, Stage, readable_end, soak, stuck, stuck_often

LONDON = ZoneInfo("Europe/London")
HOUR = timedelta(hours=1)
STARTED = datetime(2026, 11, 2, 6, 30, 20, tzinfo=UTC)
TIMES = load_care().stuck


def state(started, now, put_in=None, hours=6, stored_days=1, where=LONDON):
    return soak(started, put_in, now, hours, stored_days, where)


@pytest.mark.parametrize(
    ("after", "expected"),
    [
        (timedelta(0), SoakState.WAITING),
        (6 * HOUR - timedelta(seconds=1), SoakState.WAITING),
        (6 * HOUR, SoakState.WAITING),  # the end is shown as a full minute, and counts as shown
        (6 * HOUR + timedelta(seconds=40), SoakState.READY),
        (29 * HOUR, SoakState.READY),
        (31 * HOUR, SoakState.AGAIN),
    ],
)
def test_H13_ready_after_its_hours_and_not_a_second_before(after, expected):
    assert state(STARTED, STARTED + after).state is expected


def test_H13_without_a_start_nothing_is_ready():
    assert state(None, STARTED).state is SoakState.NONE
    assert state(STARTED, STARTED + 7 * HOUR, put_in=STARTED + 6.5 * HOUR).state is SoakState.NONE
    assert state(STARTED, STARTED + 7 * HOUR, put_in=STARTED - HOUR).state is SoakState.READY


def test_H13_an_hour_that_comes_twice_is_waited_out():
    """London, 25 October 2026 (tz database): at 02:00 the clocks go back to 01:00. 01:10 would be read early."""
    started = datetime(2026, 10, 24, 19, 10, tzinfo=UTC)
    ready = state(started, started).ready_at
    assert ready.astimezone(LONDON).strftime("%H:%M") == "02:00"
    assert ready == datetime(2026, 10, 25, 2, 0, tzinfo=UTC)
    first_pass = datetime(2026, 10, 24, 18, 10, tzinfo=UTC)
    shown = state(first_pass, first_pass).ready_at
    assert shown == first_pass + 6 * HOUR, "an end in the first pass cannot be read too early"


def test_H13_a_skipped_hour_does_not_shorten_it():
    """London, 29 March 2026: at 01:00 the clocks go forward to 02:00."""
    started = datetime(2026, 3, 28, 22, 0, tzinfo=UTC)
    ready = state(started, started).ready_at
    assert ready - started == 6 * HOUR
    assert ready.astimezone(LONDON).strftime("%H:%M") == "05:00"


ZONES = st.sampled_from(
    ["Europe/London", "America/New_York", "Australia/Lord_Howe", "Asia/Singapore", "Africa/Casablanca"]
)


@given(minutes=st.integers(0, 2 * 365 * 24 * 60), zone=ZONES, hours=st.integers(6, 24))
def test_H13_whoever_reads_the_end_off_a_wall_waits_long_enough(minutes, zone, hours):
    """The wall first shows the end's clock time (on its day) only when the hours are over."""
    where, started = ZoneInfo(zone), datetime(2026, 1, 1, tzinfo=UTC) + timedelta(minutes=minutes, seconds=7)
    ready = state(started, started, hours=hours, where=where).ready_at
    assert ready - started >= timedelta(hours=hours)
    on_the_wall = ready.astimezone(where)
    first_showing = on_the_wall.replace(fold=0).astimezone(UTC)
    assert first_showing - started >= timedelta(hours=hours)
    assert ready - started <= timedelta(hours=hours + 1, minutes=1)
    assert readable_end(ready, where) == ready


@pytest.mark.parametrize(
    ("minutes", "stage"),
    [
        (0, Stage.LOOSEN),
        (14, Stage.LOOSEN),
        (15, Stage.CALL),
        (29, Stage.CALL),
        (30, Stage.REPORT),
        (600, Stage.REPORT),
    ],
)
def test_H9_the_stuck_clock(minutes, stage):
    clock = stuck(STARTED, STARTED + timedelta(minutes=minutes), TIMES)
    assert clock.stage is stage
    assert (clock.call_at.minute, clock.report_at.minute) == (45, 0), "ends are shown early, not late"


def test_stuck_on_two_mornings_of_fourteen_days():
    tonight = date(2026, 11, 2)
    nights = [tonight, tonight, tonight - timedelta(days=13)]
    assert stuck_often(nights, tonight, TIMES)
    assert not stuck_often(nights[:2], tonight, TIMES)
    assert not stuck_often([tonight, tonight - timedelta(days=14)], tonight, TIMES)
