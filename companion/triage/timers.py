"""What passing time does to answers, and when to ask again. Owns the moves; the clock is the caller's."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import timedelta
from types import MappingProxyType

from companion.common.eyes import EYES
from companion.triage.answers import Answers
from companion.triage.evaluate import Verdict
from companion.triage.rules import Rules, load_rules


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


def recheck_after(verdict: Verdict) -> timedelta | None:
    """Return how long after the report to ask again first; None where the advice is to be seen, not to wait."""
    return timedelta(minutes=verdict.recheck_min[0]) if verdict.recheck_min else None


def _each_eye(answers: Answers, moved: Callable[[str, str], str]) -> Answers:
    def eye(said: Mapping[str, str]) -> Mapping[str, str]:
        return MappingProxyType({id_: moved(id_, answer) for id_, answer in said.items()})

    return replace(answers, eyes=MappingProxyType({one: eye(answers.eyes[one]) for one in EYES}))
