"""What a person prefers for themselves: language, clock, digits, size of text, and how their pages are lit."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from sqlalchemy.orm import Session

from companion.common.errors import InvalidInput, Problem
from companion.usecases.actor import Actor, own_account

LIGHTS = ("hour", "paper", "lamp")
"""``hour`` follows the hour at the wearer's place and the device; the others are pinned."""
HOUR_CYCLES = ("usual", "h23", "h12")
DIGITS = ("usual", "latin", "native")
TEXT_SIZES = ("usual", "large", "largest")


def prefer(session: Session, actor: Actor, form: Mapping[str, str], languages: Collection[str]) -> None:
    """Set what the form names and leave the rest as it is."""
    person = own_account(session, actor)
    choices: Mapping[str, Collection[str]] = {
        "language": languages,
        "theme": LIGHTS,
        "hour_cycle": HOUR_CYCLES,
        "digits": DIGITS,
        "text_size": TEXT_SIZES,
    }
    named = {field: form[field] for field in choices if field in form}
    problems = [Problem("choice_unknown", one) for one, picked in named.items() if picked not in choices[one]]
    if problems:
        raise InvalidInput(*problems)
    for field, picked in named.items():
        setattr(person, field, picked)
    session.commit()
