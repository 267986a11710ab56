"""The sentences that could hurt somebody if they were wrong: which they are, their version, who has reviewed them.

They are written once, in English. Their version is a hash over them, so that one changed word makes every review
of an older text stale, in every language. What reviews there are is data: ``translations/reviews.json`` for those
that come with the app; a practice's own are in its store.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from io import BytesIO
from pathlib import Path

from babel.messages.extract import extract

from companion.phrasebook import tonight_words
from companion.phrasebook.languages import ENGLISH, TRANSLATIONS, Language, catalogue, is_built
from companion.phrasebook.marks import KEYWORDS, N_, InContext

MODULES = (
    *("emergency_words", "triage_questions", "triage_advice", "triage_words", "result_words"),
    "handling_words",
    "look_words",
    "red_flags",
    "young_words",
    "photo_words",
    "message_words",
)
"""Every sentence of these is safety text; of *Tonight*, the answers and their reasons."""


class Speech(StrEnum):
    """How a reader gets the safety text."""

    REVIEWED = "reviewed"
    """In their language, which somebody answers for."""
    SOURCE = "source"
    """In English, as it was written; no review of this text is on file."""
    BESIDE = "beside"
    """In their language, with the English beside each sentence."""
    HELD = "held"
    """In English, and numbers to call first: nobody at the practice has answered for their language."""


NOTES: Mapping[Speech, str] = {
    # note: About the sentences on this page. %(language)s is the language's own name.
    Speech.SOURCE: N_("No clinician has reviewed the advice on this page yet."),
    Speech.BESIDE: N_(
        "No clinician has reviewed the advice on this page in %(language)s yet. The English stands beside it."
    ),
    Speech.HELD: N_(
        "No clinician has reviewed this advice in %(language)s yet, so it is in English. "
        "Can you not read it? Call one of these numbers."
    ),
}


@dataclass(frozen=True)
class Sentence:
    context: str | None
    text: str
    """In English; the plural where there are two forms."""


@cache
def sentences() -> tuple[Sentence, ...]:
    """Return every sentence of the safety text, in the order in which it stands in the source."""
    found: dict[Sentence, None] = {}
    for module in MODULES:
        source = (Path(__file__).parent / f"{module}.py").read_bytes()
        for _, message, _, context in extract("python", BytesIO(source), KEYWORDS):
            found[Sentence(context, message if isinstance(message, str) else message[-1])] = None
    for table in (tonight_words.ANSWERS, tonight_words.EYE_ANSWERS, tonight_words.REASONS):
        for said in table.values():
            one = Sentence(said.context, said.text) if isinstance(said, InContext) else Sentence(None, said)
            found[one] = None
    found[Sentence(None, tonight_words.ILLNESS_REASON)] = None
    return tuple(found)


@cache
def text_version() -> str:
    """Return the version of the safety text as it is now. Moving a sentence is no change; a changed word is."""
    return version_of(sentences())


def version_of(text: tuple[Sentence, ...]) -> str:
    written = sorted(f"{one.context or ''}\x04{one.text}" for one in text)
    return hashlib.sha256("\x00".join(written).encode()).hexdigest()[:12]


def translation_of(language: Language, sentence: Sentence) -> str:
    """Return a sentence as it stands in the catalogue, its values not filled in."""
    spoken = catalogue(language)
    if sentence.context:
        return str(spoken.pgettext(sentence.context, sentence.text))
    return spoken.gettext(sentence.text)


@cache
def reviews() -> Mapping[str, Mapping[str, object]]:
    """Return of each language's text: who wrote it, whether it is finished, who reviewed which version."""
    found: Mapping[str, Mapping[str, object]] = json.loads((TRANSLATIONS / "reviews.json").read_text("utf-8"))
    return found


REVIEWERS = ("translator", "reviser", "clinician")
"""Who must have signed a text: a medical translator, a second person, an eye clinician who grew up with it."""


def released(language: Language, version: str, known: Mapping[str, Mapping[str, object]]) -> bool:
    """Say whether a language's text of that version has every review, so that any practice may show it."""
    signed = known.get(language.tag, {}).get("reviews", ())
    needed = REVIEWERS[2:] if language == ENGLISH else REVIEWERS
    return isinstance(signed, list) and any(
        one.get("text_version") == version and all(one.get(who) for who in needed) for one in signed
    )


def speech_of(language: Language, *, signed: bool, demo: bool) -> Speech:
    """Decide how a reader gets the safety text.

    signed: their practice answers for this version in this language. demo: nobody's eye depends on it.
    """
    if language.pseudo or signed or released(language, text_version(), reviews()):
        return Speech.REVIEWED
    if language == ENGLISH:
        return Speech.SOURCE
    return Speech.BESIDE if demo and is_built(language) else Speech.HELD
