"""The rule file is what the table says, and its schema admits nothing that lets a worse answer weigh less."""

import copy
import json

import jsonschema
import pytest
import triage_table as table

from companion.triage.rules import EYE, PERSON, RULES_FILE, load_rules, rules_from

SCHEMA = json.loads(RULES_FILE.with_name("rules.schema.json").read_text(encoding="utf-8"))
DATA = json.loads(RULES_FILE.read_text(encoding="utf-8"))


def test_the_file_fits_its_schema():
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    jsonschema.validate(DATA, SCHEMA, jsonschema.Draft202012Validator)


@pytest.mark.parametrize(
    "condition",
    [
        {"question": "pain", "at_most": "mild"},
        {"question": "pain", "equals": "mild"},
        {"question": "pain", "one_of": ["mild"]},
        {"question": "pain", "at_least": "mild", "not": True},
        {"not": {"question": "pain", "at_least": "mild"}},
        {"question": "pain", "at_least": 2},
        {"any": [{"question": "pain", "at_least": "mild"}]},
    ],
)
def test_H1_the_schema_refuses_a_rule_that_is_more_than_at_least(condition):
    data = copy.deepcopy(DATA)
    data["rules"][0]["all"][0]["any"].append(condition)
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(data, SCHEMA, jsonschema.Draft202012Validator)


@pytest.mark.parametrize("extra", [{"none": []}, {"unless": []}, {"any": []}, {"levels": [1]}])
def test_H1_the_schema_refuses_unless_in_a_rule_and_in_the_modifier(extra):
    for name in ("rules", "modifier"):
        data = copy.deepcopy(DATA)
        (data["rules"][0] if name == "rules" else data["modifier"]).update(extra)
        with pytest.raises(jsonschema.ValidationError):
            jsonschema.validate(data, SCHEMA, jsonschema.Draft202012Validator)


def test_the_questions_are_the_table_s():
    rules = load_rules()
    for about, asked in ((PERSON, table.GENERAL), (EYE, table.EYE)):
        assert {q.id: (q.options, q.unsure) for q in rules.asked_about(about)} == asked


def test_the_rules_are_the_table_s_most_urgent_first():
    rules = load_rules().rules
    assert [rule.id for rule in rules] == list(table.TABLE)
    assert [rule.level for rule in rules] == [table.level_of(id_) for id_ in table.TABLE]
    assert [rule.holds_eye for rule in rules] == [table.holds_eye(id_) for id_ in table.TABLE]
    assert [rule.level for rule in rules] == sorted((rule.level for rule in rules), reverse=True)


def test_each_rule_cites_a_source_and_each_source_is_cited():
    rules = load_rules()
    cited = {source for rule in rules.rules for source in rule.sources}
    assert cited == set(rules.sources)


def test_each_question_stands_on_one_page_and_danger_comes_first():
    rules = load_rules()
    asked = [id_ for page in rules.pages for id_ in page.questions]
    assert sorted(asked) == sorted(rules.questions)
    assert [page.required for page in rules.pages] == [True] + [False] * (len(rules.pages) - 1)
    assert rules.danger_questions == {"very_unwell", "chemical", "injury"}


def test_an_unknown_option_in_the_file_is_not_passed_over():
    data = copy.deepcopy(DATA)
    data["rules"][0]["all"][0]["any"][0]["at_least"] = "maybe"
    with pytest.raises(ValueError):
        rules_from(data)
