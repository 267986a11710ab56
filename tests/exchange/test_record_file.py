"""Every line of the record file's contract: what it reads, and the field that it names when it will not."""

import copy
import json
from datetime import UTC, date, datetime, time
from pathlib import Path
from typing import Any

import pytest
from record_maker import nights, record

from companion.common.errors import InvalidInput
from companion.common.eyes import Eye
from companion.exchange.record_file import parse_record, read_record
from companion.phrasebook.problems import sentences
from companion.regimen.plan import EVERY_NIGHT, NOT_CLEARED, WearPlan

IN, OUT = "2026-10-01T21:30+08:00", "2026-10-02T06:30+08:00"
ACUITY = {"eye": "right", "at": OUT, "logmar": 0.1}
REFRACTION = {"eye": "right", "at": OUT, "sphere_d": -0.25}
SYMPTOM = {"at": OUT, "level": 3, "open": True}
FULL = record(
    plan={"every": 2},
    clearance={"may_skip": True, "longest_gap_nights": 1, "until": "2027-01-31"},
    history={"since": "2025-03-01", "nights_per_week": 6.5},
    complete=False,
    wear=[{"eye": "both", "in": IN, "out": OUT}],
    no_wear=[{"eye": "both", "night": "2026-10-05"}],
    acuity=[{**ACUITY, "sd": 0.07, "distance_m": 3}],
    refraction=[REFRACTION],
    symptoms=[{**SYMPTOM, "eye": "right"}],
)


def bent(path: str, value: Any = ...) -> dict[str, Any]:
    """Return FULL with one value replaced, or removed."""
    made = copy.deepcopy(FULL)
    *way, last = [int(one) if one.isdigit() else one for one in path.split("/")]
    here: Any = made
    for step in way:
        here = here[step]
    if value is ...:
        del here[last]
    else:
        here[last] = value
    return made


def refusal(raw: Any) -> tuple[str, str]:
    with pytest.raises(InvalidInput) as caught:
        parse_record(raw)
    (problem,) = caught.value.problems
    assert problem.code in sentences()
    assert sentences()[problem.code] % problem.values
    return problem.field, problem.code


def test_a_full_record_is_read() -> None:
    got = parse_record(FULL)
    assert list(got.eyes) == [Eye.RIGHT, Eye.LEFT]
    assert got.target.until_local == time(18)
    assert got.plan == WearPlan(every=2)
    assert got.clearance.until == date(2027, 1, 31)
    assert got.history is not None and got.history.nights_per_week == 6.5
    assert not got.complete
    right, left = got.eyes.values()
    assert right.wear == left.wear
    assert right.wear[0].night == date(2026, 10, 1)
    assert right.nights_off == left.nights_off == {date(2026, 10, 5)}
    assert right.acuity[0].distance_m == 3
    assert left.acuity == ()
    assert right.refraction[0].sphere_d == -0.25
    assert got.symptoms[0].eyes == {Eye.RIGHT}
    assert got.latest == datetime(2026, 10, 1, 22, 30, tzinfo=UTC)


def test_what_may_be_left_out_has_its_meaning() -> None:
    got = parse_record(record())
    assert got.plan == EVERY_NIGHT
    assert got.clearance == NOT_CLEARED
    assert got.history is None
    assert got.complete
    assert got.symptoms == ()
    assert got.latest is None
    assert not got.target.better_eye
    assert got.target.distance_m is None
    assert parse_record(record(symptoms=[SYMPTOM])).symptoms[0].eyes == {Eye.RIGHT, Eye.LEFT}


def test_one_eye_is_enough_and_both_means_every_eye_listed() -> None:
    one = record(eyes={"left": {"baseline_d": -2, "aim_d": 0}}, wear=nights(3), symptoms=[SYMPTOM])
    got = parse_record(one)
    assert list(got.eyes) == [Eye.LEFT]
    assert len(got.eyes[Eye.LEFT].wear) == 3
    assert got.symptoms[0].eyes == {Eye.LEFT}


def test_a_binocular_reading_counts_for_no_eye() -> None:
    got = parse_record(record(acuity=[{**ACUITY, "eye": "both"}]))
    assert not any(eye.acuity for eye in got.eyes.values())
    assert got.latest is not None


def test_rows_come_in_any_order_and_touching_rows_are_joined() -> None:
    split = [
        {"eye": "both", "in": "2026-10-02T02:00+08:00", "out": OUT},
        {"eye": "right", "in": IN, "out": "2026-10-02T02:00+08:00"},
        {"eye": "left", "in": IN, "out": "2026-10-02T02:00+08:00"},
    ]
    whole = parse_record(record(wear=[{"eye": "both", "in": IN, "out": OUT}]))
    assert parse_record(record(wear=split)).eyes == whole.eyes


def test_a_lens_may_still_be_in_in_the_last_row() -> None:
    got = parse_record(record(wear=[*nights(2), {"eye": "right", "in": "2026-10-03T21:30+08:00"}]))
    assert got.eyes[Eye.RIGHT].wear[-1].end is None
    assert got.eyes[Eye.LEFT].wear[-1].end is not None


@pytest.mark.parametrize(
    ("lens_in", "night"),
    [
        ("2026-10-01T21:30+08:00", date(2026, 10, 1)),
        ("2026-10-02T01:30+08:00", date(2026, 10, 1)),
        ("2026-10-02T11:59+08:00", date(2026, 10, 1)),
        ("2026-10-02T12:00+08:00", date(2026, 10, 2)),
        ("2026-10-01T21:30-07:00", date(2026, 10, 1)),  # abroad: the evening there
        ("2026-10-01T13:30+00:00", date(2026, 10, 1)),  # in UTC: the evening at home
        ("2026-10-01T05:00Z", date(2026, 10, 1)),
    ],
)
def test_a_night_is_that_of_its_evening_where_the_lens_went_in(lens_in: str, night: date) -> None:
    got = parse_record(record(wear=[{"eye": "right", "in": lens_in}]))
    assert got.eyes[Eye.RIGHT].wear[0].night == night


REQUIRED = [
    "format", "version", "time_zone", "birth_year", "target", "eyes", "wear", "acuity", "refraction",
    "target/acuity_logmar", "target/until_local", "eyes/right/baseline_d", "eyes/right/aim_d",
    "clearance/may_skip", "clearance/longest_gap_nights", "history/since", "history/nights_per_week",
    "wear/0/eye", "wear/0/in", "no_wear/0/eye", "no_wear/0/night", "acuity/0/eye", "acuity/0/at",
    "acuity/0/logmar", "refraction/0/eye", "refraction/0/at", "refraction/0/sphere_d", "symptoms/0/at",
    "symptoms/0/level", "symptoms/0/open",
]  # fmt: skip


def dotted(path: str) -> str:
    said = ""
    for step in path.split("/"):
        said += f"[{step}]" if step.isdigit() else f".{step}" if said else step
    return said


@pytest.mark.parametrize("path", REQUIRED)
def test_a_missing_field_is_named(path: str) -> None:
    assert refusal(bent(path)) == (dotted(path), "record_missing")


@pytest.mark.parametrize(
    "path",
    ["", "target/", "plan/", "clearance/", "history/", "eyes/", "eyes/right/", "wear/0/", "no_wear/0/",
     "acuity/0/", "refraction/0/", "symptoms/0/"],
)  # fmt: skip
def test_an_unknown_key_is_named_at_every_depth(path: str) -> None:
    assert refusal(bent(f"{path}symptons", 1)) == (dotted(f"{path}symptons"), "record_unknown_key")


OPTIONAL = [
    "plan", "clearance", "clearance/until", "history", "complete", "no_wear", "symptoms", "symptoms/0/eye",
    "acuity/0/sd", "acuity/0/distance_m", "wear/0/out",
]  # fmt: skip


@pytest.mark.parametrize("path", [*REQUIRED, *OPTIONAL])
@pytest.mark.parametrize(
    "value",
    [None, {"a": 1}, [[]], "", True, 10**400, float("nan"), 1e999, -1e999],
    ids=["null", "object", "list", "no-text", "true", "huge", "nan", "inf", "minus-inf"],
)
def test_a_value_of_the_wrong_kind_is_named(path: str, value: Any) -> None:
    if value is True and path in ("complete", "clearance/may_skip", "symptoms/0/open"):
        return
    field, _ = refusal(bent(path, value))
    assert field.startswith(dotted(path))


@pytest.mark.parametrize(
    ("path", "bad", "good"),
    [
        ("eyes/right/baseline_d", (-15.01, 10.01), (-15, 10)),
        ("eyes/right/aim_d", (-15.01, 10.01), (-15, 10)),
        ("refraction/0/sphere_d", (-15.01, 10.01), (-15, 10)),
        ("target/acuity_logmar", (-0.51, 2.01), (-0.5, 2)),
        ("acuity/0/logmar", (-0.51, 2.01), (-0.5, 2)),
        ("eyes/right/best_acuity_logmar", (-0.51, 2.01), (-0.5, 2)),
        ("acuity/0/sd", (0, -1, 1.01), (0.001, 1)),
        ("acuity/0/distance_m", (0, 0.19, 10.1), (0.2, 10)),
        ("target/distance_m", (0, 0.19, 10.1), (0.2, 10)),
        ("history/nights_per_week", (0, -1, 7.1), (0.5, 7)),
        ("clearance/longest_gap_nights", (-1, 1.5), (0, 3)),
        ("plan/every", (0, -1, 1.5, "2"), (1, 3)),
        ("symptoms/0/level", (0, 6, 2.5), (1, 5)),
        ("version", (0, 2, "1", 1.0), (1,)),
        ("birth_year", (1899, 2015.5, "2015"), (1900, 2020)),
        ("format", ("record", 1), ("companion-record",)),
        ("time_zone", ("Mars/Base", "../../etc", "", "+08:00", "America", "x" * 5000), ("Europe/Berlin", "UTC")),
        ("target/until_local", ("24:00", "6 pm", "18", "18:00:00", "18:60", "٠٨:٠٠"), ("00:00", "23:59")),
        ("target/eyes", ("both", "EACH", 1), ("each", "better")),
        ("clearance/until", ("2027-02-30", "31.01.2027", "20270131", "2027-1-1", "0001-01-01"), ("2027-02-28",)),
        ("no_wear/0/night", ("2026-13-01", IN), ("2026-10-07",)),
        ("no_wear/0/eye", ("Right", "eyes", "", 0), ("left", "both")),
        ("refraction/0/eye", ("both",), ("left",)),
        (
            "wear/0/in",
            ("2026-10-01T21:30", "2026-10-01 21:30+08:00", "2026-10-01", "21:30", "2026-10-01T24:30+08:00",
             "2026-02-30T21:30+08:00", "0001-01-01T00:00+08:00", "9999-12-31T23:59-08:00",
             "2026-10-01T21:30+25:00", "20261001T2130+0800", "2026-W40-4T21:30+08:00", 1790000000),
            (IN, "2026-10-01T13:30Z", "2026-10-01T21:30:15.5+08:00"),
        ),
        ("wear/0/out", (IN, "2026-10-01T21:00+08:00", "2026-10-03T09:31+08:00"), (OUT, "2026-10-03T09:30+08:00")),
    ],
)  # fmt: skip
def test_ranges_and_forms(path: str, bad: tuple[Any, ...], good: tuple[Any, ...]) -> None:
    for value in bad:
        assert refusal(bent(path, value))[0] == dotted(path), value
    for value in good:
        parse_record(bent(path, value))


def test_a_naive_time_is_told_from_no_time() -> None:
    assert refusal(bent("acuity/0/at", "2026-10-02T07:00"))[1] == "record_naive_time"
    assert refusal(bent("acuity/0/at", "yesterday"))[1] == "record_not_time"


@pytest.mark.parametrize(
    ("plan", "field"),
    [
        ({}, "plan"),
        ({"every": 1, "weekdays": ["mon"]}, "plan"),
        ({"weekdays": []}, "plan.weekdays"),
        ({"weekdays": "mon"}, "plan.weekdays"),
        ({"weekdays": ["mon", "Tuesday"]}, "plan.weekdays[1]"),
        ({"weekdays": ["mon", "mon"]}, "plan.weekdays"),
        ([1], "plan"),
    ],
)
def test_a_plan_is_every_nth_night_or_named_days(plan: Any, field: str) -> None:
    assert refusal(record(plan=plan))[0] == field


@pytest.mark.parametrize(
    ("rows", "field", "code"),
    [
        ([*nights(1), *nights(1)], "wear[1].in", "record_overlap"),
        ([*nights(1, eye="right"), *nights(1)], "wear[1].in", "record_overlap"),
        (
            [{"eye": "left", "in": "2026-10-02T06:29+08:00", "out": "2026-10-02T09:00+08:00"}, *nights(1)],
            "wear[0].in",
            "record_overlap",
        ),
        ([{"eye": "right", "in": IN}, *nights(1, "2026-10-05")], "wear[0].out", "record_still_in"),
        ([{"eye": "right", "in": IN}, {"eye": "right", "in": IN}], "wear[0].out", "record_still_in"),
    ],
)
def test_rows_of_one_eye_stand_apart(rows: list[dict[str, str]], field: str, code: str) -> None:
    assert refusal(record(wear=rows)) == (field, code)


def test_rows_of_two_eyes_may_overlap() -> None:
    parse_record(record(wear=[*nights(1, eye="right"), *nights(1, eye="left")]))


@pytest.mark.parametrize(
    "path", ["wear/0/eye", "no_wear/0/eye", "acuity/0/eye", "refraction/0/eye", "symptoms/0/eye"]
)
def test_a_row_that_names_an_unlisted_eye_is_an_error(path: str) -> None:
    made = bent(path, "left")
    for name in ("wear", "no_wear", "acuity", "refraction", "symptoms"):
        if not path.startswith(name):
            made[name] = []
    del made["eyes"]["left"]
    assert refusal(made) == (dotted(path), "record_eye_not_listed")


@pytest.mark.parametrize("eyes", [{}, [], {"middle": {"baseline_d": -1, "aim_d": 0}}])
def test_at_least_one_eye_and_no_third(eyes: Any) -> None:
    assert refusal(record(eyes=eyes, symptoms=None))[0].startswith("eyes")


@pytest.mark.parametrize("raw", [None, [], 1, "record", True])
def test_a_record_is_an_object(raw: Any) -> None:
    assert refusal(raw) == ("RECORD", "record_not_object")


@pytest.mark.parametrize(
    ("content", "field", "code"),
    [
        (b"", "RECORD", "record_not_json_at"),
        (b"{", "RECORD", "record_not_json_at"),
        (b"\xff\xfe{}", "RECORD", "record_not_utf8"),
        (b"[" * 200_000, "RECORD", "record_not_json"),
        (b'{"version": ' + b"9" * 6000 + b"}", "RECORD", "record_not_json"),
        (b'{"format": "companion-record", "format": "companion-record"}', "format", "record_key_twice"),
        (b'{"format": "companion-record"} x', "RECORD", "record_not_json_at"),
    ],
)
def test_what_is_not_json_is_refused(tmp_path: Path, content: bytes, field: str, code: str) -> None:
    file = tmp_path / "record.json"
    file.write_bytes(content)
    with pytest.raises(InvalidInput) as caught:
        read_record(file)
    assert (caught.value.problems[0].field, caught.value.problems[0].code) == (field, code)


def test_nan_in_a_file_is_named_by_its_field(tmp_path: Path) -> None:
    file = tmp_path / "record.json"
    file.write_text(json.dumps(bent("acuity/0/logmar", float("nan"))))
    with pytest.raises(InvalidInput) as caught:
        read_record(file)
    assert caught.value.problems[0].field == "acuity[0].logmar"


def test_a_file_that_is_not_there_or_too_large(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("companion.exchange.strict_json.LARGEST_BYTES", 10)
    large = tmp_path / "large.json"
    large.write_text(" " * 11)
    for path, code in (
        (tmp_path / "none", "record_unreadable"),
        (tmp_path, "record_unreadable"),
        (large, "record_too_large"),
    ):
        with pytest.raises(InvalidInput) as caught:
            read_record(path)
        assert (caught.value.problems[0].field, caught.value.problems[0].code) == ("RECORD", code)
