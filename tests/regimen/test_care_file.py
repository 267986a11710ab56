"""The care file fits its schema, names only what exists, and keeps a practice within its bounds."""

import copy
import json
import re

import jsonschema
import pytest

from companion.diary import kinds
from companion.phrasebook import care_words, handling_words
from companion.phrasebook.languages import PSEUDO
from companion.phrasebook.phrases import Phrases
from companion.regimen import due
from companion.regimen.care import CARE_FILE, SYSTEMS, care_from, load_care, regimen
from companion.triage.rules import EYE, load_rules

SCHEMA = json.loads(CARE_FILE.with_name("care.schema.json").read_text(encoding="utf-8"))
DATA = json.loads(CARE_FILE.read_text(encoding="utf-8"))

# Numbers that a published source or common practice gives; the file's bounds must not leave them.
MOST = {
    "case_days": 90,  # US CDC, healthy contact lens habits: at least every 3 months
    "bottle_days": 183,  # common practice: labels give 2 to 6 months after opening
    "lens_days": 731,  # from memory: 24 months at most
    "suction_cup_days": 183,  # from memory: 3 to 6 months
    "protein_days": 31,  # common practice: every 1 to 2 weeks, monthly for strong removers
}
LEAST_PEROXIDE_HOURS = 6  # US FDA, Hydrogen Peroxide Solution


def test_the_file_fits_its_schema():
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    jsonschema.validate(DATA, SCHEMA, jsonschema.Draft202012Validator)
    assert set(DATA["systems"]) == set(SYSTEMS)


def test_every_source_is_named_and_every_name_is_used():
    used = {name for part in ("steps", "numbers", "help") for row in DATA[part] for name in row["source"]}
    assert used | set(DATA["stuck"]["source"]) == set(DATA["sources"])


def test_a_step_that_does_not_exist_is_noticed():
    broken = copy.deepcopy(DATA)
    broken["systems"]["peroxide"]["evening"].append("pray")
    with pytest.raises(KeyError):
        care_from(broken)


def test_bounds_that_contradict_themselves_are_noticed():
    broken = copy.deepcopy(DATA)
    broken["numbers"][0]["usual"] = 1000
    with pytest.raises(ValueError, match="case_days"):
        care_from(broken)


def test_bounds_stay_within_what_is_published():
    for system in SYSTEMS:
        bounds = load_care().bounds[system]
        assert {id_: bounds[id_].high for id_ in MOST if bounds[id_].high > MOST[id_]} == {}
    assert load_care().bounds["peroxide"]["peroxide_hours"].low >= LEAST_PEROXIDE_HOURS


def test_every_id_has_words_and_no_words_are_idle():
    care = load_care()
    said = {"after_a_break", "soaked_long_enough", *care_words.STEPS}
    assert said == set(care.steps)
    assert {id_ for lists in (care.evening, care.morning) for ids in lists.values() for id_ in ids} == said
    assert {step.why for step in care.steps.values()} == set(care_words.WHYS)
    assert set(care.help) == set(handling_words.TOPICS)
    assert {step for one in care.help.values() for step in one.steps} == set(handling_words.STEPS)
    assert {lead.when for one in care.help.values() for lead in one.leads} == set(handling_words.LEADS)
    assert {id_ for one in care.bounds.values() for id_ in one} == set(care_words.NUMBERS)
    assert set(care_words.SYSTEMS) == set(SYSTEMS)


def test_steps_can_be_said_with_a_number():
    for phrases, start in ((Phrases(), "Not worn for more than 7 days?"), (Phrases(PSEUDO), "[")):
        assert care_words.step_text(phrases, "after_a_break", {"stored_days": 7}).startswith(start)
    assert "6 hours" in care_words.step_text(Phrases(), "soaked_long_enough", {"peroxide_hours": 6})


def test_the_diary_and_the_regimen_name_the_same_things():
    assert set(kinds.CARE_ITEMS) == {*due.ITEMS, "soak"}
    assert kinds.BOTTLES == due.BOTTLES


def test_help_leads_only_to_answers_that_the_report_knows():
    questions = {question.id: question.options for question in load_rules().asked_about(EYE)}
    answers = [lead.answers for one in load_care().help.values() for lead in one.leads]
    assert all(answer in questions[id_] for one in answers for id_, answer in one.items())
    assert {one["lens"] for one in answers if "lens" in one} == {
        "stuck_now",
        "stuck_long_or_broken",
        "maybe_in_eye",
    }


def test_every_topic_of_help_leads_on_to_a_report():
    for one in load_care().help.values():
        assert any(lead.to is None for lead in one.leads), one.id


# -- hazards ----------------------------------------------------------------------------------------------------
EVERY_SENTENCE = [
    *care_words.STEPS.values(),
    *care_words.WHYS.values(),
    *handling_words.STEPS.values(),
    *handling_words.LEADS.values(),
]


ABOUT_WATER = r"[Nn]ever|[Dd]o not|right for (this|that)|lots of clean water|carry|touched|meets|touch water"


def test_H5_water_is_never_right_for_a_lens_and_always_right_for_a_splash():
    for said in EVERY_SENTENCE:
        for sentence in re.split(r"(?<=[.?:]) ", said):
            if re.search(r"\bwater\b", sentence):
                assert re.search(ABOUT_WATER, sentence), sentence
    why = care_words.WHYS["water_carries_germs"]
    assert "splashes" in why and "tap water is right" in why, "the lesson on water names its one exception"
    assert load_care().help["stings"].steps[0] == "splash_rinse_eye", "rinsing is said first"
    assert "20 minutes" in handling_words.STEPS["splash_rinse_eye"]
    assert "cut" in handling_words.STEPS["splash_rinse_eye"], "H6: a cut eye is not rinsed"
    for step in ("rinse_lens", "rinse_off_with_saline"):
        assert load_care().steps[step].why == "water_carries_germs"


@pytest.mark.parametrize("topic", ["stuck", "off_centre"])
def test_H9_nothing_pulls_at_a_lens_that_does_not_move(topic):
    steps = load_care().help[topic].steps
    assert "no_cup_no_nail" in steps and "press_lid_edge" in steps
    assert re.search(r"no suction cup and no fingernail", handling_words.STEPS["no_cup_no_nail"])


def test_H9_no_sentence_rubs_a_lid_or_puts_a_cup_on_a_lens_that_sticks():
    for said in EVERY_SENTENCE:
        for sentence in re.split(r"(?<=[.?]) ", said):
            if re.search(r"\b(massage|rub|circular)\b.*\b(lid|eye)\b", sentence, re.IGNORECASE):
                assert "Do not rub" in sentence, sentence
            if "suction cup" in sentence:
                assert re.search(r"Use no|lens that moves|Do you use", sentence), sentence
    assert "take_out" in load_care().morning["multipurpose"]
    for system in SYSTEMS:
        order = load_care().morning[system]
        assert order.index("must_move") < order.index("take_out"), "the lens moves before anybody takes it out"


def test_H9_half_an_hour_leads_to_the_report():
    times = load_care().stuck
    assert (times.call_after_min, times.report_after_min) == (15, 30)
    answers = [dict(lead.answers) for lead in load_care().help["stuck"].leads]
    assert {"lens": "stuck_long_or_broken"} in answers and {"lens": "stuck_now"} in answers


def test_H18_a_number_signed_under_wider_bounds_is_cut_to_the_shorter():
    signed = {"case_days": 400, "peroxide_hours": 1, "protein_days": None, "bottle_days": None}
    numbers = regimen("peroxide", signed).numbers
    assert numbers["case_days"] == 90
    assert numbers["peroxide_hours"] == 6
    assert numbers["protein_days"] is None, "a practice may do without"
    assert numbers["bottle_days"] == 60, "but not without this one"


def test_without_a_system_only_what_all_share_is_said():
    shared = regimen(None, {})
    said = {step.id for step in (*shared.evening, *shared.morning)}
    for system in SYSTEMS:
        one = regimen(system, {})
        assert said < {step.id for step in (*one.evening, *one.morning)}
    assert not said & {"rinse_lens", "rinse_off_with_saline", "fresh_solution", "fresh_peroxide"}
    assert shared.numbers["stored_days"] == 1, "of two, the shorter"
    assert "peroxide_hours" not in shared.numbers


def test_nobody_is_blamed_and_nobody_is_told_that_all_is_well():
    blame = r"forg[oe]t|\bbad\b|fail|streak|\bsafe\b|you are fine|no infection"
    tables = (*EVERY_SENTENCE, *care_words.CHANGE_NOW.values(), *handling_words.STUCK_HEADINGS.values())
    assert not [said for said in tables if re.search(blame, said)]
