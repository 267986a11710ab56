"""*Something is wrong* in words for the phone's script: keys for the same sentences that the server's pages say.

Owns the keys; the sentences stand in the tables of triage, the first advice and the result. ``WORDS`` is a part of
the script's table of words. ``safety_of`` says how a reader who is known to no practice gets the safety text
among them, and its English, which goes with each language that nobody answers for yet: so the phone can put it
beside, or instead, with no network.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from companion.common.eyes import EYES
from companion.phrasebook import (
    emergency_words,
    problems_forms,
    result_words,
    tonight_words,
    triage_advice,
    triage_questions,
    triage_words,
)
from companion.phrasebook.languages import ENGLISH, Language
from companion.phrasebook.marks import N_, InContext
from companion.phrasebook.phrases import Phrases
from companion.phrasebook.safety_text import NOTES, Speech, speech_of
from companion.triage.rules import UNSURE

Words = Mapping[str, str | InContext]


def _keyed(prefix: str, table: Mapping[Any, str | InContext]) -> dict[str, str | InContext]:
    return {f"{prefix}.{key}": words for key, words in table.items()}


_YES_NO = triage_questions.OPTIONS["spot"]

SAFETY: Words = {
    **_keyed("first", emergency_words.FIRST),
    **_keyed("go", emergency_words.GO),
    **_keyed("eye", emergency_words.EYE_ASKED),
    "local_number": emergency_words.LOCAL_NUMBER,
    "limits": emergency_words.LIMITS,
    **_keyed("page", triage_questions.PAGES),
    **_keyed("intro", triage_words.INTRODUCTIONS),
    **_keyed("question", triage_questions.QUESTIONS),
    **_keyed("hint", triage_questions.HINTS),
    **{
        f"option.{question}.{option}": words
        for question, options in triage_questions.OPTIONS.items()
        if options is not _YES_NO
        for option, words in options.items()
    },
    # What many questions offer stands once.
    **_keyed("option", _YES_NO),
    f"option.{UNSURE}": triage_questions.UNSURE_WORD,
    **{f"level.{level}": words.word for level, words in triage_words.LEVELS.items()},
    **_keyed("why", triage_advice.WHY),
    **{
        f"lens.{instruction}.{eye.value}": said[eye]
        for instruction, said in triage_advice.LENS.items()
        for eye in EYES
    },
    **_keyed("advice", triage_advice.ADVICE),
    # note: %(advice)s is one or more whole sentences.
    "advice_for.right": N_("Right eye: %(advice)s"),
    # note: %(advice)s is one or more whole sentences.
    "advice_for.left": N_("Left eye: %(advice)s"),
    **_keyed("not_told", result_words.NOT_TOLD),
    "duty.not_told": result_words.DUTY["not_told"],
    **_keyed("deed", result_words.FIRST_DEEDS),
}
"""Safety text: said in English, or with the English beside, where nobody answers for the language."""

AROUND: Words = {
    **_keyed("note", {speech.value: words for speech, words in NOTES.items()}),
    "wrong.title": N_("Something is wrong"),
    "wrong.page": N_("Page %(number)s of %(count)s"),
    "wrong.one_more": N_("One more tap is needed"),
    "wrong.all_needed": N_("Each question on this page needs an answer. What you tapped is still here."),
    "wrong.choose": problems_forms.SENTENCES["choice_missing"],
    "wrong.next": N_("Next"),
    "wrong.show": N_("Show what to do"),
    "wrong.back": N_("Back"),
    "wrong.both": N_("The other eye too? Start again with both"),
    "wrong.advice": N_("Emergency advice"),
    "wrong.call": N_("Call %(number)s"),
    "wrong.call_practice": N_("Call %(practice)s"),
    "wrong.change_place": N_("Change the place:"),
    "wrong.choose_place": N_("Choose the place where you are"),
    "wrong.place": N_("The number follows the place where you are, not the language."),
    "wrong.no_one_told": N_("You are not signed in. You get advice, but your practice is not told: phone them."),
    "wrong.not_told": N_("Your practice is not told. Phone them."),
    "wrong.nothing_kept": N_("Nothing of this was kept."),
    "wrong.what": N_("What to do"),
    "wrong.why": N_("Why"),
    "wrong.level": N_("Level %(level)s:"),
    "wrong.told": N_("Who has been told"),
    # note: A report that was made without a network. "Them" is the practice.
    "wrong.saved": N_("Saved on this phone. Not sent yet: phone them now."),
    "wrong.unsaved": N_("This phone could not keep the report. Phone your practice now."),
    "wrong.sent": N_("Sent to the practice."),
    "wrong.follow": N_("See who has been told"),
    "wrong.again": N_("Worse, or something new? Report again"),
    "wrong.in_english": N_("Show in English"),
    **_keyed("wrong.eyes", tonight_words.EYES),
}
"""What stands around it, in the reader's language always."""

WORDS: Words = {**SAFETY, **AROUND}


def safety_of(language: Language) -> dict[str, Any]:
    """Return how a stranger gets the safety text in ``language``, and its English where it is wanted."""
    speech = speech_of(language, signed=False, demo=True)
    english = Phrases(ENGLISH)
    wanted = speech in (Speech.BESIDE, Speech.HELD)
    return {
        "speech": speech.value,
        "own_name": language.own_name,
        "english": {key: unfilled(english, words) for key, words in SAFETY.items()} if wanted else {},
    }


def unfilled(phrases: Phrases, words: str | InContext) -> str:
    """Return a sentence as it stands before its values are filled in."""
    if isinstance(words, InContext):
        return phrases.sentence(words.text, words.context)
    return phrases.sentence(words)
