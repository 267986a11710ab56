"""The record file: its keys, its ranges, and what its rows mean together. What it does not know is an error."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import pairwise
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from companion.common.eyes import BOTH, EYES, Eye
from companion.common.moments import night_of, utc, zone
from companion.exchange.record import (
    AcuityCheck,
    EyeRecord,
    History,
    RefractionCheck,
    SymptomReport,
    Target,
    WearerRecord,
)
from companion.exchange.strict_json import Fields, Value, read_json, wrong
from companion.regimen.nights import WearSpan, joined
from companion.regimen.plan import EVERY_NIGHT, NOT_CLEARED, WEEKDAYS, Clearance, WearPlan

FIELD = "RECORD"
FORMAT, VERSION = "companion-record", 1
LONGEST_WEAR = timedelta(hours=36)
LEAST_D, MOST_D = -15.0, 10.0
LEAST_LOGMAR, MOST_LOGMAR = -0.5, 2.0
LEAST_M, MOST_M = 0.2, 10.0
MOST_NIGHTS = 366
FIRST_BIRTH, LAST_BIRTH = 1900, 2200


def read_record(path: Path) -> WearerRecord:
    """Read a record file. Raises InvalidInput, with the field's path, for anything the format does not allow."""
    return parse_record(read_json(path, FIELD))


def parse_record(raw: Any) -> WearerRecord:
    """Read a record from JSON values."""
    top = Value(raw, "")
    if not isinstance(raw, dict):
        raise wrong("record_not_object", FIELD)
    if raw.get("format") != FORMAT:
        raise wrong("record_not_one_of" if "format" in raw else "record_missing", "format", allowed=FORMAT)
    if "version" in raw:
        Value(raw["version"], "version").whole(VERSION, VERSION)
    fields = top.fields(
        needs=("format", "version", "time_zone", "birth_year", "target", "eyes", "wear", "acuity", "refraction"),
        may_have=("plan", "clearance", "history", "complete", "no_wear", "symptoms"),
    )
    where = _zone(fields["time_zone"])
    eyes = _eyes(fields["eyes"])
    rows = _Rows(where, tuple(eyes))
    wear = rows.wear(fields["wear"])
    nights_off = rows.nights_off(fields["no_wear"]) if "no_wear" in fields else {}
    acuity = rows.acuity(fields["acuity"])
    refraction = rows.refraction(fields["refraction"])
    symptoms = rows.symptoms(fields["symptoms"]) if "symptoms" in fields else ()
    return WearerRecord(
        zone=where,
        birth_year=fields["birth_year"].whole(FIRST_BIRTH, LAST_BIRTH),
        target=_target(fields["target"]),
        eyes={
            eye: EyeRecord(
                **optics,
                wear=wear.get(eye, ()),
                nights_off=frozenset(nights_off.get(eye, ())),
                acuity=tuple(acuity.get(eye, ())),
                refraction=tuple(refraction.get(eye, ())),
            )
            for eye, optics in eyes.items()
        },
        plan=fields.optional("plan", _plan) or EVERY_NIGHT,
        clearance=fields.optional("clearance", _clearance) or NOT_CLEARED,
        history=fields.optional("history", _history),
        complete=fields["complete"].flag() if "complete" in fields else True,
        symptoms=symptoms,
        latest=max(rows.times, default=None),
    )


# -- what is signed --------------------------------------------------------------------------------------------
def _zone(value: Value) -> ZoneInfo:
    try:
        return zone(value.text())
    except ValueError:
        raise value.wrong("record_unknown_zone") from None


def _target(value: Value) -> Target:
    target = value.fields(needs=("acuity_logmar", "until_local"), may_have=("eyes", "distance_m"))
    return Target(
        acuity_logmar=_logmar(target["acuity_logmar"]),
        until_local=target["until_local"].clock(),
        better_eye="eyes" in target and target["eyes"].one_of("each", "better") == "better",
        distance_m=target.optional("distance_m", _distance),
    )


def _logmar(value: Value) -> float:
    return value.number(LEAST_LOGMAR, MOST_LOGMAR)


def _distance(value: Value) -> float:
    return value.number(LEAST_M, MOST_M)


def _plan(value: Value) -> WearPlan:
    plan = value.fields(may_have=("every", "weekdays"))
    if len(plan.raw) != 1:
        raise value.wrong("record_plan_unclear")
    if "every" in plan:
        return WearPlan(every=plan["every"].whole(1, MOST_NIGHTS))
    days = [one.one_of(*WEEKDAYS) for one in plan["weekdays"].items()]
    if not days:
        raise plan["weekdays"].wrong("record_empty")
    if len(set(days)) < len(days):
        raise plan["weekdays"].wrong("record_day_twice")
    return WearPlan(weekdays=frozenset(WEEKDAYS.index(day) for day in days))


def _clearance(value: Value) -> Clearance:
    clearance = value.fields(needs=("may_skip", "longest_gap_nights"), may_have=("until",))
    return Clearance(
        clearance["may_skip"].flag(),
        clearance["longest_gap_nights"].whole(0, MOST_NIGHTS),
        clearance.optional("until", Value.day),
    )


def _history(value: Value) -> History:
    history = value.fields(needs=("since", "nights_per_week"))
    return History(history["since"].day(), history["nights_per_week"].number_above_zero(7))


def _eyes(value: Value) -> dict[Eye, dict[str, Any]]:
    eyes = value.fields(may_have=EYES)
    if not eyes.raw:
        raise value.wrong("record_empty")
    return {eye: _optics(eyes[eye]) for eye in EYES if eye in eyes}


def _optics(value: Value) -> dict[str, Any]:
    eye = value.fields(needs=("baseline_d", "aim_d"), may_have=("best_acuity_logmar",))
    return {
        "baseline_d": eye["baseline_d"].number(LEAST_D, MOST_D),
        "aim_d": eye["aim_d"].number(LEAST_D, MOST_D),
        "best_acuity_logmar": eye.optional("best_acuity_logmar", _logmar),
    }


# -- rows ------------------------------------------------------------------------------------------------------
@dataclass(frozen=True)
class _PlacedSpan:
    span: WearSpan
    place: Fields


class _Rows:
    """Reads the rows; keeps each time that it sees."""

    def __init__(self, where: ZoneInfo, listed: tuple[Eye, ...]) -> None:
        self._where = where
        self._listed = listed
        self.times: list[datetime] = []

    def wear(self, value: Value) -> Mapping[Eye, tuple[WearSpan, ...]]:
        placed: dict[Eye, list[_PlacedSpan]] = {eye: [] for eye in self._listed}
        for one in value.items():
            row = one.fields(needs=("eye", "in"), may_have=("out",))
            eyes = self._eyes(row["eye"])
            start = row["in"].instant()
            self.times.append(utc(start))
            end = self._instant(row["out"]) if "out" in row else None
            if end is not None and not timedelta(0) < end - utc(start) <= LONGEST_WEAR:
                raise row["out"].wrong("record_wear_length", hours=int(LONGEST_WEAR / timedelta(hours=1)))
            span = WearSpan(utc(start), end, _night_where_it_went_in(start, self._where))
            for eye in eyes:
                placed[eye].append(_PlacedSpan(span, row))
        return {eye: _apart(spans) for eye, spans in placed.items()}

    def nights_off(self, value: Value) -> Mapping[Eye, list[date]]:
        found: dict[Eye, list[date]] = {eye: [] for eye in self._listed}
        for one in value.items():
            row = one.fields(needs=("eye", "night"))
            for eye in self._eyes(row["eye"]):
                found[eye].append(row["night"].day())
        return found

    def acuity(self, value: Value) -> Mapping[Eye, list[AcuityCheck]]:
        """Read acuity rows. What both eyes read together counts for neither."""
        found: dict[Eye, list[AcuityCheck]] = {eye: [] for eye in self._listed}
        for one in value.items():
            row = one.fields(needs=("eye", "at", "logmar"), may_have=("sd", "distance_m"))
            eyes = self._eyes(row["eye"])
            check = AcuityCheck(
                at=self._instant(row["at"]),
                logmar=_logmar(row["logmar"]),
                sd=row.optional("sd", lambda sd: sd.number_above_zero(1)),
                distance_m=row.optional("distance_m", _distance),
            )
            if row["eye"].raw != BOTH:
                found[eyes[0]].append(check)
        return found

    def refraction(self, value: Value) -> Mapping[Eye, list[RefractionCheck]]:
        found: dict[Eye, list[RefractionCheck]] = {eye: [] for eye in self._listed}
        for one in value.items():
            row = one.fields(needs=("eye", "at", "sphere_d"))
            (eye,) = self._eyes(row["eye"], both=False)
            at = self._instant(row["at"])
            found[eye].append(RefractionCheck(at, row["sphere_d"].number(LEAST_D, MOST_D)))
        return found

    def symptoms(self, value: Value) -> tuple[SymptomReport, ...]:
        found = []
        for one in value.items():
            row = one.fields(needs=("at", "level", "open"), may_have=("eye",))
            eyes = self._eyes(row["eye"]) if "eye" in row else self._listed
            at = self._instant(row["at"])
            found.append(SymptomReport(at, frozenset(eyes), row["level"].whole(1, 5), row["open"].flag()))
        return tuple(found)

    def _instant(self, value: Value) -> datetime:
        moment = utc(value.instant())
        self.times.append(moment)
        return moment

    def _eyes(self, value: Value, *, both: bool = True) -> tuple[Eye, ...]:
        word = value.one_of(*EYES, *((BOTH,) if both else ()))
        if word == BOTH:
            return self._listed
        if word not in self._listed:
            raise value.wrong("record_eye_not_listed", eye=word)
        return (Eye(word),)


def _night_where_it_went_in(start: datetime, home: ZoneInfo) -> date:
    """Return the night of an insertion by the clock on the wall there: the offset of the row tells it.

    An offset of zero more often means "written in UTC" than "spent the night in Accra": it is read at home.
    """
    if not start.utcoffset():
        return night_of(start, home)
    return start.date() if start.hour >= 12 else start.date() - timedelta(days=1)


def _apart(placed: Iterable[_PlacedSpan]) -> tuple[WearSpan, ...]:
    """Return one eye's spans in order, joined where they touch; overlap is an error, and so is a lens left in."""
    ordered = sorted(placed, key=lambda one: one.span.start)
    for before, after in pairwise(ordered):
        if before.span.end is None:
            raise wrong("record_still_in", before.place.path_of("out"))
        if before.span.end > after.span.start:
            raise wrong("record_overlap", after.place.path_of("in"), other=before.place.path)
    return joined(one.span for one in ordered)
