"""What a practice sets for itself: name, phone, hours, and its own choices of safety."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import datetime
from typing import Any

from sqlalchemy.orm import Session

from companion.access import Action
from companion.common.errors import InvalidInput, Problem
from companion.escalation.duty import WEEKDAYS, OpeningHours
from companion.usecases.actor import Actor, practice_for
from companion.usecases.audit import note
from companion.usecases.forms import Reading
from companion.usecases.logins import phone_number

_SPAN = re.compile(r"\s*([0-9]{1,2}:[0-9]{2})\s*[-–—]\s*([0-9]{1,2}:[0-9]{2})\s*")


def settings(session: Session, actor: Actor) -> dict[str, Any]:
    """The practice's choices as its form shows them."""
    practice = practice_for(session, actor, Action.MANAGE_PRACTICE)
    return {
        "values": {
            "name": practice.name,
            "phone": practice.phone,
            **week_as_text("hours", practice.opening_hours),
            "closed_days": "\n".join(practice.closed_days),
            "handover_age": str(practice.handover_age),
            "illness_holds": "yes" if practice.illness_holds else "no",
            "one_eye_holds_both": "yes" if practice.one_eye_holds_both else "no",
            "triage_on": "yes" if practice.triage_on else "no",
        },
        "zone": practice.zone,
        "days": list(WEEKDAYS),
    }


def save(session: Session, actor: Actor, form: Mapping[str, str], now: datetime) -> None:
    """Set everything that the form holds, or nothing while one field is wrong."""
    practice = practice_for(session, actor, Action.MANAGE_PRACTICE)
    read = Reading(form)
    name = read.text("name", longest=120)
    dialled = read.text("phone", longest=30)
    age = read.whole("handover_age", 12, 18)
    illness = read.choice("illness_holds", ("yes", "no")) == "yes"
    both = read.choice("one_eye_holds_both", ("yes", "no")) == "yes"
    triage = read.choice("triage_on", ("yes", "no")) == "yes"
    problems: list[Problem] = []
    try:
        read.finish()
    except InvalidInput as wrong:
        problems += wrong.problems
    phone = phone_number(dialled, [practice.country]) if dialled else None
    if dialled and phone is None:
        problems.append(Problem("phone_unknown", "phone"))
    weekly, closed = read_week(form, "hours", problems), form.get("closed_days", "").split()
    try:
        OpeningHours.from_plain({}, closed)
    except InvalidInput as wrong:
        problems += [Problem(one.code, "closed_days", one.values) for one in wrong.problems]
    if problems:
        raise InvalidInput(*problems)
    assert phone is not None and age is not None
    practice.name, practice.phone = name, phone
    practice.opening_hours, practice.closed_days = weekly, sorted(set(closed))
    practice.handover_age, practice.triage_on = age, triage
    practice.illness_holds, practice.one_eye_holds_both = illness, both
    note(session, practice.id, actor.person_id, "set", "practice", practice.id, now)
    session.commit()


def week_as_text(prefix: str, weekly: Mapping[str, Any]) -> dict[str, str]:
    """Write a week of hours as the fields of a form: ``08:30-12:30, 14:00-18:00`` a day."""
    spans = {day: weekly.get(day, ()) for day in WEEKDAYS}
    return {
        f"{prefix}_{day}": ", ".join(f"{start}-{end}" for start, end in spans[day]) for day in WEEKDAYS
    }


def read_week(form: Mapping[str, str], prefix: str, problems: list[Problem]) -> dict[str, list[list[str]]]:
    """Read the same back; a problem is named by its field."""
    weekly: dict[str, list[list[str]]] = {}
    for day in WEEKDAYS:
        text = form.get(f"{prefix}_{day}", "").strip()
        if not text:
            continue
        spans = [_SPAN.fullmatch(part) for part in text.split(",")]
        if not all(spans):
            problems.append(Problem("hours_form", f"{prefix}_{day}"))
            continue
        weekly[day] = [[_padded(one[1]), _padded(one[2])] for one in spans if one]
    try:
        OpeningHours.from_plain(weekly)
    except InvalidInput as wrong:
        for one in wrong.problems:
            problems.append(Problem(one.code, f"{prefix}_{one.field.partition('[')[0]}", one.values))
    return weekly


def _padded(clock: str) -> str:
    return clock.rjust(5, "0")
