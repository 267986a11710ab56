"""The words that templates may use. Everything a page says goes through here into the reader's language."""

from __future__ import annotations

from datetime import date, time
from typing import Any

from flask import Flask
from markupsafe import Markup, escape

from companion.common.errors import Problem
from companion.common.ids import new_id
from companion.common.moments import parse_instant, zone
from companion.phrasebook.languages import LANGUAGES
from companion.phrasebook.marks import InContext
from companion.phrasebook.problems import problem_text
from companion.web import context

LAMP_FROM, LAMP_UNTIL = time(19), time(7)
"""The evening and the night [local time]: by lamp, whatever the device prefers."""


def gettext(message: str, **values: Any) -> Markup:
    return _filled(context.phrases().sentence(message), values)


def ngettext(singular: str, plural: str, num: int, **values: Any) -> Markup:
    phrases = context.phrases()
    return _filled(phrases.sentence(singular, plural=plural, num=num), {"num": phrases.number(num), **values})


def pgettext(scope: str, message: str, **values: Any) -> Markup:
    return _filled(context.phrases().sentence(message, scope), values)


def say(marked: str | InContext, **values: Any) -> Markup:
    """Say a sentence from a table of the phrasebook."""
    if isinstance(marked, InContext):
        return pgettext(marked.context, marked.text, **values)
    return gettext(marked, **values)


def problem(one: Problem) -> Markup:
    """Say what is wrong."""
    return escape(problem_text(context.phrases(), one))


def clock(moment: str) -> str:
    """Say the time of day of an instant, in the zone in which it is written."""
    when = parse_instant(moment)
    return context.phrases().time(when, when.tzinfo)


def day(moment: str) -> str:
    """Say the date of an instant or of a night, short, with its weekday."""
    return context.phrases().day(date.fromisoformat(moment[:10]))


def day_word(moment: str, now: str, weekday: bool = False) -> Markup | str:
    """Say the day of an instant as seen from ``now``: today, tomorrow, yesterday, else its weekday and date.

    weekday: its weekday alone, where there is little room and no doubt of the week.
    """
    then = date.fromisoformat(moment[:10])
    near = {0: gettext("today"), 1: gettext("tomorrow"), -1: gettext("yesterday")}
    said = near.get((then - date.fromisoformat(now[:10])).days)
    return said or (context.phrases().short_weekday(then) if weekday else day(moment))


def light(where: str | None = None) -> str:
    """Return how the page is lit: ``lamp``, ``paper``, or ``device`` (as the device prefers).

    Pinned by the person, it stays. Otherwise the evening and the night in the wearer's zone are lit by lamp.
    """
    who = context.visitor()
    if who and who.theme in ("lamp", "paper"):
        return who.theme
    if where:
        local = context.now().astimezone(zone(where)).time()
        if local >= LAMP_FROM or local < LAMP_UNTIL:
            return "lamp"
    return "device"


def number(value: float, pattern: str | None = None) -> str:
    return context.phrases().number(value, pattern)


def _filled(sentence: str, values: dict[str, Any]) -> Markup:
    return escape(sentence) % context.phrases().apart(values)


def install(app: Flask) -> None:
    env = app.jinja_env
    env.trim_blocks = env.lstrip_blocks = True
    env.globals.update(
        _=gettext, gettext=gettext, ngettext=ngettext, pgettext=pgettext, say=say, problem=problem,
        clock=clock, day=day, day_word=day_word, light=light, new_id=new_id, number=number,
    )  # fmt: skip

    @app.context_processor
    def reader() -> dict[str, Any]:
        return {
            "language": context.language(),
            "numbering": context.phrases().numbering,
            "languages": [LANGUAGES[tag] for tag in context.house().settings.languages],
            "visitor": context.visitor(),
        }
