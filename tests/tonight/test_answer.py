"""The answer table, row by row: each row alone, each before the next, and what only the last row may do."""

from dataclasses import replace
from itertools import pairwise
from typing import Any

import pytest

from companion.tonight.answer import Answer, EyeAnswer, EyeFacts, Reason, answer_eye, answer_wearer

CLEAR = EyeFacts(
    hold_level=None,
    practice_stop=False,
    nights_off=0,
    contradictory_data=False,
    visit_overdue=False,
    plan_rests=False,
    may_skip=True,
    clearance_over=False,
    gap_if_skipped=1,
    longest_gap_nights=1,
    worn_nights=14,
    checks=6,
    recent_checks=2,
    unknown_nights=3,
    meets_target=0.95,
)
"""An eye that just passes every row."""


def answered(wearer: float = 0.95, **changed: Any) -> tuple[str, list[str]]:
    got = answer_eye(replace(CLEAR, **changed), wearer)
    return got.answer.value, [reason.key for reason in got.reasons]


@pytest.mark.parametrize(
    ("changed", "answer", "reasons"),
    [
        ({}, "may_skip", ["target_holds"]),
        ({"hold_level": 2}, "do_not_wear", ["open_hold"]),
        ({"practice_stop": True}, "do_not_wear", ["practice_stop"]),
        ({"hold_level": 4, "practice_stop": True}, "do_not_wear", ["open_hold", "practice_stop"]),
        ({"nights_off": 6}, "may_skip", ["target_holds"]),
        ({"nights_off": 7}, "ask_clinic", ["long_break"]),
        ({"contradictory_data": True}, "ask_clinic", ["contradictory_data"]),
        ({"visit_overdue": True}, "ask_clinic", ["visit_overdue"]),
        ({"plan_rests": True}, "rest_by_plan", ["plan_rests"]),
        ({"plan_rests": True, "meets_target": 0.90}, "rest_by_plan", ["plan_rests"]),
        ({"plan_rests": True, "meets_target": 0.899}, "rest_by_plan", ["plan_rests", "below_target"]),
        ({"may_skip": False}, "wear", ["not_cleared"]),
        ({"clearance_over": True}, "wear", ["clearance_over"]),
        ({"gap_if_skipped": 2}, "wear", ["gap_too_long"]),
        ({"gap_if_skipped": 2, "longest_gap_nights": 2}, "may_skip", ["target_holds"]),
        ({"worn_nights": 13}, "wear", ["too_little_data"]),
        ({"checks": 5}, "wear", ["too_little_data"]),
        ({"recent_checks": 1}, "wear", ["too_little_data"]),
        ({"unknown_nights": 4}, "wear", ["too_little_data"]),
    ],
)
def test_each_row(changed: dict[str, Any], answer: str, reasons: list[str]) -> None:
    assert answered(**changed) == (answer, reasons)


@pytest.mark.parametrize(
    ("wearer", "answer"), [(0.90, "may_skip"), (0.8999999, "wear"), (1.0, "may_skip"), (0.0, "wear")]
)
def test_only_the_wearers_unrounded_chance_decides_the_last_row(wearer: float, answer: str) -> None:
    assert answered(wearer, meets_target=0.5)[0] == answer


ROWS: list[tuple[dict[str, Any], str]] = [
    ({"hold_level": 1}, "open_hold"),
    ({"nights_off": 9}, "long_break"),
    ({"plan_rests": True}, "plan_rests"),
    ({"may_skip": False}, "not_cleared"),
    ({"checks": 0}, "too_little_data"),
]


def test_the_first_row_that_matches_wins() -> None:
    for (earlier, key), (later, _) in pairwise(ROWS):
        assert answered(**earlier, **later)[1][0] == key
    everything = {name: value for changed, _ in ROWS for name, value in changed.items()}
    assert answered(**everything) == ("do_not_wear", ["open_hold"])


def test_H12_an_open_hold_stands_whatever_the_forecast_says() -> None:
    for chance in (0.0, 0.5, 1.0):
        assert answered(chance, hold_level=2, meets_target=chance)[0] == "do_not_wear"


def test_reasons_carry_what_a_sentence_needs() -> None:
    assert answer_eye(replace(CLEAR, gap_if_skipped=3), 1.0).reasons == (
        Reason("gap_too_long", {"nights": 3, "longest": 1}),
    )
    values = answer_eye(replace(CLEAR, checks=2), 1.0).reasons[0].values
    assert values == {"worn_nights": 14, "checks": 2, "recent_checks": 2, "unknown_nights": 3}


def test_the_wearers_answer_is_the_eyes_common_one() -> None:
    wear = EyeAnswer(Answer.WEAR, (Reason("below_target"),))
    hold = EyeAnswer(Answer.DO_NOT_WEAR, (Reason("open_hold", {"level": 3}),))
    assert answer_wearer({"right": wear, "left": wear}) == wear
    assert answer_wearer({"right": wear}) == wear
    both = answer_wearer({"right": hold, "left": wear})
    assert both.answer is Answer.PER_EYE
    assert [one.key for one in both.reasons] == ["open_hold", "below_target"]
