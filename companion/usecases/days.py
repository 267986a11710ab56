"""Days that matter: the family names them, sees what to do until then, and takes them off the list."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy.orm import Session

from companion.access import Action, may
from companion.common.errors import InvalidInput, NotFound, Problem
from companion.common.ids import is_id
from companion.common.moments import parse_instant, zone
from companion.store.models import DayThatMatters, Practice, Wearer
from companion.usecases.actor import Actor, roles_towards, wearer_for
from companion.usecases.ahead import (
    after_a_night_off,
    bounds_of,
    days_to_come,
    rests_on_by_rule,
    stopped_by,
)
from companion.usecases.audit import note
from companion.usecases.derived import outdate_forecast
from companion.usecases.first_weeks import is_new
from companion.usecases.forecasting import Foreseen, foresee
from companion.usecases.forms import Reading
from companion.usecases.raising import open_holds
from companion.usecases.showing import iso, practice_now, wearer_plain
from companion.usecases.story import Story, load_story

FARTHEST_DAYS = 60
MOST_DAYS = 20
LONGEST_LABEL = 60
TOLD_FOR = timedelta(days=7)
"""So long before a day *Tonight* has a line about it."""
MOST_LINES = 3


def days_page(session: Session, actor: Actor, wearer_id: str, now: datetime) -> dict[str, Any]:
    """The days to come, each with its nights, its check and how sight should be."""
    wearer = wearer_for(session, actor, wearer_id, Action.SEE_OWN_PAGES)
    story = load_story(session, wearer, now)
    foreseen = foresee(session, story, open_holds(session, wearer, now), now)
    where = zone(wearer.zone)
    today = now.astimezone(where).date()
    practice = session.get_one(Practice, wearer.practice_id)
    return {
        "wearer": wearer_plain(wearer, now),
        "now": iso(now, where),
        "days": days_plain(session, story, foreseen, now),
        "stopped": stopped_by(foreseen.forecast["tonight"]),
        "may_write": may(roles_towards(session, actor, wearer), Action.WRITE_DIARY),
        "earliest": today.isoformat(),
        "latest": (today + timedelta(days=FARTHEST_DAYS)).isoformat(),
        "practice": practice_now(practice, now, where),
    }


def days_plain(session: Session, story: Story, foreseen: Foreseen, now: datetime) -> list[dict[str, Any]]:
    """Return the days that are not over, the next first. ``rests_on`` is empty until their nights are named."""
    told: Mapping[str, Any] = foreseen.forecast.get("ahead", {}).get("days", {})
    shown = []
    for day in days_to_come(session, story.wearer, now):
        start, end = bounds_of(day)
        where, plan = zone(day.zone), told.get(day.id)
        by_rule = [] if foreseen.forecast["eyes"] else [rests_on_by_rule(story, start).isoformat()]
        shown.append(
            {
                "id": day.id,
                "label": day.label,
                "from": iso(start, where),
                "to": iso(end, where),
                "driving": day.driving,
                "rests_on": plan["rests_on"] if plan else by_rule,
                "plan": plan,
            }
        )
    return shown


def ahead_on_tonight(session: Session, story: Story, foreseen: Foreseen, now: datetime) -> dict[str, Any]:
    """Return what *Tonight* says of the days to come: those that matter, and the day after a night off."""
    tonight = foreseen.forecast["tonight"]
    days = days_plain(session, story, foreseen, now)
    return {
        "days": [day for day in days if parse_instant(day["from"]) < now + TOLD_FOR][:MOST_LINES],
        "all": [_at_its_hardest(day) for day in days],
        "stopped": stopped_by(tonight),
        "missed": after_a_night_off(story, foreseen.forecast.get("ahead", {}), tonight, now),
        "is_new": is_new(story),
    }


def _at_its_hardest(day: dict[str, Any]) -> dict[str, Any]:
    """Return a day without its hours but the hardest: what a phone lists of it without a network."""
    plan = day["plan"]
    if not plan or not plan["moments"]:
        return day
    worst = min(plan["moments"], key=lambda one: float(one["meets_target"]))
    return {**day, "plan": {**plan, "moments": [worst]}}


def add_day(session: Session, actor: Actor, wearer_id: str, form: Mapping[str, str], now: datetime) -> None:
    """Name a day. The same form sent again names it once."""
    wearer = wearer_for(session, actor, wearer_id, Action.WRITE_DIARY)
    read = Reading(form)
    today = now.astimezone(zone(wearer.zone)).date()
    label = _one_line(read.text("label", longest=LONGEST_LABEL))
    day = read.day("day", earliest=today, latest=today + timedelta(days=FARTHEST_DAYS))
    starts, ends = read.clock("starts"), read.clock("ends")
    driving = read.choice("driving", ("yes", "no")) == "yes"
    read.finish()
    assert day is not None and starts is not None and ends is not None
    made = DayThatMatters(
        practice_id=wearer.practice_id,
        wearer_id=wearer.id,
        day=day,
        starts=starts,
        ends=ends,
        zone=wearer.zone,
        label=label,
        driving=driving,
        added_by=actor.person_id,
        added_at=now,
    )
    _refuse(session, wearer, made, now)
    id_ = form.get("id", "")
    kept = session.get(DayThatMatters, id_) if is_id(id_) else None
    if kept is not None and _same(kept, made):
        return
    if is_id(id_) and kept is None:
        made.id = id_  # else an id of its own: a page kept open since an earlier day loses nothing
    session.add(made)
    session.flush()
    outdate_forecast(session, wearer)
    note(session, wearer.practice_id, actor.person_id, "add", "day_that_matters", made.id, now)
    session.commit()


def remove_day(session: Session, actor: Actor, wearer_id: str, day_id: str, now: datetime) -> None:
    """Take a day off the list, and what it was called with it. Twice changes nothing."""
    wearer = wearer_for(session, actor, wearer_id, Action.WRITE_DIARY)
    row = session.get(DayThatMatters, day_id) if is_id(day_id) else None
    if row is None or (row.practice_id, row.wearer_id) != (wearer.practice_id, wearer.id):
        raise NotFound("day")
    if row.removed_at is not None:
        return
    row.removed_at, row.removed_by, row.label = now, actor.person_id, ""
    outdate_forecast(session, wearer)
    note(session, row.practice_id, actor.person_id, "remove", "day_that_matters", row.id, now)
    session.commit()


def _refuse(session: Session, wearer: Wearer, day: DayThatMatters, now: datetime) -> None:
    if day.starts == day.ends:
        raise InvalidInput(Problem("day_without_length", "ends"))
    if bounds_of(day)[1] <= now:
        raise InvalidInput(Problem("day_is_over", "ends"))
    if len(days_to_come(session, wearer, now)) >= MOST_DAYS:
        raise InvalidInput(Problem("too_many_days", "day", {"most": MOST_DAYS}))


def _same(kept: DayThatMatters, made: DayThatMatters) -> bool:
    facts = ("practice_id", "wearer_id", "day", "starts", "ends", "label", "driving", "removed_at")
    return all(getattr(kept, name) == getattr(made, name) for name in facts)


def _one_line(text: str) -> str:
    """Leave out what can't be seen: it would break a line, or the store."""
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())
