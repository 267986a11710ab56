"""Time moves answers up, never down; re-checks come when the table says."""

from datetime import timedelta

import pytest

from companion.common.eyes import Eye
from companion.triage.answers import answers_from_file
from companion.triage.evaluate import evaluate, highest
from companion.triage.timers import missed_recheck, raise_by_time, recheck_after

MINUTE = timedelta(minutes=1)


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
    assert recheck_after(verdict) == (minutes[0] * MINUTE if minutes else None)


def test_H1_an_episode_keeps_its_highest_level():
    assert highest([2, 4, 1]) == 4
    assert highest([]) == 1
