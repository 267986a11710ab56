"""Nights of the diary as plain values, for family and practice alike."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, datetime
from typing import Any

from companion.common.moments import night_of, zone
from companion.diary.entry import Kind
from companion.diary.nights import EyeNight, Night, open_questions
from companion.diary.sight import observations
from companion.store.models import Report
from companion.usecases.showing import iso
from companion.usecases.story import Story


def nights_plain(story: Story, nights: Sequence[Night], reports: Iterable[Report]) -> list[dict[str, Any]]:
    """The given nights, newest first, each with how sight was, its reports and its notes."""
    where, split = story.habits.home, story.habits.split
    rows: dict[date, dict[str, Any]] = {
        night.night: {
            "night": night.night.isoformat(),
            "planned": night.planned,
            **{eye.value: _eye_plain(of_eye, story) for eye, of_eye in night.eyes.items()},
            "sight": [],
            "reports": [],
            "notes": [],
        }
        for night in nights
    }
    for look in observations(story.standing, is_child=False):
        row = rows.get(night_of(look.at, where, split))
        if row is not None:
            row["sight"].append(
                {
                    "eye": look.eye.value if look.eye else "both",
                    "word": look.word.value if look.word else None,
                    "logmar": None if look.word else look.logmar,
                    "at": iso(look.at, where),
                }
            )
    levels = {report.entry_id: report.level for report in reports}
    for entry in story.standing:
        row = rows.get(night_of(entry.at, where, split))
        if row is None:
            continue
        if entry.kind is Kind.NOTE:
            row["notes"].append({"id": entry.id, "text": entry.payload["text"], "at": iso(entry.at, where)})
        elif entry.kind is Kind.SYMPTOM_REPORT and entry.id in levels:
            row["reports"].append({"id": entry.id, "level": levels[entry.id], "at": iso(entry.at, where)})
    return [rows[night.night] for night in reversed(nights)]


def questions_plain(story: Story, nights: Sequence[Night], now: datetime) -> list[dict[str, Any]]:
    """What looks odd and is asked about, newest first; both eyes' same question once."""
    asked = [
        {
            "code": question.oddity.code.value,
            "night": question.night.isoformat(),
            "eyes": [eye.value for eye in question.eyes],
            "entry_id": question.oddity.entry_ids[0] if question.oddity.entry_ids else None,
        }
        for question in open_questions(nights, now)
    ]
    return sorted(asked, key=lambda one: str(one["night"]), reverse=True)


def _eye_plain(eye: EyeNight, story: Story) -> dict[str, Any]:
    first, last = (eye.wears[0], eye.wears[-1]) if eye.wears else (None, None)
    return {
        "state": eye.state.value,
        "hours": None if eye.hours is None else round(eye.hours, 2),
        "in": iso(first.start, zone(first.zone)) if first else None,
        "out": iso(last.end, zone(last.zone)) if last else None,
        "odd": sorted({odd.code.value for odd in eye.oddities}),
        "source": eye.source.value if eye.source else None,
    }
