"""One lens instruction an eye, and the message variants that hang on answers, not only on the level."""

import pytest

from companion.common.eyes import Eye
from companion.triage.answers import answers_from_file
from companion.triage.evaluate import evaluate
from companion.triage.rules import load_rules

HELD_EXTRAS = ["no_lens_back", "keep_lenses", "wear_glasses"]
WHO_TO_CALL = {
    5: {"go_now", "rinse_then_go"},
    4: {"call_today"},
    3: {"book_within_day"},
    2: {"hear_from_practice"},
}


def judge(right=None, left=None, general=None, **options):
    said = {"general": general or {}, "right": right or {}, "left": left or {}}
    return evaluate(answers_from_file(said), **options)


def keys(verdict):
    return [advice.key for advice in verdict.advice]


def eyes_of(verdict, key):
    return next((advice.eyes for advice in verdict.advice if advice.key == key), ())


@pytest.mark.parametrize(
    ("right", "instruction"),
    [
        ({"injury": "cut_pierce_stuck"}, "do_not_touch"),
        ({"injury": "cut_pierce_stuck", "chemical": "other_chem"}, "do_not_touch"),
        ({"injury": "cut_pierce_stuck", "lens": "stuck_now"}, "do_not_touch"),
        ({"chemical": "mild_rinsed"}, "rinse_first"),
        ({"chemical": "lens_chem"}, "rinse_first"),
        ({"chemical": "other_chem"}, "rinse_first"),
        ({"chemical": "unsure"}, "rinse_first"),
        ({"chemical": "lens_chem", "lens": "stuck_long_or_broken"}, "rinse_first"),
        ({"lens": "stuck_now"}, "do_not_pull"),
        ({"lens": "stuck_long_or_broken"}, "do_not_pull"),
        ({"lens": "stuck_now", "pain": "severe"}, "do_not_pull"),
        ({"lens": "maybe_in_eye"}, "take_out"),
        ({"lens": "unsure"}, "take_out"),
        ({"pain": "mild"}, "take_out"),
        ({"pain": "severe"}, "take_out"),
        ({"injury": "blow_or_scratch"}, "take_out"),
        ({"injury": "unsure"}, "take_out"),
        ({"vision": "fluctuating"}, "none"),
        ({"injury": "touch"}, "none"),
        ({}, "none"),
    ],
)
def test_each_eye_gets_one_lens_instruction(right, instruction):
    verdict = judge(right=right)
    assert verdict.lens == {Eye.RIGHT: instruction, Eye.LEFT: "none"}
    assert judge(left=right).lens == {Eye.RIGHT: "none", Eye.LEFT: instruction}


def test_a_general_hold_takes_both_lenses_out():
    assert set(judge(general={"worried": "yes"}).lens.values()) == {"take_out"}
    assert set(judge(general={"fever": "yes"}).lens.values()) == {"take_out"}


@pytest.mark.parametrize("chemical", ["lens_chem", "other_chem", "unsure"])
def test_H5_a_splash_is_rinsed_with_tap_water_before_anything_else(chemical):
    verdict = judge(left={"chemical": chemical}, general={"hygiene": "water"})
    assert keys(verdict)[:3] == ["rinse_now", "rinse_tap_water", "rinse_lens_loose"]
    assert eyes_of(verdict, "rinse_now") == (Eye.LEFT,)
    assert "bring_bottle" in keys(verdict)


def test_H5_a_mild_product_is_rinsed_as_well():
    assert keys(judge(right={"chemical": "mild_rinsed"}))[0] == "rinse_now"


def test_H6_a_cut_eye_is_not_rinsed_and_the_lens_stays():
    verdict = judge(right={"injury": "cut_pierce_stuck", "lens": "stuck_now"})
    assert keys(verdict)[:3] == ["cut_do_not_touch", "cut_shield", "go_now"]
    refused = {
        "rinse_now",
        "rinse_tap_water",
        "rinse_lens_loose",
        "do_not_pull",
        "stuck_loosen",
        "do_not_cover",
    }
    assert not refused & set(keys(verdict))
    assert verdict.lens[Eye.RIGHT] == "do_not_touch"


def test_H6_cut_and_splash_in_one_eye_follow_the_call_taker():
    verdict = judge(right={"injury": "cut_pierce_stuck", "chemical": "other_chem"})
    assert keys(verdict)[0] == "follow_call_taker"
    assert "rinse_now" not in keys(verdict)
    assert verdict.lens[Eye.RIGHT] == "do_not_touch"


def test_H6_cut_in_one_eye_and_splash_in_the_other_each_get_their_own():
    verdict = judge(right={"injury": "cut_pierce_stuck"}, left={"chemical": "other_chem"})
    assert keys(verdict)[0] == "follow_call_taker"
    assert eyes_of(verdict, "rinse_now") == (Eye.LEFT,)
    assert eyes_of(verdict, "cut_do_not_touch") == (Eye.RIGHT,)
    assert verdict.lens == {Eye.RIGHT: "do_not_touch", Eye.LEFT: "rinse_first"}


@pytest.mark.parametrize("lens", ["stuck_now", "stuck_long_or_broken"])
def test_H9_a_lens_that_does_not_move_is_not_pulled(lens):
    verdict = judge(right={"lens": lens, "redness": "pink"})
    assert verdict.lens[Eye.RIGHT] == "do_not_pull"
    assert eyes_of(verdict, "do_not_pull") == (Eye.RIGHT,)


def test_H9_loosening_is_for_a_comfortable_lens_stuck_under_half_an_hour():
    assert {"stuck_loosen", "stuck_call"} <= set(keys(judge(right={"lens": "stuck_now"})))
    assert "stuck_loosen" not in keys(judge(right={"lens": "stuck_now", "pain": "mild"}))
    assert "stuck_loosen" not in keys(judge(right={"lens": "stuck_long_or_broken"}))
    splashed = judge(right={"lens": "stuck_now", "chemical": "mild_rinsed"})
    assert not {"stuck_loosen", "stuck_call"} & set(keys(splashed)), "rinsing comes first"


def test_a_missing_lens_is_not_dug_for():
    assert eyes_of(judge(left={"lens": "maybe_in_eye"}), "lens_missing") == (Eye.LEFT,)


@pytest.mark.parametrize(
    "right",
    [{"floaters": "new"}, {"floaters": "curtain"}, {"double": "new_double"}, {"vision": "blur_stays"},
     {"vision": "sudden_loss"}],
)  # fmt: skip
def test_who_sees_less_does_not_drive(right):
    assert "do_not_drive" in keys(judge(right=right))
    assert "drive_with_care" not in keys(judge(right=right))


@pytest.mark.parametrize("right", [{"vision": "fluctuating"}, {"double": "ghost"}, {"haloes": "usual"}])
def test_changeable_sight_drives_with_care(right):
    assert "drive_with_care" in keys(judge(right=right))


def test_water_is_told_to_who_looks_at_the_eye():
    assert "tell_water" in keys(judge(general={"hygiene": "water"}))
    assert "tell_water" in keys(judge(general={"hygiene": "unsure"}))
    assert "tell_water" not in keys(judge(general={"hygiene": "lapse"}))


def test_drops_that_nobody_prescribed_are_stopped():
    assert "stop_unprescribed_drops" in keys(judge(general={"risk_modifier": "yes"}))


def test_the_ambulance_comes_first():
    verdict = judge(
        general={"very_unwell": "yes"}, right={"chemical": "other_chem", "injury": "cut_pierce_stuck"}
    )
    assert keys(verdict)[0] == "ambulance_first"


@pytest.mark.parametrize("illness", ["fever", "cold_ill"])
def test_illness_means_no_lens_until_well_whatever_the_level(illness):
    verdict = judge(general={illness: "yes"})
    assert (verdict.level, set(verdict.wear_hold.values()), verdict.illness_hold) == (1, {True}, True)
    assert set(verdict.practice_hold.values()) == {False}, "it lifts itself"
    assert "no_lens_until_well" in keys(verdict)
    assert not {"wear_only_if_white", "wait_for_practice"} & set(keys(verdict))


def test_a_practice_may_choose_that_a_cold_holds_nothing_but_not_so_a_fever():
    cold, fever = (judge(general={name: "yes"}, illness_holds=False) for name in ("cold_ill", "fever"))
    assert (set(cold.wear_hold.values()), set(cold.lens.values())) == ({False}, {"none"})
    assert "no_lens_until_well" not in keys(cold)
    assert set(fever.wear_hold.values()) == {True}


@pytest.mark.parametrize("general", [{}, {"risk_modifier": "yes"}])
@pytest.mark.parametrize(
    "right", [{"vision": "fluctuating"}, {"double": "ghost"}, {"haloes": "new"}, {"injury": "touch"}]
)
def test_a_hold_is_judged_by_the_rules_not_by_the_modified_level(right, general):
    verdict = judge(right=right, general=general)
    assert verdict.level == (3 if general else 2)
    assert set(verdict.wear_hold.values()) == {False}


def test_headache_without_an_eye_sign_holds_nothing():
    verdict = judge(general={"headache_vomit": "yes"})
    assert (verdict.level, set(verdict.wear_hold.values())) == (2, {False})
    assert "own_doctor" in keys(verdict)


def test_a_sore_right_eye_does_not_hold_the_left():
    verdict = judge(right={"pain": "moderate"})
    assert verdict.wear_hold == {Eye.RIGHT: True, Eye.LEFT: False}
    assert verdict.eyes == {Eye.RIGHT: 4, Eye.LEFT: 1}


@pytest.mark.parametrize("name", [q.id for q in load_rules().questions.values()])
def test_H12_every_hold_says_so_and_every_level_from_2_says_who_to_call(name):
    question = load_rules().questions[name]
    for answer in (*question.options, "unsure"):
        said = {name: answer}
        verdict = judge(general=said) if question.about == "person" else judge(right=said)
        held = tuple(eye for eye in Eye if verdict.wear_hold[eye])
        for key in HELD_EXTRAS:
            assert (key in keys(verdict)) == bool(held)
        assert eyes_of(verdict, "no_lens_back") == held
        assert eyes_of(verdict, "wait_for_practice") == tuple(
            eye for eye in Eye if verdict.practice_hold[eye]
        )
        if verdict.level >= 2:
            assert len(WHO_TO_CALL[verdict.level] & set(keys(verdict))) == 1
        assert keys(verdict)[-1] == "not_emergency_service"
        assert ("wear_only_if_white" in keys(verdict)) == (verdict.level == 1 and not held)
