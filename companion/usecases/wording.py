"""The words of an outbox row, found when it is sent: for each channel what it can carry."""

from __future__ import annotations

from companion.delivery.base import Message
from companion.phrasebook import push_words
from companion.phrasebook.languages import ENGLISH, LANGUAGES
from companion.phrasebook.mail_words import FAMILY_LETTERS, TEST, letter
from companion.phrasebook.phrases import Phrases
from companion.store.models import Outbox


def in_words(row: Outbox, base_url: str) -> Message:
    """Put a row into words, in the language of whoever it is for. Raises KeyError for a key nobody wrote."""
    language = LANGUAGES.get(row.message["language"], ENGLISH)
    phrases = Phrases(language)
    key, values = row.message["key"], row.message["values"]
    link = base_url.rstrip("/") + _path(key, values)
    brief = push_words.brief(phrases, key)
    subject, text = (brief, brief) if key in push_words.TESTS else letter(phrases, key, values, link)
    return Message(
        address=row.address,
        subject=subject,
        text=text,
        reference=row.id,
        title=push_words.title(phrases),
        brief=brief,
        link=link,
        event=key,
        about=_about(key, values),
        level=values.get("level"),
        language=language.tag,
    )


def _about(key: str, values: dict[str, str]) -> str:
    """What a later message stands in for: never what is said of one child for what is said of another."""
    if key in FAMILY_LETTERS and "wearer_id" in values:
        return f"{key} {values['wearer_id']}"
    return values.get("alert_id") or values.get("alert_test_id") or key


def _path(key: str, values: dict[str, str]) -> str:
    """Where a tap leads: the page that says what to do. To a family it is that of the wearer it is about; where an
    earlier release wrote the message, that is not known, and the family chooses."""
    if key in push_words.TESTS:
        return "/us/alerts"
    if key == TEST:
        return f"/desk/tests/{values['alert_test_id']}"
    if key in FAMILY_LETTERS:
        return f"/w/{values['wearer_id']}/tonight" if "wearer_id" in values else "/tonight"
    return f"/desk/alerts/{values['alert_id']}/take"
