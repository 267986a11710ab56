"""The door of the diary: every kind's payload, each way to get it wrong, one normal form."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from typing import Any

import pytest
from diary_makers import raw, wall

from companion.common.errors import InvalidInput
from companion.diary.entry import Kind, check_shape
from companion.diary.kinds import SHAPES

NOW = wall("2026-10-01 21:30")
OTHER = "00000000-0000-4000-8000-00000000000b"

GOOD: list[tuple[str, dict[str, Any]]] = [
    ("lenses_in", {"eyes": "both"}),
    ("lenses_out", {"eyes": "left"}),
    ("no_lenses", {"eyes": "both", "night": "2026-10-01"}),
    ("as_planned", {"since": "2026-09-24", "until": "2026-09-30", "except": ["2026-09-26"]}),
    ("as_planned", {"since": "2026-09-24", "until": "2026-09-24"}),
    ("as_planned", {"since": "2026-08-01", "until": "2026-10-01"}),  # 62 nights
    ("sight", {"eye": "right", "word": "soft"}),
    ("sight", {"eye": "both", "logmar": -0.5, "distance_m": 0.2}),
    ("sight", {"eye": "left", "logmar": 2, "distance_m": 10}),
    ("symptom_report", {"answers": {"general": {"fever": "no"}, "right": {"redness": "red"}, "left": {}}}),
    ("symptom_report", {"answers": {"right": {"a_question_of_next_year": "yes"}}, "asked_level": 5}),
    ("symptom_report", {"answers": {}, "judged_level": 1, "rules_version": "2026-10-01", "language": "zh-Hant"}),
    ("note", {"text": "New bottle opened."}),
    ("care_item", {"item": "case"}),
    ("care_item", {"item": "bottle", "which": "saline", "label_days": 1, "use_by": "2027-03-31"}),
    ("care_item", {"item": "lens", "eyes": "left"}),
    ("care_item", {"item": "soak"}),
    ("stuck_lens", {"eyes": "right", "said": "stuck"}),
    ("stuck_lens", {"eyes": "right", "said": "free"}),
    ("correction", {"replaces": OTHER, "kind": "lenses_in", "at": "2026-10-01T21:00+02:00",
                    "zone": "Europe/Berlin", "payload": {"eyes": "right"}}),
    ("withdrawal", {"withdraws": OTHER}),
]  # fmt: skip

BAD: list[tuple[str, Any, str, str]] = [
    ("lenses_in", {}, "entry_missing", "payload.eyes"),
    ("lenses_in", None, "entry_not_an_object", "payload"),
    ("lenses_in", {"eyes": "third"}, "entry_not_one_of", "payload.eyes"),
    ("lenses_in", {"eyes": True}, "entry_not_one_of", "payload.eyes"),
    ("lenses_in", {"eyes": "both", "hours": 8}, "entry_unknown_key", "payload"),
    ("no_lenses", {"eyes": "both", "night": "1 Oct"}, "entry_not_a_night", "payload.night"),
    ("no_lenses", {"eyes": "both", "night": "2026-10-32"}, "entry_not_a_night", "payload.night"),
    ("no_lenses", {"eyes": "both", "night": "0001-01-01"}, "entry_not_a_night", "payload.night"),
    ("as_planned", {"since": "2026-10-02", "until": "2026-10-01"}, "entry_until_before_since", "payload.until"),
    ("as_planned", {"since": "2026-07-31", "until": "2026-10-01"}, "entry_too_many_nights", "payload.until"),
    ("as_planned", {"since": "2026-10-01", "until": "2026-10-01", "except": ["2026-10-02"]},
     "entry_exception_outside", "payload.except"),
    ("as_planned", {"since": "2026-10-01", "until": "2026-10-01", "except": "all"},
     "entry_not_a_list", "payload.except"),
    ("as_planned", {"since": "2026-10-01", "until": "2026-10-01", "except": ["2026-10-01"] * 63},
     "entry_list_too_long", "payload.except"),
    ("sight", {"eye": "right"}, "entry_missing", "payload.logmar"),
    ("sight", {"eye": "right", "word": "perfect"}, "entry_not_one_of", "payload.word"),
    ("sight", {"eye": "right", "word": "good", "logmar": 0.1}, "entry_unknown_key", "payload"),
    ("sight", {"eye": "right", "logmar": 0.1}, "entry_missing", "payload.distance_m"),
    ("sight", {"eye": "right", "logmar": float("nan"), "distance_m": 3},
     "entry_number_out_of_range", "payload.logmar"),
    ("sight", {"eye": "right", "logmar": "0.1", "distance_m": 3}, "entry_not_a_number", "payload.logmar"),
    ("sight", {"eye": "right", "logmar": True, "distance_m": 3}, "entry_not_a_number", "payload.logmar"),
    ("sight", {"eye": "right", "logmar": 0.1, "distance_m": 0}, "entry_number_out_of_range", "payload.distance_m"),
    ("symptom_report", {"answers": {"both": {}}}, "entry_unknown_key", "payload.answers"),
    ("symptom_report", {"answers": {"right": {"redness": None}}},
     "entry_not_a_word", "payload.answers.right.redness"),
    ("symptom_report", {"answers": {"right": {"Red ness": "red"}}}, "entry_unknown_key", "payload.answers.right"),
    ("symptom_report", {"answers": {"right": {f"q{i}": "no" for i in range(61)}}},
     "entry_list_too_long", "payload.answers.right"),
    ("symptom_report", {"answers": {}, "asked_level": 1}, "entry_number_out_of_range", "payload.asked_level"),
    ("note", {"text": " \u0000\t"}, "entry_text_empty", "payload.text"),
    ("note", {"text": "x" * 2001}, "entry_text_too_long", "payload.text"),
    ("note", {"text": "x" * 2_000_000}, "entry_text_too_long", "payload.text"),
    ("note", {"text": 7}, "entry_not_text", "payload.text"),
    ("care_item", {}, "entry_missing", "payload.item"),
    ("care_item", {"item": "towel"}, "entry_not_one_of", "payload.item"),
    ("care_item", {"item": ["case"]}, "entry_not_one_of", "payload.item"),
    ("care_item", {"item": "bottle"}, "entry_missing", "payload.which"),
    ("care_item", {"item": "lens"}, "entry_missing", "payload.eyes"),
    ("care_item", {"item": "soak", "label_days": 3}, "entry_unknown_key", "payload"),
    ("care_item", {"item": "case", "label_days": 0}, "entry_number_out_of_range", "payload.label_days"),
    ("care_item", {"item": "case", "use_by": "soon"}, "entry_not_a_night", "payload.use_by"),
    ("stuck_lens", {"eyes": "right", "said": "maybe"}, "entry_not_one_of", "payload.said"),
    ("withdrawal", {"withdraws": "the last one"}, "entry_not_an_id", "payload.withdraws"),
    ("correction", {"replaces": OTHER, "kind": "symptom_report", "at": "2026-10-01T21:00+02:00",
                    "zone": "Europe/Berlin", "payload": {"answers": {}}}, "entry_not_one_of", "payload.kind"),
    ("correction", {"replaces": OTHER, "kind": "correction", "at": "2026-10-01T21:00+02:00",
                    "zone": "Europe/Berlin", "payload": {}}, "entry_not_one_of", "payload.kind"),
    ("correction", {"replaces": OTHER, "kind": "lenses_in", "at": "2026-10-01T21:00",
                    "zone": "Europe/Berlin", "payload": {"eyes": "both"}}, "entry_not_a_time", "payload.at"),
    ("correction", {"replaces": OTHER, "kind": "lenses_in", "at": "2026-10-01T21:00Z",
                    "zone": "Europe/Berlin", "payload": {"eye": "both"}}, "entry_missing", "payload.payload.eyes"),
]  # fmt: skip

BAD_FRAMES: list[tuple[dict[str, Any], str, str]] = [
    ({"id": "1"}, "entry_not_an_id", "id"),
    ({"wearer_id": None}, "entry_not_an_id", "wearer_id"),
    ({"kind": "nap"}, "entry_not_one_of", "kind"),
    ({"kind": ["lenses_in"]}, "entry_not_one_of", "kind"),
    ({"at": "2026-10-01T21:30"}, "entry_not_a_time", "at"),
    ({"at": 1790000000}, "entry_not_a_time", "at"),
    ({"at": "0001-01-01T00:00+14:00"}, "entry_time_absurd", "at"),
    ({"made_at": "yesterday"}, "entry_not_a_time", "made_at"),
    ({"zone": "Middle/Earth"}, "entry_unknown_zone", "zone"),
    ({"zone": "../../etc/passwd"}, "entry_unknown_zone", "zone"),
    ({"zone": "x" * 500}, "entry_unknown_zone", "zone"),
    ({"seq": 1}, "entry_unknown_key", ""),
]


@pytest.mark.parametrize(("kind", "payload"), GOOD)
def test_well_formed_payload_passes_and_is_plain_json(kind: str, payload: dict[str, Any]) -> None:
    draft = check_shape(raw(kind, NOW, payload))
    assert draft.kind is Kind(kind)
    assert json.loads(json.dumps(draft.payload)) == draft.payload
    again = check_shape(raw(kind, NOW, json.loads(json.dumps(draft.payload))))
    assert again.payload == draft.payload, "the normal form is its own normal form"


def test_every_kind_has_a_shape_and_a_good_example() -> None:
    assert set(SHAPES) == set(Kind) == {Kind(kind) for kind, _ in GOOD}


@pytest.mark.parametrize(("kind", "payload", "code", "field"), BAD)
def test_ill_formed_payload_is_named(kind: str, payload: Any, code: str, field: str) -> None:
    with pytest.raises(InvalidInput) as caught:
        check_shape(raw(kind, NOW, payload))
    assert (code, field) in [(p.code, p.field) for p in caught.value.problems]


@pytest.mark.parametrize(("change", "code", "field"), BAD_FRAMES)
def test_ill_formed_frame_is_named(change: dict[str, Any], code: str, field: str) -> None:
    with pytest.raises(InvalidInput) as caught:
        check_shape(raw("lenses_in", NOW, {"eyes": "both"}, **change))
    assert [(p.code, p.field) for p in caught.value.problems] == [(code, field)]


@pytest.mark.parametrize("nothing", [None, [], "entry", 7, {}])
def test_what_is_no_entry_at_all_is_refused(nothing: object) -> None:
    with pytest.raises(InvalidInput):
        check_shape(nothing)


def test_every_problem_is_named_at_once() -> None:
    with pytest.raises(InvalidInput) as caught:
        check_shape({**raw("lenses_in", NOW, {"eyes": "x", "y": 1}), "zone": "nowhere"})
    assert {p.field for p in caught.value.problems} == {"zone", "payload", "payload.eyes"}


def test_times_come_out_in_utc_and_text_in_one_form() -> None:
    draft = check_shape(
        raw("note", NOW, {"text": "  Cafe\u0301\r\n\u202eevil\u0007 \ud800"}, at="2026-10-01T21:30+02:00")
    )
    assert draft.at == datetime(2026, 10, 1, 19, 30, tzinfo=UTC)
    assert draft.at.tzinfo is UTC
    assert draft.payload == {"text": "Caf\u00e9\nevil"}


def test_joiners_that_scripts_need_stay() -> None:
    text = "\u0915\u094d\u200d\u0937 \u0645\u06cc\u200c\u0634\u0648\u062f"
    assert check_shape(raw("note", NOW, {"text": text})).payload == {"text": text}


def test_a_phone_clock_reset_to_1970_can_still_report() -> None:
    past = "1970-01-01T00:03+00:00"
    draft = check_shape(
        raw("symptom_report", NOW, {"answers": {"right": {"pain": "severe"}}}, at=past, made_at=past)
    )
    assert draft.kind is Kind.SYMPTOM_REPORT


def test_exceptions_are_sorted_and_named_once() -> None:
    said = {"since": "2026-10-01", "until": "2026-10-05", "except": ["2026-10-04", "2026-10-02", "2026-10-04"]}
    assert check_shape(raw("as_planned", NOW, said)).payload["except"] == ["2026-10-02", "2026-10-04"]


def test_an_entry_takes_no_naive_time() -> None:
    draft = check_shape(raw("lenses_in", NOW, {"eyes": "both"}))
    with pytest.raises(ValueError, match="naive"):
        draft.received(seq=1, author_id="a", received_at=datetime(2026, 10, 1))  # noqa: DTZ001
