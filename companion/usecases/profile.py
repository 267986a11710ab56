"""What a family sets for a wearer: the sign that tells children apart at a glance, and the hours of sleep."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, time, timedelta
from typing import Any

from sqlalchemy.orm import Session

from companion.access import Action
from companion.common.errors import InvalidInput, Problem
from companion.common.moments import NOON
from companion.store.models import Wearer
from companion.usecases.actor import Actor, wearer_for
from companion.usecases.audit import note
from companion.usecases.derived import outdate_forecast, refresh_state
from companion.usecases.forms import Reading
from companion.usecases.showing import wearer_plain
from companion.usecases.signing import wearers_of

MARKS = ("sun", "moon", "star", "boat", "fish", "tree", "kite", "house", "heart", "flower", "bird", "drum")
"""The signs to pick from; the pages draw them."""
SHORTEST, LONGEST = timedelta(hours=4), timedelta(hours=14)
"""How long a usual night may be."""
CLEAR_OF_SLEEP = timedelta(hours=2)
_DAY = timedelta(days=1)


def profile(session: Session, actor: Actor, wearer_id: str, now: datetime) -> dict[str, Any]:
    """A wearer's sign and hours, with the signs that others in the family have."""
    wearer = wearer_for(session, actor, wearer_id, Action.KEEP_PROFILE)
    return {
        "wearer": wearer_plain(wearer, now),
        "usual_in": wearer.usual_in.strftime("%H:%M"),
        "usual_out": wearer.usual_out.strftime("%H:%M"),
        "split_hour": wearer.split_hour.strftime("%H:%M"),
        "marks": list(MARKS),
        "taken": {one.mark: one.name for one in wearers_of(session, actor) if one.mark and one.id != wearer.id},
    }


def set_mark(session: Session, actor: Actor, wearer_id: str, mark: str, now: datetime) -> None:
    """Pick the wearer's sign. Two children whom one person looks after never have the same."""
    wearer = wearer_for(session, actor, wearer_id, Action.KEEP_PROFILE)
    if mark not in MARKS:
        raise InvalidInput(Problem("choice_unknown", "mark"))
    if any(one.mark == mark and one.id != wearer.id for one in wearers_of(session, actor)):
        raise InvalidInput(Problem("mark_taken", "mark"))
    wearer.mark = mark
    note(session, wearer.practice_id, actor.person_id, "set_mark", "wearer", wearer.id, now)
    session.commit()


def set_hours(session: Session, actor: Actor, wearer_id: str, form: Mapping[str, str], now: datetime) -> None:
    """Set when lenses usually go in and out. One night then ends in the middle of the waking hours."""
    wearer = wearer_for(session, actor, wearer_id, Action.KEEP_PROFILE)
    read = Reading(form)
    usual_in, usual_out = read.clock("usual_in"), read.clock("usual_out")
    read.finish()
    assert usual_in is not None and usual_out is not None
    if not SHORTEST <= _from_to(usual_in, usual_out) <= LONGEST:
        raise InvalidInput(Problem("hours_of_sleep", "usual_out"))
    wearer.usual_in, wearer.usual_out = usual_in, usual_out
    wearer.split_hour = split_between(usual_out, usual_in)
    _keep(session, actor, wearer, now)


def split_between(rising: time, bed: time) -> time:
    """Return when one night ends and the next begins: noon where people are well awake then, else mid-waking."""
    if _from_to(rising, NOON) >= CLEAR_OF_SLEEP and _from_to(NOON, bed) >= CLEAR_OF_SLEEP:
        awake = _from_to(rising, bed)
        if _from_to(rising, NOON) < awake:
            return NOON
    middle = _minutes(rising) + _from_to(rising, bed) / timedelta(minutes=2)
    return time(round(middle / 60) % 24)


def _keep(session: Session, actor: Actor, wearer: Wearer, now: datetime) -> None:
    note(session, wearer.practice_id, actor.person_id, "set_hours", "wearer", wearer.id, now)
    session.flush()
    outdate_forecast(session, wearer)
    refresh_state(session, wearer, now)
    session.commit()


def _minutes(clock: time) -> int:
    return clock.hour * 60 + clock.minute


def _from_to(start: time, end: time) -> timedelta:
    """Return how long it is from one time of day to the next time that the clock shows the other."""
    return timedelta(minutes=_minutes(end) - _minutes(start)) % _DAY
