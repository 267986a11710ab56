"""What a report's page says, in order: from the judgement to sentences. No store, no decisions of its own."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from typing import Any

from markupsafe import Markup

from companion.common.eyes import EYES, Eye
from companion.phrasebook import look_words, result_words, triage_words
from companion.phrasebook.phrases import Phrases

HIGHEST = 5
ALARM_FROM = 4
"""From this level on the first sentence stands in the alarm's block."""


@dataclass(frozen=True)
class ResultPage:
    level: int
    first_deed: Markup | None
    """What comes even before the first line: rinsing, or calling an ambulance."""
    first_line: Markup
    news: Markup | None
    """That nobody answers, or that no word came from the family, once that is so."""
    alarm: bool
    emergency_first: bool
    lens: Sequence[Markup]
    advice: Sequence[Markup]
    why: Sequence[Markup]
    told: Sequence[tuple[bool, Markup]]
    may_ask: Sequence[int] = ()
    """Which higher levels somebody may ask for: the next one, and *go now*."""


Say = Callable[[Callable[[Phrases], str]], Markup]
"""Says what a function of the phrases says, in whichever language the reader may have it."""


def result_page(
    report: Mapping[str, Any],
    practice: Mapping[str, Any] | None,
    alert: Mapping[str, Any] | None,
    say: Say,
    now: datetime,
) -> ResultPage:
    """Put a judged report into words. Without a practice: a stranger's, of which nobody was told."""
    level = report["level"]
    reachable = practice is not None and practice["on_duty"]
    news = alert is not None and (alert.get("news") or alert.get("word"))
    keys = [one["key"] for one in report["advice"]]
    deed = next((result_words.FIRST_DEEDS[key] for key in result_words.FIRST_DEEDS if key in keys), None)
    line = result_words.duty_line if deed else partial(result_words.first_line, level=level)
    return ResultPage(
        level=level,
        first_deed=say(lambda phrases: phrases.say(deed)) if deed else None,
        first_line=say(lambda phrases: line(phrases, practice=practice, now=now)),
        news=say(lambda phrases: result_words.news_text(phrases, alert) or "") if news else None,
        alarm=level >= ALARM_FROM,
        emergency_first=level > ALARM_FROM or (level == ALARM_FROM and practice is not None and not reachable),
        lens=[
            say(partial(triage_words.lens_text, instruction=report["lens"][eye.value], eye=eye)) for eye in EYES
        ],
        advice=[
            say(partial(triage_words.advice_text, key=one["key"], eyes=tuple(Eye(eye) for eye in one["eyes"])))
            for one in report["advice"]
        ],
        why=[say(partial(triage_words.why_text, rule_id=rule)) for rule in report["deciding"]],
        told=_told(alert, say, now) if practice else (),
        may_ask=sorted({level + 1, HIGHEST}) if level < HIGHEST else (),
    )


def look_lines(look: Mapping[str, Any], say: Say, now: datetime) -> tuple[Markup, Markup]:
    """Say when to look again, and that it is time."""
    wait, due = ({**look, "due": over} for over in (False, True))
    return (
        say(partial(look_words.look_text, look=wait, now=now)),
        say(partial(look_words.look_text, look=due, now=now)),
    )


def _told(alert: Mapping[str, Any] | None, say: Say, now: datetime) -> list[tuple[bool, Markup]]:
    def line(phrases: Phrases, number: int) -> str:
        return result_words.told_lines(phrases, alert, now)[number][1]

    happened = [done for done, _ in result_words.told_lines(Phrases(), alert, now)]
    return [(done, say(partial(line, number=number))) for number, done in enumerate(happened)]
