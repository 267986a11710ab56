"""From the store to the science and back: a wearer's record, the forecast document, and its cache.

A forecast is never needed to store an entry or to send an alert: it has its own transaction, may be stale, and
says how old it is.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, time, timedelta
from typing import Any

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from companion.common.eyes import Eye
from companion.common.moments import zone
from companion.diary.nights import NightState
from companion.diary.sight import observations
from companion.diary.spans import wear_intervals
from companion.exchange.forecast import forecast
from companion.exchange.record import (
    AcuityCheck,
    EyeRecord,
    History,
    RefractionCheck,
    SymptomReport,
    Target,
    WearerRecord,
)
from companion.regimen.nights import WearSpan, joined
from companion.regimen.plan import NOT_CLEARED, Clearance
from companion.store.engine import Store
from companion.store.models import ClearanceRow, Hold, Lens, Plan, Refraction, Wearer, WearerState
from companion.store.queries.prescriptions import clearance_of, is_visit_overdue
from companion.usecases.raising import open_holds
from companion.usecases.showing import age_on, iso
from companion.usecases.story import Story, load_story, wear_plan
from companion.usecases.unmeasured import hold_level, with_every_eye

FRESH_FOR = timedelta(minutes=55)
VISIT_GRACE_DAYS = 30
CHILD_BEFORE_AGE = 16
DEFAULT_AIM_D = 0.50
"""Morning residual where no lens is on file yet: evidence, "assume +0.25 to +0.75, default +0.50" (inferred)."""
DEFAULT_TARGET_LOGMAR = 0.20


def forecast_now(session: Session, story: Story, now: datetime) -> dict[str, Any]:
    """Return the wearer's forecast: the stored one while it is fresh, else a new one. Stores nothing."""
    wearer = story.wearer
    state = session.get(WearerState, (wearer.practice_id, wearer.id))
    fresh = (
        state is not None
        and state.forecast_seq == wearer.last_seq
        and state.forecast_at is not None
        and timedelta(0) <= now - state.forecast_at < FRESH_FOR
    )
    holds = open_holds(session, wearer, now)
    if fresh and state is not None and state.forecast is not None and state.forecast_holds == _hold_key(holds):
        return state.forecast
    return make_forecast(session, story, holds, now)


def make_forecast(session: Session, story: Story, holds: Sequence[Hold], now: datetime) -> dict[str, Any]:
    """Make the forecast document. An eye without a baseline refraction has no rows, but has its answer."""
    record = record_of(session, story, holds, now)
    today = now.astimezone(story.habits.home).date()
    overdue = is_visit_overdue(session, story.wearer, today, VISIT_GRACE_DAYS)
    document = (
        forecast(record, as_of=now, visit_overdue=overdue)
        if record
        else {"as_of": iso(now, story.habits.home), "eyes": {}, "tonight": None, "warnings": []}
    )
    clearance = _clearance(clearance_of(session, story.wearer))
    answered = with_every_eye(document["tonight"], story, holds, clearance, overdue, now)
    return {**document, "tonight": answered}


def refresh_forecast(store: Store, wearer_id: str, now: datetime) -> None:
    """Make and store one wearer's forecast: worked out from a read, then kept in a short write of its own."""
    with store.reading() as session:
        wearer = session.get_one(Wearer, wearer_id)
        story = load_story(session, wearer, now)
        holds = open_holds(session, wearer, now)
        made = make_forecast(session, story, holds, now)
    with store.writing() as session:
        state = session.get(WearerState, (wearer.practice_id, wearer.id))
        if state is None:
            return
        state.forecast, state.forecast_at = made, now
        # Numbered by what was read: an entry that came meanwhile makes it stale at once.
        state.forecast_seq, state.forecast_holds = wearer.last_seq, _hold_key(holds)
        session.commit()


def stale_forecasts(session: Session, now: datetime, most: int = 50) -> list[str]:
    """Return the ids of wearers whose stored forecast is missing, behind their diary, or old; oldest first."""
    return list(
        session.scalars(
            select(Wearer.id)
            .join(
                WearerState,
                (WearerState.wearer_id == Wearer.id) & (WearerState.practice_id == Wearer.practice_id),
            )
            .where(
                Wearer.ended_at.is_(None),
                or_(
                    WearerState.forecast_at.is_(None),
                    WearerState.forecast_seq != Wearer.last_seq,
                    WearerState.forecast_at < now - FRESH_FOR,
                ),
            )
            .order_by(WearerState.forecast_at, Wearer.id)
            .limit(most)
        )
    )


def record_of(
    session: Session, story: Story, holds: Sequence[Hold], now: datetime
) -> WearerRecord | None:
    """Build the science's record from the store; None without a baseline refraction."""
    wearer = story.wearer
    eyes = {
        eye: record
        for eye in story.eyes
        if (record := _eye_record(story, eye, now)) is not None
    }
    if not eyes:
        return None
    habit = wearer.settled_nights_per_week
    since = wearer.first_night or wearer.diary_since
    return WearerRecord(
        zone=zone(wearer.zone),
        birth_year=wearer.birth_date.year,
        target=_target(story.plan),
        eyes=eyes,
        plan=wear_plan(story.plan),
        clearance=_clearance(clearance_of(session, wearer)),
        history=History(since, habit) if habit is not None and since < wearer.diary_since else None,
        complete=False,
        symptoms=tuple(
            SymptomReport(at=hold.placed_at, eyes=frozenset({Eye(hold.eye)}), level=hold_level(hold), open=True)
            for hold in holds
        ),
        split=story.habits.split,
        latest=now,
    )


def _target(plan: Plan | None) -> Target:
    if plan is None:
        return Target(acuity_logmar=DEFAULT_TARGET_LOGMAR, until_local=time(18))
    better = plan.target_eyes == "better"
    return Target(plan.target_acuity_logmar, plan.target_until, better, plan.target_distance_m)


def _clearance(row: ClearanceRow | None) -> Clearance:
    return NOT_CLEARED if row is None else Clearance(row.may_skip, row.longest_gap_nights, row.until)


def _eye_record(story: Story, eye: Eye, now: datetime) -> EyeRecord | None:
    baseline = _newest(story.refractions, eye, "baseline")
    if baseline is None:
        return None
    lens = next((one for one in story.lenses if one.eye == eye), None)
    measured = (row.best_acuity_logmar for row in story.refractions if row.eye == eye)
    best = next((logmar for logmar in measured if logmar is not None), None)
    spans = wear_intervals(story.nights, eye, story.habits, now)
    looks = observations(story.standing, is_child=age_on(story.wearer, now) < CHILD_BEFORE_AGE)
    return EyeRecord(
        baseline_d=spherical_equivalent_d(baseline),
        aim_d=_aim(lens),
        best_acuity_logmar=best,
        wear=joined(WearSpan(span.start, span.end, span.night) for span in spans),
        nights_off=frozenset(n.night for n in story.nights if n.eyes[eye].state is NightState.NOT_WORN),
        acuity=tuple(
            AcuityCheck(look.at, look.logmar, look.sd, look.distance_m) for look in looks if look.eye == eye
        ),
        refraction=tuple(
            RefractionCheck(row.measured_at, spherical_equivalent_d(row))
            for row in reversed(story.refractions)
            if row.eye == eye and row.kind == "residual"
        ),
    )


def spherical_equivalent_d(row: Refraction) -> float:
    return row.sphere_d + row.cylinder_d / 2


def _aim(lens: Lens | None) -> float:
    return DEFAULT_AIM_D if lens is None else lens.aim_d


def _newest(rows: Sequence[Refraction], eye: Eye, kind: str) -> Refraction | None:
    return next((row for row in rows if row.eye == eye and row.kind == kind), None)


def _hold_key(holds: Sequence[Hold]) -> str:
    return ",".join(sorted({hold.eye for hold in holds}))
