"""A record in JSON values, as plain as it may be, and how to bend it."""

import copy
from datetime import datetime, timedelta
from typing import Any

OFFSET = "+08:00"
RECORD: dict[str, Any] = {
    "format": "companion-record",
    "version": 1,
    "time_zone": "Asia/Singapore",
    "birth_year": 2015,
    "target": {"acuity_logmar": 0.2, "until_local": "18:00"},
    "eyes": {"right": {"baseline_d": -3.0, "aim_d": 0.5}, "left": {"baseline_d": -2.5, "aim_d": 0.5}},
    "wear": [],
    "acuity": [],
    "refraction": [],
}


def record(**changed: Any) -> dict[str, Any]:
    """Return a fresh record; ``changed`` replaces whole keys, None removes one."""
    made = copy.deepcopy({**RECORD, **changed})
    return {key: value for key, value in made.items() if value is not None}


def nights(count: int, first: str = "2026-10-01", eye: str = "both", every: int = 1) -> list[dict[str, str]]:
    """Return wear rows of ``count`` nights, 21:30 to 06:30."""
    start = datetime.fromisoformat(f"{first}T21:30{OFFSET}")
    rows = []
    for n in range(0, count * every, every):
        lens_in = start + timedelta(days=n)
        out = (lens_in + timedelta(hours=9)).isoformat()
        rows.append({"eye": eye, "in": lens_in.isoformat(), "out": out})
    return rows


def checks(count: int, last: str, *eyes: str) -> list[dict[str, Any]]:
    """Return acuity rows of the last ``count`` days up to ``last``."""
    end = datetime.fromisoformat(last)
    return [
        {"eye": eye, "at": (end - timedelta(days=n)).isoformat(), "logmar": 0.0}
        for n in range(count)
        for eye in eyes
    ]


def ready(**changed: Any) -> dict[str, Any]:
    """Return a mild, settled, cleared wearer with enough data: on 2026-10-21 at 07:30 tonight may be skipped."""
    return record(
        **{
            "target": {"acuity_logmar": 0.9, "until_local": "18:00"},
            "clearance": {"may_skip": True, "longest_gap_nights": 1},
            "wear": nights(20),
            "acuity": checks(6, "2026-10-21T07:00+08:00", "right", "left"),
            **changed,
        }
    )


READY_AT = datetime.fromisoformat("2026-10-21T07:30+08:00")
