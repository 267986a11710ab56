"""How well the personal forecast is calibrated on simulated wearers, whose eyes are none of the model's.

    .venv/bin/python tests/fade/calibration.py --wearers 600 --seed 1 [--jobs 2] [--by kind --by form ...]

prints the figures, whole and split, for development seeds only: the seed of test_calibration.py stays unseen until
the test is run, so that nothing is ever tuned on it.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import partial
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray
from simulated_diaries import Life, live

from companion.exchange.forecast import document
from companion.exchange.record_file import parse_record
from companion.exchange.wearer_course import follow_wearer

DEVELOPMENT_SEEDS = range(1, 1000)
HORIZONS = ("now", "this evening", "tomorrow evening", "3 days", "a week")
TOMORROW = HORIZONS.index("tomorrow evening")
EVENING_H = 21.5
RELEASED = 0.90
FULL_DATA_NIGHTS = 28
LATE_H = 20.0
"""A check so long after the lens came out saw what a night off does."""
HALF_STEP = 0.0005
"""A document's figures are rounded to thousandths: the ends of a band count as inside."""
QUANTITIES = ("acuity", "refraction")

Truths = NDArray[np.float64]


@dataclass(frozen=True)
class Eye:
    """One eye's forecast beside its truth."""

    wearer: int
    groups: Mapping[str, str]
    nights: int
    truth: Truths
    """(2 quantities, 5 horizons)."""
    band: Truths
    """(2 quantities, 5 horizons, 3 percentiles)."""
    chance: float
    """That the target is met tomorrow, if tonight is skipped."""
    met: bool
    worn: Truths
    """Tomorrow evening's acuity if tonight is worn after all: 3 percentiles and the truth."""


@dataclass(frozen=True)
class Tonight:
    """The same for the wearer as a whole."""

    wearer: int
    chance: float
    met: bool


# -- the run ---------------------------------------------------------------------------------------------------
def _moments(life: Life) -> list[datetime]:
    evening = life.as_of.replace(hour=int(EVENING_H), minute=int(EVENING_H % 1 * 60))
    tomorrow = evening + timedelta(days=1)
    as_of = life.as_of
    return [as_of, evening, tomorrow, as_of + timedelta(days=3), as_of + timedelta(days=7)]


def judge(seed: int, number: int) -> tuple[list[Eye], Tonight]:
    """Live one wearer's life, forecast from its record, and set the truth beside it."""
    life = live(seed, number)
    moments = _moments(life)
    followed = follow_wearer(parse_record(life.record), life.as_of)
    told = document(followed, moments)
    if_worn = document(followed, moments[TOMORROW : TOMORROW + 1], [True])
    target = life.record["target"]
    target_at = datetime.fromisoformat(told["tonight"]["target_at"])
    eyes = []
    for eye, truth in life.truth.items():
        hours = life.hours([*moments, target_at])
        acuity, refraction = truth.acuity_logmar(hours), truth.residual_d(hours)
        eyes.append(
            Eye(
                wearer=number,
                groups=_groups(life, eye),
                nights=life.nights,
                truth=np.array([acuity[:-1], refraction[:-1]]),
                band=_band(told["eyes"][eye]),
                chance=told["tonight"]["eyes"][eye]["meets_target"],
                met=bool(acuity[-1] <= target["acuity_logmar"]),
                worn=np.append(
                    _band(if_worn["eyes"][eye])[0, 0], life.once_more[eye].acuity_logmar(hours[[TOMORROW]])
                ),
            )
        )
    together = any if target["eyes"] == "better" else all
    tonight = Tonight(number, told["tonight"]["meets_target"], together(one.met for one in eyes))
    return eyes, tonight


def _band(rows: Sequence[Mapping[str, Any]]) -> Truths:
    keys = ("acuity_logmar", "refraction_d")
    return np.array([[[row[key][at] for at in ("p05", "p50", "p95")] for row in rows] for key in keys])


def _groups(life: Life, eye: str) -> dict[str, str]:
    person = life.person
    size = abs(life.record["eyes"][eye]["baseline_d"])
    checks = [datetime.fromisoformat(row["at"]) for row in life.record["acuity"] if row["eye"] == eye]
    late = int(np.sum(life.truth[eye].course.off_h(life.hours(checks)) > LATE_H))
    evening = life.as_of.hour >= 15
    return {
        "kind": person.kind,
        "form": person.form,
        "age": _class(person.age, (16, 31), "years"),
        "size": "steepening" if person.steepens else _class(size, (1.5, 2.5, 3.5), "D"),
        "nights": _class(life.nights, (14, 28), "nights"),
        "checks": _class(len(checks), (6, 15, 30), "checks"),
        "late": _class(late, (1, 3, 6), "late checks"),
        "unknown": "none unknown" if not life.unknown_share else _class(life.unknown_share, (0.15,), "unknown"),
        "start": "settled start" if life.settled else "new wearer",
        "best": "best acuity measured" if "best_acuity_logmar" in life.record["eyes"][eye] else "not measured",
        "sd": "sd told" if any("sd" in row for row in life.record["acuity"]) else "sd not told",
        "refracted": "refracted" if life.record["refraction"] else "never refracted",
        "asked": "asked late in the day" if evening else "asked early",
    }


def _class(value: float, edges: Sequence[float], unit: str) -> str:
    index = int(np.searchsorted(edges, value, side="right"))
    if index == 0:
        return f"under {edges[0]:g} {unit}"
    return f"{edges[index - 1]:g} {unit} and over" + (f", under {edges[index]:g}" if index < len(edges) else "")


def calibrate(seed: int, wearers: int, jobs: int = 1) -> Result:
    """Judge the first so many wearers of a seed."""
    one = partial(judge, seed)
    if jobs == 1:
        judged = [one(number) for number in range(wearers)]
    else:
        with ProcessPoolExecutor(jobs) as pool:
            judged = list(pool.map(one, range(wearers), chunksize=8))
    return Result(seed, tuple(eye for eyes, _ in judged for eye in eyes), tuple(tonight for _, tonight in judged))


# -- figures ---------------------------------------------------------------------------------------------------
@dataclass(frozen=True)
class Released:
    """What became of the forecasts that the 90 % rule lets go: counts, and rates among those released."""

    judged: int
    released: int
    truly_met: int
    released_and_met: int
    expected_wrong: float
    standard_error: float
    """Of the observed rate less the expected one; the two eyes of a wearer count as one."""

    @property
    def wrong(self) -> float:
        return (self.released - self.released_and_met) / max(1, self.released)

    @property
    def share_of_met(self) -> float:
        return self.released_and_met / max(1, self.truly_met)

    def __str__(self) -> str:
        return (
            f"released {self.released} of {self.judged}; wrong {self.wrong:.2%}, "
            f"expected {self.expected_wrong:.2%} (se {self.standard_error:.2%}); "
            f"of {self.truly_met} truly met {self.share_of_met:.1%} released"
        )


def released(forecasts: Sequence[Eye] | Sequence[Tonight]) -> Released:
    let_go = [one for one in forecasts if one.chance >= RELEASED]
    off: dict[int, float] = {}
    for one in let_go:
        off[one.wearer] = off.get(one.wearer, 0.0) + (not one.met) - (1 - one.chance)
    count = max(1, len(let_go))
    return Released(
        judged=len(forecasts),
        released=len(let_go),
        truly_met=sum(one.met for one in forecasts),
        released_and_met=sum(one.met for one in let_go),
        expected_wrong=sum(1 - one.chance for one in let_go) / count,
        standard_error=float(np.sqrt(sum(one * one for one in off.values()))) / count,
    )


@dataclass(frozen=True)
class Result:
    seed: int
    eyes: tuple[Eye, ...]
    tonights: tuple[Tonight, ...]

    def first(self, wearers: int) -> Result:
        """Return the result of the first so many wearers alone."""
        return self.where(lambda wearer: wearer < wearers)

    def where(self, keep: Callable[[int], bool]) -> Result:
        return Result(
            self.seed,
            tuple(one for one in self.eyes if keep(one.wearer)),
            tuple(one for one in self.tonights if keep(one.wearer)),
        )

    def split(self, by: str) -> dict[str, Result]:
        """Return a result of the eyes of each group, nights of wearers left out."""
        names = sorted({one.groups[by] for one in self.eyes})
        return {name: Result(self.seed, tuple(e for e in self.eyes if e.groups[by] == name), ()) for name in names}

    @property
    def _truth(self) -> Truths:
        return np.array([one.truth for one in self.eyes])

    @property
    def _bands(self) -> Truths:
        return np.array([one.band for one in self.eyes])

    def coverage(self, quantity: str) -> dict[str, float]:
        """Return the share of truths inside the 90 % band, by horizon."""
        which = QUANTITIES.index(quantity)
        truth, bands = self._truth[:, which], self._bands[:, which]
        inside = (bands[..., 0] - HALF_STEP <= truth) & (truth <= bands[..., 2] + HALF_STEP)
        return dict(zip(HORIZONS, inside.mean(axis=0).tolist(), strict=True))

    def outside(self, quantity: str) -> dict[str, tuple[float, float]]:
        """Return the shares of truths below and above the 90 % band, by horizon."""
        which = QUANTITIES.index(quantity)
        truth, bands = self._truth[:, which], self._bands[:, which]
        below = (truth < bands[..., 0] - HALF_STEP).mean(axis=0).tolist()
        above = (truth > bands[..., 2] + HALF_STEP).mean(axis=0).tolist()
        return dict(zip(HORIZONS, zip(below, above, strict=True), strict=True))

    def error(self, quantity: str) -> Truths:
        """Return the median less the truth, (eyes, horizons)."""
        which = QUANTITIES.index(quantity)
        error: Truths = self._bands[:, which, :, 1] - self._truth[:, which]
        return error

    def widths(self, quantity: str) -> Truths:
        which = QUANTITIES.index(quantity)
        widths: Truths = np.median(self._bands[:, which, :, 2] - self._bands[:, which, :, 0], axis=0)
        return widths

    @property
    def tomorrows_error(self) -> float:
        """The median absolute error of tomorrow evening's acuity, where there is enough data."""
        error = self.error("acuity")[[one.nights >= FULL_DATA_NIGHTS for one in self.eyes], TOMORROW]
        return float(np.median(np.abs(error))) if error.size else float("nan")

    @property
    def if_worn(self) -> tuple[float, float]:
        """Return the same if tonight is worn, and the share inside the 90 % band."""
        worn = np.array([one.worn for one in self.eyes if one.nights >= FULL_DATA_NIGHTS]).reshape(-1, 4)
        p05, p50, p95, truth = worn.T
        inside = (p05 - HALF_STEP <= truth) & (truth <= p95 + HALF_STEP)
        return (float(np.median(np.abs(p50 - truth))), float(inside.mean())) if len(worn) else (np.nan, np.nan)


# -- print -----------------------------------------------------------------------------------------------------
def told(result: Result) -> str:
    """Return the figures of a whole run as text."""
    lines = [f"seed {result.seed}: {len(result.tonights)} wearers, {len(result.eyes)} eyes"]
    lines.append(f"{'':12}{'':10}" + "".join(f"{one:>18}" for one in HORIZONS))
    for quantity in QUANTITIES:
        rows: Mapping[str, Sequence[str]] = {
            "inside": [f"{one:.1%}" for one in result.coverage(quantity).values()],
            "below/above": [f"{low:.1%} / {high:.1%}" for low, high in result.outside(quantity).values()],
            "bias": [f"{one:+.3f}" for one in result.error(quantity).mean(axis=0)],
            "|error|": [f"{one:.3f}" for one in np.median(np.abs(result.error(quantity)), axis=0)],
            "width": [f"{one:.3f}" for one in result.widths(quantity)],
        }
        lines += [f"{quantity:12}{name:12}" + "".join(f"{one:>18}" for one in row) for name, row in rows.items()]
    worn_error, worn_inside = result.if_worn
    lines.append(
        f"tomorrow evening's acuity, {FULL_DATA_NIGHTS} nights and more: |error| {result.tomorrows_error:.4f}; "
        f"if tonight is worn {worn_error:.4f}, inside {worn_inside:.1%}"
    )
    lines.append(f"eyes:    {released(result.eyes)}")
    lines.append(f"wearers: {released(result.tonights)}")
    return "\n".join(lines)


def told_chances(result: Result) -> str:
    """Return how often targets were met, by the chance that the forecast gave them."""
    edges = (0.0, 0.1, 0.3, 0.5, 0.7, 0.8, 0.9, 0.95, 0.98, 1.001)
    lines = ["chance that was given     eyes   mean   met"]
    for low, high in pairwise(edges):
        some = [one for one in result.eyes if low <= one.chance < high]
        if some:
            given, met = np.mean([one.chance for one in some]), np.mean([one.met for one in some])
            lines.append(f"{low:.2f} to {min(high, 1):.2f}{len(some):18}{given:7.3f}{met:6.3f}")
    return "\n".join(lines)


def told_split(result: Result, by: str) -> str:
    """Return one line for each group: coverage at each horizon, errors tomorrow, what was released."""
    horizons = ", ".join(HORIZONS)
    lines = [f"by {by}: eyes; acuity inside {horizons}; refraction inside; bias, |error| tomorrow; released"]
    for name, part in result.split(by).items():
        inside = ["  ".join(f"{one:4.0%}" for one in part.coverage(quantity).values()) for quantity in QUANTITIES]
        error = part.error("acuity")[:, TOMORROW]
        one = released(part.eyes)
        lines.append(
            f"{name:28}{len(part.eyes):5}  {inside[0]} | {inside[1]} | "
            f"{error.mean():+.3f} {np.median(abs(error)):.3f} | {one.released:4} wrong {one.wrong:.1%}, "
            f"expected {one.expected_wrong:.1%}, of truly met {one.share_of_met:.0%}"
        )
    return "\n".join(lines)


GROUPS = (
    "kind", "form", "age", "size", "nights", "checks", "late", "unknown", "start", "best", "sd", "refracted",
    "asked",
)  # fmt: skip


def main() -> int:
    ask = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    ask.add_argument("--wearers", type=int, default=600)
    ask.add_argument("--seed", type=int, default=1, help="a development seed, 1 to 999")
    ask.add_argument("--jobs", type=int, default=1)
    ask.add_argument(
        "--by", action="append", choices=GROUPS, help="split by this (may be repeated); without: by all"
    )
    asked = ask.parse_args()
    if asked.seed not in DEVELOPMENT_SEEDS:
        ask.error("--seed: development seeds are 1 to 999; the test's own is for the test")
    result = calibrate(asked.seed, asked.wearers, asked.jobs)
    print(told(result), told_chances(result), *(told_split(result, by) for by in asked.by or GROUPS), sep="\n\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
