"""Triage in words for a family: questions, options, hints, levels, reasons, lens instructions and advice.

Owns the sentences of `triage/rules.json`, by its ids; decides nothing. Right and left are the wearer's own.
Drafted for a reader of ten years; neither a clinician nor a linguist has reviewed them yet.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

from companion.common.eyes import Eye
from companion.phrasebook import young_words
from companion.phrasebook.marks import N_, NP_, InContext
from companion.phrasebook.phrases import Phrases
from companion.phrasebook.triage_advice import ADVICE, LENS, WHY
from companion.phrasebook.triage_questions import (
    HINTS,
    OPTIONS,
    PAGES,
    PICTURES,
    PICTURES_IN_WORDS,
    QUESTIONS,
    UNSURE_WORD,
)
from companion.triage.rules import UNSURE, load_rules


class LevelWords(NamedTuple):
    word: InContext
    shape: str
    """The outline that the level's number stands in; each level has its own."""


LEVELS: Mapping[int, LevelWords] = {
    # note: How urgent, in two to five words, after the numbers 5 (most urgent) to 1.
    5: LevelWords(NP_("urgency", "Go now"), "octagon"),
    4: LevelWords(NP_("urgency", "Be seen today"), "diamond"),
    3: LevelWords(NP_("urgency", "Be seen within a day"), "circle"),
    2: LevelWords(NP_("urgency", "Be seen in a few days"), "square"),
    1: LevelWords(NP_("urgency", "Watch at home"), "line"),
}

INTRODUCTIONS: Mapping[str, str] = {
    "danger": N_("Has something splashed in, cut or stuck in the eye? Then read the red box first."),
    # note: Said before the questions; "it" is the contact lens.
    "lens_out": N_("Is the lens still in? Take it out now if it moves with ease and the eye is not cut."),
    "right_now": N_("Answer for right now, with the lens out."),
    "own_eye": N_("Right means the wearer's own right eye: the side of the right hand."),
    "both_eyes": N_("Look at both eyes. Answer for each."),
    "unsure": N_("Not sure? Tap “Not sure”. We then take care, as if it were there."),
    "child": N_("Ask the child. Can the child not say? Tap “Not sure”."),
}


def page_text(phrases: Phrases, page_id: str, young: bool = False) -> str:
    """Say the heading of one page of questions. ``young``, here and below: as to a young wearer alone."""
    return phrases.say((young and young_words.PAGES.get(page_id)) or PAGES[page_id])


def introduction_text(phrases: Phrases, key: str, young: bool = False) -> str:
    """Say one of the lines that stand before the questions."""
    return phrases.say((young and young_words.INTRODUCTIONS.get(key)) or INTRODUCTIONS[key])


def question_text(phrases: Phrases, question_id: str, young: bool = False) -> str:
    return phrases.say((young and young_words.QUESTIONS.get(question_id)) or QUESTIONS[question_id])


def hint_text(phrases: Phrases, question_id: str, young: bool = False) -> str | None:
    """Say how to find the answer, where that needs saying."""
    hint = (young and young_words.HINTS.get(question_id)) or HINTS.get(question_id)
    return phrases.say(hint) if hint else None


def picture_text(phrases: Phrases, question_id: str, option: str) -> str:
    """Say what stands below a drawing."""
    return phrases.say(PICTURES[question_id][option])


def picture_in_words(phrases: Phrases, question_id: str, option: str) -> str:
    """Say what a drawing shows."""
    return phrases.say(PICTURES_IN_WORDS[question_id][option])


def option_text(phrases: Phrases, question_id: str, option: str, young: bool = False) -> str:
    if option == UNSURE:
        return phrases.say(UNSURE_WORD)
    mine = young_words.OPTIONS.get(question_id, {}).get(option) if young else None
    return phrases.say(mine or OPTIONS[question_id][option])


def why_text(phrases: Phrases, rule_id: str) -> str:
    """Say why a rule (or the modifier, ``M1``) fires."""
    return phrases.say(WHY[rule_id])


def level_word(phrases: Phrases, level: int) -> str:
    return phrases.say(LEVELS[level].word)


def level_shape(level: int) -> str:
    """Return the name of the level's outline."""
    return LEVELS[level].shape


def lens_text(phrases: Phrases, instruction: str, eye: Eye) -> str:
    """Say the one lens instruction of an eye; the eye is named in it."""
    return phrases.say(LENS[instruction][eye])


def advice_text(phrases: Phrases, key: str, eyes: tuple[Eye, ...] = (), **values: Any) -> str:
    """Say one piece of advice, naming the eye where it is about one alone.

    values: put in place of the rule file's own numbers.
    """
    numbers = {name: phrases.number(number) for name, number in _ADVICE_NUMBERS[key].items()}
    advice = phrases.say(ADVICE[key], **{**numbers, **values})
    if len(eyes) != 1:
        return advice
    if eyes[0] == Eye.RIGHT:
        # note: %(advice)s is one or more whole sentences.
        return phrases.gettext("Right eye: %(advice)s", advice=advice)
    # note: %(advice)s is one or more whole sentences.
    return phrases.gettext("Left eye: %(advice)s", advice=advice)


_ADVICE_NUMBERS = {step.key: step.values for step in load_rules().advice}
