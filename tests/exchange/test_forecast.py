"""The forecast document, line by line of its contract."""

import json
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from record_maker import READY_AT, checks, nights, ready, record

from companion.common.errors import InvalidInput
from companion.exchange.forecast import fan, forecast
from companion.exchange.record_file import parse_record, read_record
from companion.exchange.wearer_course import follow_wearer

RECORDS = Path(__file__).resolve().parents[2] / "demo_family" / "records"


SORE = {"at": "2026-10-20T07:00+08:00", "level": 2}
SHARP = {"acuity_logmar": 0.0, "until_local": "18:00"}


def at(text: str) -> datetime:
    return datetime.fromisoformat(text if len(text) > 16 else f"{text}+08:00")


def told(
    raw: dict[str, Any], as_of: datetime | str | None = READY_AT, *more: Any, **facts: bool
) -> dict[str, Any]:
    moment = at(as_of) if isinstance(as_of, str) else as_of
    return forecast(parse_record(raw), moment, *more, **facts)


def tonight(raw: dict[str, Any], as_of: datetime | str = READY_AT, **facts: bool) -> dict[str, Any]:
    answer: dict[str, Any] = told(raw, as_of, **facts)["tonight"]
    return answer


def keys(answer: dict[str, Any]) -> list[str]:
    return [one["key"] for one in answer["reasons"]]


# -- the document ----------------------------------------------------------------------------------------------
@pytest.mark.parametrize("name", ["mina", "tomas", "noor"])
def test_the_demo_records_make_whole_documents(name: str) -> None:
    got = forecast(read_record(RECORDS / f"{name}.json"))
    assert list(got) == ["as_of", "eyes", "tonight", "warnings"]
    assert list(got["tonight"]) == [
        "night",
        "target_at",
        "answer",
        "meets_target",
        "holds_until",
        "reasons",
        "eyes",
    ]
    for eye, rows in got["eyes"].items():
        assert len(rows) == 73
        assert rows[0]["at"] == got["as_of"]
        assert list(got["tonight"]["eyes"][eye]) == ["answer", "meets_target", "holds_until", "reasons"]
        for row in rows:
            assert list(row) == ["at", "refraction_d", "acuity_logmar", "meets_target"]
            for name_ in ("refraction_d", "acuity_logmar"):
                assert row[name_]["p05"] <= row[name_]["p50"] <= row[name_]["p95"]
            assert 0 <= row["meets_target"] <= 1


def test_the_demo_people_get_the_answers_they_are_there_to_show() -> None:
    answers = {
        name: forecast(read_record(RECORDS / f"{name}.json"))["tonight"] for name in ("mina", "tomas", "noor")
    }
    assert (answers["mina"]["answer"], keys(answers["mina"])) == ("wear", ["not_cleared"])
    assert answers["tomas"]["answer"] == "may_skip"
    assert answers["noor"]["answer"] == "per_eye"
    assert answers["noor"]["eyes"]["right"]["answer"] == "do_not_wear"
    assert answers["noor"]["eyes"]["left"]["answer"] == "wear"


def test_the_same_input_gives_the_same_bytes() -> None:
    one, two = (json.dumps(told(ready(complete=False))) for _ in range(2))
    assert one == two


def test_later_rows_are_ignored() -> None:
    raw = ready(
        symptoms=[{"at": "2026-10-21T08:00+08:00", "level": 4, "open": True}],
        refraction=[{"eye": "left", "at": "2026-10-22T08:00+08:00", "sphere_d": -3}],
    )
    raw["wear"] += nights(3, "2026-10-21")
    raw["acuity"] += checks(2, "2026-10-25T08:00+08:00", "right")
    raw["no_wear"] = [{"eye": "both", "night": "2026-10-29"}]
    assert told(raw) == told(ready())


def test_without_as_of_the_latest_time_of_any_row_is_taken() -> None:
    raw = record(wear=nights(2), refraction=[{"eye": "left", "at": "2026-10-05T10:00+02:00", "sphere_d": -1}])
    assert told(raw, None)["as_of"] == "2026-10-05T16:00:00+08:00"
    with pytest.raises(InvalidInput) as caught:
        told(record(), None)
    assert caught.value.problems[0].field == "--as-of"


def test_a_birth_after_the_forecast_is_refused() -> None:
    with pytest.raises(InvalidInput) as caught:
        told(record(birth_year=2027), "2026-10-05T10:00")
    assert caught.value.problems[0].field == "birth_year"


def test_rows_keep_the_order_of_at_and_print_in_the_records_zone() -> None:
    times = [READY_AT + timedelta(hours=5), READY_AT, READY_AT + timedelta(days=60), READY_AT]
    rows = told(ready(), READY_AT, [time.astimezone(ZoneInfo("UTC")) for time in times])["eyes"]["right"]
    assert [row["at"] for row in rows] == [time.isoformat() for time in times]
    assert rows[1] == rows[3]


@pytest.mark.parametrize("off", [timedelta(seconds=-1), timedelta(days=60, seconds=1)])
def test_times_before_now_or_too_far_ahead_are_refused(off: timedelta) -> None:
    with pytest.raises(InvalidInput) as caught:
        told(ready(), READY_AT, [READY_AT + off])
    assert caught.value.problems[0].field == "--at"


def test_hourly_rows_count_real_hours_over_a_clock_change() -> None:
    raw = record(time_zone="Europe/Berlin")
    rows = told(raw, "2026-10-24T20:00+02:00")["eyes"]["left"]
    assert [rows[n]["at"] for n in (6, 7, 72)] == [
        "2026-10-25T02:00:00+02:00",
        "2026-10-25T02:00:00+01:00",
        "2026-10-27T19:00:00+01:00",
    ]


# -- the effect ------------------------------------------------------------------------------------------------
def test_an_untreated_eye_is_its_baseline() -> None:
    row = told(record(), "2026-10-05T10:00")["eyes"]["right"][0]
    assert set(row["refraction_d"].values()) == {-3.0}


def test_a_settled_start_is_far_from_an_untreated_one_and_fewer_nights_leave_less() -> None:
    def evening(per_week: float | None) -> float:
        history = None if per_week is None else {"since": "2025-01-01", "nights_per_week": per_week}
        raw = record(wear=nights(1), history=history)
        return float(told(raw, "2026-10-01T21:30")["eyes"]["right"][0]["refraction_d"]["p50"])

    got = [evening(per_week) for per_week in (7, 5.5, 5, 3.5, 1, None)]
    assert got == sorted(got, reverse=True)
    assert got[0] > -0.6
    assert got[-1] == -3.0


def test_wearing_tonight_is_never_worse_than_skipping() -> None:
    moment = [at("2026-10-22T18:00"), at("2026-10-23T18:00")]
    by_words = {
        words: told(ready(), READY_AT, moment, words)["eyes"]["right"]
        for words in ((), (False, False), (False, True), (True, False), (True, True))
    }
    assert by_words[()] == by_words[(False, False)]
    for more, less in (((True, True), (True, False)), ((True, True), (False, True)), ((True,) * 2, ())):
        for one, two in zip(by_words[more], by_words[less], strict=True):
            assert one["refraction_d"]["p50"] >= two["refraction_d"]["p50"]
    assert by_words[(True, False)][0]["refraction_d"]["p50"] > by_words[()][0]["refraction_d"]["p50"] + 0.3


def test_named_nights_change_no_answer_about_tonight() -> None:
    assert told(ready(), READY_AT, (), (True,) * 5)["tonight"] == told(ready())["tonight"]


def test_unknown_nights_lie_between_worn_and_not_worn() -> None:
    rows = nights(20)
    silent = rows[:15] + rows[18:]
    off = [{"eye": "both", "night": f"2026-10-{day}"} for day in (16, 17, 18)]

    def now(raw: dict[str, Any]) -> float:
        return float(told(raw, "2026-10-18T20:00")["eyes"]["right"][0]["refraction_d"]["p50"])

    worn, unknown, not_worn = (
        now(record(wear=wear, complete=False, no_wear=known))
        for wear, known in ((rows, []), (silent, []), (silent, off))
    )
    assert worn > unknown > not_worn
    assert now(record(wear=silent)) == not_worn


def test_one_eye_may_go_without() -> None:
    raw = record(wear=[*nights(10, eye="right"), *nights(3, eye="left")])
    eyes = told(raw, "2026-10-11T08:00")["eyes"]
    assert eyes["left"][0]["refraction_d"]["p50"] < -1.5 < eyes["right"][0]["refraction_d"]["p50"]


def test_a_near_target_spares_a_short_sighted_eye() -> None:
    far = told(record(), "2026-10-05T10:00")["eyes"]["right"][0]
    near = told(
        record(target={"acuity_logmar": 0.2, "until_local": "18:00", "distance_m": 0.4}), "2026-10-05T10:00"
    )["eyes"]["right"][0]
    assert far["meets_target"] < 0.01
    assert near["acuity_logmar"]["p50"] < far["acuity_logmar"]["p50"] - 0.3


# -- tonight ---------------------------------------------------------------------------------------------------
def test_the_ready_wearer_may_skip() -> None:
    got = tonight(ready())
    assert (got["night"], got["target_at"]) == ("2026-10-21", "2026-10-22T18:00:00+08:00")
    assert (got["answer"], keys(got)) == ("may_skip", ["target_holds"])
    held = datetime.fromisoformat(got["holds_until"])
    assert held.minute == 0
    assert at("2026-10-22T18:00") <= held <= READY_AT + timedelta(hours=168)


@pytest.mark.parametrize(
    ("as_of", "night"),
    [
        ("2026-10-21T03:59", "2026-10-21"),  # the night of the 20th is worn
        ("2026-10-21T23:30", "2026-10-21"),
        ("2026-10-22T03:59", "2026-10-21"),
        ("2026-10-22T04:00", "2026-10-22"),
    ],
)
def test_which_night_is_tonight(as_of: str, night: str) -> None:
    assert tonight(ready(), as_of)["night"] == night


def test_two_hours_of_wear_do_not_take_a_night_and_a_night_under_way_does() -> None:
    for end, night in (("2026-10-21T23:29+08:00", "2026-10-21"), (None, "2026-10-22")):
        row = {"eye": "left", "in": "2026-10-21T20:30+08:00", **({} if end is None else {"out": end})}
        raw = ready(wear=[*nights(20), row])
        assert tonight(raw, "2026-10-21T23:30")["night"] == night


def test_holds_until_starts_at_the_end_of_a_night_under_way() -> None:
    raw = ready(wear=[*nights(20), {"eye": "both", "in": "2026-10-21T21:30+08:00"}])
    got = tonight(raw, "2026-10-21T23:00")
    assert datetime.fromisoformat(got["holds_until"]) <= at("2026-10-22T06:30") + timedelta(hours=168)
    never = {"acuity_logmar": -0.5, "until_local": "18:00"}
    assert tonight(ready(target=never))["holds_until"] is None


def test_holds_until_goes_no_further_than_a_week() -> None:
    always = {"acuity_logmar": 2.0, "until_local": "18:00"}
    assert tonight(ready(target=always))["holds_until"] == "2026-10-28T07:00:00+08:00"


@pytest.mark.parametrize(
    ("changed", "as_of", "answer", "reasons"),
    [
        ({"symptoms": [{**SORE, "open": True}]}, READY_AT, "do_not_wear", ["open_hold"]),
        ({"symptoms": [{**SORE, "open": False}]}, READY_AT, "may_skip", ["target_holds"]),
        ({}, "2026-10-28T07:30", "ask_clinic", ["long_break"]),
        ({}, "2026-10-27T07:30", "wear", ["gap_too_long"]),
        ({"plan": {"every": 20}, "wear": nights(20)}, READY_AT, "may_skip", ["target_holds"]),
        ({"plan": {"every": 3}}, READY_AT, "rest_by_plan", ["plan_rests"]),
        ({"plan": {"weekdays": ["thu"]}}, READY_AT, "rest_by_plan", ["plan_rests"]),
        ({"plan": {"weekdays": ["wed"]}}, READY_AT, "may_skip", ["target_holds"]),
        ({"plan": {"every": 3}, "target": SHARP}, READY_AT, "rest_by_plan", ["plan_rests", "below_target"]),
        ({"clearance": None}, READY_AT, "wear", ["not_cleared"]),
        ({"clearance": {"may_skip": False, "longest_gap_nights": 9}}, READY_AT, "wear", ["not_cleared"]),
        ({"clearance": {"may_skip": True, "longest_gap_nights": 1, "until": "2026-10-20"}}, READY_AT, "wear",
         ["clearance_over"]),
        ({"clearance": {"may_skip": True, "longest_gap_nights": 1, "until": "2026-10-21"}}, READY_AT, "may_skip",
         ["target_holds"]),
        ({"clearance": {"may_skip": True, "longest_gap_nights": 0}}, READY_AT, "wear", ["gap_too_long"]),
        ({}, "2026-10-22T07:30", "wear", ["gap_too_long"]),
        ({"clearance": {"may_skip": True, "longest_gap_nights": 2}}, "2026-10-22T07:30", "may_skip",
         ["target_holds"]),
        ({"wear": nights(13, "2026-10-08")}, READY_AT, "wear", ["too_little_data"]),
        ({"wear": nights(14, "2026-10-07")}, READY_AT, "may_skip", ["target_holds"]),
        ({"acuity": checks(5, "2026-10-21T07:00+08:00", "right", "left")}, READY_AT, "wear", ["too_little_data"]),
        ({"acuity": checks(9, "2026-10-21T07:00+08:00", "both")}, READY_AT, "wear", ["too_little_data"]),
        ({"acuity": checks(9, "2026-10-15T07:29+08:00", "right", "left")}, READY_AT, "wear", ["too_little_data"]),
        ({"acuity": checks(9, "2026-10-15T07:30+08:00", "right", "left")}, READY_AT, "may_skip", ["target_holds"]),
        ({"target": SHARP}, READY_AT, "wear", ["below_target"]),
    ],
)  # fmt: skip
def test_the_answer_table_on_records(
    changed: dict[str, Any], as_of: datetime | str, answer: str, reasons: list[str]
) -> None:
    got = tonight(ready(**changed), as_of)
    assert (got["answer"], keys(got)) == (answer, reasons)


def test_more_than_three_unknown_nights_of_the_last_14_release_nothing() -> None:
    rows = nights(30, "2026-09-21")
    for missing, answer in ((3, "may_skip"), (4, "wear")):
        silent = rows[:20] + rows[20 + missing :]
        assert tonight(ready(wear=silent, complete=False))["answer"] == answer


def test_a_hold_is_as_narrow_as_the_eye() -> None:
    got = tonight(ready(symptoms=[{"at": "2026-10-20T07:00+08:00", "eye": "left", "level": 3, "open": True}]))
    assert got["answer"] == "per_eye"
    assert got["eyes"]["left"]["answer"] == "do_not_wear"
    assert got["eyes"]["right"]["answer"] == "may_skip"


@pytest.mark.parametrize(("eyes", "choose"), [("each", min), ("better", max)])
def test_each_eye_or_the_better_one(eyes: str, choose: Any) -> None:
    target = {"acuity_logmar": 0.5, "until_local": "18:00", "eyes": eyes}
    apart = {"right": {"baseline_d": -4.0, "aim_d": 0.5}, "left": {"baseline_d": -1.0, "aim_d": 0.5}}
    got = tonight(ready(target=target, eyes=apart))
    each = [one["meets_target"] for one in got["eyes"].values()]
    assert got["meets_target"] == choose(each)
    assert got["answer"] == ("wear" if eyes == "each" else "may_skip")


def test_what_only_the_app_knows_joins_the_first_two_rows() -> None:
    assert keys(tonight(ready(), practice_stop=True)) == ["practice_stop"]
    assert keys(tonight(ready(), visit_overdue=True)) == ["visit_overdue"]
    assert tonight(ready(), visit_overdue=True, practice_stop=True)["answer"] == "do_not_wear"


@pytest.mark.parametrize(
    ("zone", "last_out", "tonight_at", "nights_off"),
    [
        ("Europe/Berlin", "2026-10-22T06:30+02:00", "2026-10-29T07:30+01:00", 7),
        ("Europe/Berlin", "2027-03-25T06:30+01:00", "2027-04-01T05:00+02:00", 7),
        ("America/Los_Angeles", "2026-10-02T06:30+08:00", "2026-10-07T07:30-07:00", 6),
    ],
)
def test_neither_a_clock_change_nor_a_flight_makes_or_hides_a_night_off(
    zone: str, last_out: str, tonight_at: str, nights_off: int
) -> None:
    end = datetime.fromisoformat(last_out)
    rows = [{"eye": "both", "in": (end - timedelta(hours=9)).isoformat(), "out": last_out}]
    got = tonight(record(time_zone=zone, wear=rows), tonight_at)
    if nights_off >= 7:
        assert got["reasons"] == [{"key": "long_break", "values": {"nights": nights_off}}]
    else:
        assert got["answer"] == "wear"


def test_warnings_name_what_to_mistrust() -> None:
    raw = record(
        wear=[{"eye": "right", "in": "2026-10-01T21:30+08:00"}],
        eyes={"right": {"baseline_d": 1.0, "aim_d": -1.0}},
    )
    got = told(raw, "2026-10-03T10:00")["warnings"]
    assert [one["key"] for one in got] == ["mostly_population", "little_known_direction", "lens_long_in"]
    assert got[2]["values"] == {"eye": "right", "hours": 36}


# -- the curve -------------------------------------------------------------------------------------------------
def test_the_fan_agrees_with_the_forecast_and_shows_what_was_worn() -> None:
    one = parse_record(ready())
    got = fan(
        follow_wearer(one, READY_AT), READY_AT - timedelta(hours=24), READY_AT + timedelta(hours=36), 1.0, (True,)
    )
    right = got["eyes"]["right"]
    assert len(right["rows"]) == 61
    assert right["rows"][24:] == forecast(one, READY_AT, (), (True,))["eyes"]["right"][:37]
    assert right["wear"] == [
        {"from": "2026-10-20T21:30:00+08:00", "until": "2026-10-21T06:30:00+08:00", "kind": "worn"},
        {"from": "2026-10-21T21:30:00+08:00", "until": "2026-10-22T06:30:00+08:00", "kind": "planned"},
    ]
