"""What a person prefers for themselves: their language, and how their pages are lit."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from sqlalchemy.orm import Session

from companion.common.errors import InvalidInput, Problem
from companion.store.models import Person
from companion.usecases.actor import Actor

LIGHTS = ("hour", "paper", "lamp")
"""``hour`` follows the hour at the wearer's place and the device; the others are pinned."""


def prefer(session: Session, actor: Actor, form: Mapping[str, str], languages: Collection[str]) -> None:
    """Set what the form names and leave the rest as it is."""
    language, theme = form.get("language", actor.language), form.get("theme", actor.theme)
    problems = [
        Problem("choice_unknown", field)
        for field, picked, allowed in (("language", language, languages), ("theme", theme, LIGHTS))
        if picked not in allowed and field in form
    ]
    if problems:
        raise InvalidInput(*problems)
    person = session.get_one(Person, actor.person_id)
    person.language, person.theme = language, theme
    session.commit()
