"""Five records on which the personal fit is held against long runs of another sampler: written once, kept as data.

    .venv/bin/python tests/reference/records.py    writes records.json anew

The eyes are of the model's kind, their parameters plain numbers of this page: what the model takes for the middle
of the population may change without changing a record. Times are hours from the first lens going in; ``as_of_h``
is a morning at eight, an hour or two after the lens came out.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass, field
from pathlib import Path

import numpy as np

from companion.fade.course import Stretch, settled_evening
from companion.fade.filter import State, started
from companion.fade.fit import Case
from companion.fade.observation import Reading, RefractionReading, SightReading
from companion.fade.population import Draws, Treatment
from companion.fade.stores import nothing_yet

FILE = Path(__file__).with_name("records.json")
SEED = 20261017
EVENING_H, MORNING_H, LENS_IN_H = 21.0, 10.5, 8.3
DRIFT_D, DRIFT_H = 0.15, 45 * 24.0


@dataclass(frozen=True)
class Eye:
    """A true eye: time constants [h], spreads [D], acuities [logMAR]."""

    build_h: float
    settle_h: float
    fresh_fade_h: float
    settled_fade_h: float
    gain: float
    night_spread_d: float
    best: float
    loss_at_1_d: float
    form: float


@dataclass(frozen=True)
class Plan:
    """What is written down of an eye: how long, which readings, what is missing or wrong in them."""

    treatment: Treatment
    eye: Eye
    days: int
    checks_at_h: Sequence[tuple[int, float]]
    """(day, hours from the usual evening's insertion on)"""
    check_spread: float
    refractions: Sequence[tuple[int, float]] = ()
    skipped: Sequence[int] = ()
    unknown: Sequence[int] = ()
    wild: dict[int, float] = field(default_factory=dict)
    """Number of a check, and how far off [logMAR] it is."""
    nights_per_week: float | None = None
    """The habit of a wearer who was settled before the record starts."""
    distance_m: float | None = None
    states_spread: bool = False
    """Is the spread of a check written down with it?"""


def evenings(days: Sequence[int]) -> list[tuple[int, float]]:
    return [(day, EVENING_H) for day in days]


PLANS = {
    "thin": Plan(
        Treatment(-2.5, 0.5, 11), Eye(8.5, 24, 42, 88, 0.98, 0.14, 0.0, 0.45, 1.3), 14,
        [(3, EVENING_H), (7, 11.0), (9, EVENING_H), (12, EVENING_H)], 0.12, skipped=[5],
    ),
    "rich": Plan(
        Treatment(-3.5, 0.75, 13, 0.0), Eye(11.5, 20, 55, 78, 0.90, 0.18, 0.01, 0.40, 1.1), 56,
        sorted([*evenings(range(1, 55)), (8, 11.0), (22, 11.0), (36, 11.0), (50, 11.0)]), 0.12,
        [(1, 12.5), (7, 13.0), (28, 17.0), (54, 13.0)], skipped=[10, 19, 20, 33, 41, 47, 48],
    ),
    "outlying": Plan(
        Treatment(-2.0, 0.5, 32), Eye(7.5, 26, 40, 95, 0.88, 0.12, -0.04, 0.48, 1.2), 28,
        [*evenings(range(1, 27, 2)), (27, 9.9)], 0.07, [(20, 14.0)], skipped=[6, 15],
        wild={2: 0.55, 6: 0.7, 10: -0.35, 12: 0.6},
    ),
    "one_eyed": Plan(
        Treatment(-4.75, 0.75, 17, -0.08), Eye(9.5, 19, 38, 70, 1.02, 0.16, -0.06, 0.38, 1.2), 21,
        [*evenings(range(2, 20, 2)), (20, 9.8)], 0.07, [(14, 13.0)], skipped=[8, 9], nights_per_week=7,
        distance_m=3.0, states_spread=True,
    ),
    "unknown_nights": Plan(
        Treatment(-3.0, 0.5, 10), Eye(10.5, 22, 52, 82, 0.92, 0.15, 0.04, 0.42, 1.3), 25,
        [*evenings([1, 3, 5, 8, 10, 12, 15, 17, 19, 23]), (24, 9.7)], 0.12, [(13, 14.0)], skipped=[11],
        unknown=[6, 7, 13, 18, 21, 22],
    ),
}  # fmt: skip
HABIT = 0.85
"""The chance that an unknown night was worn; the third and the last but one of them were not."""


def made(plan: Plan, rng: np.random.Generator) -> dict[str, object]:
    """Return one record: nights, readings, and no word of the truth."""
    nights = []
    for night in range(plan.days):
        start = 24.0 * night + (rng.uniform(-0.75, 0.75) if night else 0.0)
        nights.append((round(start, 2), round(start + LENS_IN_H + rng.uniform(-0.7, 0.7), 2)))
    off = set(plan.skipped) | set(plan.unknown[2::2])
    times = [(24.0 * day + hour, "check") for day, hour in plan.checks_at_h]
    times = sorted(times + [(24.0 * day + hour, "refraction") for day, hour in plan.refractions])
    worn = [one for night, one in enumerate(nights) if night not in off]
    truth = list(_truth(plan, worn, [at for at, _ in times], rng))
    readings, number = [], 0
    for (at, kind), residual in zip(times, truth, strict=True):
        if kind == "refraction":
            sphere = round((residual + 0.25 * rng.standard_normal()) * 4) / 4
            readings.append({"at_h": at, "sphere_d": sphere})
            continue
        eye, blur = plan.eye, max(-residual - 1 / (plan.distance_m or math.inf), 0.0)
        bend = 10 ** (2 * eye.loss_at_1_d / eye.form) - 1
        sight = eye.best + 0.5 * eye.form * math.log10(1 + bend * blur**2)
        sight += plan.check_spread * (1 + 1.3 * min(blur, 1.0)) * rng.standard_normal() + plan.wild.get(number, 0)
        own = {"spread": plan.check_spread} if plan.states_spread else {}
        away = {"distance_m": plan.distance_m} if plan.distance_m else {}
        readings.append({"at_h": at, "logmar": round(sight / 0.02) * 0.02, **own, **away})
        number += 1
    return {
        "treatment": asdict(plan.treatment),
        "nights_per_week": plan.nights_per_week,
        "as_of_h": 24.0 * (plan.days - 1) + MORNING_H,
        "nights": [
            {"start_h": start, "end_h": end, "chance": HABIT if night in plan.unknown else 1.0, "key": night}
            for night, (start, end) in enumerate(nights)
            if night not in plan.skipped
        ],
        "readings": [{name: round(value, 3) for name, value in one.items()} for one in readings],
    }


def _truth(
    plan: Plan, worn: Sequence[tuple[float, float]], times: Sequence[float], rng: np.random.Generator
) -> Iterator[float]:
    """Yield the residual [D] at each time: small steps of the model's equations."""
    eye, step = plan.eye, 1 / 60
    size = plan.treatment.aim_d - plan.treatment.baseline_d
    fresh = settled = night_d = 0.0
    start, drift = 0.0, 0.0
    usual = [(24.0 * day, 24.0 * day + 8.0) for day in range(-60, 0)]
    if plan.nights_per_week:
        start, drift = -60 * 24.0, DRIFT_D * rng.standard_normal()
    spans = sorted([*usual, *worn] if plan.nights_per_week else worn)
    waiting = list(times)
    most = _settled_morning(eye)
    for tick in range(round((times[-1] - start) / step) + 2):
        now = start + tick * step
        while waiting and waiting[0] <= now:
            waiting.pop(0)
            yield plan.treatment.baseline_d + size * eye.gain * (fresh + settled) / most + night_d + drift
        while spans and spans[0][1] <= now:
            spans.pop(0)
        if spans and spans[0][0] <= now:
            into, over = (1 - fresh - settled) / eye.build_h, fresh / eye.settle_h
            fresh, settled = fresh + step * (into - over), settled + step * over
            kick = eye.night_spread_d * math.sqrt(2 * step / eye.build_h) * rng.standard_normal()
            night_d += kick - night_d / eye.build_h * step
        else:
            fresh -= step * fresh / eye.fresh_fade_h
            settled -= step * settled / eye.settled_fade_h
            night_d -= step * night_d / eye.settled_fade_h
        drift += DRIFT_D * math.sqrt(2 * step / DRIFT_H) * rng.standard_normal() - drift * step / DRIFT_H


def _settled_morning(eye: Eye) -> float:
    fresh = settled = 0.0
    for tick in range(60 * 24 * 60):
        if tick % 1440 < 480:
            into, over = (1 - fresh - settled) / eye.build_h, fresh / eye.settle_h
            fresh, settled = fresh + (into - over) / 60, settled + over / 60
        elif tick < 59 * 1440 + 480:
            fresh -= fresh / eye.fresh_fade_h / 60
            settled -= settled / eye.settled_fade_h / 60
    return fresh + settled


# -- reading them back -------------------------------------------------------------------------------------------
def records() -> dict[str, Case]:
    """Return the five records as the fit takes them."""
    return {name: _case(one) for name, one in json.loads(FILE.read_text("utf-8"))["records"].items()}


def _case(record: dict) -> Case:  # type: ignore[type-arg]
    nights = [Stretch(**one) for one in record["nights"]]
    readings: list[Reading] = [
        RefractionReading(**one) if "sphere_d" in one else SightReading(**one) for one in record["readings"]
    ]
    return Case(
        Treatment(**record["treatment"]), Start(record["nights_per_week"]), nights, readings, record["as_of_h"]
    )


@dataclass(frozen=True)
class Start:
    """How the eye of a record begins: untreated, or settled on seven nights a week of eight hours."""

    nights_per_week: float | None
    hours: float = 8.0

    def __call__(self, draws: Draws) -> State:
        if self.nights_per_week is None:
            return started(draws, 0.0, nothing_yet(draws.rates), settled=False)
        assert self.nights_per_week == 7, "fewer nights are a matter of dice: not for an exact reference"
        stores = settled_evening(draws.rates, self.hours, 7, np.empty((8, 0)))
        return started(draws, 0.0, stores, settled=True)


def write() -> None:
    found = {
        name: made(plan, np.random.default_rng([SEED, place])) for place, (name, plan) in enumerate(PLANS.items())
    }
    FILE.write_text(json.dumps({"seed": SEED, "records": found}, indent=1) + "\n", "utf-8")


if __name__ == "__main__":
    write()
