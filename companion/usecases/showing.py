"""Small shared pieces of what reading verbs return: instants with an offset, ages, duty."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from companion.common.moments import zone
from companion.escalation.duty import Duty
from companion.store.models import Practice, Wearer
from companion.usecases.reaching import rota_of

ADULT_AT = 18
"""Below this age [years] a guardian is always told of a report of level 3 or more."""


def iso(moment: datetime | None, where: ZoneInfo) -> str | None:
    """Write an instant with the offset of ``where``; None stays None."""
    return None if moment is None else moment.astimezone(where).isoformat(timespec="seconds")


def age_on(wearer: Wearer, now: datetime) -> int:
    """Whole years on today's date at the wearer's place."""
    today: date = now.astimezone(zone(wearer.zone)).date()
    born = wearer.birth_date
    return today.year - born.year - ((today.month, today.day) < (born.month, born.day))


def is_minor(wearer: Wearer, now: datetime) -> bool:
    return age_on(wearer, now) < ADULT_AT


def practice_now(practice: Practice, now: datetime, where: ZoneInfo) -> dict[str, Any]:
    """The practice as a family needs it now: whom to call, whether anyone is on duty, from when on somebody is.

    ``on_call``: the practice is shut, and somebody can be reached. ``alerts_on``: whether this app tells anybody.
    ``closes_at``: until when somebody is on duty without a break, for a page that is read later; None while nobody
    is, or where no end is in sight.
    """
    rota = rota_of(practice)
    duty = rota.at(now)
    return {
        "id": practice.id,
        "name": practice.name,
        "phone": practice.phone,
        "country": practice.country,
        "on_duty": duty is not Duty.NOBODY,
        "on_call": duty is Duty.ON_CALL,
        "opens_at": iso(rota.next(now), where) if duty is Duty.NOBODY else None,
        "closes_at": iso(rota.until(now), where),
        "alerts_on": practice.alerts_on,
        "triage_on": practice.triage_on,
    }


def wearer_plain(wearer: Wearer, now: datetime) -> dict[str, Any]:
    return {
        "id": wearer.id,
        "name": wearer.name,
        "mark": wearer.mark,
        "age": age_on(wearer, now),
        "zone": wearer.zone,
    }
