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


# -- nights that must not be released --------------------------------------------------------------------------
LOW = {"right": {"baseline_d": -1.25, "aim_d": 0.5}}


def one_eye(checks: list[Any], **changed: Any) -> dict[str, Any]:
    """Return a record of an adult's one low eye, which would be released on good checks."""
    values = {
        "eyes": LOW,
        "birth_year": 2000,
        "acuity": checks,
        "wear": nights(35, eye="right"),
        "clearance": CLEARED,
    }
    return record(**{**values, **changed})


def series(values: list[float], last: str = "2026-11-04T20:30", apart: timedelta = timedelta(days=1)) -> list[Any]:
    """Return the checks of the right eye, the last at ``last``."""
    end = datetime.fromisoformat(f"{last}+08:00")
    count = len(values)
    return [
        {"eye": "right", "at": (end - apart * (count - 1 - place)).isoformat(), "logmar": value}
        for place, value in enumerate(values)
    ]


def answer(raw: dict[str, Any], as_of: datetime = AS_OF) -> tuple[str, list[str]]:
    got = told(raw, as_of)["tonight"]
    return got["answer"], [one["key"] for one in got["reasons"]]


GOOD = [0.0, 0.02, -0.02, 0.01] * 5


def test_good_checks_of_a_low_eye_release_the_night() -> None:
    assert answer(one_eye(series(GOOD))) == ("may_skip", ["target_holds"])


CALM = series(GOOD[:12], "2026-11-04T18:11", timedelta(minutes=1))
H1_CASES = [
    ("three blurred evenings", series([*GOOD, 0.9, 0.9, 0.9]), "ask_clinic", "contradictory_data"),
    ("one very blurred evening, not repeated", series([*GOOD, 1.2]), "wear", "too_little_data"),
    ("a bad week, then a calm one", series([*GOOD, *[0.9] * 6, *GOOD[:9]]), "ask_clinic", "contradictory_data"),
    ("a bad week, then twelve checks in a row", series([*GOOD, *[0.9] * 5], "2026-11-03T20:30") + CALM,
     "ask_clinic", "contradictory_data"),
    ("one check, told six times", series([0.0] * 6, apart=timedelta(minutes=1)), "wear", "too_little_data"),
    ("checks that say nothing", [{**one, "sd": 1.0} for one in series(GOOD)], "wear", "too_little_data"),
    ("a far target, checked from an arm's length", [{**one, "distance_m": 0.4} for one in series(GOOD)],
     "wear", "too_little_data"),
    ("checks with the lens in", series(GOOD, "2026-11-04T03:00"), "wear", "too_little_data"),
]  # fmt: skip


@pytest.mark.parametrize(("why", "checks", "expected", "reason"), H1_CASES, ids=[one[0] for one in H1_CASES])
def test_H1_such_checks_release_nothing(why: str, checks: list[Any], expected: str, reason: str) -> None:
    assert answer(one_eye(checks)) == (expected, [reason]), why


def test_H1_a_refraction_worse_than_the_checks_asks_the_clinic() -> None:
    visit = [{"eye": "right", "at": "2026-11-05T10:00+08:00", "sphere_d": -2.5}]
    assert answer(one_eye(series(GOOD), refraction=visit)) == ("ask_clinic", ["contradictory_data"])


def test_H1_a_lens_that_nobody_took_out_in_the_record_is_not_worn_for_days() -> None:
    wear = [*nights(20, eye="right"), {"eye": "right", "in": "2026-10-21T21:30+08:00"}]
    assert answer(one_eye(series(GOOD, "2026-10-21T20:30"), wear=wear)) == ("ask_clinic", ["long_break"])


def test_H1_one_silent_night_does_not_end_a_long_break() -> None:
    off = [{"eye": "right", "night": f"2026-10-{day}"} for day in range(25, 32)]
    off += [{"eye": "right", "night": f"2026-11-0{day}"} for day in (1, 2, 3)]
    raw = one_eye(series(GOOD), wear=nights(24, eye="right"), no_wear=off, complete=False)
    assert answer(raw)[0] == "ask_clinic"


def test_H1_no_eye_goes_without_for_the_sight_of_one_that_is_held_or_in_doubt() -> None:
    eyes = {**LOW, "left": {"baseline_d": -4.0, "aim_d": 0.5}}
    poor = [{**one, "eye": "left", "logmar": 0.6} for one in series(GOOD)]
    target = {"acuity_logmar": 0.2, "until_local": "18:00", "eyes": "better"}
    raw = one_eye(series(GOOD) + poor, eyes=eyes, target=target, wear=nights(35))
    assert told(raw)["tonight"]["eyes"]["left"]["answer"] == "may_skip"
    held = [{"at": "2026-11-05T07:00+08:00", "eye": "right", "level": 4, "open": True}]
    assert told({**raw, "symptoms": held})["tonight"]["eyes"]["left"]["answer"] == "wear"


def test_a_settled_wearer_stays_settled_though_a_reading_precedes_the_first_row() -> None:
    history = {"since": "2025-03-01", "nights_per_week": 7}
    early = [{"eye": "right", "at": "2026-10-10T10:00+08:00", "sphere_d": 0.25}]
    changed = {"wear": nights(6, "2026-10-30", "right"), "history": history}
    at = [datetime.fromisoformat("2026-11-05T20:00+08:00")]
    without, with_it = (
        forecast(parse_record(one_eye([], **changed, refraction=one)), AS_OF, at)["eyes"]["right"][0]
        for one in ([], early)
    )
    assert with_it["refraction_d"]["p50"] == pytest.approx(without["refraction_d"]["p50"], abs=0.3)
