"""The forecast document of one wearer, built once for files, screens and phones.

Owns the document's shape, its rounding and the counts that the answer table asks for. The science is ``fade``, the
answer ``tonight``; neither knows of the other.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from companion.common.errors import InvalidInput, Problem
from companion.common.eyes import Eye
from companion.common.moments import at_wall_clock, hours_between, utc
from companion.exchange.eye_course import EyeCourse
from companion.exchange.eye_readings import counted, in_doubt_since
from companion.exchange.record import WearerRecord
from companion.exchange.wearer_course import WearerCourse, follow_wearer, said, settled_as_of
from companion.fade.band import Band, band, chance_to_meet
from companion.fade.fit import FellBack
from companion.fade.parameters import Array
from companion.fade.sight import acuity
from companion.fade.surprise import worse_than_explained
from companion.regimen.nights import WearSpan, nights_off, worn_hours, worn_nights
from companion.tonight.answer import (
    GOOD_CHANCE,
    RECENT_HOURS,
    UNKNOWN_WINDOW_NIGHTS,
    EyeAnswer,
    EyeFacts,
    Reason,
    answer_eye,
    answer_wearer,
)

DEFAULT_HOURS = 72
FARTHEST = timedelta(days=60)
HOLD_HOURS = 168
LONG_IN_HOURS = 24
"""A lens that is in for longer is pointed out."""


def forecast(
    record: WearerRecord,
    as_of: datetime | None = None,
    at: Sequence[datetime] = (),
    nights: Sequence[bool] = (),
    *,
    practice_stop: bool = False,
    visit_overdue: bool = False,
    day_that_matters: bool = False,
) -> dict[str, Any]:
    """Return the forecast document of the contract.

    ``nights``: for each coming night from tonight, is it worn? ``practice_stop``, ``visit_overdue`` and
    ``day_that_matters`` (one rests on tonight) are facts that only the app has; they join rows 1, 2 and 4 of the
    answer table.
    """
    start = settled_as_of(record, as_of)
    times = list(at) or [start + timedelta(hours=ahead) for ahead in range(DEFAULT_HOURS + 1)]
    for time in times:
        if not start <= time <= start + FARTHEST:
            values = {"earliest": said(start, record), "latest": said(start + FARTHEST, record)}
            raise InvalidInput(Problem("time_outside_forecast", "--at", values))
    followed = follow_wearer(record, start)
    facts = {"practice_stop": practice_stop, "visit_overdue": visit_overdue, "day_that_matters": day_that_matters}
    return document(followed, times, nights, **facts)


def document(
    wearer: WearerCourse,
    times: Sequence[datetime],
    nights: Sequence[bool] = (),
    *,
    practice_stop: bool = False,
    visit_overdue: bool = False,
    day_that_matters: bool = False,
) -> dict[str, Any]:
    """Return the forecast document of a wearer whose eyes have been followed: nothing is fitted here."""
    record, as_of, eyes, night = wearer.record, wearer.as_of, wearer.eyes, wearer.night
    rows = {
        eye.value: _rows(record, course, times, course.planned(record, as_of, night, nights))
        for eye, course in eyes.items()
    }
    return {
        "as_of": said(as_of, record),
        "eyes": rows,
        "tonight": _tonight(record, eyes, as_of, night, practice_stop, visit_overdue, day_that_matters),
        "warnings": [_reason_json(one) for one in _warnings(eyes, as_of, night)],
    }


def fan(
    wearer: WearerCourse,
    start: datetime,
    end: datetime,
    step_hours: float = 1.0,
    nights: Sequence[bool] = (),
) -> dict[str, Any]:
    """Return what a fade curve needs from ``start`` to ``end``, the past included.

    For each eye its ``rows``, as in the forecast, and its ``wear``: spans with ``from``, ``until`` and ``kind``
    (worn, planned, unknown).
    """
    record, as_of, eyes, night = wearer.record, wearer.as_of, wearer.eyes, wearer.night
    count = int(hours_between(start, end) / step_hours + 1e-9) + 1
    times = [utc(start) + timedelta(hours=step_hours * step) for step in range(count)]
    drawn: dict[str, Any] = {"as_of": said(as_of, record), "eyes": {}}
    for eye, course in eyes.items():
        planned = course.planned(record, as_of, night, nights)
        kinds = (("worn", course.known), ("unknown", course.unknown), ("planned", planned))
        spans = [(kind, span) for kind, some in kinds for span in some if _meets(span, start, end)]
        drawn["eyes"][eye.value] = {
            "rows": _rows(record, course, times, planned),
            "wear": [
                {"from": said(span.start, record), "until": said(span.end or as_of, record), "kind": kind}
                for kind, span in sorted(spans, key=lambda one: one[1].start)
            ],
        }
    return drawn


def _meets(span: WearSpan, start: datetime, end: datetime) -> bool:
    return span.start < end and (span.end is None or span.end > start)


# -- rows ------------------------------------------------------------------------------------------------------
def _rows(
    record: WearerRecord, course: EyeCourse, times: Sequence[datetime], planned: Sequence[WearSpan]
) -> list[dict[str, Any]]:
    mean, spread = course.residuals(times, planned)
    chance = _chance(record, course, mean, spread)
    residual = mean + spread * course.draws.score
    logmar = acuity(course.draws, residual, record.target.distance_m)
    refraction_d, acuity_logmar = band(residual), band(logmar)
    return [
        {
            "at": said(time, record),
            "refraction_d": _band_json(refraction_d, row),
            "acuity_logmar": _band_json(acuity_logmar, row),
            "meets_target": _rounded(chance[row]),
        }
        for row, time in enumerate(times)
    ]


# -- tonight ---------------------------------------------------------------------------------------------------
@dataclass(frozen=True)
class _Skipped:
    """What happens to an eye's chance of meeting the target if tonight is skipped."""

    meets_target: float
    hours: Sequence[datetime]
    chances: Sequence[float]
    start: datetime

    def at_hours(self, start: datetime) -> dict[datetime, float]:
        """Return the chance at each whole hour from ``start`` on, a week far."""
        last = start + timedelta(hours=HOLD_HOURS)
        pairs = zip(self.hours, self.chances, strict=True)
        return {hour: chance for hour, chance in pairs if start <= hour <= last}


def _tonight(
    record: WearerRecord,
    eyes: Mapping[Eye, EyeCourse],
    as_of: datetime,
    night: date,
    practice_stop: bool,
    visit_overdue: bool,
    day_that_matters: bool,
) -> dict[str, Any]:
    target_at = at_wall_clock(night + timedelta(days=1), record.target.until_local, record.zone)
    begin = max((as_of, *(one.free_from for one in eyes.values() if one.free_from is not None)))
    hours = _whole_hours(as_of, begin + timedelta(hours=HOLD_HOURS), record.zone)
    skipped = {eye: _skip(record, course, as_of, target_at, hours) for eye, course in eyes.items()}
    choose = max if record.target.better_eye else min
    meets_target = choose(one.meets_target for one in skipped.values())
    known = {
        eye: replace(
            _facts(record, eye, course, as_of, night, practice_stop, visit_overdue, skipped[eye].meets_target),
            day_that_matters=day_that_matters,
        )
        for eye, course in eyes.items()
    }
    # No eye is left without its lens for the sight of another that is held, or whose data contradict each other.
    sound = [one.meets_target for one in known.values() if not (one.is_held or one.contradictory_data)]
    rests_on = choose(sound, default=0.0) if record.target.better_eye else meets_target
    answers: dict[str, EyeAnswer] = {}
    told: dict[str, Any] = {}
    for eye, facts in known.items():
        one = skipped[eye]
        answers[eye.value] = answer_eye(facts, rests_on)
        holds_until = _last_good(one.at_hours(one.start))
        told[eye.value] = _answer_json(record, answers[eye.value], one.meets_target, holds_until)
    each = [one.at_hours(begin) for one in skipped.values()]
    together = {hour: choose(chances[hour] for chances in each) for hour in each[0]}
    return {
        "night": night.isoformat(),
        "target_at": said(target_at, record),
        **_answer_json(record, answer_wearer(answers), meets_target, _last_good(together)),
        "eyes": told,
    }


def _skip(
    record: WearerRecord, course: EyeCourse, as_of: datetime, target_at: datetime, hours: Sequence[datetime]
) -> _Skipped:
    chance = _chance(record, course, *course.residuals([target_at, *hours]))
    return _Skipped(float(chance[0]), hours, [float(one) for one in chance[1:]], course.free_from or as_of)


def _chance(record: WearerRecord, course: EyeCourse, mean: Array, spread: Array) -> Array:
    target = record.target
    return chance_to_meet(course.draws, mean, spread, target.acuity_logmar, target.distance_m)


def _facts(
    record: WearerRecord,
    eye: Eye,
    course: EyeCourse,
    as_of: datetime,
    night: date,
    practice_stop: bool,
    visit_overdue: bool,
    meets_target: float,
) -> EyeFacts:
    holds = [one.level for one in record.symptoms if one.open and one.at <= as_of and eye in one.eyes]
    insertion = max(course.usual.insertion_on(night, record.zone), utc(as_of))
    removals = [span.end for span in course.known if span.night in course.diary.worn]
    off = nights_off(course.diary, removals[-1] if removals else None, night, insertion)
    checks = counted(course.checks, record.target)
    doubt = in_doubt_since(course.fit.foretold, course.origin)
    since = as_of - timedelta(hours=RECENT_HOURS)
    return EyeFacts(
        hold_level=max(holds, default=None),
        practice_stop=practice_stop,
        nights_off=off.known,
        contradictory_data=_contradicts(course),
        visit_overdue=visit_overdue,
        plan_rests=not record.plan.is_wear_night(night, course.diary.first),
        may_skip=record.clearance.may_skip,
        clearance_over=record.clearance.is_over(night),
        gap_if_skipped=off.possible + 1,
        longest_gap_nights=record.clearance.longest_gap_nights,
        worn_nights=len(worn_nights(worn_hours(course.known, as_of))),
        checks=len(checks),
        recent_checks=sum(at >= since and (doubt is None or at > doubt) for at in checks),
        unknown_nights=len(course.diary.unknown_before(night, UNKNOWN_WINDOW_NIGHTS)),
        meets_target=meets_target,
    )


def _contradicts(course: EyeCourse) -> bool:
    """Say whether the readings contradict each other, or the last ones are worse than the nights explain."""
    worse = worse_than_explained(course.fit.foretold, course.fit.state.at_h)
    return course.fit.fell_back is FellBack.CONTRADICTORY or worse is not None


def _whole_hours(start: datetime, end: datetime, zone: ZoneInfo) -> list[datetime]:
    """Return the instants from ``start`` to ``end`` at which the clock on the wall shows a whole hour."""
    local = start.astimezone(zone)
    past = timedelta(minutes=local.minute, seconds=local.second, microseconds=local.microsecond)
    hour = utc(start) + (timedelta(hours=1) - past if past else past)
    hours = []
    while hour <= end:
        hours.append(hour)
        hour += timedelta(hours=1)
    return hours


def _last_good(chances: Mapping[datetime, float]) -> datetime | None:
    return max((hour for hour, chance in chances.items() if chance >= GOOD_CHANCE), default=None)


# -- warnings --------------------------------------------------------------------------------------------------
def _warnings(eyes: Mapping[Eye, EyeCourse], as_of: datetime, night: date) -> list[Reason]:
    found = []
    for eye, course in eyes.items():
        if not course.fit.is_personal:
            found.append(Reason("mostly_population", {"eye": eye.value}))
        if course.record.aim_d < course.record.baseline_d:
            found.append(Reason("little_known_direction", {"eye": eye.value}))
        silent = len(course.diary.unknown_before(night, UNKNOWN_WINDOW_NIGHTS))
        if silent:
            found.append(Reason("unknown_nights", {"eye": eye.value, "nights": silent}))
        open_spans = [span for span in course.record.wear if span.end is None and span.start <= as_of]
        hours = int(max((span.hours(as_of) for span in open_spans), default=0.0))
        if hours >= LONG_IN_HOURS:
            found.append(Reason("lens_long_in", {"eye": eye.value, "hours": hours}))
    return found


# -- JSON ------------------------------------------------------------------------------------------------------
def _rounded(value: float) -> float:
    return round(float(value), 3) + 0.0


def _band_json(values: Band, row: int) -> dict[str, float]:
    return {name: _rounded(column[row]) for name, column in values._asdict().items()}


def _reason_json(reason: Reason) -> dict[str, Any]:
    return {"key": reason.key, "values": dict(reason.values)}


def _answer_json(
    record: WearerRecord, answer: EyeAnswer, meets_target: float, holds_until: datetime | None
) -> dict[str, Any]:
    return {
        "answer": answer.answer.value,
        "meets_target": _rounded(meets_target),
        "holds_until": None if holds_until is None else said(holds_until, record),
        "reasons": [_reason_json(one) for one in answer.reasons],
    }
