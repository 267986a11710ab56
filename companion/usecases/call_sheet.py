"""One alert's call sheet: everything that a call to the family needs, on one page."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy.orm import Session

from companion.access import Action, may
from companion.common.eyes import EYES
from companion.common.moments import zone
from companion.diary.wear import lens_state
from companion.store.models import Report, Wearer, WearerState
from companion.store.queries.alerts import reports_of
from companion.usecases import curve
from companion.usecases.actor import Actor, roles_at
from companion.usecases.alerts import SERIOUS_LEVEL, Outcome, alert_for
from companion.usecases.desk import alert_row, call_back, holds_plain
from companion.usecases.night_plain import nights_plain
from companion.usecases.raising import SENT_LEVEL, open_holds
from companion.usecases.reports import report_plain
from companion.usecases.showing import iso
from companion.usecases.story import Story, load_story
from companion.usecases.wearer_page import lens_plain

SHOWN_NIGHTS = 14


def alert(session: Session, actor: Actor, alert_id: str, now: datetime) -> dict[str, Any]:
    """All that a call needs. The curve is the one that is kept: a sheet never waits for a new one."""
    practice, row = alert_for(session, actor, alert_id, Action.SEE_DESK)
    wearer = session.get_one(Wearer, row.wearer_id)
    report = session.get_one(Report, row.entry_id)
    story = load_story(session, wearer, now)
    close_action = Action.CLOSE_SERIOUS_ALERT if row.level >= SENT_LEVEL else Action.CLOSE_MILD_ALERT
    roles, where = roles_at(actor, practice.id), zone(practice.zone)
    return {
        **alert_row(session, practice, row, report, wearer, now),
        "now": iso(now, where),
        "report": report_plain(session, report, wearer, row),
        "told_in": report.language,
        "call_back": call_back(session, wearer),
        "lens_now": {
            eye.value: {"state": state.place.value, "since": iso(state.since, where)}
            for eye in EYES
            for state in [lens_state(story.standing, eye, now, story.habits.split)]
        },
        "lenses": {eye.value: lens_plain(session, story.lenses, eye) for eye in EYES},
        "nights": nights_plain(story, story.nights[-SHOWN_NIGHTS:], reports_of(session, wearer)),
        **_curve(session, story, now),
        "holds": holds_plain(open_holds(session, wearer, now), wearer),
        "may_close": may(roles, close_action),
        "may_lift": may(roles, Action.LIFT_HOLD),
        "asks_to_confirm": row.level >= SERIOUS_LEVEL,
        "outcomes": [one.value for one in Outcome],
    }


def _curve(session: Session, story: Story, now: datetime) -> dict[str, Any]:
    wearer = story.wearer
    state = session.get(WearerState, (wearer.practice_id, wearer.id))
    drawn = curve.shown(state.curve, story, now) if state else None
    return {"curve": drawn, "curve_at": iso(state.forecast_at, zone(wearer.zone)) if state and drawn else None}
