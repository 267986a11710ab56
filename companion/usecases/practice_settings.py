"""What a practice sets for itself: name, phone, hours, how its alerts climb, and its own choices of safety."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from companion.access import Action
from companion.common.errors import InvalidInput, Problem
from companion.escalation.duty import WEEKDAYS, OpeningHours
from companion.store.models import Membership, Person
from companion.usecases.actor import Actor, practice_for
from companion.usecases.audit import note
from companion.usecases.forms import Reading
from companion.usecases.logins import phone_number

MOST_STEPS = 5
"""How many people the order of alerts may name."""
CHANNEL = "mail"
_SPAN = re.compile(r"\s*([0-9]{1,2}:[0-9]{2})\s*[-–—]\s*([0-9]{1,2}:[0-9]{2})\s*")


def settings(session: Session, actor: Actor) -> dict[str, Any]:
    """The practice's choices as its form shows them, and who could be told of an alert."""
    practice = practice_for(session, actor, Action.MANAGE_PRACTICE)
    order = [step["person_id"] for step in practice.alert_plan][:MOST_STEPS]
    return {
        "values": {
            "name": practice.name,
            "phone": practice.phone,
            **{f"hours_{day}": _as_text(practice.opening_hours.get(day, ())) for day in WEEKDAYS},
            "closed_days": "\n".join(practice.closed_days),
            **{f"alert_{i + 1}": order[i] if i < len(order) else "" for i in range(MOST_STEPS)},
            "contact_minutes": str(practice.contact_minutes),
            "handover_age": str(practice.handover_age),
            "illness_holds": "yes" if practice.illness_holds else "no",
            "one_eye_holds_both": "yes" if practice.one_eye_holds_both else "no",
        },
        "zone": practice.zone,
        "days": list(WEEKDAYS),
        "steps": list(range(1, MOST_STEPS + 1)),
        "people": [
            {"id": person.id, "name": person.name, "gets_mail": person.email is not None}
            for person in _staff(session, practice.id)
        ],
    }


def save(session: Session, actor: Actor, form: Mapping[str, str], now: datetime) -> None:
    """Set everything that the form holds, or nothing while one field is wrong."""
    practice = practice_for(session, actor, Action.MANAGE_PRACTICE)
    read = Reading(form)
    name = read.text("name", longest=120)
    dialled = read.text("phone", longest=30)
    contact = read.whole("contact_minutes", 10, 240)
    age = read.whole("handover_age", 12, 18)
    illness = read.choice("illness_holds", ("yes", "no")) == "yes"
    both = read.choice("one_eye_holds_both", ("yes", "no")) == "yes"
    problems: list[Problem] = []
    try:
        read.finish()
    except InvalidInput as wrong:
        problems += wrong.problems
    phone = phone_number(dialled, [practice.country]) if dialled else None
    if dialled and phone is None:
        problems.append(Problem("phone_unknown", "phone"))
    weekly, closed = _hours(form, problems)
    order = _order(form, {person.id for person in _staff(session, practice.id)}, problems)
    if problems:
        raise InvalidInput(*problems)
    assert phone is not None and contact is not None and age is not None
    practice.name, practice.phone = name, phone
    practice.opening_hours, practice.closed_days = weekly, closed
    practice.alert_plan = [{"person_id": one, "channel": CHANNEL} for one in order]
    practice.contact_minutes, practice.handover_age = contact, age
    practice.illness_holds, practice.one_eye_holds_both = illness, both
    note(session, practice.id, actor.person_id, "set", "practice", practice.id, now)
    session.commit()


def _hours(form: Mapping[str, str], problems: list[Problem]) -> tuple[dict[str, list[list[str]]], list[str]]:
    """Read ``08:30-12:30, 14:00-18:00`` a day and one date a line; a problem is named by its field."""
    weekly: dict[str, list[list[str]]] = {}
    for day in WEEKDAYS:
        text = form.get(f"hours_{day}", "").strip()
        if not text:
            continue
        spans = [_SPAN.fullmatch(part) for part in text.split(",")]
        if not all(spans):
            problems.append(Problem("hours_form", f"hours_{day}"))
            continue
        weekly[day] = [[_padded(one[1]), _padded(one[2])] for one in spans if one]
    closed = form.get("closed_days", "").split()
    try:
        OpeningHours.from_plain(weekly, closed)
    except InvalidInput as wrong:
        for one in wrong.problems:
            field = "closed_days" if one.field.startswith("closed") else f"hours_{one.field.partition('[')[0]}"
            problems.append(Problem(one.code, field, one.values))
    return weekly, sorted(set(closed))


def _order(form: Mapping[str, str], staff: set[str], problems: list[Problem]) -> list[str]:
    order: list[str] = []
    for i in range(1, MOST_STEPS + 1):
        picked = form.get(f"alert_{i}", "")
        if picked and picked not in staff:
            problems.append(Problem("choice_unknown", f"alert_{i}"))
        elif picked and picked not in order:
            order.append(picked)
    return order


def _staff(session: Session, practice_id: str) -> list[Person]:
    return list(
        session.scalars(
            select(Person)
            .where(
                Person.id.in_(
                    select(Membership.person_id).where(
                        Membership.practice_id == practice_id, Membership.ended_at.is_(None)
                    )
                )
            )
            .order_by(Person.name, Person.id)
        )
    )


def _as_text(spans: Any) -> str:
    return ", ".join(f"{start}-{end}" for start, end in spans)


def _padded(clock: str) -> str:
    return clock.rjust(5, "0")
