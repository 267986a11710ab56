"""The first weeks of a new wearer: what to expect, for the family and for the practice."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy.orm import Session

from companion.access import Action
from companion.common.moments import zone
from companion.exchange.onset_document import first_weeks
from companion.regimen.plan import NOT_CLEARED
from companion.usecases.actor import Actor, wearer_for
from companion.usecases.showing import iso, wearer_plain
from companion.usecases.story import Story, load_story
from companion.usecases.wearer_record import record_of

NEW_FOR_NIGHTS = 30


def is_new(story: Story) -> bool:
    """Say whether this is one of the first 30 nights of somebody who came without a history."""
    wearer = story.wearer
    if wearer.first_night is None or wearer.settled_nights_per_week is not None:
        return False
    return 0 <= (story.tonight - wearer.first_night).days < NEW_FOR_NIGHTS


def expected(story: Story, now: datetime) -> dict[str, Any] | None:
    """Return what new wearers like this one see; None without a refraction."""
    record = record_of(story, (), NOT_CLEARED, now)
    return None if record is None else first_weeks(record, now)


def first_weeks_page(session: Session, actor: Actor, wearer_id: str, now: datetime) -> dict[str, Any]:
    """The family's page. It stays readable after the first weeks, for whoever kept its address."""
    wearer = wearer_for(session, actor, wearer_id, Action.SEE_OWN_PAGES)
    story = load_story(session, wearer, now)
    return {
        "wearer": wearer_plain(wearer, now),
        "now": iso(now, zone(wearer.zone)),
        "weeks": expected(story, now),
    }
