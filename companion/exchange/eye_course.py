"""One eye of a record made ready for the science: its nights and readings in hours, its fit, its residual at any
instant. Does not know the answer table or the document.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from datetime import date, datetime, timedelta

import numpy as np

from companion.common.moments import hours_between
from companion.exchange.eye_readings import readings, unaided
from companion.exchange.record import AcuityCheck, EyeRecord, WearerRecord
from companion.fade import course
from companion.fade.course import Stretch
from companion.fade.filter import Followed, State, follow, started
from companion.fade.fit import Case, Fit
from companion.fade.parameters import Array
from companion.fade.population import Draws, Treatment
from companion.fade.stores import Stores, nothing_yet
from companion.regimen.nights import (
    Diary,
    UsualHours,
    WearSpan,
    under_way,
    worn_hours,
    worn_nights,
)

READINGS_DAYS = 120
"""Older readings say little of an eye that grows and a lens that ages. Design."""
RUN_UP_DAYS = 45
"""Nights further back than this before the first reading no longer matter to any store."""
_HABIT_STREAM = 1
_PRIOR_NIGHTS = 4.0
_PRIOR_MOST = 0.85
"""The habit is a mean over the known nights and so many more at the habit stated before, and never taken for more
certain than this: who wears a lens logs it more often than who does not. Design."""


@dataclass(frozen=True)
class EyeNights:
    """What is known of one eye at a moment, in dates and, as ``case``, in hours from ``origin``."""

    record: EyeRecord
    usual: UsualHours
    known: tuple[WearSpan, ...]
    """What was worn, a night under way up to its expected end."""
    under_way: WearSpan | None
    diary: Diary
    origin: datetime
    as_of: datetime
    checks: tuple[AcuityCheck, ...]
    """Made without a lens in, up to now."""
    unknown: tuple[WearSpan, ...]
    """Nights of which nobody knows, at the usual hours."""
    case: Case

    def fitted(self, fit: Fit) -> EyeCourse:
        return EyeCourse(**{one.name: getattr(self, one.name) for one in fields(self)}, fit=fit)


@dataclass(frozen=True)
class EyeCourse(EyeNights):
    """One eye, fitted: its residual at any moment."""

    fit: Fit

    @property
    def draws(self) -> Draws:
        return self.fit.draws

    @property
    def free_from(self) -> datetime | None:
        """When the night under way will be over; None: there is none."""
        return None if self.under_way is None else self.known[-1].end

    def planned(
        self, record: WearerRecord, as_of: datetime, night: date, nights: Sequence[bool]
    ) -> list[WearSpan]:
        """Return the wear of the coming nights, from ``night`` on, at the usual hours."""
        earliest = max((as_of, *(span.end for span in self.known if span.end is not None)))
        spans = []
        for ahead, worn in enumerate(nights):
            one = night + timedelta(days=ahead)
            start = max(self.usual.insertion_on(one, record.zone), earliest)
            end = self.usual.removal_on(one, record.zone)
            if worn and end > start:
                spans.append(WearSpan(start, end, one))
        return spans

    def residuals(self, times: Sequence[datetime], planned: Sequence[WearSpan] = ()) -> tuple[Array, Array]:
        """Return mean and spread [D] of the residual at each time in each draw, both (n_times, n)."""
        hours = [hours_between(self.origin, time) for time in times]
        ahead = [_stretch(self.origin, span) for span in planned]
        now_h = self.fit.state.at_h
        coming = [one for one in self.case.stretches if one.end_h > now_h] + ahead
        later = [hour for hour in hours if hour >= now_h]
        if len(later) == len(hours):
            ahead_only = follow(self.draws, self.fit.state, coming, (), hours)
            return ahead_only.residual_d, ahead_only.spread_d
        found = dict(zip(later, _rows(follow(self.draws, self.fit.state, coming, (), later)), strict=True))
        earlier = [hour for hour in hours if hour < now_h]
        if earlier:
            began = self.case.start(self.draws)
            times_h = [max(hour, began.at_h) for hour in earlier]
            gone = follow(self.draws, began, self.case.stretches, self.case.readings, times_h)
            found.update(zip(earlier, _rows(gone), strict=True))
        mean, spread = (np.stack([found[hour][part] for hour in hours]) for part in (0, 1))
        return mean, spread


def eye_nights(
    record: WearerRecord,
    eye: EyeRecord,
    as_of: datetime,
    night: date,
    first: WearSpan | None,
    usual: UsualHours,
    known: tuple[WearSpan, ...],
) -> EyeNights:
    touched = worn_hours(known)
    diary = Diary(
        worn=worn_nights(touched),
        touched=frozenset(touched),
        off=frozenset(one for one in eye.nights_off if one < night),
        first=None if first is None else first.night,
        complete=record.complete,
    )
    since = as_of - timedelta(days=READINGS_DAYS)
    checks = unaided(eye.acuity, known, as_of)
    looks = [one for one in checks if since <= one.at]
    visits = [one for one in eye.refraction if since <= one.at <= as_of]
    recent = min([as_of, *(one.at for one in looks), *(one.at for one in visits)])
    settled = begun = record.history is not None
    if first is not None:
        origin = first.start
    else:
        origin = min((as_of, *(usual.insertion_on(one, record.zone) for one in diary.off)))
    if origin < recent - timedelta(days=RUN_UP_DAYS):
        origin, settled, begun = recent - timedelta(days=RUN_UP_DAYS), False, True
    origin = min(origin, recent)
    unknown = [one for one in _unknown_nights(record, diary, as_of, night, usual, known) if one.start >= origin]
    habit = _habit(record, diary, night)
    stretches = [_stretch(origin, span) for span in known if span.end is None or span.end > origin]
    stretches += [_stretch(origin, span, habit, _key(origin, span)) for span in unknown]
    if settled and first is not None:
        before = _settled_nights(record, usual, origin, first)
        share = min(record.history.nights_per_week / 7, 1.0) if record.history else 1.0
        stretches += [_stretch(origin, span, share, _key(origin, span)) for span in before]
    age_years = as_of.astimezone(record.zone).year - record.birth_year

    def start(draws: Draws) -> State:
        stores = _stores(record, draws, usual) if settled else nothing_yet(draws.rates)
        return started(draws, 0.0, stores, settled=begun)

    return EyeNights(
        record=eye,
        usual=usual,
        known=known,
        under_way=under_way(eye.wear, as_of),
        diary=diary,
        origin=origin,
        as_of=as_of,
        checks=tuple(checks),
        unknown=tuple(unknown),
        case=Case(
            Treatment(eye.baseline_d, eye.aim_d, age_years, eye.best_acuity_logmar),
            start,
            tuple(sorted(stretches, key=lambda one: one.start_h)),
            readings(looks, visits, origin),
            hours_between(origin, as_of),
        ),
    )


def _rows(followed: Followed) -> list[tuple[Array, Array]]:
    return list(zip(followed.residual_d, followed.spread_d, strict=True))


def _stores(record: WearerRecord, draws: Draws, usual: UsualHours) -> Stores:
    assert record.history is not None
    hours = (usual.removal - usual.insertion) / timedelta(hours=1)
    return course.settled_evening(
        draws.rates, hours, record.history.nights_per_week, draws.chances(_HABIT_STREAM, 8)
    )


def _stretch(origin: datetime, span: WearSpan, chance: float = 1.0, key: int = 0) -> Stretch:
    start_h = hours_between(origin, span.start)
    return Stretch(start_h, start_h + span.hours(), chance, key)


def _key(origin: datetime, span: WearSpan) -> int:
    """Number a night of which nobody knows, by its distance from the start: dice know no calendar."""
    return round(hours_between(origin, span.start) / 24) + 1


def _settled_nights(record: WearerRecord, usual: UsualHours, origin: datetime, first: WearSpan) -> list[WearSpan]:
    """Return the nights between the first reading and the first row of a wearer settled before it."""
    spans = []
    night = first.night - timedelta(days=1)
    while (start := usual.insertion_on(night, record.zone)) >= origin:
        spans.append(WearSpan(start, min(usual.removal_on(night, record.zone), first.start), night))
        night -= timedelta(days=1)
    return [span for span in spans if span.end is not None and span.end > span.start]


def _habit(record: WearerRecord, diary: Diary, night: date) -> float:
    """Return the chance that a night of which nobody knows was worn."""
    before = record.plan.share_worn if record.history is None else record.history.nights_per_week / 7
    before = min(before, _PRIOR_MOST)
    worn, off = len(diary.worn), len(diary.off - diary.worn)
    return min((worn + _PRIOR_NIGHTS * before) / (worn + off + _PRIOR_NIGHTS), _PRIOR_MOST)


def _unknown_nights(
    record: WearerRecord,
    diary: Diary,
    as_of: datetime,
    night: date,
    usual: UsualHours,
    known: Sequence[WearSpan],
) -> list[WearSpan]:
    """Return the silent nights that are over, at the usual hours, cut where they would touch known wear."""
    if diary.first is None or record.complete:
        return []
    spans = []
    for one in diary.unknown_before(night, (night - diary.first).days):
        start, end = usual.insertion_on(one, record.zone), usual.removal_on(one, record.zone)
        start = max([start, *(span.end for span in known if span.end is not None and span.start <= start)])
        end = min([end, *(span.start for span in known if span.start > start)])
        if start < end <= as_of:
            spans.append(WearSpan(start, end, one))
    return spans
