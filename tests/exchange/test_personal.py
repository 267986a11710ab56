"""The personal forecast of whole records: what readings change, what stands behind it, and what may not matter."""

import json
from datetime import datetime, timedelta
from typing import Any

import pytest
from record_maker import nights, record

from companion.exchange.about import about
from companion.exchange.forecast import document, forecast
from companion.exchange.record_file import parse_record
from companion.exchange.wearer_course import WearerCourse, follow_wearer

AS_OF = datetime.fromisoformat("2026-11-05T12:00+08:00")
CLEARED = {"may_skip": True, "longest_gap_nights": 1}


def readings(logmar: dict[str, float], days: int = 20, hour: str = "20:30", last: str = "2026-11-04") -> list[Any]:
    """Return one check an evening and eye."""
    end = datetime.fromisoformat(f"{last}T{hour}+08:00")
    return [
        {"eye": eye, "at": (end - timedelta(days=day)).isoformat(), "logmar": value, "distance_m": 3}
        for eye, value in logmar.items()
        for day in range(days)
    ]


def wearing(**changed: Any) -> dict[str, Any]:
    return record(wear=nights(35), clearance=CLEARED, **changed)


def followed(**changed: Any) -> WearerCourse:
    return follow_wearer(parse_record(wearing(**changed)), AS_OF)


def told(raw: dict[str, Any], as_of: datetime = AS_OF) -> dict[str, Any]:
    return forecast(parse_record(raw), as_of)


def tomorrow(**changed: Any) -> dict[str, Any]:
    at = datetime.fromisoformat("2026-11-06T18:00+08:00")
    rows: dict[str, Any] = forecast(parse_record(wearing(**changed)), AS_OF, [at])["eyes"]["right"][0]
    return rows


def test_checks_bend_the_curve_their_own_way() -> None:
    poor, none, good = (tomorrow(acuity=one) for one in (
        readings({"right": 0.45, "left": 0.45}), [], readings({"right": -0.05, "left": -0.05}),
    ))  # fmt: skip
    assert good["acuity_logmar"]["p50"] < none["acuity_logmar"]["p50"] < poor["acuity_logmar"]["p50"] - 0.1
    assert good["meets_target"] > none["meets_target"] > poor["meets_target"]
    assert poor["refraction_d"]["p95"] - poor["refraction_d"]["p05"] < 0.8 * (
        none["refraction_d"]["p95"] - none["refraction_d"]["p05"]
    )


def test_H1_poor_checks_of_ones_own_never_release_a_night() -> None:
    raw = wearing(acuity=readings({"right": 0.45, "left": 0.45}))
    assert told(raw)["tonight"]["answer"] == "wear"
    assert [one["key"] for one in told(raw)["tonight"]["reasons"]] == ["below_target"]


def test_H1_data_that_contradict_themselves_ask_the_clinic() -> None:
    wild = [
        {**one, "logmar": (0.0, 1.2)[place % 2], "sd": 0.05}
        for place, one in enumerate(readings({"right": 0.0, "left": 0.0}, days=24))
    ]
    got = told(wearing(acuity=wild))["tonight"]
    assert got["answer"] == "ask_clinic"
    assert got["reasons"] == [{"key": "contradictory_data", "values": {}}]
    behind = about(followed(acuity=wild))
    assert {one["fell_back"] for one in behind["eyes"].values()} == {"contradictory"}
    assert not any(one["personal"] for one in behind["eyes"].values())


def test_the_offset_in_which_an_instant_is_written_changes_nothing() -> None:
    raw = wearing(acuity=readings({"right": 0.1, "left": 0.2}))
    text = json.dumps(raw)

    def moved(value: Any) -> Any:
        if isinstance(value, dict):
            return {key: moved(one) for key, one in value.items()}
        if isinstance(value, list):
            return [moved(one) for one in value]
        if isinstance(value, str) and "T" in value and "+08:00" in value:
            return datetime.fromisoformat(value).astimezone(tz=_UTC).isoformat()
        return value

    elsewhere = moved(json.loads(text))
    assert elsewhere != raw
    one, two = told(raw), told(elsewhere)
    # A night is named by the zone of its insertion, and that is what an offset says: numbers agree, not names.
    for eye in ("right", "left"):
        assert one["eyes"][eye] == two["eyes"][eye]


def test_what_a_fit_has_learned_is_told() -> None:
    behind = about(followed(acuity=readings({"right": 0.05, "left": 0.1}), refraction=[
        {"eye": "right", "at": "2026-10-20T10:00+08:00", "sphere_d": -0.25}
    ]))  # fmt: skip
    right, left = behind["eyes"]["right"], behind["eyes"]["left"]
    assert right["personal"]
    assert (right["checks"], right["refractions"], left["refractions"]) == (20, 1, 0)
    assert right["record"]["of"] == 20
    assert right["record"]["inside"] >= 15
    assert right["learned"] > 1
    assert 0 <= right["too_much_plus"] <= 1
    assert right["surprise"] is None


def test_sudden_worse_sight_in_the_eye_that_needs_more_may_be_swapped_lenses() -> None:
    eyes = {"right": {"baseline_d": -4.0, "aim_d": 0.5}, "left": {"baseline_d": -2.0, "aim_d": 0.5}}
    usual = readings({"right": 0.05, "left": 0.05}, days=18, last="2026-11-01")
    last = readings({"right": 0.75}, days=3) + readings({"left": 0.02}, days=3)
    behind = about(follow_wearer(parse_record(wearing(eyes=eyes, acuity=usual + last)), AS_OF))["eyes"]
    assert behind["right"]["surprise"]["checks"] >= 2
    assert behind["right"]["surprise"]["worse_logmar"] > 0.3
    assert behind["right"]["surprise"]["perhaps_swapped"]
    assert behind["left"]["surprise"] is None


def test_a_check_is_asked_for_only_where_it_could_change_an_answer() -> None:
    sure = followed(
        acuity=readings({"right": -0.05, "left": -0.05}), target={"acuity_logmar": 1.5, "until_local": "18:00"}
    )
    assert about(sure)["ask"] is None
    open_ = followed(acuity=readings({"right": 0.08, "left": 0.08}, days=6))
    asked = about(open_)["ask"]
    assert asked is not None
    assert asked["check"] in ("this_evening", "tomorrow_morning")
    assert datetime.fromisoformat(asked["at"]) > AS_OF
    assert 0 < asked["swing"] <= 0.5


def test_readings_of_more_than_four_months_ago_are_left_out() -> None:
    old = readings({"right": 0.6, "left": 0.6}, last="2026-06-01")
    new = readings({"right": 0.05, "left": 0.05})
    behind = about(followed(acuity=[*old, *new], history={"since": "2026-01-01", "nights_per_week": 7}))
    assert behind["eyes"]["right"]["checks"] == len(new) // 2


def test_a_fit_from_the_last_place_is_the_same_forecast_within_its_noise() -> None:
    raw = parse_record(wearing(acuity=readings({"right": 0.1, "left": 0.15})))
    cold = follow_wearer(raw, AS_OF)
    places = {eye: course.fit.place for eye, course in cold.eyes.items()}
    warm = follow_wearer(raw, AS_OF, places)
    times = [cold.as_of + timedelta(hours=30)]
    one, two = (document(each, times)["eyes"]["right"][0] for each in (cold, warm))
    assert one == two


@pytest.mark.parametrize("share", [3, 2])
def test_a_fit_stays_honest_with_a_third_and_a_half_of_the_nights_unknown(share: int) -> None:
    """The band holds what the complete record's middle says, and is no narrower than its band."""
    acuity = readings({"right": 0.1, "left": 0.1})
    whole = wearing(acuity=acuity)
    known = [row for place, row in enumerate(whole["wear"]) if place % share]
    whole_row = tomorrow(acuity=acuity)
    at = datetime.fromisoformat("2026-11-06T18:00+08:00")
    partly = forecast(parse_record({**whole, "wear": known, "complete": False}), AS_OF, [at])["eyes"]["right"][0]
    assert partly["acuity_logmar"]["p05"] <= whole_row["acuity_logmar"]["p50"] <= partly["acuity_logmar"]["p95"]


_UTC = datetime.fromisoformat("2026-01-01T00:00+00:00").tzinfo
