"""A card with a link: shown once to whoever made it, as a QR code and in words, in the reader's language."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from flask import url_for

from companion.common.moments import parse_instant
from companion.exchange.qr import Qr, qr
from companion.phrasebook.card_words import CARDS, EMERGENCY
from companion.phrasebook.languages import ENGLISH, LANGUAGES, Language
from companion.phrasebook.phrases import Phrases
from companion.web import context


@dataclass(frozen=True)
class Card:
    language: Language
    link: str
    qr: Qr
    heading: str
    line: str
    how: Sequence[str]
    steps_heading: str | None
    steps: Sequence[str]
    until: str
    phone: str
    call: str
    emergency: str


def card(
    kind: str, endpoint: str, token: str, language: str, name: str, practice: dict[str, str], until: str,
    wearer: str = "",
) -> Card:  # fmt: skip
    """Make the card of a fresh token. ``until`` is the instant after which the link is worth nothing."""
    spoken = LANGUAGES.get(language, ENGLISH)
    phrases, words = Phrases(spoken), CARDS[kind]
    link = context.house().settings.base_url + url_for(endpoint, token=token)
    values = {"name": name, "practice": practice["name"], "wearer": wearer}
    return Card(
        language=spoken,
        link=link,
        qr=qr(link),
        heading=phrases.say(words.heading, **values),
        line=phrases.say(words.line, **values),
        how=[phrases.say(one) for one in words.how],
        steps_heading=phrases.say(words.steps_heading) if words.steps_heading else None,
        steps=[phrases.say(one) for one in words.steps],
        until=_until(phrases, parse_instant(until)),
        phone=practice["phone"],
        call=phrases.gettext("Phone of the practice"),
        emergency=phrases.say(EMERGENCY),
    )


def _until(phrases: Phrases, when: datetime) -> str:
    """A card is read on another day than it was made: it names the day."""
    day, clock = phrases.day(when.date()), phrases.time(when, when.tzinfo)
    return phrases.gettext("This link works until %(day)s, %(time)s.", day=day, time=clock)
