"""The forecast of a wearer: worked out once, kept, and shown many times.

A forecast is never needed to store an entry or to send an alert: it has its own transaction, may be stale, and
says how old it is. Where it cannot be made, the last one is kept and says so, and tonight's answer is made without
it: what could not be worked out frees no night.
"""

from __future__ import annotations

import json
import logging
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from companion.common.eyes import Eye
from companion.common.moments import parse_instant
from companion.exchange.about import about
from companion.exchange.day_document import DayOfNote, tonight_matters
from companion.exchange.forecast import DEFAULT_HOURS, document
from companion.exchange.record import WearerRecord
from companion.exchange.wearer_course import WearerCourse, follow_wearer
from companion.fade.sampling import Place
from companion.regimen.plan import NOT_CLEARED, Clearance
from companion.store.engine import Store
from companion.store.models import ClearanceRow, Hold, Wearer, WearerState
from companion.store.queries.prescriptions import clearance_of, is_visit_overdue
from companion.usecases import curve
from companion.usecases.ahead import ahead, days_of_note, days_to_come
from companion.usecases.derived import derive
from companion.usecases.fits import keep_fits, places_of
from companion.usecases.raising import open_holds
from companion.usecases.showing import iso
from companion.usecases.story import Story, load_story
from companion.usecases.unmeasured import with_every_eye
from companion.usecases.wearer_record import record_of

FRESH_FOR = timedelta(minutes=55)
TRY_AGAIN = timedelta(minutes=15)
"""One that broke waits so long, so that it can't hold up the others."""
VISIT_GRACE_DAYS = 30

log = logging.getLogger(__name__)


@dataclass(frozen=True)
class Foreseen:
    """What the pages show of the days to come."""

    forecast: dict[str, Any]
    """The document, with an answer for every treated or held eye."""
    about: dict[str, Any] | None
    """What stands behind it; None: nothing was worked out."""
    curve: dict[str, Any] | None


@dataclass(frozen=True)
class _Known:
    """All that a forecast is made from, as read at one moment."""

    story: Story
    holds: Sequence[Hold]
    record: WearerRecord | None
    clearance: Clearance
    overdue: bool
    places: Mapping[Eye, Place]
    days: Mapping[str, DayOfNote]
    """The days that matter whose nights are named by now, by id."""
    now: datetime

    def answered(self, tonight: dict[str, Any] | None) -> dict[str, Any]:
        return with_every_eye(tonight, self.story, self.holds, self.clearance, self.overdue, self.now)


def foresee(session: Session, story: Story, holds: Sequence[Hold], now: datetime) -> Foreseen:
    """Return what is foreseen for a wearer: as stored while that is fresh, else made anew. Stores nothing."""
    state = _state(session, story.wearer)
    if state is not None and state.forecast is not None and _is_fresh(state, story.wearer, holds, now):
        return Foreseen(state.forecast, state.about, state.curve)
    known = _known(session, story, holds, now)
    try:
        return _made(known)[0]
    except Exception:
        log.exception("the forecast of wearer %s broke; the last one is shown", story.wearer.id)
        return _kept(state, known)


def refresh_forecast(store: Store, wearer_id: str, now: datetime) -> None:
    """Make and store one wearer's forecast: worked out from a read, then kept in a short write of its own."""
    followed, broke = None, False
    with store.reading() as session:
        wearer = session.get_one(Wearer, wearer_id)
        story = load_story(session, wearer, now)
        holds = open_holds(session, wearer, now)
        known = _known(session, story, holds, now)
        try:
            # Looked for anew: what is kept depends on the record alone, not on which fits came before.
            made, followed = _made(replace(known, places={}))
        except Exception:
            log.exception("the forecast of wearer %s broke; the last one is kept", wearer_id)
            made, broke = _kept(_state(session, wearer), known), True
    with store.writing() as session:
        state = _state(session, wearer) or session.merge(
            WearerState(practice_id=wearer.practice_id, wearer_id=wearer.id, **derive(story))
        )
        state.forecast, state.forecast_failed_at = made.forecast, now if broke else None
        if not broke:
            state.about, state.curve, state.forecast_at = made.about, made.curve, now
            # Numbered by what was read: what came meanwhile makes it stale at once.
            state.forecast_seq, state.forecast_signed = wearer.last_seq, wearer.signed_seq
            state.forecast_holds = _hold_key(holds)
        if followed is not None:
            keep_fits(session, wearer, followed, now)
        session.commit()


def stale_forecasts(session: Session, now: datetime, most: int = 50) -> list[str]:
    """Return the ids of wearers whose stored forecast is missing, behind what is known, or old; oldest first."""
    return list(
        session.scalars(
            select(Wearer.id)
            .outerjoin(
                WearerState,
                (WearerState.wearer_id == Wearer.id) & (WearerState.practice_id == Wearer.practice_id),
            )
            .where(
                Wearer.ended_at.is_(None),
                or_(
                    WearerState.forecast_at.is_(None),
                    WearerState.forecast_seq != Wearer.last_seq,
                    WearerState.forecast_signed.is_(None),
                    WearerState.forecast_signed != Wearer.signed_seq,
                    WearerState.forecast_at < now - FRESH_FOR,
                ),
                or_(WearerState.forecast_failed_at.is_(None), WearerState.forecast_failed_at < now - TRY_AGAIN),
            )
            .order_by(WearerState.forecast_at.asc().nulls_first(), Wearer.id)
            .limit(most)
        )
    )


def _state(session: Session, wearer: Wearer) -> WearerState | None:
    return session.get(WearerState, (wearer.practice_id, wearer.id))


def _is_fresh(state: WearerState, wearer: Wearer, holds: Sequence[Hold], now: datetime) -> bool:
    return (
        state.forecast_seq == wearer.last_seq
        and state.forecast_signed == wearer.signed_seq
        and state.forecast_holds == _hold_key(holds)
        and state.forecast_at is not None
        and timedelta(0) <= now - state.forecast_at < FRESH_FOR
    )


def _known(session: Session, story: Story, holds: Sequence[Hold], now: datetime) -> _Known:
    wearer = story.wearer
    clearance = clearance_from(clearance_of(session, wearer))
    return _Known(
        story=story,
        holds=holds,
        record=record_of(story, holds, clearance, now),
        clearance=clearance,
        overdue=is_visit_overdue(session, wearer, now.astimezone(story.habits.home).date(), VISIT_GRACE_DAYS),
        places=places_of(session, wearer),
        days=days_of_note(days_to_come(session, wearer, now), now),
        now=now,
    )


def clearance_from(row: ClearanceRow | None) -> Clearance:
    return NOT_CLEARED if row is None else Clearance(row.may_skip, row.longest_gap_nights, row.until)


def _made(known: _Known) -> tuple[Foreseen, WearerCourse | None]:
    """Follow the wearer once, and say everything from that. Without a refraction there is only an answer."""
    if known.record is None:
        return Foreseen({**_nothing(known), "tonight": known.answered(None)}, None, None), None
    followed = follow_wearer(known.record, known.now, known.places)
    times = [followed.as_of + timedelta(hours=ahead) for ahead in range(DEFAULT_HOURS + 1)]
    kept = tonight_matters(followed, known.days.values())
    said = document(followed, times, visit_overdue=known.overdue, day_that_matters=kept)
    tonight = known.answered(said["tonight"])
    forecast = {**said, "tonight": tonight, "ahead": ahead(followed, known.days, tonight)}
    made = Foreseen(forecast, about(followed), curve.drawn(followed))
    # A number that is none is a forecast that broke: no database keeps it, and nobody should read it.
    json.dumps((made.forecast, made.about, made.curve), allow_nan=False)
    return made, followed


def _kept(state: WearerState | None, known: _Known) -> Foreseen:
    """The last forecast under a warning that says how old it is, and an answer that does not rest on it."""
    last = state.forecast if state is not None and state.forecast is not None else _nothing(known)
    warnings = [one for one in last["warnings"] if one["key"] not in ("forecast_kept", "no_forecast")]
    if last["eyes"]:
        hours = max(0, (known.now - parse_instant(last["as_of"])) // timedelta(hours=1))
        warnings.insert(0, {"key": "forecast_kept", "values": {"hours": hours}})
    else:
        warnings.insert(0, {"key": "no_forecast", "values": {}})
    tonight = known.answered(None)
    tonight["reasons"] = _without_a_forecast(tonight["reasons"])
    for one in tonight["eyes"].values():
        one["reasons"] = _without_a_forecast(one["reasons"])
    forecast = {**last, "tonight": tonight, "warnings": warnings, "ahead": {}}
    return Foreseen(forecast, state.about if state else None, state.curve if state else None)


def _without_a_forecast(reasons: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """What was not looked at is not too little: the forecast is what is missing."""
    missing = {"key": "no_forecast", "values": {}}
    return [missing if one["key"] == "too_little_data" else one for one in reasons]


def _nothing(known: _Known) -> dict[str, Any]:
    return {"as_of": iso(known.now, known.story.habits.home), "eyes": {}, "tonight": None, "warnings": []}


def _hold_key(holds: Sequence[Hold]) -> str:
    return ",".join(sorted({hold.eye for hold in holds}))
