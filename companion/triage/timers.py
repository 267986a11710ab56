"""What passing time does to answers, and when to look again. Owns the moves; the clock is the caller's."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, time, timedelta
from types import MappingProxyType
from zoneinfo import ZoneInfo

from companion.common.eyes import EYES
from companion.common.moments import at_wall_clock, utc
from companion.triage.answers import Answers
from companion.triage.evaluate import Verdict
from companion.triage.rules import Rules, load_rules

APART = timedelta(hours=1)
"""A moment of the day that comes sooner after the report is the report's own: it was a look (design)."""
BEFORE_INSERTION, BEDTIME, WAKING = "before_insertion", "bedtime", "waking"


@dataclass(frozen=True)
class DayHours:
    """When the wearer's day usually ends and begins, by the clock on their wall."""

    home: ZoneInfo
    bedtime: time
    """Lenses go in."""
    waking: time


def raise_by_time(answers: Answers, elapsed: timedelta, rules: Rules | None = None) -> Answers:
    """Return the answers as they stand ``elapsed`` after they were given, unless the family says "gone".

    Under an hour becomes over an hour, over an hour becomes over a day, a stuck lens has been stuck for long.
    *Unsure* moves as the option that it counts as. Nothing ever gets better by waiting.
    """
    rules = rules or load_rules()

    def moved(question_id: str, answer: str) -> str:
        for move in rules.moves:
            due = elapsed >= timedelta(minutes=move.after_min)
            if (
                move.question == question_id
                and due
                and rules.questions[question_id].rank(answer) == move.from_rank
            ):
                answer = move.to
        return answer

    return _each_eye(answers, moved)


def missed_recheck(answers: Answers, rules: Rules | None = None) -> Answers:
    """Return the answers as they count when a re-check went unanswered: each eye's course one option worse."""
    rules = rules or load_rules()

    def moved(question_id: str, answer: str) -> str:
        if question_id != rules.missed_recheck:
            return answer
        options = rules.questions[question_id].options
        rank = rules.questions[question_id].rank(answer) + 1
        return options[rank] if rank < len(options) else answer

    return _each_eye(answers, moved)


@dataclass(frozen=True, order=True)
class Look:
    """When to look again."""

    at: datetime
    moment: str = ""
    """The moment of the day that it is, if it is one."""


def looks(verdict: Verdict, given_at: datetime, hours: DayHours) -> tuple[Look, ...]:
    """Return when to look again after a report, the soonest first; nothing where the advice is to be seen, not to
    wait.

    Nobody looks before a lens goes in where an eye is held: none goes in.
    """
    given_at = utc(given_at)
    due = [Look(given_at + timedelta(minutes=minutes)) for minutes in verdict.recheck_min]
    for moment in verdict.recheck_moments:
        if moment == BEFORE_INSERTION and any(verdict.wear_hold.values()):
            continue
        clock = hours.waking if moment == WAKING else hours.bedtime
        due.append(Look(_next(clock, given_at + APART, hours.home), moment))
    return tuple(sorted(due))


def _next(clock: time, not_before: datetime, home: ZoneInfo) -> datetime:
    """Return the first instant from ``not_before`` on at which the clock on the wall shows ``clock``."""
    day = not_before.astimezone(home).date()
    candidates = (at_wall_clock(day + timedelta(days=ahead), clock, home) for ahead in (-1, 0, 1, 2))
    return next(one for one in candidates if one >= not_before)


def _each_eye(answers: Answers, moved: Callable[[str, str], str]) -> Answers:
    def eye(said: Mapping[str, str]) -> Mapping[str, str]:
        return MappingProxyType({id_: moved(id_, answer) for id_, answer in said.items()})

    return replace(answers, eyes=MappingProxyType({one: eye(answers.eyes[one]) for one in EYES}))
