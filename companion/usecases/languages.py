"""In which languages a practice's families read the safety text: what is signed, and a manager's signature."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy.orm import Session

from companion.access import Action
from companion.common.errors import InvalidInput, Problem
from companion.common.moments import zone
from companion.phrasebook.languages import LANGUAGES, Language
from companion.phrasebook.safety_text import Speech, released, reviews, speech_of, text_version
from companion.store.models import Person, PracticeLanguage
from companion.store.queries.languages import last_word, word_on
from companion.usecases.actor import Actor, practice_for
from companion.usecases.audit import note
from companion.usecases.forms import Reading
from companion.usecases.showing import iso


def speech(session: Session, practice_ids: Iterable[str], language: Language, demo: bool) -> Speech:
    """Decide how families of these practices read the safety text in ``language``: as the strictest has it."""
    words = [word_on(session, one, language.tag, text_version()) for one in practice_ids]
    signed = bool(words) and all(word is not None and word.open for word in words)
    return speech_of(language, signed=signed, demo=demo)


def languages(session: Session, actor: Actor, tags: Sequence[str]) -> dict[str, Any]:
    """Each language offered here, and the practice's last word on it."""
    practice = practice_for(session, actor, Action.MANAGE_PRACTICE)
    where, version = zone(practice.zone), text_version()
    shown = []
    for language in (LANGUAGES[tag] for tag in tags if not LANGUAGES[tag].pseudo):
        word = last_word(session, practice.id, language.tag)
        current = word is not None and word.text_version == version
        shown.append(
            {
                "tag": language.tag,
                "released": released(language, version, reviews()),
                "open": bool(word and current and word.open),
                "stale": bool(word and not current),
                "reviewer": word.reviewer if word else None,
                "reviewer_role": word.reviewer_role if word else None,
                "signed_by": session.get_one(Person, word.signed_by).name if word else None,
                "signed_at": iso(word.signed_at, where) if word else None,
            }
        )
    return {"version": version, "languages": shown}


def sign(session: Session, actor: Actor, form: Mapping[str, str], now: datetime) -> None:
    """Sign that somebody has read the safety text in a language, so that families read it; or lock it again."""
    practice = practice_for(session, actor, Action.MANAGE_PRACTICE)
    read = Reading(form)
    tag = read.choice("language", [one.tag for one in LANGUAGES.values() if not one.pseudo])
    locks = form.get("deed") == "lock"
    reviewer, role = ("", "") if locks else (read.text("reviewer", 120), read.text("reviewer_role", 120))
    read.finish()
    if not locks and form.get("confirmed") != "yes":
        raise InvalidInput(Problem("confirm_missing", "confirmed"))
    # The text may have changed under the reader's eyes: nobody signs what they have not seen.
    if not locks and form.get("text_version") != text_version():
        raise InvalidInput(Problem("text_changed", "language"))
    row = PracticeLanguage(
        practice_id=practice.id, language=tag, text_version=text_version(), open=not locks,
        reviewer=reviewer, reviewer_role=role, signed_by=actor.person_id, signed_at=now,
    )  # fmt: skip
    session.add(row)
    session.flush()
    note(session, practice.id, actor.person_id, "lock" if locks else "sign", "language", row.id, now)
    session.commit()
