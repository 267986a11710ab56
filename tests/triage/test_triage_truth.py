"""Each rule on its own: its full truth table, and an answer set where it alone decides."""

from itertools import product

import pytest
import triage_table as table

from companion.common.eyes import Eye
from companion.triage.answers import answers_from_file
from companion.triage.evaluate import evaluate
from companion.triage.rules import load_rules

SINGLE_ANSWER_LEVELS = {
    # From the written table: the level of each option alone, best to worst, everything else at its best.
    "chemical": (1, 2, 4, 5),
    "injury": (1, 2, 4, 5),
    "vision": (1, 2, 4, 5),
    "floaters": (1, 1, 4, 5),
    "double": (1, 2, 4),
    "swelling": (1, 2, 4, 5),
    "pain": (1, 1, 2, 4, 5),
    "light": (1, 3, 4),
    "redness": (1, 1, 2, 3),
    "discharge": (1, 2, 3, 4),
    "spot": (1, 4),
    "haloes": (1, 1, 2),
    "itch": (1, 1, 2),
    "dry": (1, 1, 2),
    "fb": (1, 1, 3),
    "lens": (1, 1, 2, 2, 3, 4),
    "lens_damage": (1, 2),
    "odd_look": (1, 5),
    "course": (1, 1, 1, 1),
    "very_unwell": (1, 5),
    "fever": (1, 1),
    "cold_ill": (1, 1),
    "headache_vomit": (1, 2),
    "hygiene": (1, 1, 2),
    "risk_modifier": (1, 1),
    "worried": (1, 3),
    "recurrent": (1, 2),
}


def document(said, eye="right"):
    """Put each answer where it belongs: the person's or the eye's."""
    general = {name: answer for name, answer in said.items() if name in table.GENERAL}
    return {"general": general, eye: {name: answer for name, answer in said.items() if name in table.EYE}}


@pytest.mark.parametrize("rule_id", table.TABLE)
def test_H1_a_rule_fires_exactly_where_the_table_says(rule_id):
    """All combinations of the questions that the rule reads, *unsure* included."""
    rule = next(rule for rule in load_rules().rules if rule.id == rule_id)
    names = table.questions_of(rule_id)
    assert rule.when.questions == set(names)
    best = answers_from_file({}).ranks(Eye.RIGHT, load_rules())
    questions = load_rules().questions
    for combination in product(*(table.ALL[name].answers for name in names)):
        said = dict(zip(names, combination, strict=True))
        ranks = {**best, **{name: questions[name].rank(answer) for name, answer in said.items()}}
        expected = table.fires(rule_id, lambda name, said=said: table.ALL[name].rank(said[name]))
        assert rule.when.holds(ranks) == expected, said


@pytest.mark.parametrize("rule_id", table.TABLE)
def test_a_rule_has_a_witness_where_it_alone_decides(rule_id):
    names = table.questions_of(rule_id)
    for combination in product(*(table.ALL[name].options for name in names)):
        verdict = evaluate(answers_from_file(document(dict(zip(names, combination, strict=True)))))
        if verdict.deciding == (rule_id,):
            break
    else:
        pytest.fail("another rule of the same level fires wherever this one does, or a more urgent one")
    assert verdict.level == table.level_of(rule_id)
    general_alone = set(names) <= set(table.GENERAL)
    assert verdict.fired[Eye.RIGHT] == verdict.rules
    assert (rule_id in verdict.fired[Eye.LEFT]) == general_alone


@pytest.mark.parametrize("name", table.ALL)
def test_the_level_of_each_answer_alone(name):
    for answer, level in zip(table.ALL[name].options, SINGLE_ANSWER_LEVELS[name], strict=True):
        verdict = evaluate(answers_from_file(document({name: answer})))
        assert (answer, verdict.level) == (answer, level)


@pytest.mark.parametrize("name", table.ALL)
def test_unsure_counts_as_its_option(name):
    counted = evaluate(answers_from_file(document({name: table.ALL[name].unsure})))
    assert evaluate(answers_from_file(document({name: "unsure"}))) == counted


def test_H1_unsure_of_everything_is_an_emergency():
    every = {part: dict.fromkeys(rows, "unsure") for part, rows in
             (("general", table.GENERAL), ("right", table.EYE), ("left", table.EYE))}  # fmt: skip
    assert evaluate(answers_from_file(every)).level == 5


def test_nothing_wrong_is_level_1():
    verdict = evaluate(answers_from_file({}))
    assert (verdict.level, verdict.rules, set(verdict.lens.values())) == (1, (), {"none"})
    assert set(verdict.wear_hold.values()) == {False}


@pytest.mark.parametrize(("pain", "raised"), [("none", 1), ("mild", 3), ("moderate", 4), ("severe", 5)])
def test_the_modifier_raises_levels_2_and_3_only(pain, raised):
    verdict = evaluate(answers_from_file({"general": {"risk_modifier": "yes"}, "right": {"pain": pain}}))
    assert verdict.level == raised
    assert ("M1" in verdict.deciding) == (pain == "mild")


def test_the_modifier_raises_level_3_to_4():
    verdict = evaluate(answers_from_file({"general": {"risk_modifier": "unsure"}, "left": {"fb": "still"}}))
    assert (verdict.level, dict(verdict.eyes)) == (4, {"right": 1, "left": 4})
    assert verdict.deciding == ("R305", "M1")
