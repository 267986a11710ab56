"""What a blank means behind each door, and which input is refused."""

import pytest

from companion.common.errors import InvalidInput
from companion.common.eyes import Eye
from companion.triage.answers import answers_from_file, answers_from_report, answers_from_screen
from companion.triage.evaluate import evaluate
from companion.triage.rules import load_rules

SHOWN = {
    "general": [q.id for q in load_rules().asked_about("person")],
    **{eye: [q.id for q in load_rules().asked_about("eye")] for eye in ("right", "left")},
}
NOTHING_WRONG = answers_from_file({}).document()


def problems(said):
    with pytest.raises(InvalidInput) as caught:
        answers_from_file(said)
    return [(problem.code, problem.field) for problem in caught.value.problems]


def test_a_question_left_out_of_a_file_was_answered_with_its_best_option():
    assert answers_from_file({"right": {"pain": "mild"}}).eyes[Eye.LEFT]["pain"] == "none"
    assert evaluate(answers_from_file({})).level == 1


def test_H1_a_blank_on_a_screen_is_unsure():
    given = {part: dict(rows) for part, rows in NOTHING_WRONG.items()}
    assert evaluate(answers_from_screen(SHOWN, given)).level == 1
    del given["right"]["redness"]
    answers = answers_from_screen(SHOWN, given)
    assert answers.eyes[Eye.RIGHT]["redness"] == "unsure"
    assert evaluate(answers).level == 3
    assert evaluate(answers_from_screen(SHOWN, {})).level == 5


def test_a_question_that_was_not_shown_counts_as_its_best_option():
    shown = {"general": ["very_unwell"], "right": ["chemical", "injury", "pain"]}
    given = {"general": {"very_unwell": "no"}, "right": {"chemical": "no", "injury": "no", "pain": "mild"}}
    verdict = evaluate(answers_from_screen(shown, given))
    assert (verdict.rules, dict(verdict.eyes)) == (("R202",), {"right": 2, "left": 1})


@pytest.mark.parametrize("dropped", [("general", "very_unwell"), ("right", "chemical"), ("right", "injury")])
def test_H1_no_screen_and_no_report_leaves_a_danger_question_out(dropped):
    part, name = dropped
    shown = {"general": ["very_unwell"], "right": ["chemical", "injury", "pain"]}
    given = {"general": {"very_unwell": "no"}, "right": {"chemical": "no", "injury": "no", "pain": "none"}}
    shown[part].remove(name)
    del given[part][name]
    for answers in (answers_from_screen(shown, given), answers_from_report(given)):
        assert answers.document()[part][name] == "unsure"
        assert evaluate(answers).level >= 4


def test_an_empty_report_is_no_all_clear():
    assert evaluate(answers_from_report({})).level == 5


def test_a_report_says_the_same_when_read_back():
    answers = answers_from_file({"general": {"worried": "unsure"}, "left": {"light": "mild"}})
    assert answers_from_report(answers.document()) == answers


def test_a_report_by_other_rules_is_judged_and_never_refused():
    stored = answers_from_file({}).document()
    stored["right"]["colour_of_socks"] = "blue"
    stored["right"]["redness"] = "scarlet"
    verdict = evaluate(answers_from_report(stored))
    assert verdict.rules == ("R301", "R202"), "an unknown option counts as the worst"


@pytest.mark.parametrize(
    ("said", "expected"),
    [
        ([], [("triage_not_an_object", "answers")]),
        (None, [("triage_not_an_object", "answers")]),
        ({"middle": {}}, [("triage_unknown_part", "middle")]),
        ({"right": None}, [("triage_not_an_object", "right")]),
        ({"right": ["pain"]}, [("triage_not_an_object", "right")]),
        ({"right": {"pian": "mild"}}, [("triage_unknown_question", "right.pian")]),
        ({"right": {"fever": "yes"}}, [("triage_unknown_question", "right.fever")]),
        ({"general": {"pain": "mild"}}, [("triage_unknown_question", "general.pain")]),
        ({"right": {"pain": "Mild"}}, [("triage_unknown_option", "right.pain")]),
        ({"right": {"pain": ""}}, [("triage_unknown_option", "right.pain")]),
        ({"right": {"pain": None}}, [("triage_not_an_option", "right.pain")]),
        ({"right": {"spot": True}}, [("triage_not_an_option", "right.spot")]),
        ({"right": {"pain": 2}}, [("triage_not_an_option", "right.pain")]),
        ({"right": {"pain": ["mild"]}}, [("triage_not_an_option", "right.pain")]),
        (
            {"right": {"pain": None}, "left": {"pain": "x"}},
            [("triage_not_an_option", "right.pain"), ("triage_unknown_option", "left.pain")],
        ),
    ],
)
def test_wrong_answers_are_named(said, expected):
    assert problems(said) == expected


def test_a_screen_refuses_an_answer_that_does_not_exist():
    with pytest.raises(InvalidInput):
        answers_from_screen(SHOWN, {"right": {"pain": "awful"}})


def test_answers_cannot_be_changed():
    with pytest.raises(TypeError):
        answers_from_file({}).eyes[Eye.RIGHT]["pain"] = "none"
