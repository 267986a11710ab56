"""The public stories: none is judged below what is accepted, and each gets the level it should."""

import json
from pathlib import Path

import pytest

from companion.triage.answers import answers_from_file
from companion.triage.evaluate import evaluate

VECTORS = Path(__file__).resolve().parents[1] / "vectors" / "triage_cases.json"
CASES = json.loads(VECTORS.read_text(encoding="utf-8"))["cases"]


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["id"])
def test_H1_a_story_gets_its_level(case):
    level = evaluate(answers_from_file(case["answers"])).level
    assert level >= min(case["accepted_levels"]), f"under-called: {case['story']}"
    assert level == case["expected_level"]


def test_a_child_with_a_fever_wears_no_lens_though_nothing_is_urgent():
    case = next(case for case in CASES if case["id"] == "V16")
    verdict = evaluate(answers_from_file(case["answers"]))
    assert verdict.level == 1
    assert set(verdict.wear_hold.values()) == {True}
