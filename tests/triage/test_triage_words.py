"""Every id has its words, in every language that we speak, and the words keep to the house's rules."""

import re

import pytest

from companion.common.eyes import EYES, Eye
from companion.phrasebook import triage_words as words
from companion.phrasebook.languages import LANGUAGES, PSEUDO
from companion.phrasebook.phrases import Phrases
from companion.phrasebook.triage_advice import ADVICE, LENS, WHY
from companion.phrasebook.triage_questions import HINTS, OPTIONS, PAGES, QUESTIONS
from companion.triage.evaluate import ASKED, TOLD
from companion.triage.rules import load_rules

RULES = load_rules()
ENGLISH = Phrases()


def everything(phrases):
    """Say all that triage can say."""
    said = [words.introduction_text(phrases, key) for key in words.INTRODUCTIONS]
    said += [words.page_text(phrases, page.id) for page in RULES.pages]
    for question in RULES.questions.values():
        said.append(words.question_text(phrases, question.id))
        said.append(words.hint_text(phrases, question.id) or "-")
        said += [words.option_text(phrases, question.id, option) for option in (*question.options, "unsure")]
    said += [words.why_text(phrases, id_) for id_ in (*(rule.id for rule in RULES.rules), RULES.modifier.id)]
    said += [words.level_word(phrases, level) for level in range(1, 6)]
    said += [words.lens_text(phrases, step.instruction, eye) for step in RULES.lens for eye in EYES]
    for step in RULES.advice:
        said += [words.advice_text(phrases, step.key, eyes) for eyes in ((), (Eye.RIGHT,), (Eye.LEFT,), EYES)]
    return said


@pytest.mark.parametrize("language", LANGUAGES.values(), ids=LANGUAGES.keys())
def test_every_id_has_its_words(language):
    assert all(text.strip() and "%(" not in text for text in everything(Phrases(language)))


def test_no_words_for_what_is_not_asked():
    assert set(QUESTIONS) == set(OPTIONS) == set(RULES.questions)
    assert set(HINTS) <= set(QUESTIONS)
    assert all(tuple(OPTIONS[id_]) == question.options for id_, question in RULES.questions.items())
    assert set(PAGES) == {page.id for page in RULES.pages}
    assert set(ADVICE) == {step.key for step in RULES.advice}
    assert set(LENS) == {step.instruction for step in RULES.lens}
    assert set(WHY) == {rule.id for rule in RULES.rules} | {RULES.modifier.id, ASKED, TOLD}


def test_all_of_it_is_translatable():
    plain = [text for text in everything(Phrases(PSEUDO)) if text != "-" and not text.startswith("[")]
    assert plain == []


def test_each_level_has_a_word_and_an_outline_of_its_own():
    assert len({words.level_word(ENGLISH, level) for level in range(1, 6)}) == 5
    assert len({words.level_shape(level) for level in range(1, 6)}) == 5


def test_H1_nothing_gives_false_comfort_or_blames():
    refused = (
        r"\byou are fine\b|\bsafe\b|\bno infection\b|\byou forgot\b|\bfailed\b|\bdo not worry\b|\bharmless\b"
    )
    assert [text for text in everything(ENGLISH) if re.search(refused, text, re.I)] == []


def test_no_technical_id_leaks_into_the_words():
    assert [text for text in everything(ENGLISH) if re.search(r"\w_\w|\bR\d{3}\b|\bM1\b", text)] == []


def test_sentences_are_short():
    """An action fits in one breath: at most 25 words, most far fewer. Questions may list signs."""
    sentences = [s for text in everything(ENGLISH) for s in re.split(r"(?<=[.?!:])\s", text) if "?" not in s]
    assert [s for s in sentences if len(s.split()) > 25] == []
    assert sum(len(s.split()) for s in sentences) / len(sentences) < 9


def test_numbers_come_from_the_rule_file_and_can_be_replaced():
    assert "20 minutes" in words.advice_text(ENGLISH, "rinse_now")
    assert "4 hours" in words.advice_text(ENGLISH, "call_today")
    assert "2 hours" in words.advice_text(ENGLISH, "call_today", hours=2)


def test_H5_the_exception_to_no_water_is_spelled_out():
    said = words.advice_text(ENGLISH, "rinse_tap_water")
    assert (
        said
        == "Tap water is right for rinsing a splash out of the eye. It is never right for a lens or a case."
    )


def test_H6_the_rinse_steps_say_when_not_to_rinse():
    assert "Do not rinse if something has cut or stuck in the eye." in words.advice_text(ENGLISH, "rinse_now")
    assert "Do not rinse it." in words.advice_text(ENGLISH, "cut_do_not_touch")


def test_H7_advice_about_one_eye_names_it_and_right_is_the_wearer_s_own():
    assert words.advice_text(ENGLISH, "rinse_now", (Eye.LEFT,)).startswith("Left eye: Rinse now.")
    assert words.advice_text(ENGLISH, "rinse_now", EYES).startswith("Rinse now.")
    assert "the wearer's own right eye" in words.introduction_text(ENGLISH, "own_eye")
