"""A worse answer never lowers a level or drops a hold: all pairs of answers, and a million full answer sets."""

from itertools import combinations

import numpy as np
import pytest
import triage_table as table

from companion.common.eyes import Eye
from companion.triage.answers import answers_from_file
from companion.triage.evaluate import evaluate
from companion.triage.rules import load_rules

SEED = 20_261_102
SETS = 1_000_000
CHUNK = 100_000
BY_PYTHON = 10_000


def judged(answers):
    verdict = evaluate(answers_from_file(table.document(answers)))
    return verdict.level, verdict.eyes[Eye.RIGHT], verdict.eyes[Eye.LEFT], *verdict.wear_hold.values()


def test_H1_all_pairs_of_answers_worse_is_never_less():
    """Left against left repeats right against right (a test beside this one swaps the eyes)."""
    pairs = [pair for pair in combinations(table.SLOTS, 2) if not all(part == "left" for part, _ in pair)]
    for one, two in pairs:
        firsts, seconds = table.ALL[one[1]].options, table.ALL[two[1]].options
        seen = np.array(
            [[judged({one: first, two: second}) for second in seconds] for first in firsts], np.int8
        )
        assert (np.diff(seen, axis=0) >= 0).all(), (one, two)
        assert (np.diff(seen, axis=1) >= 0).all(), (one, two)


def of_eye(ranks, eye):
    return {name: row for (part, name), row in ranks.items() if part in ("general", eye)}


def judge(ranks):
    right, left = (table.judge_eye(of_eye(ranks, eye)) for eye in ("right", "left"))
    return np.stack(
        [np.maximum(right.level, left.level), right.level, left.level, right.held, left.held]
    ).astype(np.int8)


def by_the_file(ranks):
    """Judge by the rule file's own conditions, over arrays."""
    rules = load_rules()

    def firing(when, eye_ranks):
        return np.logical_and.reduce([
            np.logical_or.reduce([np.isin(eye_ranks[c.question], list(c.ranks)) for c in clause])
            for clause in when.clauses
        ])  # fmt: skip

    rows = []
    for eye in ("right", "left"):
        eye_ranks = of_eye(ranks, eye)
        level = np.ones(len(eye_ranks["pain"]), np.int8)
        held = np.logical_or.reduce([firing(hold.when, eye_ranks) for hold in rules.illness_holds])
        for rule in rules.rules:
            fired = firing(rule.when, eye_ranks)
            level = np.maximum(level, np.where(fired, rule.level, 1))
            held |= fired & rule.holds_eye
        m1 = rules.modifier
        raised = firing(m1.when, eye_ranks) & (m1.from_level <= level) & (level <= m1.to_level)
        rows.append((level + raised * m1.levels_up, held))
    (right, right_held), (left, left_held) = rows
    return np.stack([np.maximum(right, left), right, left, right_held, left_held]).astype(np.int8)


def test_H1_a_million_answer_sets_worse_is_never_less():
    rng = np.random.default_rng(SEED)
    levels = np.zeros(6, int)
    for _ in range(SETS // CHUNK):
        ranks, _ = table.drawn(rng, CHUNK)
        before = judge(ranks)
        assert (by_the_file(ranks) == before).all()
        levels += np.bincount(before[0], minlength=6)
        which, step = rng.integers(0, len(table.SLOTS), CHUNK), rng.random(CHUNK)
        worse = {}
        for i, slot in enumerate(table.SLOTS):
            top = len(table.ALL[slot[1]].options) - 1
            up = np.ceil((top - ranks[slot]) * step).astype(np.int8)
            worse[slot] = np.where(which == i, ranks[slot] + up, ranks[slot])
        assert (judge(worse) >= before).all()
    assert (levels[1:] > SETS // 100).all(), "each level is well represented, so the proof is not empty"


def test_H1_the_evaluator_agrees_with_the_table_on_full_answer_sets():
    ranks, texts = table.drawn(np.random.default_rng(SEED + 1), BY_PYTHON)
    expected = judge(ranks)
    for i in range(BY_PYTHON):
        said = table.answers_at(texts, i)
        assert judged(said) == tuple(expected[:, i]), said


def test_swapping_the_eyes_swaps_the_verdict():
    _, texts = table.drawn(np.random.default_rng(SEED + 2), 500)
    for i in range(500):
        said = table.document(table.answers_at(texts, i))
        mirrored = {"general": said["general"], "right": said["left"], "left": said["right"]}
        one, other = (evaluate(answers_from_file(each)) for each in (said, mirrored))
        assert (one.level, one.rules, one.deciding) == (other.level, other.rules, other.deciding)
        assert [a.key for a in one.advice] == [a.key for a in other.advice]
        for of in ("eyes", "fired", "lens", "wear_hold", "practice_hold"):
            there, here = getattr(one, of), getattr(other, of)
            assert (there[Eye.RIGHT], there[Eye.LEFT]) == (here[Eye.LEFT], here[Eye.RIGHT])


@pytest.mark.parametrize("slot", table.SLOTS, ids=".".join)
def test_unsure_is_never_less_than_the_best_answer(slot):
    assert np.all(np.array(judged({slot: "unsure"})) >= np.array(judged({})))
