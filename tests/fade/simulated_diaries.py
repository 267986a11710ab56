"""Simulated diaries: what a person did, night after night, and what of it the record holds.

Lapses, holidays, late and bad nights, naps, one eye only; sight checks with noise, slips and a test that ends;
visits; nights of which nobody wrote. The record is JSON of the contract, so that any reader of records may be
tried on it; beside it stands the truth, at any time after ``as_of`` with no further night of wear.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
from simulated_eyes import Array, Night, Sight, SimulatedEye, follow
from simulated_people import Dice, Person, meet

ZONES = ("Asia/Singapore", "Europe/Vienna", "America/New_York", "Australia/Sydney")
EARLIEST = date(2026, 8, 3)
NIGHTS_BEFORE = 45
"""Nights that a settled wearer lives through before the record begins."""
DAYS_AFTER = 9
WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
LATEST_AS_OF_H = 21.25
"""``as_of`` is never later by the clock on the wall."""

# Spread of a home check [logMAR] at sharp sight, more in children (doi 10.1080/09273970601180222, V; pooled INF),
# and how it grows with blur: 0.18/0.11 and 0.25/0.11 at 0.5 and 1 D (Invest Ophthalmol Vis Sci 2004;45:1076, V).
NOISE_BY_AGE = ((7, 13, 17), (0.12, 0.11, 0.07))
NOISE_BY_BLUR = ((0.0, 0.5, 1.0, 2.0), (1.0, 1.6, 2.3, 2.6))
REFRACTION_SD_D = 0.24
"""Before it is written in quarters."""


@dataclass(frozen=True)
class Life:
    """What one wearer is like, did, and wrote down."""

    number: int
    person: Person
    nights: int
    """In the record."""
    settled: bool
    unknown_share: float
    record: Mapping[str, Any]
    as_of: datetime
    zone: ZoneInfo
    origin: datetime
    truth: Mapping[str, SimulatedEye]
    """If no lens is worn from ``as_of`` on."""
    once_more: Mapping[str, SimulatedEye]
    """If tonight is worn as usual, and no night after it."""

    def hours(self, moments: Sequence[datetime]) -> Array:
        return np.array([(one - self.origin) / timedelta(hours=1) for one in moments])


@dataclass(frozen=True)
class _Habit:
    every: int
    weekdays: tuple[str, ...] | None
    lapse: float
    bedtime_h: float
    """Hours after midnight, as ``rises_h``."""
    rises_h: float

    @property
    def nights_per_week(self) -> float:
        return (7 / self.every if self.weekdays is None else len(self.weekdays)) * (1 - self.lapse)


class _Clock:
    """Wall clock to hours after the noon of the first night lived through."""

    def __init__(self, zone: ZoneInfo, first: date) -> None:
        self.zone = zone
        self.first = first
        self.origin = datetime.combine(first, time(12), zone).astimezone(UTC)

    def hours(self, night: int, clock_h: float) -> float:
        """Return when the clock on the wall stands so many hours after the midnight that began a night's date."""
        day = datetime.combine(self.first + timedelta(days=night), time()) + timedelta(minutes=round(clock_h * 60))
        return (day.replace(tzinfo=self.zone).astimezone(UTC) - self.origin) / timedelta(hours=1)

    def moment(self, hours: float) -> datetime:
        return (self.origin + timedelta(minutes=round(hours * 60))).astimezone(self.zone)

    def said(self, hours: float) -> str:
        return self.moment(hours).isoformat()


def live(seed: int, number: int) -> Life:
    """Return the ``number``-th wearer of a seed; the same, alone or among others."""
    rng = np.random.default_rng([seed, number])
    person = meet(rng, number)
    dice = Dice(rng, len(person.eyes))
    nights = 10 if dice.chance(0.10) else int(rng.integers(14, 57))
    settled = dice.chance(0.45)
    before = NIGHTS_BEFORE if settled else 0
    zone = ZoneInfo(ZONES[int(rng.integers(len(ZONES)))])
    clock = _Clock(zone, EARLIEST + timedelta(days=int(rng.integers(0, 150)) - before))
    habit = _habit(dice, person, settled)
    as_of_h = clock.hours(before + nights, _as_of_clock(dice, habit))
    wear = _wear(dice, person, habit, clock, before, nights, as_of_h)
    truth = {eye: _truth(dice, person, index, wear[eye], as_of_h) for index, eye in enumerate(person.eyes)}
    record = _prescribed(dice, person, habit, clock, before, settled)
    unknown = _forgotten(dice, before, nights, wear)
    record["complete"] = not unknown
    record |= _written_wear(wear, clock, before, nights, unknown)
    record["acuity"] = _checks(dice, person, truth, clock, before, nights, habit, as_of_h)
    record["refraction"] = _visits(dice, truth, clock, before, nights, settled)
    tonight = _tonight(dice, person, habit, clock, before + nights, as_of_h)
    once_more = {
        eye: replace(truth[eye], course=follow(person.mechanisms[index], [*wear[eye], tonight[index]]))
        for index, eye in enumerate(person.eyes)
    }
    return Life(
        number,
        person,
        nights,
        settled,
        len(unknown) / nights,
        record,
        clock.moment(as_of_h),
        zone,
        clock.origin,
        truth,
        once_more,
    )


# -- habits ----------------------------------------------------------------------------------------------------
def _habit(dice: Dice, person: Person, settled: bool) -> _Habit:
    older = min(1.0, max(0.0, (person.age - 9) / 10))
    lapse = float(dice.rng.uniform(0.0, 0.10))
    bedtime_h = 20.9 + 2.1 * older + float(dice.rng.normal(0, 0.4))
    rises_h = 6.4 + float(dice.rng.normal(0, 0.35))
    plan = dice.rng.random()
    if settled and plan < 0.12:
        return _Habit(2, None, lapse, bedtime_h, rises_h)
    if plan < 0.24:
        free = set(dice.rng.choice(7, int(dice.rng.integers(1, 3)), replace=False))
        weekdays = tuple(day for n, day in enumerate(WEEKDAYS) if n not in free)
        return _Habit(1, weekdays, lapse, bedtime_h, rises_h)
    return _Habit(1, None, lapse, bedtime_h, rises_h)


def _as_of_clock(dice: Dice, habit: _Habit) -> float:
    part = dice.rng.random()
    if part < 0.45:
        return float(habit.rises_h + dice.rng.uniform(0.6, 2.0))
    if part < 0.70:
        return float(dice.rng.uniform(11.0, 18.0))
    return float(dice.rng.uniform(18.0, LATEST_AS_OF_H))


def _is_planned(habit: _Habit, day: date, night: int, before: int) -> bool:
    if habit.weekdays is not None:
        return WEEKDAYS[day.weekday()] in habit.weekdays
    return (night - before) % habit.every == 0


def _wear(
    dice: Dice, person: Person, habit: _Habit, clock: _Clock, before: int, nights: int, as_of_h: float
) -> Mapping[str, list[Night]]:
    """Return each eye's stretches of wear, all over before ``as_of_h``; the first night is worn."""
    rng, count = dice.rng, before + nights
    away = int(rng.integers(before + 2, count)) if dice.chance(0.18) else count
    back = away + int(rng.integers(2, 6))
    wear: dict[str, list[Night]] = {eye: [] for eye in person.eyes}
    shift = np.zeros(len(person.eyes))
    for night in range(count):
        worn = (
            _is_planned(habit, clock.first + timedelta(days=night), night, before) and rng.random() >= habit.lapse
        )
        worn = (worn and not away <= night < back) or night in (0, before)
        shift = 0.35 * shift + np.sqrt(1 - 0.35**2) * person.night_sd_d * dice.scores(0.4)
        nap_h = clock.hours(night, float(rng.uniform(13.0, 15.0)))
        nap_end_h = nap_h + round(float(rng.uniform(0.8, 2.2)) * 60) / 60
        if rng.random() < 0.015 and nap_end_h < as_of_h and night > 0:
            for eye in person.eyes:
                wear[eye].append(Night(nap_h, nap_end_h, shift_d=_last_shift(wear[eye])))
        if not worn:
            continue
        start_h = clock.hours(night, _bedtime(dice, habit))
        end_h = clock.hours(
            night, 24 + habit.rises_h + float(rng.normal(0, 0.35)) - 3 * float(rng.random() < 0.01)
        )
        only = int(rng.integers(len(person.eyes))) if rng.random() < 0.015 and night not in (0, before) else None
        end_h = min(max(end_h, start_h + 3.2), as_of_h - 0.25)
        for index, (eye, one) in enumerate(zip(person.eyes, _qualities(dice, person, shift), strict=True)):
            if only in (None, index):
                wear[eye].append(Night(start_h, end_h, *one))
    return wear


def _tonight(dice: Dice, person: Person, habit: _Habit, clock: _Clock, night: int, as_of_h: float) -> list[Night]:
    start_h = max(clock.hours(night, habit.bedtime_h + float(dice.rng.normal(0, 0.4))), as_of_h + 0.25)
    end_h = clock.hours(night, 24 + habit.rises_h + float(dice.rng.normal(0, 0.35)))
    shift = person.night_sd_d * dice.scores(0.4)
    return [Night(start_h, end_h, *one) for one in _qualities(dice, person, shift)]


def _last_shift(nights: Sequence[Night]) -> float:
    return nights[-1].shift_d if nights else 0.0


def _bedtime(dice: Dice, habit: _Habit) -> float:
    late = float(dice.rng.uniform(1.0, 3.0)) if dice.rng.random() < 0.08 else 0.0
    return habit.bedtime_h + float(dice.rng.normal(0, 0.4)) + late


def _qualities(dice: Dice, person: Person, shift: Array) -> list[tuple[float, float]]:
    """Return quality and chance shift [D] of a night by eye; now and then a lens lay off centre."""
    off_centre = dice.rng.random(len(person.eyes)) < (0.04 if person.kind == "one store" else 0.015)
    towards_baseline = -np.sign(person.treatment_d) * np.abs(dice.rng.normal(0.30, 0.12, len(person.eyes)))
    if person.kind == "one store":
        quality = np.where(off_centre, 0.45, dice.around(1.0, 1.25, 0.4))
        moved = np.where(off_centre, 0.5 * towards_baseline, 0.4 * shift)
    else:
        quality = np.ones(len(person.eyes))
        moved = shift + np.where(off_centre, towards_baseline, 0.0)
    return [(float(one), float(two)) for one, two in zip(quality, moved, strict=True)]


def _truth(dice: Dice, person: Person, index: int, nights: Sequence[Night], as_of_h: float) -> SimulatedEye:
    days = int(as_of_h / 24) + DAYS_AFTER
    kept = float(np.exp(-1 / dice.rng.uniform(15, 45)))
    steps = dice.rng.standard_normal(days) * person.drift_sd_d
    drift = np.empty(days)
    drift[0] = steps[0]
    for day in range(1, days):
        drift[day] = kept * drift[day - 1] + np.sqrt(1 - kept**2) * steps[day]
    return SimulatedEye(
        baseline_d=float(person.true_baseline_d[index]),
        treatment_d=float(person.treatment_d[index]),
        course=follow(person.mechanisms[index], nights),
        days_h=24.0 * np.arange(days, dtype=float),
        drift_d=drift,
        sight=Sight(
            person.form, float(person.best_logmar[index]), float(person.own_sight[index]), person.accommodation_d
        ),
    )


# -- what the record holds -------------------------------------------------------------------------------------
def _prescribed(
    dice: Dice, person: Person, habit: _Habit, clock: _Clock, before: int, settled: bool
) -> dict[str, Any]:
    first = clock.first + timedelta(days=before)
    measured = dice.chance(0.5)
    eyes: dict[str, dict[str, float]] = {}
    for index, eye in enumerate(person.eyes):
        eyes[eye] = {"baseline_d": float(person.baseline_d[index]), "aim_d": float(person.aim_d[index])}
        if measured:
            seen = float(person.best_logmar[index]) + dice.rng.normal(0, 0.03)
            eyes[eye]["best_acuity_logmar"] = round(round(seen / 0.02) * 0.02, 2)
    record: dict[str, Any] = {
        "format": "companion-record",
        "version": 1,
        "time_zone": clock.zone.key,
        "birth_year": first.year - person.age,
        "target": {
            "acuity_logmar": dice.one_of(0.1, 0.15, 0.2, 0.2, 0.3, 0.3),
            "until_local": f"{int(dice.rng.integers(15, 22)):02d}:00",
            "eyes": "better" if len(person.eyes) == 2 and dice.chance(0.10) else "each",
        },
        "plan": {"every": habit.every} if habit.weekdays is None else {"weekdays": list(habit.weekdays)},
        "clearance": {"may_skip": True, "longest_gap_nights": 2},
        "eyes": eyes,
    }
    if settled:
        since = first - timedelta(days=int(dice.rng.integers(120, 1200)))
        told = min(7.0, round(habit.nights_per_week * 2) / 2)
        record["history"] = {"since": since.isoformat(), "nights_per_week": told}
    return record


def _forgotten(dice: Dice, before: int, nights: int, wear: Mapping[str, Sequence[Night]]) -> frozenset[int]:
    """Return the nights of which nobody wrote: single ones or whole stretches, up to a third of all."""
    if not dice.chance(0.45):
        return frozenset()
    wanted = max(1, int(nights * dice.rng.uniform(0.05, 1 / 3)))
    worn = {_night(one) for some in wear.values() for one in some}
    forgotten: set[int] = set()
    in_stretches = dice.chance(0.4)
    while len(forgotten) < wanted:
        night = int(dice.rng.integers(before + 1, before + nights))
        if night in worn and dice.chance(0.2):
            continue  # a night left out is a little likelier to be passed over in silence
        length = int(dice.rng.integers(2, 7)) if in_stretches else 1
        forgotten.update(range(night, min(night + length, before + nights)))
        if len(forgotten) > nights / 3:
            break
    return frozenset(sorted(forgotten)[: max(1, nights // 3)])


def _night(stretch: Night) -> int:
    return int((stretch.start_h + 0.5) // 24)


def _written_wear(
    wear: Mapping[str, Sequence[Night]], clock: _Clock, before: int, nights: int, forgotten: frozenset[int]
) -> dict[str, Any]:
    rows, nights_off = [], []
    for eye, stretches in wear.items():
        told = [one for one in stretches if _night(one) >= before and _night(one) not in forgotten]
        rows += [{"eye": eye, "in": clock.said(one.start_h), "out": clock.said(one.end_h)} for one in told]
        if forgotten:
            off = set(range(before, before + nights)) - forgotten - {_night(one) for one in told}
            nights_off += [
                {"eye": eye, "night": str(clock.first + timedelta(days=night))} for night in sorted(off)
            ]
    return {"wear": rows, "no_wear": nights_off} if forgotten else {"wear": rows}


def _checks(
    dice: Dice,
    person: Person,
    truth: Mapping[str, SimulatedEye],
    clock: _Clock,
    before: int,
    nights: int,
    habit: _Habit,
    as_of_h: float,
) -> list[dict[str, Any]]:
    rng = dice.rng
    a_day = rng.uniform(3, 10) / 7
    mornings = rng.uniform(0.25, 0.75)
    weeks_missed = rng.random(nights // 7 + 1) < 0.10
    distance_m = None if dice.chance(0.25) else dice.one_of(2.0, 2.5, 3.0, 3.0, 4.0, 5.0, 6.0)
    ends_at = dice.one_of(-0.12, -0.10, -0.10, -0.05) if dice.chance(0.4) else -0.30
    step = dice.one_of(0.02, 0.02, 0.02, 0.05, 0.10)
    tells_sd = dice.chance(0.35)
    noise = float(np.interp(person.age, *NOISE_BY_AGE)) * 1.15 ** rng.standard_normal()
    rows: list[dict[str, Any]] = []
    for day in range(1, nights + 1):
        if weeks_missed[(day - 1) // 7]:
            continue
        for share, clock_h in (
            (mornings, habit.rises_h + rng.uniform(0.7, 1.6)),
            (1 - mornings, min(rng.uniform(17.0, 20.8), habit.bedtime_h - 0.75)),
        ):
            at_h = clock.hours(before + day, float(clock_h))
            if rng.random() >= a_day * share or at_h > as_of_h:
                continue
            for eye, one in truth.items():
                if rng.random() < 0.08 or one.course.is_in(at_h):
                    continue
                logmar, sd = _reading(dice, one, at_h, distance_m, noise)
                row: dict[str, Any] = {"eye": eye, "at": clock.said(at_h)}
                row["logmar"] = round(float(np.clip(round(logmar / step) * step, ends_at, 1.5)), 3)
                if tells_sd:
                    row["sd"] = round(sd * float(rng.uniform(0.85, 1.15)), 3)
                if distance_m is not None:
                    row["distance_m"] = distance_m
                rows.append(row)
    return rows


def _reading(
    dice: Dice, eye: SimulatedEye, at_h: float, distance_m: float | None, noise: float
) -> tuple[float, float]:
    """Return what a check reads, and its spread. A step nearer or further off changes the size of the letters."""
    really_m = (distance_m or 6.0) * float(np.exp(dice.rng.normal(0, 0.03)))
    nearness = 0.0 if distance_m is None else np.log10((distance_m or 6.0) / really_m)
    blur = eye.sight.blur_d(eye.residual_d(np.array([at_h])), np.inf if distance_m is None else really_m)
    sd = noise * float(np.interp(blur[0], *NOISE_BY_BLUR))
    logmar = float(eye.sight.logmar(blur)[0]) - float(nearness) + sd * dice.rng.standard_normal()
    slip = dice.rng.random()
    if slip < 0.025:
        logmar += float(dice.rng.uniform(0.15, 0.6))
    elif slip < 0.033:
        logmar -= float(dice.rng.uniform(0.1, 0.3))
    return logmar, sd


def _visits(
    dice: Dice, truth: Mapping[str, SimulatedEye], clock: _Clock, before: int, nights: int, settled: bool
) -> list[dict[str, Any]]:
    if dice.chance(0.3):
        return []
    days = [int(dice.rng.integers(1, nights + 1))] if settled else [one for one in (1, 7, 28, 42) if one <= nights]
    rows = []
    for day in days:
        at_h = clock.hours(before + day, float(dice.rng.uniform(9.0, 11.0) if day < nights else 8.7))
        if dice.chance(0.25) and not settled:
            continue
        for eye, one in truth.items():
            if not one.course.is_in(at_h):
                sphere = float(one.residual_d(np.array([at_h]))[0]) + dice.rng.normal(0, REFRACTION_SD_D)
                rows.append({"eye": eye, "at": clock.said(at_h), "sphere_d": round(sphere * 4) / 4})
    return rows
