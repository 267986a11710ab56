"""What a report's page says, in order: from the judgement to sentences. No store, no decisions of its own."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from companion.common.eyes import EYES, Eye
from companion.phrasebook import result_words, triage_words
from companion.phrasebook.phrases import Phrases

ALARM_FROM = 4
"""From this level on the first sentence stands in the alarm's block."""


@dataclass(frozen=True)
class ResultPage:
    level: int
    first_deed: str | None
    """What comes even before the first line: rinsing, or calling an ambulance."""
    first_line: str
    news: str | None
    """That nobody answers, once that is so."""
    alarm: bool
    emergency_first: bool
    lens: Sequence[str]
    advice: Sequence[str]
    why: Sequence[str]
    told: Sequence[tuple[bool, str]]


def result_page(
    report: Mapping[str, Any],
    practice: Mapping[str, Any] | None,
    alert: Mapping[str, Any] | None,
    phrases: Phrases,
    now: datetime,
) -> ResultPage:
    """Put a judged report into words. Without a practice: a stranger's, of which nobody was told."""
    level = report["level"]
    reachable = practice is not None and practice["on_duty"]
    deed = result_words.first_deed(phrases, [one["key"] for one in report["advice"]])
    duty = result_words.duty_line(phrases, practice, now)
    return ResultPage(
        level=level,
        first_deed=deed,
        first_line=duty if deed else result_words.first_line(phrases, level, practice, now),
        news=result_words.news_text(phrases, alert),
        alarm=level >= ALARM_FROM,
        emergency_first=level > ALARM_FROM or (level == ALARM_FROM and practice is not None and not reachable),
        lens=[triage_words.lens_text(phrases, report["lens"][eye.value], eye) for eye in EYES],
        advice=[
            triage_words.advice_text(phrases, one["key"], tuple(Eye(eye) for eye in one["eyes"]))
            for one in report["advice"]
        ],
        why=[triage_words.why_text(phrases, rule) for rule in report["deciding"]],
        told=result_words.told_lines(phrases, alert, now) if practice else (),
    )
