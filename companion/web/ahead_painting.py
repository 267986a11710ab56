"""What templates may say of the days to come: days that matter, nights off, the first weeks, plans."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import wraps
from typing import Any

from flask import Flask

from companion.phrasebook import ahead_words as words
from companion.phrasebook.phrases import Phrases
from companion.phrasebook.tonight_words import certainty_text
from companion.web import context

IN_WORDS = (
    words.when_text, words.nights_text, words.free_text, words.check_texts, words.note_texts, words.night_rows,
    words.sight_rows, words.worst_sight, words.todo_texts, words.onset_rows, words.nights_count,
    words.weekday_names, words.plan_text, words.rhythm_text,
)  # fmt: skip


def after_texts(missed: Mapping[str, Any]) -> Sequence[str]:
    return words.after_texts(context.phrases(), missed, context.now())


def certainty_words(chance: float) -> str:
    return certainty_text(context.phrases(), chance)


def stopped_words(code: str) -> str:
    return context.phrases().say(words.STOPPED[code])


def driving_words() -> str:
    return context.phrases().say(words.NOTES["driving_not_judged"])


def _for_this_reader(say: Callable[..., Any]) -> Callable[..., Any]:
    @wraps(say)
    def said(*args: Any, **more: Any) -> Any:
        phrases: Phrases = context.phrases()
        return say(phrases, *args, **more)

    return said


def install(app: Flask) -> None:
    app.jinja_env.globals["ahead"] = {
        **{one.__name__: _for_this_reader(one) for one in IN_WORDS},
        **{one.__name__: one for one in (after_texts, certainty_words, stopped_words, driving_words)},
    }
