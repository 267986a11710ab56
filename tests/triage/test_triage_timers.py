"""Time moves answers up, never down; re-checks come when the table says."""

from dataclasses import replace
from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
import triage_verdicts as sets

from companion.common.eyes import Eye
from companion.triage.answers import answers_from_file
from companion.triage.evaluate import evaluate, highest
from companion.triage.timers import DayHours, Look, looks, missed_recheck, raise_by_time

MINUTE = timedelta(minutes=1)
EVERY_LEVEL = ({}, {"redness": "pink"}, {"fb": "still"}, {"pain": "moderate"}, {"pain": "severe"})


@pytest.mark.parametrize(
    ("question", "answer", "minutes", "becomes"),
    [
        ("course", "cleared", 100_000, "cleared"),
        ("course", "under_1h", 59, "under_1h"),
        ("course", "under_1h", 60, "over_1h"),
        ("course", "under_1h", 1439, "over_1h"),
        ("course", "under_1h", 1440, "over_24h_or_worse"),
        ("course", "over_1h", 1439, "over_1h"),
        ("course", "over_1h", 1440, "over_24h_or_worse"),
        ("course", "unsure", 1439, "unsure"),
        ("course", "unsure", 1440, "over_24h_or_worse"),
        ("course", "over_24h_or_worse", 10_000, "over_24h_or_worse"),
        ("lens", "stuck_now", 29, "stuck_now"),
        ("lens", "stuck_now", 30, "stuck_long_or_broken"),
        ("lens", "maybe_in_eye", 100_000, "maybe_in_eye"),
        ("lens", "freed_repeat", 100_000, "freed_repeat"),
        ("pain", "mild", 100_000, "mild"),
    ],
)
def test_time_moves_an_answer_up_without_asking(question, answer, minutes, becomes):
    moved = raise_by_time(answers_from_file({"left": {question: answer}}), minutes * MINUTE)
    assert moved.eyes[Eye.LEFT][question] == becomes
    assert moved.eyes[Eye.RIGHT] == answers_from_file({}).eyes[Eye.RIGHT]


def test_H1_waiting_raises_the_level_and_never_lowers_it():
    answers = answers_from_file({"right": {"redness": "pink", "course": "under_1h"}})
    levels = [evaluate(raise_by_time(answers, minutes * MINUTE)).level for minutes in (0, 59, 60, 1439, 1440)]
    assert levels == [2, 2, 3, 3, 4]
    stuck = answers_from_file({"right": {"lens": "stuck_now"}})
    assert [evaluate(raise_by_time(stuck, minutes * MINUTE)).level for minutes in (0, 30)] == [2, 4]


def test_a_missed_recheck_counts_as_one_step_worse():
    answers = answers_from_file({"right": {"pain": "mild", "course": "under_1h"}})
    assert evaluate(missed_recheck(answers)).level == 3
    assert missed_recheck(missed_recheck(answers)).eyes[Eye.RIGHT]["course"] == "over_24h_or_worse"
    worst = answers_from_file({"right": {"course": "over_24h_or_worse"}})
    assert missed_recheck(worst).eyes[Eye.RIGHT] == worst.eyes[Eye.RIGHT]


@pytest.mark.parametrize(
    ("right", "level", "minutes", "moments"),
    [
        ({}, 1, (1440,), ("before_insertion",)),
        ({"redness": "pink"}, 2, (60, 1440), ("before_insertion",)),
        ({"lens": "stuck_now"}, 2, (15, 30, 1440), ("before_insertion",)),
        ({"itch": "strong"}, 2, (1440,), ("before_insertion",)),
        ({"fb": "still"}, 3, (240,), ("bedtime", "waking")),
        ({"fb": "still", "lens": "stuck_now"}, 3, (15, 30, 240), ("bedtime", "waking")),
        ({"pain": "moderate"}, 4, (), ()),
        ({"pain": "severe"}, 5, (), ()),
    ],
)
def test_when_to_ask_again(right, level, minutes, moments):
    verdict = evaluate(answers_from_file({"right": right}))
    assert (verdict.level, verdict.recheck_min, verdict.recheck_moments) == (level, minutes, moments)


LONDON = DayHours(ZoneInfo("Europe/London"), time(21, 30), time(6, 30))
NIGHT_SHIFT = DayHours(ZoneInfo("Europe/London"), time(9), time(17))
IN_SHORT = {"before_insertion": "before", "bedtime": "bed", "waking": "wake", "": ""}


@pytest.mark.parametrize(
    ("right", "hours", "given", "due"),
    [
        # Safety guidance 8.4, T1: level 1 at 24 h and before insertion ...
        ({}, LONDON, "2026-11-02 07:00", ["2026-11-02 21:30 before", "2026-11-03 07:00"]),
        # ... and a report made within the hour before is that look.
        ({}, LONDON, "2026-11-02 20:30", ["2026-11-02 21:30 before", "2026-11-03 20:30"]),
        ({}, LONDON, "2026-11-02 20:31", ["2026-11-03 20:31", "2026-11-03 21:30 before"]),
        # Level 2: 1 h pink or sore, 15 and 30 min stuck, else 24 h. No lens goes in where an eye is held.
        ({"redness": "pink"}, LONDON, "2026-11-02 07:00", ["2026-11-02 08:00", "2026-11-03 07:00"]),
        (
            {"lens": "stuck_now"},
            LONDON,
            "2026-11-02 07:00",
            ["2026-11-02 07:15", "2026-11-02 07:30", "2026-11-03 07:00"],
        ),
        ({"itch": "strong"}, LONDON, "2026-11-02 07:00", ["2026-11-03 07:00"]),
        ({"haloes": "new"}, LONDON, "2026-11-02 07:00", ["2026-11-02 21:30 before", "2026-11-03 07:00"]),
        # Level 3 at 4 h, bedtime, waking.
        (
            {"fb": "still"},
            LONDON,
            "2026-11-02 07:00",
            ["2026-11-02 11:00", "2026-11-02 21:30 bed", "2026-11-03 06:30 wake"],
        ),
        (
            {"fb": "still"},
            LONDON,
            "2026-11-02 23:00",
            ["2026-11-03 03:00", "2026-11-03 06:30 wake", "2026-11-03 21:30 bed"],
        ),
        (
            {"fb": "still"},
            NIGHT_SHIFT,
            "2026-11-02 07:00",
            ["2026-11-02 09:00 bed", "2026-11-02 11:00", "2026-11-02 17:00 wake"],
        ),
        # From level 4 on: go, and do not wait.
        ({"pain": "moderate"}, LONDON, "2026-11-02 07:00", []),
        ({"pain": "severe"}, LONDON, "2026-11-02 07:00", []),
        # Clocks go back in London on 2026-10-25 at 02:00 BST (tz database) and come to 01:00 GMT: minutes pass as
        # they pass, and the morning is the one that the wall shows.
        (
            {"fb": "still"},
            LONDON,
            "2026-10-24 22:00",
            ["2026-10-25 01:00", "2026-10-25 06:30 wake", "2026-10-25 21:30 bed"],
        ),
        # Clocks go forward on 2026-03-29 at 01:00 GMT to 02:00 BST.
        (
            {"fb": "still"},
            LONDON,
            "2026-03-28 22:00",
            ["2026-03-29 03:00", "2026-03-29 06:30 wake", "2026-03-29 21:30 bed"],
        ),
        # A waking hour that the change skips, 01:30, counts as far past the gap.
        (
            {"fb": "still"},
            DayHours(ZoneInfo("Europe/London"), time(18), time(1, 30)),
            "2026-03-28 19:00",
            ["2026-03-28 23:00", "2026-03-29 02:30 wake", "2026-03-29 18:00 bed"],
        ),
        # One that comes twice is the first of the two.
        (
            {"fb": "still"},
            DayHours(ZoneInfo("Europe/London"), time(18), time(1, 30)),
            "2026-10-24 19:00",
            ["2026-10-24 23:00", "2026-10-25 01:30 wake", "2026-10-25 18:00 bed"],
        ),
    ],
)
def test_when_to_look_again_by_the_wearers_own_day(right, hours, given, due):
    given_at = datetime.fromisoformat(given).replace(tzinfo=hours.home)
    found = looks(evaluate(answers_from_file({"right": right})), given_at, hours)
    shown = [f"{one.at.astimezone(hours.home):%Y-%m-%d %H:%M} {IN_SHORT[one.moment]}".strip() for one in found]
    # In the night of a change two instants may show one reading: what is sorted is the instants.
    assert shown == due
    assert list(found) == sorted(found)


def test_H13_no_clock_change_brings_a_look_forward():
    """In 24 hours' worth of minutes around both changes no look in minutes comes a minute early or late."""
    verdict = evaluate(answers_from_file({"right": {"lens": "stuck_now", "fb": "still"}}))
    for start in (datetime(2026, 3, 28, 18, tzinfo=UTC), datetime(2026, 10, 24, 18, tzinfo=UTC)):
        for minutes in range(0, 1440, 7):
            given_at = start + minutes * MINUTE
            found = looks(verdict, given_at.astimezone(LONDON.home), LONDON)
            in_minutes = [one.at - given_at for one in found if not one.moment]
            assert in_minutes == [one * MINUTE for one in (15, 30, 240)]
            of_day = {one.moment: one.at for one in found if one.moment}
            assert all(
                timedelta(hours=1) <= one - given_at <= timedelta(hours=26) for one in of_day.values()
            ), of_day
            assert f"{of_day['bedtime'].astimezone(LONDON.home):%H:%M}" == "21:30"
            assert f"{of_day['waking'].astimezone(LONDON.home):%H:%M}" == "06:30"


def test_a_look_is_known_by_its_moment():
    found = looks(evaluate(answers_from_file({})), datetime(2026, 11, 2, 7, tzinfo=UTC), LONDON)
    assert found[0] == Look(datetime(2026, 11, 2, 21, 30, tzinfo=UTC), "before_insertion")


def test_H1_a_missed_look_makes_no_mild_report_more_than_that():
    """Nobody is called for level 1, so a look that was missed must not hide a higher one: over drawn sets."""
    rows = sets.draw(np.random.default_rng(20_261_125), 4000)
    mild = [sets.document(row) for row in rows[sets.judge(rows)[:, 0] == 1]]
    assert len(mild) > 100
    for said in mild:
        assert evaluate(missed_recheck(answers_from_file(said))).level == 1, said


# -- asked for more -----------------------------------------------------------------------------------------------
def test_H1_whoever_sees_the_eye_may_ask_for_more_and_never_for_less():
    """Over answers of every level: what is asked for raises a level or changes nothing, and adds holds only."""
    for right in EVERY_LEVEL:
        answers = answers_from_file({"right": right})
        plain = evaluate(answers)
        before = plain
        for asked in range(1, 6):
            one = evaluate(answers, asked_level=asked)
            assert one.level == max(plain.level, asked)
            assert one.rules == plain.rules and one.eyes == plain.eyes
            assert one.deciding == (("asked", *plain.deciding) if asked > plain.level else plain.deciding)
            assert all(one.wear_hold[eye] >= before.wear_hold[eye] for eye in Eye)
            assert one.wear_hold[Eye.LEFT] is (asked >= 3)
            if asked <= plain.level and asked < 3:
                assert one == plain
            before = one


def test_H12_what_the_family_has_been_told_stands_where_it_is_more_and_says_why():
    for right in EVERY_LEVEL:
        answers = answers_from_file({"right": right})
        for asked in range(1, 6):
            plain = evaluate(answers, asked_level=asked)
            for told in range(1, 6):
                one = evaluate(answers, asked_level=asked, told_level=told)
                if told <= plain.level:
                    assert one == plain
                    continue
                as_asked = evaluate(answers, asked_level=told)
                assert one == replace(as_asked, deciding=("told", *evaluate(answers).deciding))


def test_H12_asked_for_more_the_lens_comes_out_and_stays_out():
    verdict = evaluate(answers_from_file({}), asked_level=4)
    assert set(verdict.lens.values()) == {"take_out"}
    assert all(verdict.practice_hold.values())
    assert verdict.recheck_min == () == verdict.recheck_moments
    stuck = evaluate(answers_from_file({"right": {"lens": "stuck_now"}}), asked_level=5)
    assert stuck.lens[Eye.RIGHT] == "do_not_pull"


def test_H1_an_episode_keeps_its_highest_level():
    assert highest([2, 4, 1]) == 4
    assert highest([]) == 1
