"""What a forecast says of the days to come beside tonight: days that matter, and the day after a night off.

Made and stored with the forecast, so that a page works nothing out. Naming a free night releases nothing: that
evening's own answer does.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime, timedelta
from typing import Any

from sqlalchemy.orm import Session

from companion.common.moments import at_wall_clock, parse_instant, zone
from companion.exchange.day_document import DayOfNote, day_document
from companion.exchange.missed_night_document import missed_night
from companion.exchange.wearer_course import WearerCourse
from companion.store.models import DayThatMatters, Wearer
from companion.store.queries.days import days_of
from companion.usecases.story import Story, plan_asks

NIGHTS_NAMED_FOR = timedelta(days=14)
"""So long before a day its nights are named: what is worn until then says more than any curve. Design."""
NO_LENS = ("do_not_wear", "ask_clinic")
_INTO_THE_LENS = ("wear_tonight", "not_longer_than_usual")


def days_to_come(session: Session, wearer: Wearer, now: datetime) -> list[DayThatMatters]:
    """Return the days that are not over, the next first."""
    # The last days' too: one may last past midnight, or be called by the clock of another zone.
    named = days_of(session, wearer, since=now.date() - timedelta(days=2))
    return sorted((day for day in named if bounds_of(day)[1] > now), key=lambda day: (bounds_of(day)[0], day.id))


def bounds_of(day: DayThatMatters) -> tuple[datetime, datetime]:
    """Return when a day that matters begins and ends."""
    where = zone(day.zone)
    last = day.day if day.ends > day.starts else day.day + timedelta(days=1)
    return at_wall_clock(day.day, day.starts, where), at_wall_clock(last, day.ends, where)


def days_of_note(days: Sequence[DayThatMatters], now: datetime) -> dict[str, DayOfNote]:
    """Return those of the days to come whose nights are named by now, by id."""
    noted = {day.id: DayOfNote(*bounds_of(day), day.driving) for day in days}
    return {id_: day for id_, day in noted.items() if day.start < now + NIGHTS_NAMED_FOR}


def ahead(followed: WearerCourse, days: Mapping[str, DayOfNote], tonight: Mapping[str, Any]) -> dict[str, Any]:
    """Return each day's document by id, and that of a night off."""
    reasons = {reason["key"] for eye in tonight["eyes"].values() for reason in eye["reasons"]}
    # Only where nothing but the forecast decides: an earlier row of the table hides what the later ones would say.
    may_free = reasons <= {"target_holds", "below_target"}
    return {
        "days": {
            id_: day_document(
                followed,
                day,
                [other for other_id, other in days.items() if other_id != id_],
                may_free=may_free,
            )
            for id_, day in days.items()
        },
        "missed": missed_night(followed),
    }


def stopped_by(tonight: Mapping[str, Any]) -> str | None:
    """Return why no night may be promised: the gravest answer of any eye that forbids a lens, or asks first."""
    answers = {eye["answer"] for eye in tonight["eyes"].values()}
    return next((one for one in NO_LENS if one in answers), None)


def after_a_night_off(
    story: Story, ahead: Mapping[str, Any], tonight: Mapping[str, Any], now: datetime
) -> dict[str, Any] | None:
    """Return what to show after nights off of which the plan asked for one; None: nothing, or a hold speaks first.

    What to do never says more than tonight's own answer.
    """
    missed, stopped = ahead.get("missed"), stopped_by(tonight)
    if missed is None or stopped == "do_not_wear" or not _plan_asked(story, tonight, missed["nights_off"]):
        return None
    coming = [one for one in missed["moments"] if parse_instant(one["at"]) >= now - timedelta(hours=1)]
    if not coming:
        return None
    wears = {eye["answer"] for eye in tonight["eyes"].values()} == {"wear"}
    todo = [one for one in missed["todo"] if wears or one not in _INTO_THE_LENS]
    if stopped and "ask_clinic" not in todo:
        todo.append("ask_clinic")
    return {**missed, "moments": coming, "todo": todo}


def _plan_asked(story: Story, tonight: Mapping[str, Any], nights: int) -> bool:
    night = date.fromisoformat(tonight["night"])
    return any(plan_asks(story.plans, night - timedelta(days=ago)) for ago in range(1, nights + 1))


def rests_on_by_rule(story: Story, start: datetime, room: timedelta = timedelta(hours=3)) -> date:
    """Return the night before a day where there is no forecast: the last that leaves ``room`` for the lens."""
    night = start.astimezone(story.habits.home).date()
    while story.habits.usual_wear(night)[0] + room > start:
        night -= timedelta(days=1)
    return night
