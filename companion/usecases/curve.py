"""The curve's values: how sight held over the last day and how it should go on, with nights and checks."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy.orm import Session

from companion.common.moments import zone
from companion.diary.sight import observations
from companion.exchange.forecast import fan
from companion.exchange.wearer_course import follow_wearer
from companion.store.models import Hold
from companion.usecases.forecasting import record_of
from companion.usecases.showing import iso
from companion.usecases.story import Story

BACK, AHEAD = timedelta(hours=24), timedelta(hours=48)


def curve(
    session: Session,
    story: Story,
    holds: Sequence[Hold],
    now: datetime,
    back: timedelta = BACK,
    ahead: timedelta = AHEAD,
    step_hours: float = 1.0,
) -> dict[str, Any] | None:
    """Return the fan per eye if no lens is worn from now on; None without a baseline refraction."""
    record = record_of(session, story, holds, now)
    if record is None:
        return None
    where = zone(story.wearer.zone)
    start = now - back
    drawn = fan(follow_wearer(record, now), start, now + ahead, step_hours)
    eyes: dict[str, Any] = drawn["eyes"]
    first = next(iter(eyes.values()))
    return {
        "from": iso(start, where),
        "to": iso(now + ahead, where),
        "now": iso(now, where),
        "times": [row["at"] for row in first["rows"]],
        "eyes": {
            eye: {
                **{part: [row["acuity_logmar"][part] for row in one["rows"]] for part in ("p05", "p50", "p95")},
                "refraction_d": {
                    part: [row["refraction_d"][part] for row in one["rows"]] for part in ("p05", "p50", "p95")
                },
            }
            for eye, one in eyes.items()
        },
        "target": record.target.acuity_logmar,
        "nights": _nights(eyes),
        "checks": [
            {"at": iso(look.at, where), "eye": look.eye.value if look.eye else "both", "logmar": look.logmar}
            for look in observations(story.standing, is_child=False)
            if look.at >= start
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
