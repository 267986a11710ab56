"""What the family's templates may say beside the house's words: triage, sight, nights, places."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import UTC, date, datetime, time
from functools import partial
from typing import Any

from flask import Flask, request, url_for
from markupsafe import Markup

from companion.diary.sight import word_for
from companion.phrasebook import diary_words, tonight_words, triage_words
from companion.phrasebook.phrases import Customs, Phrases
from companion.phrasebook.result_words import time_and_day
from companion.phrasebook.triage_questions import PICTURES
from companion.triage.rules import UNSURE, load_rules
from companion.web import context
from companion.web.safety_voice import voice


def page_words(page_id: str, young: bool = False) -> Markup:
    """Say the heading of a page of questions. ``young``, here and below: as to a young wearer alone."""
    return voice().say(partial(triage_words.page_text, page_id=page_id, young=young))


def page_title(page_id: str, young: bool = False) -> str:
    """Say the same for the browser's title bar, once."""
    return triage_words.page_text(voice().phrases, page_id, young)


def intro_words(key: str, young: bool = False) -> Markup:
    return voice().say(partial(triage_words.introduction_text, key=key, young=young))


def question_words(question_id: str, young: bool = False) -> Markup:
    return voice().say(partial(triage_words.question_text, question_id=question_id, young=young))


def hint_words(question_id: str, young: bool = False) -> Markup | None:
    if triage_words.hint_text(context.phrases(), question_id, young) is None:
        return None
    return voice().say(lambda phrases: triage_words.hint_text(phrases, question_id, young) or "")


def pictures(question_id: str) -> list[tuple[str, str, Markup]]:
    """Return the drawings of a question: their file, what they show in words, what stands below."""
    return [
        (
            f"pictures/{question_id}-{option}.svg",
            triage_words.picture_in_words(voice().phrases, question_id, option),
            voice().say(partial(triage_words.picture_text, question_id=question_id, option=option)),
        )
        for option in PICTURES.get(question_id, ())
    ]


def option_words(question_id: str, young: bool = False) -> list[tuple[str, Markup]]:
    """Return the options of a question with their words, *not sure* last."""
    options = (*load_rules().questions[question_id].options, UNSURE)
    words = partial(triage_words.option_text, question_id=question_id, young=young)
    return [(one, voice().say(partial(words, option=one))) for one in options]


def level_words(level: int) -> str:
    """Say how urgent a report is where it is only named, as in the diary."""
    return triage_words.level_word(context.phrases(), level)


def vital_level(level: int) -> Markup:
    """Say how urgent it is on the page that says what to do."""
    return voice().say(partial(triage_words.level_word, level=level))


def level_title(level: int) -> str:
    """Say the same for the browser's title bar, once."""
    return triage_words.level_word(voice().phrases, level)


def eye_words(eyes: Sequence[str]) -> str:
    return context.phrases().say(tonight_words.EYES["both" if len(eyes) == 2 else eyes[0]])


def sight_words(word: str) -> str:
    return context.phrases().say(tonight_words.SIGHT[word])


def sight_word_of(logmar: float) -> str:
    return word_for(logmar).value


def sight_choices() -> list[tuple[str, str]]:
    """Return the words for sight, each with what it is like."""
    return list(tonight_words.SIGHT_HINTS.items())


def entry_words(kind: str, payload: Mapping[str, Any]) -> str:
    return diary_words.entry_text(context.phrases(), kind, payload)


def kind_words(kind: str, eyes: str | None = None) -> str:
    tap = diary_words.TAPS.get((kind, eyes or ""))
    return context.phrases().say(tap or diary_words.KINDS[kind])


def night_words(state: str) -> str:
    return context.phrases().say(diary_words.NIGHT_STATES[state])


def ask_words(code: str) -> str:
    return context.phrases().say(diary_words.ODDITIES[code])


def moment_words(moment: str) -> str:
    """Say a time, with its day where that is not today."""
    return time_and_day(context.phrases(), moment, context.now())


def device_words(agent: str) -> str:
    """Say what kind of device a browser says it runs on. It names no maker, and may be wrong."""
    gettext = context.phrases().gettext
    tablet = "iPad" in agent or "Tablet" in agent or ("Android" in agent and "Mobile" not in agent)
    if tablet:
        return gettext("A tablet")
    if "Mobile" in agent or "iPhone" in agent:
        return gettext("A phone")
    return gettext("A computer") if "Mozilla" in agent else gettext("A browser")


def clock_of(text: str) -> str:
    """Say a time of day that is written as HH:MM."""
    return context.phrases().time(datetime.combine(date(2000, 1, 1), time.fromisoformat(text), UTC), UTC)


def half_past_nine() -> str:
    """Say 21:30 by a clock of 12 hours, as an example."""
    return Phrases(context.language(), Customs("h12")).time(datetime(2000, 1, 1, 21, 30, tzinfo=UTC), UTC)


def territory_name(country: str) -> str:
    return str(context.phrases().locale.territories.get(country, country))


def country_address(country: str) -> str:
    """Return the address of this page with another place picked."""
    return url_for(str(request.endpoint), **{**(request.view_args or {}), "country": country})


def language_address(tag: str) -> str:
    """Return the address of this page in another language."""
    return url_for(str(request.endpoint), **{**(request.view_args or {}), **request.args, "lang": tag})


def install(app: Flask) -> None:
    words = (
        page_words, intro_words, question_words, hint_words, option_words, pictures, level_words, eye_words,
        sight_words,
        sight_word_of, sight_choices, entry_words, kind_words, night_words, ask_words, moment_words,
        device_words, clock_of, half_past_nine, territory_name, country_address, language_address,
        page_title, vital_level, level_title,
    )  # fmt: skip
    app.jinja_env.globals.update({one.__name__: one for one in words})
    app.jinja_env.globals["level_shape"] = triage_words.level_shape
