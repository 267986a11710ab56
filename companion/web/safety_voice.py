"""How this page says the safety text: in the reader's language, with the English beside, or in English alone.

A view says whose practice it is about (``about``); a page about no practice speaks as to a stranger. Templates say
each safety sentence with ``vital(...)``; everything else stays in the reader's language.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any, cast

from flask import Flask, g
from markupsafe import Markup, escape
from sqlalchemy.orm import Session

from companion.phrasebook import emergency_words, photo_words
from companion.phrasebook.languages import ENGLISH
from companion.phrasebook.marks import InContext
from companion.phrasebook.phrases import Phrases
from companion.phrasebook.safety_text import NOTES, Speech, speech_of
from companion.usecases import languages
from companion.web import context

_ENGLISH = Markup('<span class="{}" lang="en" dir="ltr">{}</span>')


@dataclass(frozen=True)
class Voice:
    speech: Speech
    phrases: Phrases
    """In which safety text is said."""
    beside: Phrases | None = None
    """In which it is said once more."""

    @property
    def held(self) -> bool:
        """The reader may not be able to read this: numbers come first."""
        return self.speech is Speech.HELD

    @property
    def note(self) -> str | None:
        """What the page says about its safety text, in the reader's language."""
        words = NOTES.get(self.speech)
        language = context.language().own_name
        return context.phrases().say(words, language=language) if words else None

    def say(self, words: Callable[[Phrases], str]) -> Markup:
        """Say one sentence, marked as English where it is and the page is not."""
        said = escape(words(self.phrases))
        if self.held:
            return _ENGLISH.format("in-english", said)
        if self.beside is None:
            return said
        return said + " " + _ENGLISH.format("beside", words(self.beside))


def about(session: Session, practice_ids: Iterable[str]) -> Voice:
    """Speak on this page as families of these practices are spoken to."""
    ids = set(practice_ids)
    if ids:
        g.voice = _voice(languages.speech(session, ids, context.language(), context.house().settings.demo))
    return voice()


def voice() -> Voice:
    """Return the page's voice; a stranger's, who has the English beside, until a view said otherwise."""
    if "voice" not in g:
        g.voice = _voice(speech_of(context.language(), signed=False, demo=True))
    return cast(Voice, g.voice)


def _voice(speech: Speech) -> Voice:
    english = Phrases(ENGLISH)
    if speech is Speech.HELD:
        return Voice(speech, english)
    return Voice(speech, context.phrases(), english if speech is Speech.BESIDE else None)


def vital(marked: str | InContext, **values: Any) -> Markup:
    """Say a sentence of the safety text, from a table of the phrasebook."""
    return voice().say(lambda phrases: phrases.say(marked, **values))


def install(app: Flask) -> None:
    words = {"emergency_words": emergency_words, "photo_words": photo_words}
    app.jinja_env.globals.update(vital=vital, voice=voice, **words)
