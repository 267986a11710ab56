"""A practice may let one sore eye hold both (design; safety guidance: strictest where the practice is silent)."""

from __future__ import annotations

import pytest

from companion.common.eyes import EYES, Eye
from companion.triage.answers import answers_from_file
from companion.triage.evaluate import evaluate


@pytest.mark.parametrize("sore", EYES)
def test_H12_the_other_eye_is_held_told_and_keeps_its_own_level(sore: Eye) -> None:
    answers = answers_from_file({sore: {"pain": "moderate"}})
    alone, both = evaluate(answers), evaluate(answers, one_eye_holds_both=True)
    other = next(eye for eye in EYES if eye is not sore)
    assert (alone.wear_hold[other], both.wear_hold[other]) == (False, True)
    assert (alone.lens[other], both.lens[other]) == ("none", "take_out")
    assert both.eyes == alone.eyes
    assert both.rules == alone.rules
    told = {one.key for one in both.advice if set(one.eyes) == set(EYES)}
    assert told >= {one.key for one in alone.advice if one.eyes == (sore,)}


def test_where_nothing_is_sore_nothing_is_held() -> None:
    assert not any(evaluate(answers_from_file({}), one_eye_holds_both=True).wear_hold.values())


def test_an_eye_that_must_not_be_touched_is_not_touched_for_the_others_sake() -> None:
    answers = answers_from_file({"right": {"pain": "moderate"}, "left": {"injury": "cut_pierce_stuck"}})
    assert evaluate(answers, one_eye_holds_both=True).lens == {Eye.RIGHT: "take_out", Eye.LEFT: "do_not_touch"}
