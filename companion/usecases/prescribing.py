"""What the practice signs for a wearer: plan, clearance, refractions, lenses, visits; and a new wearer.

Forms come in as text. Every problem is named by its field, all at once, and nothing is written while one is left.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from sqlalchemy.orm import Session

from companion.access import Action
from companion.common.errors import NotFound
from companion.common.eyes import Eye
from companion.common.ids import is_id
from companion.common.moments import NOON, night_of, zone
from companion.regimen.plan import WEEKDAYS
from companion.store.models import ClearanceRow, Lens, Plan, Refraction, Visit, Wearer
from companion.usecases.actor import Actor, practice_for, wearer_for
from companion.usecases.audit import note
from companion.usecases.derived import outdate_forecast
from companion.usecases.forms import Reading

VISIT_KINDS = ("first_morning", "week", "month", "quarter", "year", "extra")
REFRACTION_KINDS = ("baseline", "residual")


def new_wearer(session: Session, actor: Actor, form: Mapping[str, str], now: datetime) -> str:
    """Enrol a wearer and return the id."""
    practice = practice_for(session, actor, Action.ENROL)
    read = Reading(form)
    name = read.text("name", longest=80)
    birth_date = read.day("birth_date", latest=now.date())
    where = read.zone("zone", default=practice.zone)
    first_night = read.day("first_night", optional=True)
    habit = read.number("settled_nights_per_week", 1, 7, optional=True)
    read.finish()
    assert birth_date is not None
    wearer = Wearer(
        practice_id=practice.id,
        name=name,
        birth_date=birth_date,
        zone=where,
        first_night=first_night,
        settled_nights_per_week=habit,
        diary_since=night_of(now, zone(where), NOON),
        created_at=now,
    )
    session.add(wearer)
    session.flush()
    note(session, practice.id, actor.person_id, "enrol", "wearer", wearer.id, now)
    session.commit()
    return wearer.id


def set_plan(session: Session, actor: Actor, wearer_id: str, form: Mapping[str, str], now: datetime) -> None:
    """Sign a plan from tonight on: ``every`` n-th night, or the ``weekdays`` named, and the target for sight."""
    wearer = wearer_for(session, actor, wearer_id, Action.PRESCRIBE)
    read = Reading(form)
    weekdays = read.several("weekdays", WEEKDAYS)
    every = None if weekdays else read.whole("every", 1, 14)
    acuity = read.number("target_acuity_logmar", -0.3, 1.0)
    until = read.clock("target_until")
    eyes = read.choice("target_eyes", ("each", "better"))
    distance = read.number("target_distance_m", 0.2, 10, optional=True)
    read.finish()
    assert acuity is not None and until is not None
    _sign(
        session,
        actor,
        wearer,
        Plan,
        now,
        since=night_of(now, zone(wearer.zone), wearer.split_hour),
        every=every,
        weekdays=list(weekdays) or None,
        target_acuity_logmar=acuity,
        target_until=until,
        target_eyes=eyes,
        target_distance_m=distance,
    )


def set_clearance(
    session: Session, actor: Actor, wearer_id: str, form: Mapping[str, str], now: datetime
) -> None:
    """Sign whether nights may be skipped on the forecast's word, how many in a row, and until when."""
    wearer = wearer_for(session, actor, wearer_id, Action.PRESCRIBE)
    read = Reading(form)
    may_skip = read.choice("may_skip", ("yes", "no")) == "yes"
    gap = read.whole("longest_gap_nights", 1, 6) if may_skip else 1
    until = read.day("until", optional=True, earliest=now.date()) if may_skip else None
    read.finish()
    _sign(
        session,
        actor,
        wearer,
        ClearanceRow,
        now,
        may_skip=may_skip,
        longest_gap_nights=gap,
        until=until,
    )


def add_refraction(
    session: Session, actor: Actor, wearer_id: str, form: Mapping[str, str], now: datetime
) -> None:
    """Sign one eye's refraction, measured now."""
    wearer = wearer_for(session, actor, wearer_id, Action.PRESCRIBE)
    read = Reading(form)
    eye = read.choice("eye", tuple(Eye))
    kind = read.choice("kind", REFRACTION_KINDS)
    sphere = read.number("sphere_d", -15, 10)
    cylinder = read.number("cylinder_d", -6, 6, optional=True) or 0.0
    axis = read.whole("axis_deg", 0, 180, optional=cylinder == 0)
    best = read.number("best_acuity_logmar", -0.5, 2.0, optional=True)
    read.finish()
    assert sphere is not None
    _sign(
        session,
        actor,
        wearer,
        Refraction,
        now,
        eye=eye,
        kind=kind,
        measured_at=now,
        sphere_d=sphere,
        cylinder_d=cylinder,
        axis_deg=axis,
        best_acuity_logmar=best,
    )


def add_lens(session: Session, actor: Actor, wearer_id: str, form: Mapping[str, str], now: datetime) -> None:
    """Sign one eye's lens from tonight on."""
    wearer = wearer_for(session, actor, wearer_id, Action.PRESCRIBE)
    read = Reading(form)
    eye = read.choice("eye", tuple(Eye))
    marked_as = read.text("marked_as", longest=60)
    base_curve = read.number("base_curve_mm", 6.0, 11.0, optional=True)
    diameter = read.number("diameter_mm", 8.0, 13.0, optional=True)
    aim = read.number("aim_d", -6, 3)
    read.finish()
    assert aim is not None
    _sign(
        session,
        actor,
        wearer,
        Lens,
        now,
        eye=eye,
        since=night_of(now, zone(wearer.zone), wearer.split_hour),
        marked_as=marked_as,
        base_curve_mm=base_curve,
        diameter_mm=diameter,
        aim_d=aim,
    )


def set_visit(session: Session, actor: Actor, wearer_id: str, form: Mapping[str, str], now: datetime) -> None:
    """Book a visit, or, with ``visit_id``, record that it took place today."""
    wearer = wearer_for(session, actor, wearer_id, Action.ENROL)
    visit_id = form.get("visit_id", "")
    if visit_id:
        row = session.get(Visit, visit_id) if is_id(visit_id) else None
        if row is None or (row.practice_id, row.wearer_id) != (wearer.practice_id, wearer.id):
            raise NotFound("visit")
        row.done_on = row.done_on or now.astimezone(zone(wearer.zone)).date()
        note(session, wearer.practice_id, actor.person_id, "done", "visit", row.id, now)
        outdate_forecast(session, wearer)
        session.commit()
        return
    read = Reading(form)
    due_on = read.day("due_on", earliest=now.date())
    kind = read.choice("kind", VISIT_KINDS)
    read.finish()
    assert due_on is not None
    _sign(
        session,
        actor,
        wearer,
        Visit,
        now,
        due_on=due_on,
        kind=kind,
    )


def _sign(
    session: Session,
    actor: Actor,
    wearer: Wearer,
    table: type[Plan | ClearanceRow | Refraction | Lens | Visit],
    now: datetime,
    **facts: object,
) -> None:
    """Add a row that the actor signs, and commit."""
    row = table(
        practice_id=wearer.practice_id,
        wearer_id=wearer.id,
        signed_by=actor.person_id,
        signed_at=now,
        **facts,
    )
    session.add(row)
    session.flush()
    note(session, wearer.practice_id, actor.person_id, "sign", table.__tablename__, row.id, now)
    outdate_forecast(session, wearer)
    session.commit()
