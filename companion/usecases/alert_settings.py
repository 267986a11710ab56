"""How a practice's alerts climb, which ways are alive, and the switch that lets this app tell anybody at all.

Alerts are switched on only once somebody who works there has answered a test: a promise that nobody has tried is
none. While they are off every report still stands at the desk, and every family is told to phone.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from sqlalchemy.orm import Session

from companion.access import Action
from companion.common.errors import InvalidInput, Problem
from companion.common.moments import zone
from companion.escalation.climb import EVERY_WAY, LADDERS, STEP_BOUNDS, When, ladders_from, within_bounds
from companion.escalation.duty import WEEKDAYS
from companion.store.queries.channels import webhook_of
from companion.usecases.actor import Actor, practice_for
from companion.usecases.audit import note
from companion.usecases.forms import Reading
from companion.usecases.practice_settings import read_week, week_as_text
from companion.usecases.reaching import CHANNELS, on_call_of, plan_lines, rota_of, staff_of
from companion.usecases.showing import iso
from companion.usecases.test_alerts import somebody_has_answered, ways_plain

MOST_LINES = 8
"""How many lines the plan may have."""


def settings(session: Session, actor: Actor, now: datetime) -> dict[str, Any]:
    """The plan as its form shows it, every way to everybody, and the switch."""
    practice = practice_for(session, actor, Action.MANAGE_PRACTICE)
    lines = plan_lines(practice)[:MOST_LINES]
    values = {"contact_minutes": str(practice.contact_minutes), **week_as_text("call", practice.on_call_hours)}
    for number in range(1, MOST_LINES + 1):
        line = lines[number - 1] if number <= len(lines) else None
        values |= {
            f"who_{number}": line.person if line else "",
            f"way_{number}": line.channel if line else EVERY_WAY,
            f"when_{number}": (line.when if line else When.ALWAYS).value,
        }
    for level, ladder in ladders_from(practice.climb_minutes).items():
        values |= {_minutes_field(level, i): str(one) for i, one in enumerate(ladder.after_minutes[1:], 1)}
    return {
        "now": iso(now, zone(practice.zone)),
        "values": values,
        "zone": practice.zone,
        "days": list(WEEKDAYS),
        "lines": list(range(1, min(MOST_LINES, len(lines) + 2) + 1)),
        "channels": [EVERY_WAY, *CHANNELS],
        "whens": [one.value for one in When],
        "minutes": [
            {"level": level, "step": i, "field": _minutes_field(level, i), "low": low, "high": high}
            for level, bounds in sorted(STEP_BOUNDS.items(), reverse=True)
            for i, (low, high) in enumerate(bounds, 1)
        ],
        "people": ways_plain(session, practice, now),
        "has_gateway": webhook_of(session, practice.id) is not None,
        "on_call_unmanned": on_call_of(practice).ever_open and not rota_of(practice).on_call.ever_open,
        "alerts_on": practice.alerts_on,
        "answered": somebody_has_answered(session, practice, now),
    }


def save(session: Session, actor: Actor, form: Mapping[str, str], now: datetime) -> None:
    """Set the plan, the hours on call and the minutes, or nothing while one field is wrong."""
    practice = practice_for(session, actor, Action.MANAGE_PRACTICE)
    read = Reading(form)
    contact = read.whole("contact_minutes", 10, 240)
    minutes = {
        level: [read.whole(_minutes_field(level, i), *ends) for i, ends in enumerate(bounds, 1)]
        for level, bounds in STEP_BOUNDS.items()
    }
    problems: list[Problem] = []
    try:
        read.finish()
    except InvalidInput as wrong:
        problems += wrong.problems
    else:
        problems += [
            Problem("minutes_order", _minutes_field(level, len(steps)))
            for level, steps in minutes.items()
            if not within_bounds(level, [one for one in steps if one is not None])
        ]
    weekly = read_week(form, "call", problems)
    plan = _plan(form, {person.id for person in staff_of(session, practice)}, problems)
    if problems:
        raise InvalidInput(*problems)
    assert contact is not None
    practice.alert_plan, practice.on_call_hours, practice.contact_minutes = plan, weekly, contact
    practice.climb_minutes = {
        str(level): steps for level, steps in minutes.items() if (0, *steps) != LADDERS[level].after_minutes
    }
    note(session, practice.id, actor.person_id, "set_alerts", "practice", practice.id, now)
    session.commit()


def switch(session: Session, actor: Actor, on: bool, confirmed: bool, now: datetime) -> None:
    """Let this app tell people, or let it not. On only once somebody has answered a test, off once confirmed."""
    practice = practice_for(session, actor, Action.MANAGE_PRACTICE)
    if on == practice.alerts_on:
        session.rollback()
        return
    if on and not somebody_has_answered(session, practice, now):
        raise InvalidInput(Problem("nobody_answered", "alerts_on"))
    if not on and not confirmed:
        raise InvalidInput(Problem("confirm_missing", "confirmed"))
    practice.alerts_on = on
    note(session, practice.id, actor.person_id, "alerts_on" if on else "alerts_off", "practice", practice.id, now)
    session.commit()



def _plan(form: Mapping[str, str], staff: set[str], problems: list[Problem]) -> list[dict[str, str]]:
    lines: list[dict[str, str]] = []
    for number in range(1, MOST_LINES + 1):
        who = form.get(f"who_{number}", "")
        way, when = form.get(f"way_{number}", EVERY_WAY), form.get(f"when_{number}", When.ALWAYS)
        for name, value, allowed in (
            ("who", who, ("", *staff)),
            ("way", way, (EVERY_WAY, *CHANNELS)),
            ("when", when, tuple(When)),
        ):
            if value not in allowed:
                problems.append(Problem("choice_unknown", f"{name}_{number}"))
        line = {"person_id": who, "channel": way, "when": str(when)}
        if who and not any((one["person_id"], one["when"]) == (who, when) for one in lines):
            lines.append(line)
    return lines


def _minutes_field(level: int, step: int) -> str:
    return f"minutes_{level}_{step}"
