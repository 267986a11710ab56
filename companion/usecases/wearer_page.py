"""One wearer as the practice sees them before a visit: nights, curve, reports, and everything that is signed."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy import select
from sqlalchemy.orm import Session

from companion.access import Action, may
from companion.common.eyes import Eye
from companion.common.moments import zone
from companion.store.models import ClearanceRow, Invitation, Lens, Person, Plan, Refraction, Visit, Wearer
from companion.store.queries.alerts import alerts_of, reports_of
from companion.store.queries.prescriptions import clearance_of, visits_of
from companion.usecases.actor import Actor, roles_towards, wearer_for
from companion.usecases.alert_state import alert_plain
from companion.usecases.curve import LONGEST_BACK
from companion.usecases.curve import shown as curve_shown
from companion.usecases.desk import call_back, holds_plain
from companion.usecases.first_weeks import expected, is_new
from companion.usecases.forecast_plain import made_plain, surprises
from companion.usecases.forecasting import foresee
from companion.usecases.handover import state as handover_state
from companion.usecases.invitations import state_of
from companion.usecases.night_plain import nights_plain, questions_plain
from companion.usecases.passes import passes_plain
from companion.usecases.raising import open_holds
from companion.usecases.showing import iso, wearer_plain
from companion.usecases.story import load_story
from companion.usecases.wearer_record import spherical_equivalent_d

SHOWN_NIGHTS = 28


def wearer(session: Session, actor: Actor, wearer_id: str, now: datetime) -> dict[str, Any]:
    """Everything about one wearer on one page."""
    row = wearer_for(session, actor, wearer_id, Action.SEE_RECORD)
    story = load_story(session, row, now)
    holds = open_holds(session, row, now)
    foreseen = foresee(session, story, holds, now)
    reports = reports_of(session, row)
    where = zone(row.zone)
    nights = story.nights[-SHOWN_NIGHTS:]
    made = {entry.id: entry.at for entry in story.entries}
    roles = roles_towards(session, actor, row)
    return {
        "wearer": {
            **wearer_plain(row, now),
            "birth_date": row.birth_date.isoformat(),
            "first_night": row.first_night.isoformat() if row.first_night else None,
            "settled_nights_per_week": row.settled_nights_per_week,
        },
        "now": iso(now, where),
        "nights": nights_plain(story, nights, reports),
        "asks": questions_plain(story, nights, now),
        "curve": curve_shown(foreseen.curve, story, now, back=LONGEST_BACK),
        "answer": foreseen.forecast["tonight"],
        "forecast": made_plain(foreseen),
        "about": foreseen.about,
        "surprises": surprises(foreseen.about),
        "first_weeks": expected(story, now) if is_new(story) else None,
        "reports": [
            {
                "id": one.entry_id,
                "level": one.level,
                "at": iso(made[one.entry_id], where),
                "deciding": one.deciding,
            }
            for one in reports
        ],
        "alerts": [alert_plain(session, one, where) for one in alerts_of(session, row)],
        "holds": holds_plain(holds, row),
        "plan": _plan(session, story.plan),
        "clearance": _clearance(session, clearance_of(session, row)),
        "lenses": {eye.value: lens_plain(session, story.lenses, eye) for eye in story.eyes},
        "refractions": [_refraction(one, where) for one in story.refractions],
        "guardians": call_back(session, row),
        "invitations": _invitations(session, row, now, where),
        "passes": passes_plain(session, row, now),
        "handover": handover_state(session, row, now),
        "visits": [_visit(one) for one in visits_of(session, row)],
        "may": [action.value for action in Action if may(roles, action)],
    }


def _signature(session: Session, row: Plan | ClearanceRow | Lens) -> dict[str, Any]:
    name = session.get_one(Person, row.signed_by).name
    return {"signed_by": name, "signed_on": row.signed_at.date().isoformat()}


def _plan(session: Session, row: Plan | None) -> dict[str, Any] | None:
    if row is None:
        return None
    return {
        "every": row.every,
        "weekdays": row.weekdays,
        "target_logmar": row.target_acuity_logmar,
        "target_until": row.target_until.strftime("%H:%M"),
        "target_eyes": row.target_eyes,
        "target_distance_m": row.target_distance_m,
        "since": row.since.isoformat(),
        **_signature(session, row),
    }


def _clearance(session: Session, row: ClearanceRow | None) -> dict[str, Any] | None:
    if row is None:
        return None
    return {
        "may_skip": row.may_skip,
        "longest_gap_nights": row.longest_gap_nights,
        "until": row.until.isoformat() if row.until else None,
        **_signature(session, row),
    }


def lens_plain(session: Session, lenses: Sequence[Lens], eye: Eye) -> dict[str, Any] | None:
    """The lens of an eye as the practice has it on file; None: there is none."""
    row = next((one for one in lenses if one.eye == eye), None)
    if row is None:
        return None
    return {
        "marked_as": row.marked_as,
        "base_curve_mm": row.base_curve_mm,
        "diameter_mm": row.diameter_mm,
        "aim_d": row.aim_d,
        "since": row.since.isoformat(),
        **_signature(session, row),
    }


def _refraction(row: Refraction, where: ZoneInfo) -> dict[str, Any]:
    return {
        "id": row.id,
        "eye": row.eye,
        "kind": row.kind,
        "sphere_d": row.sphere_d,
        "cylinder_d": row.cylinder_d,
        "axis_deg": row.axis_deg,
        "spherical_equivalent_d": spherical_equivalent_d(row),
        "best_acuity_logmar": row.best_acuity_logmar,
        "measured_at": iso(row.measured_at, where),
    }


def _visit(row: Visit) -> dict[str, Any]:
    return {
        "id": row.id,
        "due_on": row.due_on.isoformat(),
        "kind": row.kind,
        "done_on": row.done_on.isoformat() if row.done_on else None,
    }


def _invitations(session: Session, row: Wearer, now: datetime, where: ZoneInfo) -> list[dict[str, Any]]:
    invitations = session.scalars(
        select(Invitation)
        .where(Invitation.practice_id == row.practice_id, Invitation.wearer_id == row.id)
        .order_by(Invitation.created_at.desc())
    )
    return [
        {
            "id": one.id,
            "kind": one.kind,
            "name": one.name,
            "state": state_of(one, now),
            "expires_at": iso(one.expires_at, where),
        }
        for one in invitations
    ]
