"""One full set of answers. Owns what a blank means; knows no rules and judges nothing.

Three doors lead in, because silence means something different behind each:

    answers_from_file    a question left out was answered with its best option (files only, as their contract says)
    answers_from_screen  a question that was shown and left blank is *unsure*; danger questions cannot be skipped
    answers_from_report  a stored report: as from a screen, and never refused, whichever rules asked
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from companion.common.errors import InvalidInput, Problem
from companion.common.eyes import EYES, Eye
from companion.triage.rules import EYE, PERSON, UNSURE, Question, Ranks, Rules, load_rules

GENERAL = "general"
PARTS = (GENERAL, *(eye.value for eye in EYES))
"""Where an answer stands in a file, on a screen and in a stored report."""


@dataclass(frozen=True)
class Answers:
    """An answer to every question: an option's id or ``unsure``. Build it through one of the doors below."""

    general: Mapping[str, str]
    eyes: Mapping[Eye, Mapping[str, str]]

    def ranks(self, eye: Eye, rules: Rules) -> Ranks:
        """Return how bad each answer is that concerns ``eye``: the general ones and its own."""
        said = {**self.general, **self.eyes[eye]}
        return {id_: rules.questions[id_].rank(answer) for id_, answer in said.items()}

    def document(self) -> dict[str, dict[str, str]]:
        """Return every answer as plain values, as a stored report carries them."""
        return {GENERAL: dict(self.general), **{eye.value: dict(self.eyes[eye]) for eye in EYES}}


def answers_from_file(said: object, rules: Rules | None = None) -> Answers:
    """Read a file's answers, where a question left out was answered with its best option.

    Raises InvalidInput naming everything that is wrong: a part, question or option that does not exist, or a value
    that is no text (``null``, a boolean, a number).
    """
    rules = rules or load_rules()
    given = _checked(said, rules)
    return _answers({part: _filled(part, given[part], rules, frozenset()) for part in PARTS})


def answers_from_screen(
    shown: Mapping[str, Collection[str]], given: Mapping[str, Mapping[str, str]], rules: Rules | None = None
) -> Answers:
    """Read what a screen sent: ``shown`` names the questions it asked, by part; ``given`` holds the answers.

    A blank among the shown ones is *unsure*. So is a danger question that a screen failed to show: the general
    ones always, an eye's own as soon as anything about that eye was asked. Any other question that was not shown
    (an eye that nothing is wrong with) counts as its best option. Raises InvalidInput for an answer that does not
    exist.
    """
    rules = rules or load_rules()
    checked = _checked(given, rules)
    return _answers(
        {
            part: _filled(part, checked[part], rules, _asked(part, shown.get(part, ()), rules))
            for part in PARTS
        }
    )


def answers_from_report(stored: Mapping[str, Mapping[str, str]], rules: Rules | None = None) -> Answers:
    """Read a stored report, which carries every question that was shown.

    Never refuses: a question that these rules do not ask is passed over, and an option that they do not know
    counts as the worst one, since nobody can say how bad it was meant to be.
    """
    rules = rules or load_rules()
    known: dict[str, dict[str, str]] = {}
    for part in PARTS:
        said = stored.get(part, {})
        known[part] = {
            question.id: said[question.id]
            if _is_option(said[question.id], question)
            else question.options[-1]
            for question in _asked_in(part, rules)
            if question.id in said
        }
    return _answers(
        {part: _filled(part, known[part], rules, _asked(part, known[part], rules)) for part in PARTS}
    )


def _asked_in(part: str, rules: Rules) -> tuple[Question, ...]:
    return rules.asked_about(PERSON if part == GENERAL else EYE)


def _is_option(answer: object, question: Question) -> bool:
    return answer == UNSURE or answer in question.options


def _answers(parts: Mapping[str, Mapping[str, str]]) -> Answers:
    return Answers(
        MappingProxyType(parts[GENERAL]),
        MappingProxyType({eye: MappingProxyType(parts[eye.value]) for eye in EYES}),
    )


def _asked(part: str, shown: Collection[str], rules: Rules) -> frozenset[str]:
    """Return the questions of ``part`` whose blank is *unsure*."""
    return frozenset(shown) | rules.danger_questions if shown or part == GENERAL else frozenset()


def _filled(part: str, given: Mapping[str, str], rules: Rules, asked: frozenset[str]) -> Mapping[str, str]:
    """Give every question of ``part`` an answer: the given one, else *unsure* if asked, else the best option."""
    return {
        question.id: given.get(question.id) or (UNSURE if question.id in asked else question.options[0])
        for question in _asked_in(part, rules)
    }


def _checked(said: object, rules: Rules) -> dict[str, dict[str, str]]:
    if not isinstance(said, Mapping):
        raise InvalidInput(Problem("triage_not_an_object", "answers"))
    problems = [Problem("triage_unknown_part", str(part) or "answers") for part in said if part not in PARTS]
    checked: dict[str, dict[str, str]] = {part: {} for part in PARTS}
    for part in PARTS:
        rows = said.get(part, {})
        if not isinstance(rows, Mapping):
            problems.append(Problem("triage_not_an_object", part))
            continue
        known = {question.id: question for question in _asked_in(part, rules)}
        for id_, answer in rows.items():
            where = f"{part}.{id_}"
            if id_ not in known:
                problems.append(Problem("triage_unknown_question", where))
            elif not isinstance(answer, str):
                problems.append(Problem("triage_not_an_option", where))
            elif not _is_option(answer, known[id_]):
                allowed = ", ".join((*known[id_].options, UNSURE))
                problems.append(Problem("triage_unknown_option", where, {"allowed": allowed}))
            else:
                checked[part][id_] = answer
    if problems:
        raise InvalidInput(*problems)
    return checked
