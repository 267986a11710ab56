"""A wearer's eyes followed and fitted up to a moment: what every document about the future is made from.

Fitting is the one costly step. Who shows several things of the same moment follows once and asks many times; who
shows nothing new does not follow at all.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime

from companion.common.errors import InvalidInput, Problem
from companion.common.eyes import Eye
from companion.common.moments import utc
from companion.exchange.eye_course import EyeCourse, eye_nights
from companion.exchange.record import WearerRecord
from companion.fade.fit import fit_together
from companion.fade.sampling import Place
from companion.regimen.nights import known_spans, tonight, usual_hours, worn_hours, worn_nights


@dataclass(frozen=True)
class WearerCourse:
    record: WearerRecord
    as_of: datetime
    night: date
    """Tonight."""
    eyes: Mapping[Eye, EyeCourse]


def follow_wearer(
    record: WearerRecord, as_of: datetime | None = None, places: Mapping[Eye, Place] | None = None
) -> WearerCourse:
    """Follow each eye up to ``as_of`` (missing: the record's latest time).

    ``places`` of earlier fits of the same wearer save most of the work.
    """
    as_of = settled_as_of(record, as_of)
    usual = {eye: usual_hours(one.wear, as_of, record.zone) for eye, one in record.eyes.items()}
    known = {eye: known_spans(one.wear, as_of, usual[eye], record.zone) for eye, one in record.eyes.items()}
    every = [span for spans in known.values() for span in spans]
    first = min(every, key=lambda span: span.start, default=None)
    taken = frozenset(night for spans in known.values() for night in worn_nights(worn_hours(spans)))
    night = tonight(as_of, record.zone, taken, record.split)
    nights = {
        eye: eye_nights(record, one, as_of, night, first, usual[eye], known[eye])
        for eye, one in record.eyes.items()
    }
    fits = fit_together({eye: one.case for eye, one in nights.items()}, places)
    return WearerCourse(record, as_of, night, {eye: one.fitted(fits[eye]) for eye, one in nights.items()})


def settled_as_of(record: WearerRecord, as_of: datetime | None) -> datetime:
    """Return the moment that a forecast starts from, in UTC."""
    as_of = as_of or record.latest
    if as_of is None:
        raise InvalidInput(Problem("no_as_of", "--as-of"))
    if record.birth_year > as_of.astimezone(record.zone).year:
        raise InvalidInput(Problem("born_later", "birth_year", {"as_of": said(as_of, record)}))
    return utc(as_of)


def said(moment: datetime, record: WearerRecord) -> str:
    return moment.astimezone(record.zone).isoformat()
