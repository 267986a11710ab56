"""Tonight in words: hours rounded early, certainty once in words and once in numbers, nothing that blames."""

from __future__ import annotations

import re
from datetime import datetime
from typing import Any

import pytest

from companion.phrasebook import result_words, tonight_words
from companion.phrasebook.phrases import Phrases
from companion.phrasebook.problems import sentences
from companion.tonight.answer import Answer
from companion.web.tonight_page import tonight_page

NOW = datetime.fromisoformat("2026-11-02T20:30:00+00:00")
SAY = Phrases()


@pytest.mark.parametrize(
    ("until", "said"),
    [
        ("2026-11-03T17:00:00+00:00", "until about 15:00 to 17:00 tomorrow"),
        ("2026-11-03T17:59:00+00:00", "until about 15:00 to 17:00 tomorrow"),
        ("2026-11-02T23:00:00+00:00", "until about 21:00 to 23:00 today"),
        ("2026-11-02T22:00:00+00:00", "for the next hours only"),
        ("2026-11-05T12:00:00+00:00", "until about 10:00 to 12:00 on Thu 5 Nov"),
    ],
)
def test_hours_are_rounded_early(until: str, said: str) -> None:
    assert tonight_words.holds_until_text(SAY, datetime.fromisoformat(until), NOW) == said


@pytest.mark.parametrize(
    ("chance", "said"),
    [
        (0.99, "Very likely (over 95 %)"),
        (0.9499, "Likely (80 to 95 %)"),
        (0.80, "Likely (80 to 95 %)"),
        (0.5, "It could go either way (20 to 80 %)"),
        (0.1, "Unlikely (under 20 %)"),
    ],
)
def test_how_sure_in_words_and_once_in_numbers(chance: float, said: str) -> None:
    assert tonight_words.certainty_text(SAY, chance) == said


def test_every_answer_and_every_reason_has_its_sentence() -> None:
    assert set(tonight_words.ANSWERS) == {one.value for one in Answer}
    assert set(tonight_words.EYE_ANSWERS) == {one.value for one in Answer} - {"per_eye"}
    values = {"level": 4, "nights": 8, "longest": 1}
    for key in (*tonight_words.REASONS, "long_break"):
        assert tonight_words.reason_text(SAY, key, values)


def test_sight_is_a_word_or_two() -> None:
    assert tonight_words.sight_range_text(SAY, 0.0, 0.05) == "sharp"
    assert tonight_words.sight_range_text(SAY, 0.0, 0.9) == "sharp to blurred"


def test_no_sentence_blames_or_comforts_falsely() -> None:
    """Never *you forgot*, *bad*, *failed*, *streak*; never *you are fine*, *safe*, *no infection*."""
    never = re.compile(r"\b(?:forgot|bad|failed|streak|fine|safe|no infection)\b", re.IGNORECASE)
    tables: list[Any] = [tonight_words.ANSWERS, tonight_words.REASONS, tonight_words.SIGHT_HINTS, sentences()]
    tables += [result_words.ON_DUTY, result_words.OFF_DUTY, result_words.NOT_TOLD]
    tables += [result_words.NEWS, result_words.OUTCOMES]
    for table in tables:
        for said in table.values():
            assert not never.search(said), said


# -- the page's first sentence ------------------------------------------------------------------------------------
def view(kind: str, answer: str, hour: str = "evening", lens: str = "out", **changes: Any) -> dict[str, Any]:
    reasons = [{"key": "open_hold" if answer == "do_not_wear" else "not_cleared", "values": {}}]
    eyes = {eye: {"answer": answer, "reasons": reasons} for eye in ("right", "left")}
    return {
        "now": NOW.isoformat(),
        "hour": hour,
        "action": {"kind": kind, "eyes": ["right", "left"]},
        "lens": {"right": {"state": lens}, "left": {"state": lens}},
        "answer": {"wearer": answer, "reasons": reasons, "meets_target": None, "holds_until": None, "eyes": eyes},
        "holds": [],
        "may": ["write_diary"],
        "alert": None,
        "curve": None,
        "forecast": None,
        "check": {"when": "now", "why": "lasting"} if kind == "sight" else None,
        "surprises": [],
        "look": None,
        **changes,
    }


@pytest.mark.parametrize(
    ("shown", "headline", "reason"),
    [
        (view("lenses_in", "wear"), "Lenses in tonight.", "The plan is to wear them."),
        (view("none", "wear", lens="in"), "Lenses are in. Sleep well.", "Tap here in the morning"),
        (view("lenses_out", "wear", "morning", "in"), "Good morning. Lenses out.", "First drops"),
        (view("sight", "wear", "morning"), "How well do you see without glasses?", "One look"),
        (view("none", "do_not_wear"), "No lenses for now.", "A report is still open."),
        (view("sight", "do_not_wear", "morning"), "No lenses for now.", "A report is still open."),
        (view("none", "do_not_wear", holds=[{"reason": "illness"}]), "No lenses for now.", "Lenses rest during"),
    ],
    ids=lambda one: "" if isinstance(one, dict) else None,
)
def test_the_sentence_fits_the_hour(shown: dict[str, Any], headline: str, reason: str) -> None:
    page = tonight_page(shown, SAY)
    assert page.headline == headline
    assert page.reason.startswith(reason)


def test_H12_a_hold_is_said_even_while_a_lens_is_in() -> None:
    page = tonight_page(view("lenses_out", "do_not_wear", "night", "in"), SAY)
    assert "open" in page.reason


def test_eyes_that_differ_are_said_one_by_one() -> None:
    shown = view("lenses_in", "per_eye")
    shown["answer"]["eyes"] = {
        "right": {"answer": "do_not_wear", "reasons": [{"key": "open_hold", "values": {"level": 3}}]},
        "left": {"answer": "wear", "reasons": [{"key": "below_target", "values": {}}]},
    }
    lines = tonight_page(shown, SAY).eye_lines
    assert [(one.eye, one.answer) for one in lines] == [("right", "no lens for now"), ("left", "lens in tonight")]
