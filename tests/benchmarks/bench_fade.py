"""How long the fade science takes: medians of 9, beside a bare figure of the same run that tells the machine.

    .venv/bin/python tests/benchmarks/bench_fade.py

Reported, never asserted: docs/science.md has the figures and the targets.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import datetime, timedelta
from statistics import median
from time import perf_counter
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np

from companion.common.eyes import Eye
from companion.exchange.about import about
from companion.exchange.forecast import document, forecast
from companion.exchange.record_file import parse_record
from companion.exchange.wearer_course import follow_wearer
from companion.fade.outlook import Target
from companion.fade.plans import EyeHabit, UsualNight, weigh_plans

TIMES = 9
HOME = ZoneInfo("Asia/Singapore")
FIRST = datetime(2025, 10, 1, 21, 30, tzinfo=HOME)


def record(nights: int, checks_a_week: int, seed: int = 7) -> dict[str, Any]:
    """Return an invented two-eye record: nightly wear with a night left out now and then, checks, a refraction."""
    rng = np.random.default_rng(seed)
    wear, acuity = [], []
    for night in range(nights):
        start = FIRST + timedelta(days=night, minutes=int(rng.integers(-30, 30)))
        if night % 9 != 5:
            wear.append(
                {"eye": "both", "in": start, "out": start + timedelta(hours=8.5, minutes=int(rng.integers(60)))}
            )
        if rng.random() < checks_a_week / 7:
            at = start.replace(hour=20, minute=0)
            acuity += [
                {"eye": eye, "at": at, "logmar": round(float(rng.normal(0.1, 0.09)), 2), "distance_m": 3}
                for eye in ("right", "left")
            ]
    as_of = FIRST + timedelta(days=nights, hours=-1)
    raw = {
        "format": "companion-record", "version": 1, "time_zone": "Asia/Singapore", "birth_year": 2014,
        "target": {"acuity_logmar": 0.2, "until_local": "18:00"},
        "eyes": {"right": {"baseline_d": -3.0, "aim_d": 0.5}, "left": {"baseline_d": -2.5, "aim_d": 0.5}},
        "wear": wear,
        "acuity": [one for one in acuity if one["at"] < as_of],
        "refraction": [{"eye": "right", "at": FIRST + timedelta(days=8, hours=-10), "sphere_d": -0.25}],
    }  # fmt: skip
    return json.loads(json.dumps(raw, default=lambda one: one.isoformat())) | {"as_of": as_of}


def timed(what: Callable[[], object]) -> float:
    """Return the median milliseconds of some runs, after one that is not counted."""
    what()
    took = []
    for _ in range(TIMES):
        start = perf_counter()
        what()
        took.append(perf_counter() - start)
    return 1000 * median(took)


def say(name: str, what: Callable[[], object]) -> None:
    print(f"{name:52}{timed(what):8.1f} ms")


def bench(name: str, nights: int, checks_a_week: int) -> None:
    raw = record(nights, checks_a_week)
    as_of = raw.pop("as_of")
    one = parse_record(raw)
    followed = follow_wearer(one, as_of)
    places = {eye: course.fit.place for eye, course in followed.eyes.items()}
    times = [followed.as_of + timedelta(hours=hour) for hour in range(73)]
    habits = [EyeHabit(course.draws, UsualNight(21.5, 30.5)) for course in followed.eyes.values()]
    print(f"{name}: two eyes, {nights} nights, {len(one.eyes[Eye.RIGHT].acuity)} checks an eye")
    say("  fit and 72-hour forecast", lambda: forecast(one, as_of))
    say("  fit alone", lambda: follow_wearer(one, as_of))
    say("  update after one new entry (from the last place)", lambda: follow_wearer(one, as_of, places))
    say("  the document of a followed wearer", lambda: document(followed, times))
    say("  what stands behind it", lambda: about(followed))
    say("  all weekly patterns, one eye", lambda: weigh_plans(habits[:1], Target(0.2), 18.0))
    say("  all weekly patterns, two eyes", lambda: weigh_plans(habits, Target(0.2), 18.0))


def main() -> None:
    numbers = np.linspace(0.0, 1.0, 1_000_000)
    say("bare: a million exponentials", lambda: np.exp(numbers))
    bench("4 weeks", 28, 5)
    bench("a year", 365, 3)


if __name__ == "__main__":
    main()
