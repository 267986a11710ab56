"""Plans, days that matter, the day after a night off, the first weeks: from a record to dates and back."""

from __future__ import annotations

import json
from datetime import datetime, timedelta
from typing import Any

import pytest
from record_maker import READY_AT, nights, ready, record

from companion.exchange.day_document import DayOfNote, day_document, tonight_matters
from companion.exchange.forecast import forecast
from companion.exchange.missed_night_document import missed_night
from companion.exchange.onset_document import first_weeks
from companion.exchange.plans_document import plans, way_back
from companion.exchange.record_file import parse_record
from companion.exchange.wearer_course import WearerCourse, follow_wearer

SHARP = {"acuity_logmar": 0.0, "until_local": "18:00"}


def followed(as_of: datetime = READY_AT, raw: dict[str, Any] | None = None) -> WearerCourse:
    return follow_wearer(parse_record(raw or ready()), as_of)


def day(days_ahead: int, start: int = 9, hours: int = 8, driving: bool = False) -> DayOfNote:
    at = READY_AT.replace(hour=start, minute=0) + timedelta(days=days_ahead)
    return DayOfNote(at, at + timedelta(hours=hours), driving)


READY = followed()


# -- a day that matters ----------------------------------------------------------------------------------
def test_the_night_before_is_worn_and_an_earlier_one_may_stay_free() -> None:
    got = day_document(READY, day(3))
    assert got["rests_on"] == ["2026-10-23"]
    assert got["last_free"] == "2026-10-22"
    assert [(one["night"], one["worn"]) for one in got["nights"]] == [
        ("2026-10-21", True),
        ("2026-10-22", False),
        ("2026-10-23", True),
    ]
    assert got["checks"] == [{"when": "morning_itself", "at": "2026-10-24T06:30:00+08:00"}]
    assert got["moments"][0]["at"] == "2026-10-24T09:00:00+08:00"
    assert got["moments"][-1]["at"] == "2026-10-24T17:00:00+08:00"
    assert set(got["moments"][0]["eyes"]) == {"right", "left"}
    assert got["notes"] == ["wear_the_night_before", "glasses_at_hand"]


def test_H1_a_free_night_is_never_named_outside_the_clearance_or_with_too_little_data() -> None:
    assert day_document(READY, day(3), may_free=False)["last_free"] is None
    uncleared = followed(raw=ready(clearance=None))
    assert day_document(uncleared, day(3))["last_free"] is None
    assert "not_cleared" in day_document(uncleared, day(3))["notes"]
    over = followed(raw=ready(clearance={"may_skip": True, "longest_gap_nights": 1, "until": "2026-10-21"}))
    assert day_document(over, day(3))["last_free"] in (None, "2026-10-21")
    assert day_document(over, day(8))["last_free"] in (None, "2026-10-21")


def test_another_day_that_matters_keeps_its_own_night() -> None:
    got = day_document(READY, day(3), [day(2)])
    assert got["last_free"] != "2026-10-22"
    assert {one["night"]: one["worn"] for one in got["nights"]}["2026-10-22"]


@pytest.mark.parametrize(
    ("days", "matters"),
    [([], False), ([day(1)], True), ([day(2)], False), ([day(2), day(1)], True), ([day(0)], False)],
)
def test_only_the_night_before_matters_tonight(days: list[DayOfNote], matters: bool) -> None:
    assert tonight_matters(READY, days) is matters


def test_a_day_that_begins_late_rests_on_the_night_before_it_too() -> None:
    """From 23:00 on the 22nd: the lens goes in after it, so the night of the 21st carries it."""
    assert day_document(READY, day(1, start=23, hours=1))["rests_on"] == ["2026-10-21"]


def test_where_the_plan_leaves_the_night_before_free_the_practice_should_say() -> None:
    weekend = followed(raw=ready(plan={"weekdays": ["mon", "tue", "wed", "thu"]}))
    got = day_document(weekend, day(3))  # a Saturday, after Friday's night
    assert "night_before_free_by_plan" in got["notes"]
    assert got["rests_on"] == ["2026-10-23"]
    assert not got["nights"][-1]["planned"]


def test_a_day_under_way_has_no_night_left() -> None:
    got = day_document(READY, day(0))
    assert (got["nights"], got["rests_on"]) == ([], [])
    assert "no_night_left" in got["notes"]


def test_a_night_under_way_is_the_first_of_the_nights() -> None:
    wearing = followed(READY_AT.replace(hour=23), ready(wear=[*nights(20), *nights(1, first="2026-10-21")]))
    got = day_document(wearing, day(1))
    assert [one["night"] for one in got["nights"]] == ["2026-10-21"]
    assert got["rests_on"] == ["2026-10-21"]


def test_a_clock_change_moves_no_hour_of_the_day() -> None:
    """Clocks in London go back on 2026-10-25: 09:00 there is 09:00 UTC, the day before 08:00 UTC."""
    raw = ready(time_zone="Europe/London")
    at = datetime.fromisoformat("2026-10-25T09:00+00:00")
    got = day_document(followed(READY_AT, raw), DayOfNote(at, at + timedelta(hours=1)))
    assert got["moments"][0]["at"] == "2026-10-25T09:00:00+00:00"


def test_driving_is_never_judged() -> None:
    got = day_document(READY, day(3, driving=True))
    assert {"driving_not_judged", "glasses_at_hand"} <= set(got["notes"])


# -- tonight's answer --------------------------------------------------------------------------------------
def test_H1_tonight_is_never_free_before_a_day_that_matters() -> None:
    record_ = parse_record(ready())
    assert forecast(record_, READY_AT)["tonight"]["answer"] == "may_skip"
    kept = forecast(record_, READY_AT, day_that_matters=True)["tonight"]
    assert kept["answer"] == "wear"
    assert [one["key"] for one in kept["reasons"]] == ["day_that_matters"]
    assert {one["answer"] for one in kept["eyes"].values()} == {"wear"}


def test_a_hold_still_comes_first() -> None:
    sore = {"at": "2026-10-20T07:00+08:00", "level": 3, "open": True}
    got = forecast(parse_record(ready(symptoms=[sore])), READY_AT, day_that_matters=True)
    assert got["tonight"]["answer"] == "do_not_wear"


# -- after a night off ----------------------------------------------------------------------------------
def test_after_a_night_off_it_says_how_sight_goes_and_what_to_do() -> None:
    got = missed_night(followed(READY_AT + timedelta(days=1)))
    assert got is not None
    assert got["nights_off"] == 1
    assert got["moments"][0]["at"] == "2026-10-22T07:30:00+08:00"
    assert got["todo"] == [
        "no_driving_if_blurred",
        "wear_tonight",
        "not_longer_than_usual",
        "disinfect_by_label",
    ]
    assert got["good_again"] == "2026-10-22"


def test_H12_after_a_week_off_the_clinic_is_asked_before_a_lens_goes_in() -> None:
    got = missed_night(followed(READY_AT + timedelta(days=8), ready(target=SHARP)))
    assert got is not None
    assert "ask_clinic" in got["todo"]
    assert "wear_tonight" not in got["todo"]
    assert got["good_until"] is None


def test_nothing_is_said_after_a_worn_night_a_silent_one_or_with_a_lens_in() -> None:
    assert missed_night(READY) is None
    assert missed_night(followed(READY_AT + timedelta(days=1), ready(complete=False))) is None
    wearing = ready(wear=[*nights(18), {"eye": "both", "in": "2026-10-20T21:30+08:00"}])
    assert missed_night(followed(READY_AT.replace(hour=2), wearing)) is None


# -- plans -------------------------------------------------------------------------------------------------
def test_plans_name_the_one_in_force_the_least_that_meets_and_all_weeks_folded() -> None:
    got = plans(READY)
    assert got["in_force"]["weekdays"] == ["mon", "tue", "wed", "thu", "fri", "sat", "sun"]
    assert got["least"]["meets"]
    assert [one["nights_per_week"] for one in got["groups"]] == [7, 6, 5, 4, 3, 2, 1, 0]
    folded = [plan for group in got["groups"] for plan in group["plans"]]
    # Necklaces of 7 beads in 2 colours: (2^7 + 6 * 2) / 7 = 20 (combinatorics).
    assert len(folded) == 20
    assert sum(plan["turns"] for plan in folded) == 128
    for plan in [*folded, *got["every"].values()]:
        assert plan["worst"] == min(plan["chances"])
        assert plan["chances"][plan["worst_day"]] == plan["worst"]
        assert set(plan["refraction_d"]) == {"right", "left"}
    assert got["every"]["2"]["nights_per_week"] == 3.5


@pytest.mark.parametrize(
    ("plan", "every", "weekdays"),
    [({"every": 2}, 2, None), ({"every": 3}, 3, None), ({"weekdays": ["wed", "mon"]}, None, ["mon", "wed"])],
)
def test_the_plan_in_force_is_found_among_them(
    plan: dict[str, Any], every: int | None, weekdays: list[str] | None
) -> None:
    found = plans(followed(raw=ready(plan=plan)))["in_force"]
    assert (found["every"], found["weekdays"]) == (every, weekdays)


def test_a_plan_that_nobody_worked_out_and_a_target_that_none_meets_are_left_open() -> None:
    got = plans(followed(raw=ready(plan={"every": 5}, target={"acuity_logmar": -0.3, "until_local": "18:00"})))
    assert (got["in_force"], got["least"]) == (None, None)


def test_the_way_back_takes_days_and_ends_at_the_baseline() -> None:
    got = way_back(READY)["eyes"]
    assert 1 < got["right"]["days"]["p05"] < got["right"]["days"]["p50"] < got["right"]["days"]["p95"] < 60
    last = got["right"]["course"][-1]
    assert last["day"] == 30
    assert last["refraction_d"]["p50"] == pytest.approx(-3.0, abs=0.1)


# -- the first weeks ---------------------------------------------------------------------------------------
def test_the_first_weeks_are_told_of_wearers_like_this_one() -> None:
    new = parse_record(record())
    got = first_weeks(new, READY_AT)
    assert [one["night"] for one in got["eyes"]["right"]] == [1, 2, 3, 4, 5, 6, 7, 30]
    mornings = [one["morning"]["acuity_logmar"]["p50"] for one in got["eyes"]["right"]]
    assert mornings == sorted(mornings, reverse=True), "it gets better"
    assert got["eyes"]["right"][0]["evening"]["acuity_logmar"]["p50"] > mornings[0], "and fades over the day"
    assert (
        first_weeks(parse_record(ready()), READY_AT)["eyes"]
        == first_weeks(parse_record(ready(acuity=[])), READY_AT)["eyes"]
    ), "whatever this wearer's own checks say"


def test_the_same_record_gives_the_same_bytes() -> None:
    def told() -> str:
        wearer = followed()
        return json.dumps([plans(wearer), way_back(wearer), day_document(wearer, day(3)), missed_night(wearer)])

    assert told() == told()


@pytest.mark.parametrize("eye", ["right", "left"])
def test_one_treated_eye_is_enough(eye: str) -> None:
    raw = ready()
    raw["eyes"] = {eye: raw["eyes"][eye]}
    raw["wear"] = nights(20, eye=eye)
    raw["acuity"] = [one for one in raw["acuity"] if one["eye"] == eye]
    wearer = followed(raw=raw)
    assert set(plans(wearer)["in_force"]["refraction_d"]) == {eye}
    assert set(day_document(wearer, day(3))["moments"][0]["eyes"]) == {eye}
