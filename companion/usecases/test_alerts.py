"""Test alerts: a message by each way to each person, and whether the channel took it and somebody answered.

An alert that nobody gets must not be found out by a child's eye. Each day one person of a practice, in turn, gets
a test by every way that they have, and each channel that this person lacks is tried with somebody else: so every
channel speaks once a day, and nobody is asked more often than their turn comes. Only a press of the button by the
person whom it was sent to answers it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, datetime, time, timedelta
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from companion.access import Action
from companion.common.errors import InvalidInput, NotAllowed, NotFound, Problem
from companion.common.ids import is_id
from companion.common.moments import at_wall_clock, zone
from companion.store.engine import Store
from companion.store.models import AlertTest, Outbox, Person, Practice
from companion.store.queries.alert_tests import newest_test, tests_of
from companion.usecases.actor import Actor, practice_for, practice_of
from companion.usecases.audit import note
from companion.usecases.one_by_one import each_alone
from companion.usecases.reaching import staff_of, ways_to_reach
from companion.usecases.showing import iso

KEY = "alert_test"
FROM, UNTIL = time(10), time(20)
"""On the practice's own clock: most of a usual day is left to mend what is found, and nobody is woken (design)."""
TAKEN_WITHIN = timedelta(minutes=30)
"""A channel that has not taken a message by then is dead, or as good as dead (design)."""
ANSWER_WITHIN = timedelta(days=14)
"""A way by which no test was answered for so long is taken for dead (design)."""
NOT_TWICE = timedelta(minutes=1)
LOOKS_BACK = timedelta(days=90)
"""Older tests say nothing of today's ways."""
NEVER = datetime.min.replace(tzinfo=UTC)

Ways = Mapping[Person, Sequence[str]]
"""The channels of each member of staff who can be reached."""


def send_daily_tests(store: Store, now: datetime) -> int:
    """Send today's tests of every practice whose alerts are on; return how many. Raises what broke, at the end."""
    with store.reading() as session:
        practices = session.scalars(select(Practice.id).order_by(Practice.created_at, Practice.id)).all()

    def send_daily(practice_id: str) -> int:
        with store.reading() as session:
            if not _is_due(session, session.get_one(Practice, practice_id), now):
                return 0
        with store.writing() as session:
            return _send_daily(session, practice_id, now)

    return each_alone(practices, send_daily, "practices whose test alert could not be sent")


def _is_due(session: Session, practice: Practice, now: datetime) -> bool:
    """Today's tests are rows: due once the hour has come, while none was written since; a worker that slept until
    the evening leaves them to tomorrow."""
    where = zone(practice.zone)
    today = now.astimezone(where).date()
    since, until = (at_wall_clock(today, clock, where) for clock in (FROM, UNTIL))
    last = newest_test(session, practice.id)
    return practice.alerts_on and since <= now < until and (last is None or last < since)


def _send_daily(session: Session, practice_id: str, now: datetime) -> int:
    """Write today's tests. The practice's row is locked, so that of two workers one writes them; no report waits
    for that lock."""
    practice = session.scalar(
        select(Practice).where(Practice.id == practice_id).with_for_update(skip_locked=True, key_share=True)
    )
    if practice is None or not _is_due(session, practice, now):
        return 0
    picked = todays_turn(channels_of(session, practice), tests_of(session, practice.id, now - LOOKS_BACK))
    for person, channel in picked:
        _write(session, practice, person, channel, now)
    session.commit()
    return len(picked)


def channels_of(session: Session, practice: Practice) -> Ways:
    """Return by which channels each member of staff can be reached, in the order in which they joined."""
    found = {}
    for person in staff_of(session, practice):
        channels = dict.fromkeys(channel for channel, _ in ways_to_reach(session, practice, person))
        if channels:
            found[person] = list(channels)
    return found


def todays_turn(ways: Ways, tests: Iterable[AlertTest]) -> list[tuple[Person, str]]:
    """Pick whose turn it is: whoever was tested longest ago, by every way; then by each other channel whoever was
    tested by it longest ago."""
    if not ways:
        return []
    last: dict[tuple[str, str | None], datetime] = {}
    for test in tests:  # oldest first
        last[test.person_id, None] = last[test.person_id, test.channel] = test.sent_at

    def longest_ago(people: Iterable[Person], channel: str | None) -> Person:
        return min(people, key=lambda one: last.get((one.id, channel), NEVER))

    first = longest_ago(ways, None)
    picked = [(first, channel) for channel in ways[first]]
    for channel in dict.fromkeys(channel for channels in ways.values() for channel in channels):
        if channel not in ways[first]:
            picked.append((longest_ago((one for one in ways if channel in ways[one]), channel), channel))
    return picked


def send_now(session: Session, actor: Actor, person_id: str, now: datetime) -> None:
    """Send one member of staff a test by every way. Asked for twice in one minute it goes once."""
    practice = practice_for(session, actor, Action.MANAGE_PRACTICE)
    person = next((one for one in staff_of(session, practice) if one.id == person_id), None)
    if person is None:
        raise NotFound("person")
    channels = channels_of(session, practice).get(person, ())
    if not channels:
        raise InvalidInput(Problem("no_way_to_reach", "test"))
    fresh = {
        one.channel
        for one in tests_of(session, practice.id, now - LOOKS_BACK)
        if one.person_id == person.id and now - one.sent_at < NOT_TWICE
    }
    for channel in channels:
        if channel not in fresh:
            _write(session, practice, person, channel, now)
    note(session, practice.id, actor.person_id, "send_test", "person", person.id, now)
    session.commit()


def _write(session: Session, practice: Practice, person: Person, channel: str, now: datetime) -> None:
    test = AlertTest(practice_id=practice.id, person_id=person.id, channel=channel, sent_at=now)
    session.add(test)
    session.flush()
    for by, address in ways_to_reach(session, practice, person):
        if by == channel:
            session.add(
                Outbox(
                    practice_id=practice.id,
                    alert_test_id=test.id,
                    channel=channel,
                    address=address,
                    message={"key": KEY, "language": person.language, "values": {"alert_test_id": test.id}},
                    created_at=now,
                    due_at=now,
                )
            )


# -- answering -------------------------------------------------------------------------------------------
def show(session: Session, actor: Actor, test_id: str) -> dict[str, Any]:
    """One test, for whom it was sent to. Looking answers nothing."""
    practice, test = _own(session, actor, test_id)
    where = zone(practice.zone)
    return {
        "id": test.id,
        "channel": test.channel,
        "sent_at": iso(test.sent_at, where),
        "answered_at": iso(test.answered_at, where),
    }


def answer(session: Session, actor: Actor, test_id: str, now: datetime) -> None:
    """Answer a test. Answering it again changes nothing."""
    practice, test = _own(session, actor, test_id)
    if test.answered_at is None:
        test.answered_at, test.answered_by = now, actor.person_id
        note(session, practice.id, actor.person_id, "answer_test", "alert_test", test.id, now)
    session.commit()


def _own(session: Session, actor: Actor, test_id: str) -> tuple[Practice, AlertTest]:
    test = session.get(AlertTest, test_id) if is_id(test_id) else None
    practice = practice_of(session, actor, test, "alert_test", Action.SEE_DESK)
    assert test is not None
    if test.person_id != actor.person_id:
        raise NotAllowed("alert_test")
    return practice, test


# -- which ways are alive --------------------------------------------------------------------------------
def ways_plain(session: Session, practice: Practice, now: datetime) -> list[dict[str, Any]]:
    """Each way of each member of staff and how its tests went; those who have no way at all come too."""
    where = zone(practice.zone)
    ways, tests = channels_of(session, practice), tests_of(session, practice.id, now - LOOKS_BACK)
    rows = []
    for person in staff_of(session, practice):
        lines = []
        for channel in ways.get(person, ()):
            mine = [one for one in tests if (one.person_id, one.channel) == (person.id, channel)]
            newest = mine[-1] if mine else None
            answered = max((one.answered_at for one in mine if one.answered_at), default=None)
            lines.append(
                {
                    "channel": channel,
                    "state": way_state(mine, now),
                    "sent_at": iso(newest.sent_at, where) if newest else None,
                    "accepted_at": iso(newest.accepted_at, where) if newest else None,
                    "answered_at": iso(answered, where),
                }
            )
        rows.append({"id": person.id, "name": person.name, "ways": lines})
    return rows


def way_state(tests: Sequence[AlertTest], now: datetime) -> str:
    """How one way stands, by its tests, oldest first: ``untested``, ``not_accepted``, ``not_answered``,
    ``waiting`` for an answer, or ``answered``."""
    if not tests:
        return "untested"
    settled = [one for one in tests if one.accepted_at or one.failed_at or now - one.sent_at >= TAKEN_WITHIN]
    if settled and settled[-1].accepted_at is None:
        return "not_accepted"
    open_since = None
    for one in tests:
        open_since = None if one.answered_at else open_since or one.sent_at
    if open_since is None:
        return "answered"
    return "not_answered" if now - open_since >= ANSWER_WITHIN else "waiting"


def dead_ways(session: Session, practice: Practice, now: datetime) -> list[dict[str, Any]]:
    """The ways that were tested and are taken for dead: by person and channel, and why."""
    return [
        {"person": person["name"], "channel": way["channel"], "why": way["state"], "since": way["sent_at"]}
        for person in ways_plain(session, practice, now)
        for way in person["ways"]
        if way["state"] in ("not_accepted", "not_answered")
    ]


def somebody_has_answered(session: Session, practice: Practice, now: datetime) -> bool:
    """Say whether somebody who works here has lately answered a test, by a way that still reaches them."""
    ways = {person.id: channels for person, channels in channels_of(session, practice).items()}
    return any(
        one.answered_at is not None
        and now - one.answered_at < ANSWER_WITHIN
        and one.channel in ways.get(one.answered_by or "", ())
        for one in tests_of(session, practice.id, now - LOOKS_BACK)
    )
