"""Many answer sets at once, and a verdict as bytes: how the proofs hold one evaluator against another.

An answer set is a row of places, one for each of ``SLOTS``: the option's, and after the last option *unsure*. A
verdict is a row of bytes that holds all that it says. ``bytes_of`` writes the evaluator's own verdict so;
``judge`` reads the rule file over NumPy arrays and comes to the same, a thousand times faster; the browser's test
writes what the phone's evaluator says. Whoever differs in one bit is found.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import combinations, product
from typing import Any

import numpy as np
from numpy.typing import NDArray

from companion.common.eyes import EYES, Eye
from companion.triage.answers import GENERAL
from companion.triage.evaluate import Verdict
from companion.triage.rules import EYE, PERSON, UNSURE, Condition, Formula, Question, load_rules

Rows = NDArray[np.uint8]
Facts = NDArray[np.bool_]
RULES = load_rules()
IN_GENERAL, OF_EYE = RULES.asked_about(PERSON), RULES.asked_about(EYE)
SLOTS: list[tuple[str, Question]] = [
    *((GENERAL, one) for one in IN_GENERAL),
    *((eye.value, one) for eye in EYES for one in OF_EYE),
]
MINUTES = sorted({minutes for row in RULES.rechecks for minutes in row.after_min})
MOMENTS = ("before_insertion", "bedtime", "waking")
INSTRUCTIONS = list(dict.fromkeys(step.instruction for step in RULES.lens))
IDS = [rule.id for rule in RULES.rules]
KEYS = [step.key for step in RULES.advice]


# -- answer sets -------------------------------------------------------------------------------------------------
def answers(question: Question) -> tuple[str, ...]:
    return (*question.options, UNSURE)


def draw(rng: np.random.Generator, count: int) -> Rows:
    """Draw full answer sets, from nearly well to very ill."""
    illness = rng.beta(0.5, 4, count)
    rows = [
        np.where(rng.random(count) < illness, rng.integers(1, len(question.options) + 1, count), 0)
        for _, question in SLOTS
    ]
    return np.stack(rows, axis=1).astype(np.uint8)


def document(row: Sequence[int]) -> dict[str, dict[str, str]]:
    """Return one answer set as a file has it."""
    said: dict[str, dict[str, str]] = {GENERAL: {}, **{eye.value: {} for eye in EYES}}
    for (part, question), place in zip(SLOTS, row, strict=True):
        said[part][question.id] = answers(question)[place]
    return said


def sets_about(slots: Sequence[int]) -> Rows:
    """Return every combination of answers of some slots, *unsure* included, all else at its best."""
    combined = list(product(*(range(len(SLOTS[n][1].options) + 1) for n in slots)))
    rows = np.zeros((len(combined), len(SLOTS)), np.uint8)
    rows[:, slots] = combined
    return rows


def sets_of_rule(rule_id: str, eye: Eye = Eye.RIGHT) -> Rows:
    """Return every combination of the answers that a rule reads."""
    read = next(rule for rule in RULES.rules if rule.id == rule_id).when.questions
    return sets_about([n for n, (part, one) in enumerate(SLOTS) if one.id in read and part in (GENERAL, eye)])


def all_pairs() -> Rows:
    """Return all pairs of answers. Left against left repeats right against right: a test swaps the eyes."""
    twins = range(len(SLOTS) - len(OF_EYE), len(SLOTS))
    pairs = [pair for pair in combinations(range(len(SLOTS)), 2) if not set(pair) <= set(twins)]
    return np.concatenate([sets_about(pair) for pair in pairs])


# -- a verdict as bytes ------------------------------------------------------------------------------------------
def bytes_of(verdict: Verdict) -> bytes:
    """Write the evaluator's verdict."""
    said = {(one.key, eye) for one in verdict.advice for eye in (one.eyes or ("person",))}
    facts = [
        *(rule in verdict.fired[eye] for eye in EYES for rule in IDS),
        *(rule in verdict.rules for rule in IDS),
        *(rule in verdict.deciding for rule in (*IDS, RULES.modifier.id)),
        *((key, about) in said for key in KEYS for about in ("person", *EYES)),
        *(verdict.practice_hold[eye] for eye in EYES),
        *(verdict.wear_hold[eye] for eye in EYES),
        verdict.illness_hold,
        *(minutes in verdict.recheck_min for minutes in MINUTES),
        *(moment in verdict.recheck_moments for moment in MOMENTS),
    ]
    numbers = [verdict.level, *(verdict.eyes[eye] for eye in EYES)]
    numbers += [INSTRUCTIONS.index(verdict.lens[eye]) for eye in EYES]
    return bytes(numbers) + np.packbits(np.array(facts)).tobytes()


def judge(rows: Rows, *, illness_holds: bool = True, one_eye_holds_both: bool = False) -> Rows:
    """Judge answer sets by the rule file, over arrays: a row of bytes for each."""
    ranks = _ranks(rows)
    fired = [np.stack([_holds(rule.when, each) for rule in RULES.rules], axis=1) for each in ranks]
    rule_levels = np.array([rule.level for rule in RULES.rules])
    unmodified = [np.where(one, rule_levels, 1).max(axis=1) for one in fired]
    m1 = RULES.modifier
    eyes = [
        level + m1.levels_up * (_holds(m1.when, each) & (level >= m1.from_level) & (level <= m1.to_level))
        for level, each in zip(unmodified, ranks, strict=True)
    ]
    level = np.maximum(*eyes)
    ill = [hold for hold in RULES.illness_holds if illness_holds or not hold.by_choice]
    illness = _any(_holds(hold.when, each) for hold in ill for each in ranks)
    holding = np.array([rule.holds_eye for rule in RULES.rules])
    sore = [(one & holding).any(axis=1) for one in fired]
    practice = [one | (_any(sore) & one_eye_holds_both) for one in sore]
    both = {id_: np.maximum(ranks[0][id_], ranks[1][id_]) for id_ in ranks[0]}
    nobody = np.zeros(len(rows), np.bool_)
    advice: list[Facts] = []
    for step in RULES.advice:
        at_level = np.isin(level, list(step.levels))
        if step.about == EYE:
            advice.append(nobody)
            advice += [
                at_level & _applies(step, ranks[n]) & _fits(step.held, practice[n], illness) for n in (0, 1)
            ]
        else:
            held = _fits(step.held, practice[0] | practice[1], illness)
            advice += [at_level & _applies(step, both) & held, nobody, nobody]
    rechecks = [np.isin(level, list(r.levels)) & _any(_holds(r.when, e) for e in ranks) for r in RULES.rechecks]
    reasons = _any(
        fired[n] & (rule_levels == unmodified[n][:, None]) & (eyes[n] == level)[:, None] for n in (0, 1)
    )
    raised = _any((eyes[n] == level) & (unmodified[n] < level) for n in (0, 1))
    facts = [
        *fired, fired[0] | fired[1], reasons, raised, *advice, *practice, *(one | illness for one in practice),
        illness,
        *(_any(r for r, row in zip(rechecks, RULES.rechecks, strict=True) if m in row.after_min) for m in MINUTES),
        *(_any(r for r, row in zip(rechecks, RULES.rechecks, strict=True) if m in row.moments) for m in MOMENTS),
    ]  # fmt: skip
    lens = [_lens(ranks[n], practice[n], illness) for n in (0, 1)]
    numbers = np.stack([level, *eyes, *lens], axis=1).astype(np.uint8)
    bits = np.packbits(np.column_stack(facts), axis=1)
    return np.hstack([numbers, bits])


def _ranks(rows: Rows) -> list[dict[str, NDArray[np.int8]]]:
    """Return each eye's ranks by question, the person's among them."""
    found: dict[str, dict[str, NDArray[np.int8]]] = {part: {} for part in (GENERAL, *EYES)}
    for n, (part, question) in enumerate(SLOTS):
        rank = np.array([question.rank(answer) for answer in answers(question)], np.int8)
        found[part][question.id] = rank[rows[:, n]]
    return [found[GENERAL] | found[eye] for eye in EYES]


def _any(facts: Iterable[Any]) -> Any:
    return np.logical_or.reduce(list(facts))


def _meets(condition: Condition, ranks: dict[str, NDArray[np.int8]]) -> Facts:
    return np.isin(ranks[condition.question], list(condition.ranks))


def _holds(when: Formula, ranks: dict[str, NDArray[np.int8]]) -> Facts:
    true = np.ones(len(ranks[IN_GENERAL[0].id]), np.bool_)
    for clause in when.clauses:
        true &= _any(_meets(condition, ranks) for condition in clause)
    return true


def _applies(step: Any, ranks: dict[str, NDArray[np.int8]]) -> Facts:
    applies = _holds(step.when, ranks)
    for condition in step.unless:
        applies = applies & ~_meets(condition, ranks)
    return applies


def _fits(wanted: str | None, practice: Facts, illness: Facts) -> Facts:
    held = practice | illness
    by_wish = {None: np.ones_like(held), "any": held, "practice": practice, "illness": illness, "none": ~held}
    return by_wish[wanted]


def _lens(ranks: dict[str, NDArray[np.int8]], practice: Facts, illness: Facts) -> NDArray[np.int64]:
    """Return the place of the first instruction that applies."""
    applies = [_holds(step.when, ranks) & _fits(step.held, practice, illness) for step in RULES.lens]
    return np.array([INSTRUCTIONS.index(step.instruction) for step in RULES.lens])[np.argmax(applies, axis=0)]
