"""Who of a practice can be told of an alert, by which ways, in which order; and one step of it written.

A way is a channel and an address. Each way of a person is carried apart, so a dead one never holds up another.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from datetime import datetime, timedelta

from sqlalchemy import select
from sqlalchemy.orm import Session, object_session

from companion.common.moments import zone
from companion.escalation.climb import EVERY_WAY, ClimbPlan, Planned, When, ladders_from
from companion.escalation.duty import OpeningHours, Rota
from companion.store.models import Alert, Delivery, Membership, Outbox, Person, Practice
from companion.store.queries.channels import PUSH, WEBHOOK, subscriptions_of, webhook_address, webhook_of

MAIL = "mail"
CHANNELS = (PUSH, MAIL, WEBHOOK)
WISH_WAITS = timedelta(minutes=2)
"""So long the other ways leave to the one that the plan wishes for, unless it fails sooner (design)."""
Way = tuple[str, str]
"""A channel, and an address as its outbox rows have it."""


def ways_to_reach(session: Session, practice: Practice, person: Person, wish: str = EVERY_WAY) -> list[Way]:
    """Return the ways to tell a member of staff: the one wished for if it is there and works, else all."""
    ways, working = _ways_of(session, practice, person)
    return [way for way in ways if way[0] == wish] if wish in working else ways


def _ways_of(session: Session, practice: Practice, person: Person) -> tuple[list[Way], set[str]]:
    """Return all ways to a member of staff, and the channels of those that are not known to fail."""
    ways: list[Way] = []
    working: set[str] = set()
    for one in subscriptions_of(session, person.id):
        ways.append((PUSH, one.id))
        working |= {PUSH} if one.failing_since is None else set()
    if person.email:
        ways.append((MAIL, person.email))
        working.add(MAIL)
    gateway = webhook_of(session, practice.id)
    if gateway is not None:
        ways.append((WEBHOOK, webhook_address(gateway, person.phone)))
        working |= {WEBHOOK} if gateway.failing_since is None else set()
    return ways, working


def staff_of(session: Session, practice: Practice) -> list[Person]:
    """Return everybody who works at a practice, in the order in which they joined."""
    rows = session.scalars(
        select(Person)
        .join(Membership, Membership.person_id == Person.id)
        .where(Membership.practice_id == practice.id, Membership.ended_at.is_(None))
        .order_by(Membership.since, Person.id)
    )
    return list(dict.fromkeys(rows))


def people_to_tell(session: Session, practice: Practice) -> list[Person]:
    """Who is told of an alert, in order: whom the plan names, then all other staff; all who can be reached."""
    staff = {one.id: one for one in staff_of(session, practice) if ways_to_reach(session, practice, one)}
    planned = [line.person for line in plan_lines(practice) if line.person in staff]
    return [staff[one] for one in dict.fromkeys([*planned, *staff])]


def plan_lines(practice: Practice) -> list[Planned]:
    """Read the practice's plan. A line that an earlier release wrote has no hours: always, and by every way."""
    lines = []
    for row in practice.alert_plan:
        whenever = row.get("when") not in list(When)
        channel = EVERY_WAY if whenever or row.get("channel") not in CHANNELS else row["channel"]
        lines.append(Planned(row["person_id"], When.ALWAYS if whenever else When(row["when"]), channel))
    return lines


def hours_of(practice: Practice) -> OpeningHours:
    return OpeningHours.from_plain(practice.opening_hours, practice.closed_days)


def on_call_of(practice: Practice) -> OpeningHours:
    """The hours on call. A closed day does not shut them: that is what they are for."""
    return OpeningHours.from_plain(practice.on_call_hours)


def climb_plan(session: Session, practice: Practice) -> ClimbPlan:
    """How the alerts of this practice climb today: with the people who can be told today."""
    people = tuple(person.id for person in people_to_tell(session, practice))
    return ClimbPlan(
        people,
        practice.contact_minutes,
        hours_of(practice),
        zone(practice.zone),
        ladders_from(practice.climb_minutes),
        tuple(line for line in plan_lines(practice) if line.person in people),
        on_call_of(practice),
        practice.alerts_on,
    )


def rota_of(practice: Practice) -> Rota:
    """When somebody of the practice is on duty: the hours on call count while the plan has for them a person who
    can be reached."""
    hours, on_call = hours_of(practice), on_call_of(practice)
    if on_call.ever_open:
        session = object_session(practice)
        assert session is not None
        there = [
            session.get_one(Person, line.person)
            for line in climb_plan(session, practice).planned
            if line.when is not When.OPEN_HOURS
        ]
        # Whom nothing has reached of late is nobody to wait for: the family is sent elsewhere.
        answered = any(_ways_of(session, practice, person)[1] for person in there)
        on_call = on_call if answered else OpeningHours()
    if not practice.alerts_on:
        on_call = OpeningHours()  # nobody is told, so nobody comes
    return Rota(hours, on_call, zone(practice.zone))


def queue_step(
    session: Session,
    alert: Alert,
    step: int,
    person: Person,
    key: str,
    now: datetime,
    wish: str = EVERY_WAY,
    besides: Collection[str] = (),
) -> None:
    """Write one step of an alert to one person, with the messages that carry it: one a way, but for the channels
    ``besides``."""
    practice = session.get_one(Practice, alert.practice_id)
    deliveries: dict[str, Delivery] = {}
    for channel, address in ways_to_reach(session, practice, person, wish):
        if channel in besides:
            continue
        if channel not in deliveries:
            deliveries[channel] = Delivery(
                practice_id=alert.practice_id,
                alert_id=alert.id,
                step=step,
                person_id=person.id,
                channel=channel,
                queued_at=now,
            )
            session.add(deliveries[channel])
            session.flush()
        session.add(
            Outbox(
                practice_id=alert.practice_id,
                delivery_id=deliveries[channel].id,
                channel=channel,
                address=address,
                message={
                    "key": key,
                    "language": person.language,
                    "values": {"alert_id": alert.id, "level": alert.level},
                },
                created_at=now,
                due_at=now,
            )
        )


def queue_other_ways(
    session: Session, alert: Alert, steps: Iterable[tuple[Delivery, Person]], key: str, now: datetime
) -> int:
    """Write the steps that no channel has taken by every other way that their person has; return how many.

    A plan that wishes for one way must not leave it alone with the alert.
    """
    tried: dict[tuple[int, str], list[tuple[Delivery, Person]]] = {}
    for delivery, person in steps:
        tried.setdefault((delivery.step, person.id), []).append((delivery, person))
    practice, written = session.get_one(Practice, alert.practice_id), 0
    staff = {one.id for one in staff_of(session, practice)}
    for (step, person_id), rows in tried.items():
        waits = any(row.failed_at is None and now < row.queued_at + WISH_WAITS for row, _ in rows)
        if waits or person_id not in staff or any(row.handed_over_at for row, _ in rows):
            continue
        channels, person = [row.channel for row, _ in rows], rows[0][1]
        if any(channel not in channels for channel, _ in ways_to_reach(session, practice, person)):
            queue_step(session, alert, step, person, key, now, besides=channels)
            written += 1
    return written
