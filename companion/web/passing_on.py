"""A report for somebody without this app: as a text message, and as a page held out to whoever helps.

Both work without a network and without script: a link of the ``sms`` scheme, and an element that opens.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any
from urllib.parse import quote

from markupsafe import Markup, escape

from companion.common.eyes import EYES, Eye
from companion.phrasebook import message_words, triage_words
from companion.phrasebook.languages import ENGLISH
from companion.phrasebook.phrases import Phrases
from companion.web import context
from companion.web.safety_voice import voice

AS_IT_IS = Markup(' translate="no"')
"""The helper's English is for reading as it stands: no browser translates it."""
NOTHING = "none"
"""The lens instruction of an eye about which there is none."""
NOT_WRITTEN_OTHERWISE = "!'()*"
"""So that both painters write one address (ECMAScript: encodeURIComponent)."""


@dataclass(frozen=True)
class PassingOn:
    message: str
    name: str | None
    with_name: str | None
    helper: Sequence[Markup]
    """What a helper reads: in the reader's language and in English."""
    steps: Sequence[Markup]
    """What to do, in the same way."""


def passing_on(
    report: Mapping[str, Any], practice: Mapping[str, Any] | None, name: str | None
) -> PassingOn | None:
    """None where nobody has to be told. Of ``name`` the first goes along, and only by the second link."""
    level = report["level"]
    if level < message_words.FROM_LEVEL:
        return None
    parts = message_words.parts_of(level, report["eyes"], report["answers"])
    number = practice["phone"] if practice else ""
    name = name.split()[0] if name else None
    reader, english = context.phrases(), Phrases(ENGLISH)
    speakers = [english] if voice().held or reader.language == ENGLISH else [reader, english]

    def link(named: str | None) -> str:
        text = "\n".join(message_words.message_text(one, level, parts, named) for one in speakers)
        return sms_link(number, text)

    return PassingOn(
        message=link(None),
        name=name,
        with_name=link(name) if name else None,
        helper=[_both(speakers, words) for words in _helper_says(level, parts)],
        steps=[_both(speakers, words) for words in _steps(report)],
    )


def sms_link(number: str, text: str) -> str:
    """RFC 5724, and the sign between that phones of both families read."""
    return f"sms:{number}?&body={quote(text, safe=NOT_WRITTEN_OTHERWISE)}"


def _helper_says(level: int, parts: Sequence[str]) -> list[Callable[[Phrases], str]]:
    please = message_words.HELPER["go" if level >= message_words.GO_FROM else "call"]
    return [
        lambda phrases: phrases.say(message_words.WORDS["about"]),
        partial(message_words.level_sentence, level=level),
        lambda phrases: " ".join(phrases.say(message_words.WORDS[one]) for one in parts),
        lambda phrases: phrases.say(please),
    ]


def _steps(report: Mapping[str, Any]) -> list[Callable[[Phrases], str]]:
    lenses: list[Callable[[Phrases], str]] = [
        partial(triage_words.lens_text, instruction=report["lens"][eye.value], eye=eye)
        for eye in EYES
        if report["lens"][eye.value] != NOTHING
    ]
    return lenses + [
        partial(triage_words.advice_text, key=one["key"], eyes=tuple(Eye(eye) for eye in one["eyes"]))
        for one in report["advice"]
    ]


def _both(speakers: Sequence[Phrases], words: Callable[[Phrases], str]) -> Markup:
    lines = []
    for one in speakers:
        direction = "rtl" if one.language.right_to_left else "ltr"
        said = escape(words(one))
        line = Markup('<p lang="{}" dir="{}"{}>{}</p>')
        lines.append(line.format(one.language.tag, direction, AS_IT_IS if one.language is ENGLISH else "", said))
    return Markup("").join(lines)
