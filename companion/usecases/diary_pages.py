"""The diary as the family reads it: weeks at a glance, and one night with everything that was said of it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from companion.access import Action
from companion.common.errors import NotFound
from companion.common.moments import night_of, zone
from companion.diary.entry import Kind
from companion.diary.kinds import CORRECTABLE
from companion.diary.merge import StandingEntry
from companion.diary.wear import SLEEP_BEFORE_OUT
from companion.store.models import Person, WearerState
from companion.store.queries.alerts import reports_of
from companion.usecases.actor import Actor, wearer_for
from companion.usecases.night_plain import nights_plain, questions_plain
from companion.usecases.showing import iso, wearer_plain
from companion.usecases.story import Story, load_story

LONGEST_WEEKS = 60


def diary(session: Session, actor: Actor, wearer_id: str, now: datetime, weeks: int = 4) -> dict[str, Any]:
    """The last ``weeks`` weeks of nights, newest first."""
    wearer = wearer_for(session, actor, wearer_id, Action.SEE_OWN_PAGES)
    story = load_story(session, wearer, now)
    weeks = max(1, min(weeks, LONGEST_WEEKS))
    nights = story.nights[-7 * weeks :]
    state = session.get(WearerState, (wearer.practice_id, wearer.id))
    return {
        "wearer": wearer_plain(wearer, now),
        "tonight": story.tonight.isoformat(),
        "nights": nights_plain(story, nights, reports_of(session, wearer)),
        "asks": questions_plain(story, nights, now),
        "summary": state
        and {
            "worn": state.worn,
            "not_worn": state.not_worn,
            "unknown": state.unknown,
            "planned": state.planned,
        },
        "weeks": weeks,
        "has_earlier": len(story.nights) > len(nights),
    }


def night(session: Session, actor: Actor, wearer_id: str, night: date, now: datetime) -> dict[str, Any]:
    """One night and every statement about it, each of which may be changed."""
    wearer = wearer_for(session, actor, wearer_id, Action.SEE_OWN_PAGES)
    story = load_story(session, wearer, now)
    found = [one for one in story.nights if one.night == night]
    if not found:
        raise NotFound("night")
    return {
        "wearer": wearer_plain(wearer, now),
        "night": nights_plain(story, found, reports_of(session, wearer))[0],
        "asks": questions_plain(story, found, now),
        "entries": _told(session, story, [night])[night.isoformat()],
    }


def for_phone(session: Session, actor: Actor, wearer_id: str, now: datetime) -> dict[str, Any]:
    """What a phone keeps of the diary: the nights at a glance, and what was said of each of them."""
    view = diary(session, actor, wearer_id, now)
    wearer = wearer_for(session, actor, wearer_id, Action.SEE_OWN_PAGES)
    nights = [date.fromisoformat(one["night"]) for one in view["nights"]]
    told = _told(session, load_story(session, wearer, now), nights)
    return {**view, "told": {night: entries for night, entries in told.items() if entries}}


def _told(session: Session, story: Story, nights: Sequence[date]) -> dict[str, list[dict[str, Any]]]:
    """Return what was said of each of these nights."""
    by_night = {
        night.isoformat(): [one for one in story.standing if _speaks_of(one, night, story)] for night in nights
    }
    authors = {one.author_id for told in by_night.values() for one in told}
    names = {
        person.id: person.name for person in session.scalars(select(Person).where(Person.id.in_(authors)))
    }
    return {
        night: [
            {
                "id": entry.id,
                "kind": entry.kind.value,
                "at": iso(entry.at, zone(entry.zone)),
                "zone": entry.zone,
                "author": names.get(entry.author_id),
                "payload": dict(entry.payload),
                "corrected": entry.corrected,
                "may_change": entry.kind in CORRECTABLE,
            }
            for entry in told
        ]
        for night, told in by_night.items()
    }


def _speaks_of(entry: StandingEntry, night: date, story: Story) -> bool:
    if entry.kind is Kind.NO_LENSES:
        return bool(entry.payload["night"] == night.isoformat())
    if entry.kind is Kind.AS_PLANNED:
        return bool(entry.payload["since"] <= night.isoformat() <= entry.payload["until"])
    moment = entry.at - SLEEP_BEFORE_OUT if entry.kind is Kind.LENSES_OUT else entry.at
    where = zone(entry.zone) if entry.kind in (Kind.LENSES_IN, Kind.LENSES_OUT) else story.habits.home
    return night_of(moment, where, story.habits.split) == night
