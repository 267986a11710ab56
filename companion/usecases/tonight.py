"""*Tonight*: what this hour asks for, may the lenses stay out, and until when sight should hold."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from datetime import date, datetime, timedelta
from functools import partial
from typing import Any

from sqlalchemy.orm import Session

from companion.access import Action, may
from companion.common.eyes import Eye
from companion.common.moments import zone
from companion.diary.entry import Kind
from companion.diary.wear import LensPlace, LensState, lens_state
from companion.store.models import Hold, Practice, Report
from companion.store.queries.alerts import alerts_of
from companion.usecases.actor import Actor, roles_towards, wearer_for
from companion.usecases.alert_state import most_pressing_for_family
from companion.usecases.asking import check_asked
from companion.usecases.curve import shown as curve_shown
from companion.usecases.days import ahead_on_tonight
from companion.usecases.desk import holds_plain
from companion.usecases.forecast_plain import made_plain, surprises
from companion.usecases.forecasting import foresee
from companion.usecases.handover import asks
from companion.usecases.looks import look_on_tonight
from companion.usecases.night_plain import questions_plain
from companion.usecases.raising import open_holds
from companion.usecases.reports import may_see
from companion.usecases.showing import iso, practice_now, wearer_plain
from companion.usecases.story import Story, load_story, plan_asks
from companion.usecases.week import untold
from companion.usecases.young import young_alone

BEFORE_BED, AFTER_BED = timedelta(hours=4), timedelta(hours=3)
BEFORE_RISING, AFTER_RISING = timedelta(hours=2), timedelta(hours=4)
UNDO_FOR = timedelta(minutes=10)
CLOSED_SHOWN_FOR = timedelta(hours=48)
ASKED_NIGHTS = 7
FORETOLD_NIGHTS = 8
"""For so many nights a phone without a network can say what the plan asks."""
NO_LENS = frozenset({"do_not_wear", "ask_clinic"})
ON_THE_PAGE = (Action.SEE_CARE, Action.SEE_OWN_PAGES, Action.WRITE_DIARY, Action.REPORT_SYMPTOMS)
"""What the page offers only to those who may."""
_NOT_FOR_CARERS: dict[str, Any] = {"curve": None, "target": None, "forecast": None, "asks": [], "undo": None} | {
    "check": None,
    "surprises": [],
    "ahead": None,
    "week": None,
}
"""Whoever may not see the diary sees what tonight should be, and nothing that the diary tells."""
UNDOABLE = frozenset({Kind.LENSES_IN, Kind.LENSES_OUT, Kind.NO_LENSES, Kind.SIGHT, Kind.AS_PLANNED, Kind.NOTE})


def tonight(session: Session, actor: Actor, wearer_id: str, now: datetime) -> dict[str, Any]:
    """Everything that the family's first page shows, as codes and values."""
    wearer = wearer_for(session, actor, wearer_id, Action.SEE_TONIGHT)
    roles = roles_towards(session, actor, wearer)
    practice = session.get_one(Practice, wearer.practice_id)
    story = load_story(session, wearer, now)
    holds = open_holds(session, wearer, now)
    foreseen = foresee(session, story, holds, now)
    where = zone(wearer.zone)
    lenses = {eye: lens_state(story.standing, eye, now, story.habits.split) for eye in story.eyes}
    hour = hour_of_day(story, now)
    answer = foreseen.forecast["tonight"]
    leave = _to_be_left_alone(session, holds)
    check = check_asked(story, foreseen.about, answer, hour, lenses, now)
    action = action_for(story, hour, lenses, answer, leave, check_now=check is not None and check["when"] == "now")
    alerts = [
        one
        for one in alerts_of(session, wearer, closed_since=now - CLOSED_SHOWN_FOR)
        if may_see(session, actor, roles, one.entry_id, one.level)
    ]
    night = date.fromisoformat(answer["night"])
    first_night = wearer.first_night
    view = {
        "wearer": {
            **wearer_plain(wearer, now),
            "night_number": (night - first_night).days + 1 if first_night and night >= first_night else None,
        },
        "now": iso(now, where),
        "night": answer["night"],
        "hour": hour,
        "action": {"kind": action, "eyes": _offered(action, lenses, answer, leave)},
        "lens": {
            eye.value: {"state": state.place.value, "since": iso(state.since, where)}
            for eye, state in lenses.items()
        },
        "answer": {
            "wearer": answer["answer"],
            "reasons": answer["reasons"],
            "meets_target": answer["meets_target"],
            "holds_until": answer["holds_until"],
            "target_at": answer["target_at"],
            "eyes": answer["eyes"],
        },
        "holds": holds_plain(holds, wearer),
        "leave": sorted(leave),
        "planned": {one.isoformat(): plan_asks(story.plans, one) for one in _nights_from(story.tonight)},
        "alert": most_pressing_for_family(session, practice, alerts, where, now),
        "look": look_on_tonight(session, wearer, partial(may_see, session, actor, roles), now),
        "curve": curve_shown(foreseen.curve, story, now),
        "target": _target(story),
        "forecast": made_plain(foreseen),
        "check": check,
        "surprises": surprises(foreseen.about),
        "ahead": ahead_on_tonight(session, story, foreseen, now),
        "week": untold(session, story, now),
        "asks": questions_plain(story, story.nights[-ASKED_NIGHTS:], now),
        "undo": _undo(story, actor, now),
        "practice": practice_now(practice, now, where),
        "may": [action.value for action in ON_THE_PAGE if may(roles, action)],
        "handover": asks(session, actor, wearer),
        "young": young_alone(session, actor, wearer, now),
    }
    if may(roles, Action.SEE_OWN_PAGES):
        return view
    if action == "sight":  # theirs to tell nobody
        view["action"] = {"kind": "none", "eyes": []}
    return view | _NOT_FOR_CARERS


def hour_of_day(story: Story, now: datetime) -> str:
    """*evening*, *night*, *morning* or *day*, by the wearer's own hours: some sleep by day."""
    usual_in, usual_out = story.habits.usual_wear(story.tonight)
    if usual_in - BEFORE_BED <= now < usual_in + AFTER_BED:
        return "evening"
    if usual_out - BEFORE_RISING <= now < usual_out + AFTER_RISING:
        return "morning"
    return "night" if usual_in <= now < usual_out else "day"


def action_for(
    story: Story,
    hour: str,
    lenses: Mapping[Eye, LensState],
    answer: Mapping[str, Any],
    leave: Collection[str] = (),
    *,
    check_now: bool = False,
) -> str:
    """The one deed that this hour asks for: ``lenses_in``, ``lenses_out``, ``sight`` or ``none``.

    ``leave``: eyes whose lens a report has said not to touch or to pull; nobody is asked to take that one out.
    ``check_now``: a look at sight would teach something this morning.
    """
    places = {state.place for state in lenses.values()}
    if LensPlace.IN in places:
        may_come_out = any(state.place is LensPlace.IN and eye not in leave for eye, state in lenses.items())
        return "lenses_out" if hour in ("morning", "day") and may_come_out else "none"
    wears = bool({one["answer"] for one in answer["eyes"].values()} - NO_LENS)
    if hour in ("evening", "night"):
        return "lenses_in" if wears else "none"
    slept = places == {LensPlace.UNKNOWN} and wears and plan_asks(story.plans, story.tonight)
    if hour == "morning" and slept and not leave:
        return "lenses_out"
    return "sight" if check_now else "none"


def _to_be_left_alone(session: Session, holds: Sequence[Hold]) -> set[str]:
    """The eyes whose lens an open report said to leave: cut, splashed, or a lens that does not move."""
    leave = set()
    for hold in holds:
        report = session.get(Report, hold.entry_id) if hold.entry_id else None
        if report is not None and report.lens.get(hold.eye) not in (None, "take_out", "none"):
            leave.add(hold.eye)
    return leave


def _offered(
    action: str, lenses: Mapping[Eye, LensState], answer: Mapping[str, Any], leave: Collection[str]
) -> list[str]:
    """The eyes that the hour's deed is offered for: those with a lens in, else those that may have one in."""
    if action == "sight":
        return [eye.value for eye in lenses]
    worn = [eye.value for eye, state in lenses.items() if state.place is LensPlace.IN and eye not in leave]
    return worn or [eye for eye, one in answer["eyes"].items() if one["answer"] not in NO_LENS]


def _target(story: Story) -> dict[str, Any] | None:
    plan = story.plan
    if plan is None:
        return None
    return {
        "logmar": plan.target_acuity_logmar,
        "until_local": plan.target_until.strftime("%H:%M"),
        "eyes": plan.target_eyes,
    }


def _nights_from(night: date) -> list[date]:
    return [night + timedelta(days=ahead) for ahead in range(FORETOLD_NIGHTS)]


def _undo(story: Story, actor: Actor, now: datetime) -> dict[str, Any] | None:
    """The person's own last tap, while it is so fresh that it may have been a slip."""
    fresh = [
        entry
        for entry in story.standing
        if entry.author_id == actor.person_id
        and entry.kind in UNDOABLE
        and not entry.corrected
        and now - entry.received_at <= UNDO_FOR
    ]
    last = max(fresh, key=lambda entry: entry.seq, default=None)
    if last is None:
        return None
    return {
        "entry_id": last.id,
        "kind": last.kind.value,
        "at": iso(last.at, zone(last.zone)),
        "eyes": last.payload.get("eyes") or last.payload.get("eye"),
    }
