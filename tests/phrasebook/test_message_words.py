"""A report as a text message: short in every language, and never more than was said."""

from __future__ import annotations

from itertools import product

import pytest

from companion.phrasebook.languages import ARABIC, CHINESE, ENGLISH
from companion.phrasebook.message_words import GO_FROM, WORDS, message_text, parts_of
from companion.phrasebook.phrases import Phrases
from companion.triage.rules import load_rules

LONGEST, USUAL = 420, 300
"""Letters, in both languages together: at worst, and of one eye with its lens out and no name."""
BOTH_AT_4 = {"right": 4, "left": 4}


def test_H3_a_message_says_how_urgent_which_eye_since_when_and_whether_a_lens_is_in() -> None:
    answers = {"general": {}, "right": {"course": "over_1h", "lens": "ok"}, "left": {}}
    said = message_text(Phrases(), 4, parts_of(4, {"right": 4, "left": 1}, answers))
    assert said == (
        "This person sleeps in hard contact lenses. Answers so far say: Be seen today. Right eye. "
        "For more than 1 hour. The lens is out. Please call us."
    )
    named = message_text(Phrases(), 4, (), "Nola")
    assert named.startswith("This is about Nola, who sleeps in hard contact lenses.")


@pytest.mark.parametrize("language", [CHINESE, ARABIC], ids=lambda one: one.tag)
def test_both_languages_of_a_message_are_short(language: object) -> None:
    courses, lenses = (load_rules().questions[one].options for one in ("course", "lens"))
    for level, course, lens, name in product((2, 3, 4, 5), courses, lenses, (None, "Maximiliane")):
        answers = {"right": {"course": course, "lens": lens}, "left": {"course": course, "lens": lens}}
        parts = parts_of(level, {"right": level, "left": level}, answers)
        said = [message_text(Phrases(one), level, parts, name) for one in (language, ENGLISH)]  # type: ignore[arg-type]
        assert len("\n".join(said)) <= LONGEST, said
        assert not {"\N{FIRST STRONG ISOLATE}", "\N{POP DIRECTIONAL ISOLATE}"} & set("".join(said))


@pytest.mark.parametrize("language", [CHINESE, ARABIC], ids=lambda one: one.tag)
def test_a_usual_one_is_shorter_still(language: object) -> None:
    said = [message_text(Phrases(one), 4, ("right", "over_1h", "lens_out")) for one in (language, ENGLISH)]  # type: ignore[arg-type]
    assert len("\n".join(said)) <= USUAL and len(said[1]) <= 160, said


@pytest.mark.parametrize(
    ("answers", "parts"),
    [
        pytest.param({"right": {}, "left": {}}, ("both",), id="nothing-of-an-eye"),
        pytest.param({"right": {"chemical": "other_chem"}}, ("right",), id="an-emergency-ends-the-questions"),
        pytest.param({"right": {"course": "unsure", "lens": "unsure"}}, ("right",), id="not-sure-says-nothing"),
        pytest.param({"left": {"lens": "maybe_in_eye"}}, ("left", "lens_in"), id="lens-lost"),
        pytest.param({"left": {"course": "cleared", "lens": "freed_once"}}, ("left", "lens_out"), id="gone"),
        pytest.param(
            {
                "right": {"course": "under_1h", "lens": "ok"},
                "left": {"course": "over_24h_or_worse", "lens": "stuck_now"},
            },
            ("both", "over_24h_or_worse", "lens_in"),
            id="the-worse-of-two-eyes",
        ),
    ],
)
def test_it_says_what_was_said_and_no_more(answers: dict[str, dict[str, str]], parts: tuple[str, ...]) -> None:
    assert parts_of(4, BOTH_AT_4, answers) == parts


def test_it_is_about_the_eye_that_makes_the_level() -> None:
    answers = {"right": {"lens": "ok"}, "left": {"lens": "stuck_now"}}
    assert parts_of(4, {"right": 2, "left": 4}, answers) == ("left", "lens_in")
    assert parts_of(5, {"right": 2, "left": 4}, answers) == ("both", "lens_in"), "somebody asked for more"
    assert all(one in WORDS for one in parts_of(GO_FROM, BOTH_AT_4, answers))
