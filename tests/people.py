"""The standing people of the tests: two practices, their staff, wearers and those who look after them.

Practice *mill* has the child Nola (guardians Gwen and Gus), the child Timo (guardian Hedda) and the adult Wim,
with an assistant Asta, a practitioner Pavel and a manager Mina. Practice *hill* has the child Lea (guardian Gil),
with Otto, Petra and Mark in the same three roles. All sign in with their name in small letters and PASSWORD.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from sqlalchemy import select
from sqlalchemy.orm import Session

from companion.store.models import (
    AlertTest,
    ClearanceRow,
    Guardianship,
    Lens,
    Membership,
    Person,
    Plan,
    Practice,
    Refraction,
    Visit,
    Wearer,
)
from companion.usecases import passwords

ZONE = "Europe/London"
EVENING = datetime(2026, 11, 2, 20, 30, tzinfo=UTC)
"""A Monday at half past eight in the evening in London, whose clocks show UTC then: the practice is shut."""
PASSWORD = "four plain long words"
WEEKDAYS = ("mon", "tue", "wed", "thu", "fri")
STAFF = ("assistant", "practitioner", "manager")


@dataclass(frozen=True)
class Cast:
    """Ids by name."""

    practices: dict[str, str]
    people: dict[str, str]
    wearers: dict[str, str]


def add_practice(session: Session, name: str, now: datetime, **facts: object) -> Practice:
    """Add a practice that is open from 08:30 to 18:00, Monday to Friday."""
    hours = {day: [["08:30", "18:00"]] for day in WEEKDAYS}
    usual = {"zone": ZONE, "country": "GB", "phone": "+441632960000", "opening_hours": hours}
    practice = Practice(name=name, created_at=now, **(usual | facts))
    session.add(practice)
    session.flush()
    return practice


def add_person(session: Session, name: str, now: datetime, **facts: object) -> Person:
    """Add a person who signs in as their name in small letters with PASSWORD, with mail at a reserved domain."""
    short = name.lower()
    usual = {"short_name": short, "email": f"{short}@example.org", "password_hash": passwords.hashed(PASSWORD)}
    person = Person(name=name, created_at=now, **(usual | facts))
    session.add(person)
    session.flush()
    return person


def add_staff(session: Session, practice: Practice, name: str, role: str, since: datetime) -> Person:
    person = add_person(session, name, since)
    session.add(Membership(practice_id=practice.id, person_id=person.id, role=role, since=since))
    session.flush()
    return person


def add_wearer(
    session: Session,
    practice: Practice,
    name: str,
    born: date,
    now: datetime,
    signed_by: Person,
    person: Person | None = None,
    nights_ago: int = 30,
) -> Wearer:
    """Add a wearer with a lens and a refraction for each eye and a plan of every night, as after a fitting."""
    zone = practice.zone
    first = (now.astimezone(ZoneInfo(zone)) - timedelta(days=nights_ago)).date()
    wearer = Wearer(
        practice_id=practice.id,
        person_id=person.id if person else None,
        name=name,
        birth_date=born,
        zone=zone,
        first_night=first,
        diary_since=first,
        created_at=now,
    )
    session.add(wearer)
    session.flush()
    signed = {"practice_id": practice.id, "wearer_id": wearer.id, "signed_by": signed_by.id, "signed_at": now}
    for eye, sphere_d in (("right", -3.0), ("left", -2.5)):
        session.add(
            Refraction(
                eye=eye,
                kind="baseline",
                measured_at=now - timedelta(days=nights_ago + 7),
                sphere_d=sphere_d,
                best_acuity_logmar=-0.02,
                **signed,
            )
        )
        session.add(Lens(eye=eye, since=first, marked_as=f"{eye} dot", aim_d=0.5, **signed))
    session.add(Plan(since=first, every=1, target_acuity_logmar=0.2, target_until=time(18), **signed))
    session.add(Visit(due_on=now.date() + timedelta(days=60), kind="check", **signed))
    session.flush()
    return wearer


def add_guardian(session: Session, wearer: Wearer, person: Person, now: datetime) -> None:
    session.add(Guardianship(practice_id=wearer.practice_id, wearer_id=wearer.id, person_id=person.id, since=now))
    session.flush()


def settle(session: Session, now: datetime) -> Cast:
    """Add all the standing people, the staff one after the other in the last minutes. The caller commits."""
    practices, people, wearers = {}, {}, {}
    for name, staff in (("mill", ("Asta", "Pavel", "Mina")), ("hill", ("Otto", "Petra", "Mark"))):
        practices[name] = add_practice(session, f"Practice by the {name}", now)
        for ago, person, role in zip((3, 2, 1), staff, STAFF, strict=True):
            since = now - timedelta(minutes=ago)  # who joined first is told first
            people[person] = add_staff(session, practices[name], person, role, since)
    for name in ("Gwen", "Gus", "Hedda", "Gil", "Wim"):
        people[name] = add_person(session, name, now)
    for name, practice, born, signer, own in (
        ("Nola", "mill", date(2018, 3, 4), "Pavel", None),
        ("Timo", "mill", date(2014, 7, 9), "Pavel", None),
        ("Wim", "mill", date(1990, 1, 20), "Pavel", "Wim"),
        ("Lea", "hill", date(2016, 10, 1), "Petra", None),
    ):
        wearers[name] = add_wearer(
            session, practices[practice], name, born, now, people[signer], people[own] if own else None
        )
    for person, wearer in (("Gwen", "Nola"), ("Gus", "Nola"), ("Hedda", "Timo"), ("Gil", "Lea")):
        add_guardian(session, wearers[wearer], people[person], now)
    signed = {"practice_id": practices["mill"].id, "signed_by": people["Pavel"].id, "signed_at": now}
    session.add(ClearanceRow(wearer_id=wearers["Wim"].id, may_skip=True, longest_gap_nights=1, **signed))
    session.flush()
    ids = [{name: row.id for name, row in some.items()} for some in (practices, people, wearers)]
    return Cast(*ids)


def leave_out_daily_tests(session: Session) -> None:
    """Put a test alert of tomorrow on record for all staff. A worker on the real clock would send today's, and a
    test would count it as a twin. The caller commits."""
    tomorrow = datetime.now(UTC) + timedelta(days=1)
    for one in session.scalars(select(Membership)):
        session.add(
            AlertTest(practice_id=one.practice_id, person_id=one.person_id, channel="mail", sent_at=tomorrow)
        )
