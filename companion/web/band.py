"""The drawing of how sight holds and fades: a curve in plain values to shapes on a sheet of 360 by 178.

Better sight is higher. Time runs with the reading direction: from right to left where the language does. Geometry
only; colours are the stylesheet's and words the template's.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from companion.common.moments import parse_instant

WIDTH, HEIGHT = 360, 178
TOP, FLOOR = 20, 148
"""The edges of the drawing; the words of the days stand below the floor."""
BEST_LOGMAR, WORST_LOGMAR = -0.15, 1.05
"""The edges of the scale: what lies beyond is drawn at the edge."""


@dataclass(frozen=True)
class Label:
    x: float
    day: str
    """The date that it names, ``YYYY-MM-DD``."""


@dataclass(frozen=True)
class Band:
    """Shapes for one eye."""

    fan: str
    """The points of the polygon from the 5th to the 95th percentile."""
    middle: str
    """The points of the line of the 50th."""
    enough_y: float
    """Where *good enough* lies."""
    now_x: float
    nights: Sequence[tuple[float, float]]
    """The left edge and the width of each night with lenses."""
    checks: Sequence[tuple[float, float]]
    days: Sequence[Label]
    start_x: float
    """The side at which reading starts."""
    end_x: float


def draw(curve: Mapping[str, Any], eye: str, right_to_left: bool) -> Band:
    """Return the shapes of one eye of a curve."""
    start, end = parse_instant(curve["from"]), parse_instant(curve["to"])
    whole = (end - start) / timedelta(hours=1)

    def x(moment: datetime) -> float:
        share = min(max((moment - start) / timedelta(hours=1) / whole, 0.0), 1.0)
        return round(WIDTH * (1 - share if right_to_left else share), 1)

    def y(logmar: float) -> float:
        share = (logmar - BEST_LOGMAR) / (WORST_LOGMAR - BEST_LOGMAR)
        return round(TOP + (FLOOR - TOP) * min(max(share, 0.0), 1.0), 1)

    times = [x(parse_instant(one)) for one in curve["times"]]
    rows = curve["eyes"][eye]

    def line(key: str) -> list[str]:
        return [f"{across},{y(value)}" for across, value in zip(times, rows[key], strict=True)]

    nights = [
        sorted((x(parse_instant(night["from"])), x(parse_instant(night["to"]))))
        for night in curve["nights"]
        if eye in night["eyes"]
    ]
    return Band(
        fan=" ".join(line("p05") + line("p95")[::-1]),
        middle=" ".join(line("p50")),
        enough_y=y(curve["target"]),
        now_x=x(parse_instant(curve["now"])),
        nights=[(low, round(high - low, 1)) for low, high in nights if high > low],
        checks=[
            (x(parse_instant(one["at"])), y(one["logmar"]))
            for one in curve["checks"]
            if one["eye"] == eye and start <= parse_instant(one["at"]) <= end
        ],
        days=_days(start, end, x),
        start_x=WIDTH if right_to_left else 0,
        end_x=0 if right_to_left else WIDTH,
    )


def table(curve: Mapping[str, Any], hours: Sequence[int] = (8, 13, 18, 22)) -> list[dict[str, Any]]:
    """Return the same as rows: the curve at a few hours of each day, with the spread of each eye [logMAR]."""
    moments = [parse_instant(one) for one in curve["times"]]
    wanted = {
        min(range(len(moments)), key=lambda i: abs((moments[i] - moment).total_seconds()))
        for hour in hours
        for moment in _at_hour(moments[0], moments[-1], hour)
    }
    return [
        {
            "at": curve["times"][i],
            "eyes": {
                eye: {key: rows[key][i] for key in ("p05", "p50", "p95")} for eye, rows in curve["eyes"].items()
            },
        }
        for i in sorted(wanted)
    ]


def _at_hour(start: datetime, end: datetime, hour: int) -> list[datetime]:
    """Return the instants from ``start`` to ``end`` at that hour, on the clock that ``start`` is written in."""
    first = start.replace(hour=hour, minute=0, second=0, microsecond=0)
    days = (end - start).days + 2
    moments = [first + timedelta(days=one) for one in range(days)]
    return [one for one in moments if start <= one <= end]


def _days(start: datetime, end: datetime, x: Any) -> list[Label]:
    """Name each day at its noon, or where it is cut off, provided that enough of it is seen."""
    labels = []
    day: date = start.date()
    while day <= end.date():
        dawn = max(start, start.replace(year=day.year, month=day.month, day=day.day, hour=0, minute=0))
        dusk = min(end, start.replace(year=day.year, month=day.month, day=day.day, hour=23, minute=59))
        across = abs(x(dusk) - x(dawn))
        if across >= 50:
            labels.append(Label(round((x(dawn) + x(dusk)) / 2, 1), day.isoformat()))
        day += timedelta(days=1)
    return labels
