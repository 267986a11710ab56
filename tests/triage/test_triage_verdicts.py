"""The evaluator says, bit for bit, what the rule file says read over arrays: rules, pairs, full answer sets.

The arrays then stand for the evaluator where a million sets are held against the phone's (``tests/browser``).
"""

from __future__ import annotations

import numpy as np
import pytest
import triage_verdicts as sets

from companion.triage.answers import answers_from_file
from companion.triage.evaluate import evaluate

SEED = 20_261_125
FULL = 10_000
CHOICES = [(True, False), (True, True), (False, False)]
"""Whether any illness holds, and whether one sore eye holds both."""


def agree(rows: np.ndarray, illness_holds: bool = True, one_eye_holds_both: bool = False) -> None:
    choices = {"illness_holds": illness_holds, "one_eye_holds_both": one_eye_holds_both}
    for row, expected in zip(rows, sets.judge(rows, **choices), strict=True):
        said = sets.document(row)
        assert sets.bytes_of(evaluate(answers_from_file(said), **choices)) == expected.tobytes(), said


@pytest.mark.parametrize("rule_id", sets.IDS)
def test_all_that_a_rule_reads(rule_id: str) -> None:
    rows = sets.sets_of_rule(rule_id)
    agree(rows[:: 1 + len(rows) // 2000])


def test_all_pairs_of_answers() -> None:
    rows = sets.all_pairs()
    agree(rows[:: 1 + len(rows) // 4000])


@pytest.mark.slow
def test_every_single_pair_of_answers() -> None:
    agree(sets.all_pairs())


@pytest.mark.parametrize("choices", CHOICES)
def test_full_answer_sets(choices: tuple[bool, bool]) -> None:
    agree(sets.draw(np.random.default_rng(SEED), FULL // len(CHOICES)), *choices)
