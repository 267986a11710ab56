"""The phone's evaluator says what the server's says: each rule, all pairs, a million answer sets, in Chromium.

Answers go over as a byte each; what comes back is the digest of all verdicts of a chunk, each written in bits as
``triage_verdicts`` writes them. Only where two digests differ are the bytes fetched, and the first answer set in
which they do is named. That those bytes are the server's own verdicts is held in ``tests/triage``.
"""

from __future__ import annotations

import base64
import hashlib
import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import triage_verdicts as sets
from playwright.sync_api import Page
from windows import Open, Window

from companion.common.eyes import EYES, Eye
from companion.triage.answers import answers_from_file, answers_from_screen
from companion.triage.evaluate import Verdict, evaluate
from companion.triage.rules import RULES_FILE
from companion.usecases.raising import plain_advice

SEED = 20_261_126
MILLION, CHUNK = 1_000_000, 50_000
CASES = json.loads((Path(__file__).parents[1] / "vectors" / "triage_cases.json").read_text("utf-8"))["cases"]

PREPARE = """async ([root, slots, lists, changed]) => {
    const triage = await import(`${root}/js/triage.js`);
    const rules = triage.readRules(changed ?? await (await fetch(`${root}/triage/rules.json`)).json());
    const places = slots.map(([part, id]) => [part, id, [...rules.byId[id].options, "unsure"]]);
    const { ids, keys, minutes, moments, instructions } = lists;

    const documentAt = (bytes, from) => {
        const said = { general: {}, right: {}, left: {} };
        places.forEach(([part, id, answers], n) => { said[part][id] = answers[bytes[from + n]]; });
        return said;
    };
    // Where each fact stands among the bits, in the order of `bytes_of`.
    const at = new Map();
    const place = (kind, names) => names.forEach(name => at.set(`${kind} ${name}`, at.size));
    for (const eye of triage.EYES) place(`fired ${eye}`, ids);
    place("rule", ids);
    place("deciding", [...ids, rules.modifier.id]);
    place("advice", keys.flatMap(key => ["person", ...triage.EYES].map(about => `${key} ${about}`)));
    place("practice", triage.EYES);
    place("wear", triage.EYES);
    place("illness", ["hold"]);
    place("minutes", minutes);
    place("moment", moments);
    const write = (verdict, out, from) => {
        out[from++] = verdict.level;
        for (const eye of triage.EYES) out[from++] = verdict.eyes[eye];
        for (const eye of triage.EYES) out[from++] = instructions.indexOf(verdict.lens[eye]);
        const set = name => { const n = at.get(name); out[from + (n >> 3)] |= 128 >> (n & 7); };
        for (const eye of triage.EYES) {
            for (const id of verdict.fired[eye]) set(`fired ${eye} ${id}`);
            if (verdict.practice_hold[eye]) set(`practice ${eye}`);
            if (verdict.wear_hold[eye]) set(`wear ${eye}`);
        }
        for (const id of verdict.rules) set(`rule ${id}`);
        for (const id of verdict.deciding) set(`deciding ${id}`);
        for (const { key, eyes } of verdict.advice)
            for (const about of eyes.length ? eyes : ["person"]) set(`advice ${key} ${about}`);
        if (verdict.illness_hold) set("illness hold");
        for (const one of verdict.recheck_min) set(`minutes ${one}`);
        for (const one of verdict.recheck_moments) set(`moment ${one}`);
    };
    const judgeAll = (packed, width, choices) => {
        const bytes = Uint8Array.from(atob(packed), sign => sign.charCodeAt(0));
        const count = bytes.length / places.length, out = new Uint8Array(count * width);
        for (let n = 0; n < count; n++)
            write(triage.evaluate(documentAt(bytes, n * places.length), rules, choices), out, n * width);
        return out;
    };
    const hex = async bytes => Array.from(new Uint8Array(await crypto.subtle.digest("SHA-256", bytes)),
        one => one.toString(16).padStart(2, "0")).join("");
    window.proof = {
        digest: async ([packed, width, choices]) => hex(judgeAll(packed, width, choices)),
        bytes: ([packed, width, choices]) => Array.from(judgeAll(packed, width, choices)),
        evaluate: ([answers, choices]) => triage.evaluate(answers, rules, choices),
        screen: ([shown, given]) => triage.answersFromScreen(shown, given, rules),
    };
}"""


@pytest.fixture
def phone(window: Open) -> Page:
    return prepared(window(script=True))


def prepared(opened: Window, changed: Any = None) -> Page:
    opened.go("/sign-in")
    found = re.search(r"/static/[0-9a-f]+", opened.page.content())
    assert found
    lists = {
        "ids": sets.IDS, "keys": sets.KEYS, "minutes": sets.MINUTES, "moments": sets.MOMENTS,
        "instructions": sets.INSTRUCTIONS,
    }  # fmt: skip
    slots = [[part, question.id] for part, question in sets.SLOTS]
    opened.page.evaluate(PREPARE, [found[0], slots, lists, changed])
    return opened.page


def agree(page: Page, rows: np.ndarray, **choices: bool) -> np.ndarray:
    """Hold the phone's verdicts on some answer sets against the rule file's, and return them."""
    expected = sets.judge(rows, **choices)
    width = expected.shape[1]
    named = {
        "illnessHolds": choices.get("illness_holds", True),
        "oneEyeHoldsBoth": choices.get("one_eye_holds_both", False),
    }
    sent = [base64.b64encode(rows.tobytes()).decode(), width, named]
    if page.evaluate("sent => proof.digest(sent)", sent) != hashlib.sha256(expected.tobytes()).hexdigest():
        came = np.array(page.evaluate("sent => proof.bytes(sent)", sent), np.uint8).reshape(expected.shape)
        first = int(np.argmax((came != expected).any(axis=1)))
        pytest.fail(
            f"{sets.document(rows[first])}\nphone  {came[first].tolist()}\nserver {expected[first].tolist()}"
        )
    return expected


def plain(verdict: Verdict) -> dict[str, Any]:
    """Write a verdict as the phone has it."""

    def each(of: Callable[[Eye], Any]) -> dict[str, Any]:
        return {eye.value: of(eye) for eye in EYES}

    return {
        "level": verdict.level,
        "eyes": each(lambda eye: verdict.eyes[eye]),
        "rules": list(verdict.rules),
        "fired": each(lambda eye: list(verdict.fired[eye])),
        "deciding": list(verdict.deciding),
        "lens": each(lambda eye: verdict.lens[eye]),
        "wear_hold": each(lambda eye: verdict.wear_hold[eye]),
        "practice_hold": each(lambda eye: verdict.practice_hold[eye]),
        "illness_hold": verdict.illness_hold,
        "advice": [plain_advice(one) for one in verdict.advice],
        "recheck_min": list(verdict.recheck_min),
        "recheck_moments": list(verdict.recheck_moments),
        "rules_version": verdict.rules_version,
    }


def test_H1_each_rule_fires_in_both_and_alone_decides_somewhere(phone: Page) -> None:
    """All combinations of the answers that a rule reads, *unsure* included, for either eye."""
    for place, rule_id in enumerate(sets.IDS):
        rule = next(rule for rule in sets.RULES.rules if rule.id == rule_id)
        for eye in EYES:
            verdicts = agree(phone, sets.sets_of_rule(rule_id, eye))
            facts = np.unpackbits(verdicts[:, 5:], axis=1)
            reasons = facts[:, 3 * len(sets.IDS) : 4 * len(sets.IDS) + 1]
            witness = (reasons[:, place] == 1) & (reasons.sum(axis=1) == 1) & (verdicts[:, 0] == rule.level)
            assert witness.any(), f"{rule_id} decides nowhere alone"


def test_H1_all_pairs_of_answers(phone: Page) -> None:
    agree(phone, sets.all_pairs())


@pytest.mark.parametrize("illness_holds", [True, False])
@pytest.mark.parametrize("one_eye_holds_both", [True, False])
def test_H1_full_answer_sets_by_each_choice_of_a_practice(
    phone: Page, illness_holds: bool, one_eye_holds_both: bool
) -> None:
    rows = sets.draw(np.random.default_rng(SEED), CHUNK // 5)
    agree(phone, rows, illness_holds=illness_holds, one_eye_holds_both=one_eye_holds_both)


@pytest.mark.slow
def test_H1_a_million_full_answer_sets(phone: Page) -> None:
    rng = np.random.default_rng(SEED + 1)
    levels = np.zeros(6, int)
    for _ in range(MILLION // CHUNK):
        levels += np.bincount(agree(phone, sets.draw(rng, CHUNK), one_eye_holds_both=True)[:, 0], minlength=6)
    assert (levels[1:] > MILLION // 100).all(), "each level is well represented, so the proof is not empty"


def test_H1_whole_verdicts_in_their_order(phone: Page) -> None:
    """What bits don't hold: the order in which rules and advice are named. The server's own evaluator, here."""
    documents = [case["answers"] for case in CASES]
    documents += [sets.document(row) for row in sets.draw(np.random.default_rng(SEED + 2), 500)]
    for said in documents:
        full = answers_from_file(said)
        for both in (False, True):
            came = phone.evaluate("sent => proof.evaluate(sent)", [full.document(), {"oneEyeHoldsBoth": both}])
            assert came == plain(evaluate(full, one_eye_holds_both=both)), said


def test_H1_blanks_on_a_screen_count_alike(phone: Page) -> None:
    """A blank among what was shown is *unsure*, and so is a danger question that was not shown."""
    rng = np.random.default_rng(SEED + 3)
    for row in sets.draw(rng, 300):
        said = sets.document(row)
        shown = {part: [id_ for id_ in rows if rng.random() < 0.5] for part, rows in said.items()}
        shown = {part: ids if rng.random() < 0.8 else [] for part, ids in shown.items()}
        given = {
            part: {id_: answer for id_, answer in rows.items() if id_ in shown[part] and rng.random() < 0.7}
            for part, rows in said.items()
        }
        came = phone.evaluate("sent => proof.screen(sent)", [shown, given])
        assert came == answers_from_screen(shown, given).document()


def test_an_answer_that_does_not_exist_is_no_answer(phone: Page) -> None:
    said = answers_from_file({}).document()
    for wrong in ("worst", "", None, "constructor"):
        with pytest.raises(Exception, match="no such answer"):
            phone.evaluate("sent => proof.evaluate(sent)", [said | {"right": said["right"] | {"pain": wrong}}, {}])


@pytest.mark.slow
@pytest.mark.parametrize(
    ("right", "wrong"),
    [
        ('{"question": "spot", "at_least": "yes"}', '{"question": "worried", "at_least": "yes"}'),
        ('{"question": "light", "at_least": "marked"}', '{"question": "light", "at_least": "mild"}'),
        ('{"instruction": "do_not_pull", ', '{"instruction": "none", '),
        (
            '{"key": "tell_if_worse", "about": "person", "levels": [2, 3]}',
            '{"key": "tell_if_worse", "about": "person"}',
        ),
    ],
)
def test_the_proof_sees_a_phone_that_judges_otherwise(window: Open, right: str, wrong: str) -> None:
    """The test of the test: one condition, option, instruction or level changed in what the phone reads."""
    text = RULES_FILE.read_text("utf-8")
    assert right in text
    page = prepared(window(script=True), json.loads(text.replace(right, wrong, 1)))
    with pytest.raises(pytest.fail.Exception, match="phone  "):
        agree(page, sets.draw(np.random.default_rng(SEED), CHUNK // 5))
