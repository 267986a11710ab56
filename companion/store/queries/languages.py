"""What a practice signed about the safety text in a language: the newest; of two at one instant the stricter."""

from __future__ import annotations

from sqlalchemy import select
from sqlalchemy.orm import Session

from companion.store.models import PracticeLanguage


def word_on(session: Session, practice_id: str, language: str, text_version: str) -> PracticeLanguage | None:
    """Return the practice's last word on this text in this language, if it has given one."""
    return session.scalar(
        select(PracticeLanguage)
        .where(
            PracticeLanguage.practice_id == practice_id,
            PracticeLanguage.language == language,
            PracticeLanguage.text_version == text_version,
        )
        .order_by(PracticeLanguage.signed_at.desc(), PracticeLanguage.open, PracticeLanguage.id)
        .limit(1)
    )


def last_word(session: Session, practice_id: str, language: str) -> PracticeLanguage | None:
    """Return its last word on any version of the text."""
    return session.scalar(
        select(PracticeLanguage)
        .where(PracticeLanguage.practice_id == practice_id, PracticeLanguage.language == language)
        .order_by(PracticeLanguage.signed_at.desc(), PracticeLanguage.open, PracticeLanguage.id)
        .limit(1)
    )
