"""One eye of a record made ready for the science: which nights are known, and the effect at any instant.

Turns instants and nights into hours and back. Does not know the answer table or the document.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from companion.common.eyes import Eye
from companion.common.moments import hours_between
from companion.exchange.record import EyeRecord, WearerRecord
from companion.fade import course, population
from companion.fade.course import Stretch
from companion.fade.parameters import Array
from companion.fade.population import Draws, Treatment
from companion.fade.stores import Stores, nothing_yet
from companion.regimen.nights import (
    Diary,
    UsualHours,
    WearSpan,
    known_spans,
    tonight,
    under_way,
    usual_hours,
    worn_hours,
    worn_nights,
)

_HABIT_STREAM = 1
_PRIOR_NIGHTS = 4.0
_PRIOR_MOST = 0.85
"""The habit is a mean over the known nights and so many more at the habit stated before, which is never taken for
more certain than this: silence leaves room for a night off. Design."""


@dataclass(frozen=True)
class EyeCourse:
    """One eye as known at a moment."""

    record: EyeRecord
    usual: UsualHours
    known: tuple[WearSpan, ...]
    """What was worn, a night under way up to its expected end."""
    under_way: WearSpan | None
    diary: Diary
    draws: Draws
    origin: datetime
    start: Stores
    past: tuple[Stretch, ...]
    unknown: tuple[WearSpan, ...]
    """Nights of which nobody knows, at the usual hours."""

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

    def shares(self, times: Sequence[datetime], planned: Sequence[WearSpan] = ()) -> Array:
        """Return the effect share at each time, (n_times, n)."""
        hours = [hours_between(self.origin, time) for time in times]
        ahead = [_stretch(self.origin, span) for span in planned]
        return course.shares(self.draws.rates, 0.0, self.start, [*self.past, *ahead], hours)


def follow(record: WearerRecord, as_of: datetime) -> tuple[Mapping[Eye, EyeCourse], date]:
    """Return each eye as known at ``as_of``, and which night is tonight."""
    usual = {eye: usual_hours(one.wear, as_of, record.zone) for eye, one in record.eyes.items()}
    known = {eye: known_spans(one.wear, as_of, usual[eye], record.zone) for eye, one in record.eyes.items()}
    every = [span for spans in known.values() for span in spans]
    first = min(every, key=lambda span: span.start, default=None)
    taken = frozenset(night for spans in known.values() for night in worn_nights(worn_hours(spans)))
    night = tonight(as_of, record.zone, taken, record.split)
    eyes = {
        eye: _follow_eye(record, one, as_of, night, first, usual[eye], known[eye])
        for eye, one in record.eyes.items()
    }
    return eyes, night


def _follow_eye(
    record: WearerRecord,
    eye: EyeRecord,
    as_of: datetime,
    night: date,
    first: WearSpan | None,
    usual: UsualHours,
    known: tuple[WearSpan, ...],
) -> EyeCourse:
    touched = worn_hours(known)
    diary = Diary(
        worn=worn_nights(touched),
        touched=frozenset(touched),
        off=frozenset(one for one in eye.nights_off if one < night),
        first=None if first is None else first.night,
        complete=record.complete,
    )
    age_years = as_of.astimezone(record.zone).year - record.birth_year
    draws = population.draw(Treatment(eye.baseline_d, eye.aim_d, age_years, eye.best_acuity_logmar))
    if first is not None:
        origin = first.start
    else:
        origin = min((as_of, *(usual.insertion_on(one, record.zone) for one in diary.off)))
    unknown = _unknown_nights(record, diary, as_of, night, usual, known)
    habit = _habit(record, diary, night)
    stretches = [_stretch(origin, span) for span in known]
    for span in unknown:
        worn = population.uniform(span.night.toordinal())[0] < habit
        stretches.append(_stretch(origin, span, worn.astype(float)))
    return EyeCourse(
        record=eye,
        usual=usual,
        known=known,
        under_way=under_way(eye.wear, as_of),
        diary=diary,
        draws=draws,
        origin=origin,
        start=_start(record, draws, usual),
        past=tuple(sorted(stretches, key=lambda one: one.start_h)),
        unknown=tuple(unknown),
    )


def _start(record: WearerRecord, draws: Draws, usual: UsualHours) -> Stores:
    if record.history is None:
        return nothing_yet(draws.rates)
    hours = (usual.removal - usual.insertion) / timedelta(hours=1)
    chance = population.uniform(_HABIT_STREAM, 8)
    return course.settled_evening(draws.rates, hours, record.history.nights_per_week, chance)


def _stretch(origin: datetime, span: WearSpan, worn: Array | None = None) -> Stretch:
    start_h = hours_between(origin, span.start)
    return Stretch(start_h, start_h + span.hours(), worn)


def _habit(record: WearerRecord, diary: Diary, night: date) -> float:
    """Return the chance that a night of which nobody knows was worn."""
    before = record.plan.share_worn if record.history is None else record.history.nights_per_week / 7
    before = min(before, _PRIOR_MOST)
    worn, off = len(diary.worn), len(diary.off - diary.worn)
    return (worn + _PRIOR_NIGHTS * before) / (worn + off + _PRIOR_NIGHTS)


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
