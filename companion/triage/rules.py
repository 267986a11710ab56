"""The rule file as frozen values. Owns reading `rules.json`; knows nothing of a person's answers.

Options run from best to worst, so an answer is a rank and a condition is a set of ranks. In a rule that set is
always "this option or a worse one" (`rules.schema.json` admits nothing else), which is what makes the table
monotone: a worse answer can add rules, never remove one. Lens instructions, advice and re-checks may also name
single options: they describe a result and never feed back into a level.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any

RULES_FILE = Path(__file__).with_name("rules.json")

PERSON = "person"
EYE = "eye"
UNSURE = "unsure"

Ranks = Mapping[str, int]
"""Question id to the rank of its answer, 0 the best; *unsure* already counted as what it counts as."""


@dataclass(frozen=True)
class Question:
    id: str
    about: str
    """``person`` (asked once) or ``eye`` (asked for each)."""
    options: tuple[str, ...]
    """Best to worst."""
    unsure: str
    """The option that *unsure* counts as."""

    def rank(self, answer: str) -> int:
        """Return how bad ``answer`` is, 0 the best. Raises ValueError for an unknown option."""
        return self.options.index(self.unsure if answer == UNSURE else answer)


@dataclass(frozen=True)
class Condition:
    question: str
    ranks: frozenset[int]

    def holds(self, ranks: Ranks) -> bool:
        return ranks[self.question] in self.ranks


@dataclass(frozen=True)
class Formula:
    """An AND of ORs of conditions; the empty one always holds."""

    clauses: tuple[tuple[Condition, ...], ...] = ()

    def holds(self, ranks: Ranks) -> bool:
        return all(any(condition.holds(ranks) for condition in clause) for clause in self.clauses)

    @property
    def questions(self) -> frozenset[str]:
        return frozenset(condition.question for clause in self.clauses for condition in clause)


@dataclass(frozen=True)
class Rule:
    id: str
    level: int
    when: Formula
    holds_eye: bool
    """No lens in that eye until a practitioner lifts the hold."""
    sources: tuple[str, ...]


@dataclass(frozen=True)
class Modifier:
    """Raises a level that lies from ``from_level`` to ``to_level``."""

    id: str
    when: Formula
    from_level: int
    to_level: int
    levels_up: int


@dataclass(frozen=True)
class IllnessHold:
    """Holds both eyes and lifts itself once the person is well again."""

    when: Formula
    by_choice: bool
    """The practice may switch this one off."""


@dataclass(frozen=True)
class LensStep:
    """The first step that applies is the eye's one lens instruction."""

    instruction: str
    when: Formula
    held: str | None


@dataclass(frozen=True)
class AdviceStep:
    """One piece of advice, given where all that it names applies. The file's order is the order on the screen."""

    key: str
    about: str
    levels: frozenset[int]
    when: Formula
    unless: tuple[Condition, ...]
    held: str | None
    values: Mapping[str, int]


@dataclass(frozen=True)
class Move:
    """Time turns one option into a worse one without asking."""

    question: str
    from_rank: int
    to: str
    after_min: int


@dataclass(frozen=True)
class Recheck:
    levels: frozenset[int]
    when: Formula
    after_min: tuple[int, ...]
    moments: tuple[str, ...]


@dataclass(frozen=True)
class Page:
    """Questions asked together on one small screen."""

    id: str
    questions: tuple[str, ...]
    required: bool
    """A danger screen: each question wants a tap, if only on *not sure*."""


@dataclass(frozen=True)
class Rules:
    version: str
    sources: Mapping[str, str]
    pages: tuple[Page, ...]
    questions: Mapping[str, Question]
    rules: tuple[Rule, ...]
    modifier: Modifier
    illness_holds: tuple[IllnessHold, ...]
    lens: tuple[LensStep, ...]
    advice: tuple[AdviceStep, ...]
    moves: tuple[Move, ...]
    rechecks: tuple[Recheck, ...]
    missed_recheck: str
    """The question that counts as one option worse when a re-check goes unanswered."""

    def asked_about(self, about: str) -> tuple[Question, ...]:
        """Return the questions asked about the ``person``, or about each ``eye``."""
        return tuple(question for question in self.questions.values() if question.about == about)

    @property
    def danger_questions(self) -> frozenset[str]:
        """Questions that no screen may leave out."""
        return frozenset(id_ for page in self.pages if page.required for id_ in page.questions)


@cache
def load_rules() -> Rules:
    """Return the rules that are in force."""
    return rules_from(json.loads(RULES_FILE.read_text(encoding="utf-8")))


def rules_from(data: Mapping[str, Any]) -> Rules:
    """Turn the file's content into values. Raises ValueError or KeyError for an id that does not exist."""
    questions = {
        row["id"]: Question(row["id"], row["of"], tuple(row["options"]), row["unsure"])
        for row in data["questions"]
    }

    def condition(row: Mapping[str, Any]) -> Condition:
        options = questions[row["question"]].options
        if "at_least" in row:
            return Condition(row["question"], frozenset(range(options.index(row["at_least"]), len(options))))
        return Condition(row["question"], frozenset(options.index(option) for option in row["one_of"]))

    def formula(row: Mapping[str, Any]) -> Formula:
        return Formula(tuple(tuple(map(condition, clause["any"])) for clause in row.get("all", ())))

    modifier = data["modifier"]
    return Rules(
        version=data["rules_version"],
        sources=MappingProxyType(data["sources"]),
        pages=tuple(Page(row["id"], tuple(row["questions"]), "required" in row) for row in data["pages"]),
        questions=MappingProxyType(questions),
        rules=tuple(
            Rule(row["id"], row["level"], formula(row), row["holds"], tuple(row["source"]))
            for row in data["rules"]
        ),
        modifier=Modifier(
            modifier["id"],
            formula(modifier),
            modifier["from_level"],
            modifier["to_level"],
            modifier["levels_up"],
        ),
        illness_holds=tuple(IllnessHold(formula(row), row["by_choice"]) for row in data["illness_holds"]),
        lens=tuple(LensStep(row["instruction"], formula(row), row.get("held")) for row in data["lens"]),
        advice=tuple(
            AdviceStep(
                key=row["key"],
                about=row["about"],
                levels=frozenset(row.get("levels", range(1, 6))),
                when=formula(row),
                unless=tuple(map(condition, row.get("none", ()))),
                held=row.get("held"),
                values=MappingProxyType(row.get("values", {})),
            )
            for row in data["advice"]
        ),
        moves=tuple(
            Move(
                row["question"],
                questions[row["question"]].options.index(row["from"]),
                row["to"],
                row["after_min"],
            )
            for row in data["moves"]
        ),
        rechecks=tuple(
            Recheck(frozenset(row["levels"]), formula(row), tuple(row["after_min"]), tuple(row["moments"]))
            for row in data["rechecks"]
        ),
        missed_recheck=data["missed_recheck"]["question"],
    )
