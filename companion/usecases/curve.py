"""The curve's values: how sight held over the last days and how it should go on, with nights and checks.

Drawn once with the forecast and stored beside it; a page cuts its own days out and adds what is newer than that.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any

from companion.common.moments import parse_instant, zone
from companion.diary.sight import observations
from companion.exchange.forecast import fan
from companion.exchange.wearer_course import WearerCourse
from companion.usecases.showing import iso
from companion.usecases.story import Story

BACK, AHEAD = timedelta(hours=24), timedelta(hours=72)
LONGEST_BACK = timedelta(hours=96)
"""So far back a practitioner looks; a family's page shows the last day."""
PERCENTILES = ("p05", "p50", "p95")


def drawn(followed: WearerCourse) -> dict[str, Any]:
    """Return the fan per eye, hour by hour, if no lens is worn from now on."""
    start, end = followed.as_of - LONGEST_BACK, followed.as_of + AHEAD
    eyes: dict[str, Any] = fan(followed, start, end)["eyes"]
    return {
        "times": [row["at"] for row in next(iter(eyes.values()))["rows"]],
        "eyes": {
            eye: {
                **{part: [row["acuity_logmar"][part] for row in one["rows"]] for part in PERCENTILES},
                "refraction_d": {part: [row["refraction_d"][part] for row in one["rows"]] for part in PERCENTILES},
            }
            for eye, one in eyes.items()
        },
        "target": followed.record.target.acuity_logmar,
        "nights": _nights(eyes),
    }


def shown(
    curve: Mapping[str, Any] | None, story: Story, now: datetime, back: timedelta = BACK
) -> dict[str, Any] | None:
    """Return a stored curve from ``back`` before ``now`` on; None: there is none, or it ends before now."""
    if curve is None:
        return None
    where, start = zone(story.wearer.zone), now - back
    moments = [parse_instant(one) for one in curve["times"]]
    first = next((at for at, moment in enumerate(moments) if moment >= start), len(moments))
    if moments[-1] <= now or first + 1 >= len(moments):
        return None
    return {
        "from": curve["times"][first],
        "to": curve["times"][-1],
        "now": iso(now, where),
        "times": curve["times"][first:],
        "eyes": {
            eye: {
                **{part: one[part][first:] for part in PERCENTILES},
                "refraction_d": {part: one["refraction_d"][part][first:] for part in PERCENTILES},
            }
            for eye, one in curve["eyes"].items()
        },
        "target": curve["target"],
        "nights": [one for one in curve["nights"] if parse_instant(one["to"]) > moments[first]],
        "checks": [
            {"at": iso(look.at, where), "eye": look.eye.value if look.eye else "both", "logmar": look.logmar}
            for look in observations(story.standing, is_child=False)
            if look.at >= moments[first]
        ],
    }


def _nights(eyes: dict[str, Any]) -> list[dict[str, Any]]:
    """The nights' columns, those that both eyes share named once."""
    shared: dict[tuple[str, str, str], list[str]] = {}
    for eye, one in eyes.items():
        for wear in one["wear"]:
            shared.setdefault((wear["from"], wear["until"], wear["kind"]), []).append(eye)
    return [
        {"from": start, "to": end, "kind": kind, "eyes": named}
        for (start, end, kind), named in sorted(shared.items())
    ]
