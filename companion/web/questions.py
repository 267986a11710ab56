"""The questions of *Something is wrong* as a few short pages in one form; earlier answers ride in hidden fields.

Owns how a form becomes the answers shown and given; what they mean is for the triage room. Nothing is stored until
the last page is sent, and answers are asked afresh each time. As soon as the answers call for *emergency now*, the
questions stop: no further one could matter more.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from companion.common.errors import Problem
from companion.common.eyes import EYES, eyes_named
from companion.triage.answers import GENERAL, answers_from_screen
from companion.triage.evaluate import evaluate
from companion.triage.rules import PERSON, UNSURE, Page, load_rules

EMERGENCY = 5
KNOWN_BEFORE = frozenset({"lens", "lens_damage"})
"""What an address may have answered ahead: handling help knows it before it leads here."""
WORSE = ("course", "over_24h_or_worse")
"""What somebody who looked again and tapped *worse* has answered ahead; never a better answer to it."""

Parts = dict[str, dict[str, str]]


@dataclass(frozen=True)
class Sheet:
    """One page of questions as it is to be painted, or, when ``done``, the answers as they are to be judged."""

    number: int
    """From 0."""
    page: Page
    eyes: tuple[str, ...]
    given: Parts
    """Every answer so far, by part and question."""
    shown: Mapping[str, tuple[str, ...]]
    """Every question shown so far, by part."""
    done: bool = False
    problems: tuple[Problem, ...] = ()

    @property
    def count(self) -> int:
        return len(load_rules().pages)

    def parts_of(self, question_id: str) -> tuple[str, ...]:
        """Return where a question is asked: once about the person, or for each eye in question."""
        return (GENERAL,) if load_rules().questions[question_id].about == PERSON else self.eyes

    def earlier(self) -> list[tuple[str, str]]:
        """Return the answers of other pages, as hidden fields."""
        return [
            (f"{part}.{question}", answer)
            for part, answers in self.given.items()
            for question, answer in answers.items()
            if question not in self.page.questions
        ]

    def known(self) -> dict[str, str]:
        """Return what is known of a lens from before the first page, as it stands in an address."""
        return {
            f"{part}.{id_}": answer
            for part, answers in self.given.items()
            for id_, answer in answers.items()
            if id_ in KNOWN_BEFORE or (id_, answer) == WORSE
        }

    def document(self) -> Parts:
        """Return the answers for storing: every question that was shown, a blank as *unsure*."""
        return {
            part: {question: self.given[part].get(question, UNSURE) for question in questions}
            for part, questions in self.shown.items()
        }


def first_sheet(eyes: str, known: Mapping[str, str] = MappingProxyType({})) -> Sheet:
    """Return the first page. Raises ValueError when ``eyes`` names none.

    ``known`` holds what handling help has learnt of a lens (``right.lens=stuck_now``). It counts from the first
    page on, so that nobody is told to take out a lens that does not move; its own page still asks, with it picked.
    """
    said = {
        name: answer
        for name, answer in known.items()
        if (id_ := name.partition(".")[2]) in KNOWN_BEFORE or (id_, answer) == WORSE
    }
    return _sheet(0, _eyes(eyes), _given(said))


def next_sheet(form: Mapping[str, str]) -> Sheet:
    """Return what comes after the page just sent: the next one, the same with problems, the last one, or done."""
    pages = load_rules().pages
    number = min(max(int(form.get("page", "0")), 0), len(pages) - 1)
    sheet = _sheet(number, _eyes(form.get("eyes", "")), _given(form))
    if form.get("go") == "back":
        return _sheet(max(number - 1, 0), sheet.eyes, sheet.given)
    blank = _blank(sheet)
    if blank:
        return Sheet(number, sheet.page, sheet.eyes, sheet.given, sheet.shown, problems=blank)
    emergency = evaluate(answers_from_screen(sheet.shown, sheet.given)).level >= EMERGENCY
    if emergency or number == len(pages) - 1:
        return Sheet(number, sheet.page, sheet.eyes, sheet.given, sheet.shown, done=True)
    return _sheet(number + 1, sheet.eyes, sheet.given)


def _sheet(number: int, eyes: tuple[str, ...], given: Parts) -> Sheet:
    rules = load_rules()
    asked = [id_ for page in rules.pages[: number + 1] for id_ in page.questions]
    shown = {GENERAL: tuple(id_ for id_ in asked if rules.questions[id_].about == PERSON)}
    shown |= {eye: tuple(id_ for id_ in asked if rules.questions[id_].about != PERSON) for eye in eyes}
    kept = {part: {id_: one for id_, one in answers.items() if part in shown} for part, answers in given.items()}
    # What was answered ahead (in handling help, or before going back) was shown too, and counts.
    shown = {part: (*ids, *(id_ for id_ in kept[part] if id_ not in ids)) for part, ids in shown.items()}
    return Sheet(number, rules.pages[number], eyes, kept, shown)


def _eyes(word: str) -> tuple[str, ...]:
    return tuple(eye.value for eye in eyes_named(word))


def _given(form: Mapping[str, str]) -> Parts:
    """Read the answers in ``form``; what is no answer to a question of ours is passed over, and so unsure."""
    questions = load_rules().questions
    given: Parts = {part: {} for part in (GENERAL, *(eye.value for eye in EYES))}
    for name, answer in form.items():
        part, _, id_ = name.partition(".")
        question = questions.get(id_)
        asked_here = part in given and question and (question.about == PERSON) == (part == GENERAL)
        if asked_here and question and answer in (*question.options, UNSURE):
            given[part][id_] = answer
    return given


def _blank(sheet: Sheet) -> tuple[Problem, ...]:
    """Return the questions of an emergency page that were skipped: they can't be."""
    if not sheet.page.required:
        return ()
    return tuple(
        Problem("choice_missing", f"{part}.{id_}")
        for id_ in sheet.page.questions
        for part in sheet.parts_of(id_)
        if id_ not in sheet.given[part]
    )
