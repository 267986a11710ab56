"""The first step of a practice: the row itself, and the link by which its manager joins."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from babel import Locale
from sqlalchemy.orm import Session

from companion.access import Role
from companion.common.errors import InvalidInput, Problem
from companion.store.models import Practice
from companion.usecases.forms import Reading
from companion.usecases.invitations import write_invitation
from companion.usecases.logins import phone_number

USUAL_HOURS = {day: [["08:30", "18:00"]] for day in ("mon", "tue", "wed", "thu", "fri")}


def found_practice(session: Session, form: Mapping[str, str], now: datetime) -> str:
    """Add a practice and return the token of its manager's invitation.

    Asked by whoever runs the machine, not by a person of the app: there is nobody yet who could be asked for.
    """
    read = Reading(form)
    name = read.text("name", longest=120)
    where = read.zone("zone", default="")
    country = read.text("country", longest=2)
    dialled = read.text("phone", longest=30)
    manager = read.text("manager", longest=80)
    read.finish()
    if country not in Locale("en").territories or not country.isalpha():
        raise InvalidInput(Problem("country_unknown", "country"))
    phone = phone_number(dialled, [country])
    if phone is None:
        raise InvalidInput(Problem("phone_unknown", "phone"))
    practice = Practice(
        name=name,
        zone=where,
        country=country,
        phone=phone,
        opening_hours=USUAL_HOURS,
        alerts_on=False,  # until somebody there has answered a test
        created_at=now,
    )
    session.add(practice)
    session.flush()
    token = write_invitation(session, practice.id, Role.MANAGER, manager, "en", now, invited_by=None)
    session.commit()
    return token
