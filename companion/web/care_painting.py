"""What the templates of lens care may say beside the house's words: steps, whys, due dates, ways to a report."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from flask import url_for

from companion.common.eyes import eyes_named
from companion.phrasebook import care_words as words
from companion.phrasebook import handling_words
from companion.phrasebook.tonight_words import EYE_ANSWERS
from companion.web import context


def care_words() -> dict[str, Any]:
    """What every template of lens care gets."""
    return {
        "care": words,
        "handling": handling_words,
        "no_lens": EYE_ANSWERS["do_not_wear"],
        "step_words": step_words,
        "item_words": item_words,
        "due_words": due_words,
        "date_words": date_words,
        "report_address": report_address,
    }


def step_words(step: str, numbers: Mapping[str, int | None]) -> str:
    return words.step_text(context.phrases(), step, numbers)


def item_words(item: str, part: str | None, system: str | None) -> str:
    return words.item_text(context.phrases(), item, part, system)


def due_words(one: Mapping[str, Any], now: str) -> str:
    on = one["due_on"] and date.fromisoformat(one["due_on"])
    return words.due_text(context.phrases(), one["item"], one["state"], on, date.fromisoformat(now[:10]))


def date_words(day: str, now: str) -> str:
    return words.date_text(context.phrases(), date.fromisoformat(day), date.fromisoformat(now[:10]))


def report_address(wearer_id: str, answers: Mapping[str, str], eyes: str) -> str:
    """Return where the report begins, with what handling help knows of the lens of each eye in question."""
    known: dict[str, Any] = {
        f"{eye.value}.{id_}": answer for eye in eyes_named(eyes) for id_, answer in answers.items()
    }
    return url_for("wrong.questions_of", wearer_id=wearer_id, eyes=eyes, **known)
