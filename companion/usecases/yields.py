"""How reports come in: how many, at which level, by which rule, what came of them, and how soon somebody acted.

So that over-calling is seen. It counts, and draws no conclusion: no rule is ever changed by these numbers alone.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from math import ceil
from statistics import median
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy import func, or_, select
from sqlalchemy.orm import Session

from companion.access import Action
from companion.common.moments import zone
from companion.store.models import Alert, EntryRow, Practice, Report, Wearer
from companion.triage.rules import load_rules
from companion.usecases.actor import Actor, practice_for
from companion.usecases.alerts import Outcome
from companion.usecases.raising import DESK_LEVEL, SENT_LEVEL
from companion.usecases.showing import iso

RECENT = timedelta(days=90)
MONTHS = 6
FEWEST = 20
"""Of fewer wearers than this a rate would only blow up chance; their reports are counted all the same."""
LEVELS = (5, 4, 3, 2, 1)
ASKED = "asked"
"""Stands for a rule where the level is higher than the rules make it: the family asked for it, or their phone said
so."""


@dataclass(frozen=True)
class Told:
    """One report as it counts by now, and its alert if it has one of its own."""

    judged_at: datetime
    level: int
    rules: tuple[str, ...]
    verified: bool
    joined: bool
    alert: Alert | None


def yields(session: Session, actor: Actor, now: datetime) -> dict[str, Any]:
    """The reports of the actor's practice: the last 90 days, and the last months."""
    practice = practice_for(session, actor, Action.SEE_DESK)
    where = zone(practice.zone)
    months = list(_months(now.astimezone(where).date(), where))
    recent = now - RECENT
    told = _told(session, practice, min(recent, months[-1][0]))
    lately = [one for one in told if one.judged_at > recent]
    return {
        "now": iso(now, where),
        "recent": {"from": iso(recent, where), **_period(session, practice, lately, recent, now)},
        "months": [
            {
                "month": start.astimezone(where).date().isoformat(),
                "so_far": end > now,
                **_period(session, practice, [one for one in told if start <= one.judged_at < end], start, end),
            }
            for start, end in months
        ],
        "fewest": FEWEST,
        "rules": _by_rule(lately),
        "times": [
            {"level": level, **_times([one.alert for one in lately if one.alert and one.level == level])}
            for level in LEVELS
            if level >= SENT_LEVEL
        ],
    }


def spread(values: Sequence[float]) -> dict[str, Any]:
    """The middle and the 90th percentile of some values. The latter is the smallest of them that at least nine of
    ten do not exceed (nearest rank), so that it is always one that was seen."""
    ordered = sorted(values)
    if not ordered:
        return {"count": 0, "median": None, "p90": None}
    return {"count": len(ordered), "median": median(ordered), "p90": ordered[ceil(0.9 * len(ordered)) - 1]}


def _told(session: Session, practice: Practice, since: datetime) -> list[Told]:
    rows = session.execute(
        select(Report, EntryRow.verified, Alert)
        .join(EntryRow, EntryRow.id == Report.entry_id)
        .outerjoin(Alert, Alert.entry_id == Report.entry_id)
        .where(Report.practice_id == practice.id, Report.judged_at >= since)
        .order_by(Report.judged_at, Report.entry_id)
    )
    return [_as_told(report, verified, alert) for report, verified, alert in rows]


def _as_told(report: Report, verified: bool, alert: Alert | None) -> Told:
    """A report with what time has made of it since, as the desk shows it."""
    by_now = (alert and alert.raised_as) or {
        "eyes": {"right": report.right_level, "left": report.left_level},
        "deciding": report.deciding,
    }
    level = alert.level if alert else report.level
    asked = level > max(by_now["eyes"].values())
    rules = (ASKED,) if asked else tuple(by_now["deciding"])
    return Told(report.judged_at, level, rules, verified, report.joins_alert_id is not None, alert)


def _months(today: date, where: ZoneInfo) -> Iterator[tuple[datetime, datetime]]:
    """The first and the end of each of the last months on the practice's calendar, this one first."""
    end = _first(today.year + today.month // 12, today.month % 12 + 1, where)
    year, month = today.year, today.month
    for _ in range(MONTHS):
        start = _first(year, month, where)
        yield start, end
        year, month, end = (year, month - 1, start) if month > 1 else (year - 1, 12, start)


def _first(year: int, month: int, where: ZoneInfo) -> datetime:
    return datetime.combine(date(year, month, 1), time(0), where)


def _period(
    session: Session, practice: Practice, told: Sequence[Told], start: datetime, end: datetime
) -> dict[str, Any]:
    """The reports of a time, beside all wearers who were with the practice at any moment of it."""
    wearers = session.scalar(
        select(func.count())
        .select_from(Wearer)
        .where(
            Wearer.practice_id == practice.id,
            Wearer.created_at <= end,
            or_(Wearer.ended_at.is_(None), Wearer.ended_at >= start),
        )
    )
    levels = Counter(one.level for one in told)
    return {
        "reports": len(told),
        "wearers": wearers,
        "per_hundred": 100 * len(told) / wearers if wearers and wearers >= FEWEST else None,
        "levels": {level: levels[level] for level in LEVELS},
        "unverified": sum(not one.verified for one in told),
    }


def _by_rule(told: Sequence[Told]) -> list[dict[str, Any]]:
    """What came of the reports that each rule decided; one that several decided counts for each of them."""
    levels = {rule.id: rule.level for rule in load_rules().rules}
    found: dict[str, list[Told]] = {}
    for one in told:
        for rule in one.rules if one.level >= DESK_LEVEL else ():
            found.setdefault(rule, []).append(one)
    rows = [
        {
            "rule": rule,
            "level": levels.get(rule),
            "reports": len(mine),
            "outcomes": {outcome.value: _count(mine, outcome) for outcome in Outcome},
            "open": sum(one.alert is not None and one.alert.closed_at is None for one in mine),
            "joined": sum(one.joined for one in mine),
        }
        for rule, mine in found.items()
    ]
    return sorted(rows, key=lambda row: (-row["reports"], row["rule"]))


def _count(told: Sequence[Told], outcome: Outcome) -> int:
    return sum(one.alert is not None and one.alert.outcome == outcome for one in told)


def _times(alerts: Sequence[Alert]) -> dict[str, Any]:
    """How long it took from the raising of an alert, in minutes; what has not happened yet is only counted."""

    def minutes(of: Callable[[Alert], datetime | None]) -> list[float]:
        return [(then - _raised(one, then)) / timedelta(minutes=1) for one in alerts if (then := of(one))]

    return {
        "alerts": len(alerts),
        "taken": spread(minutes(lambda one: one.taken_at)),
        "contact": spread(minutes(lambda one: one.contact_at)),
    }


def _raised(alert: Alert, then: datetime) -> datetime:
    """When the alert last was raised before ``then``: time may have raised it anew."""
    again = alert.raised_again_at
    return again if again is not None and again <= then else alert.raised_at
