"""When each piece of advice is given, written again by hand and held against many full answer sets."""

from typing import NamedTuple

import numpy as np
import triage_table as table

from companion.common.eyes import EYES
from companion.triage.answers import answers_from_file
from companion.triage.evaluate import Verdict, evaluate
from companion.triage.rules import load_rules

SETS = 4_000
SEED = 8_6


class Eye(NamedTuple):
    """One eye's answers, or the worst of both, with what is known of the result."""

    rank: dict[str, int]
    level: int
    by_practice: bool
    ill: bool

    def least(self, name, option):
        return self.rank[name] >= table.ALL[name].options.index(option)

    def just(self, name, option):
        return self.rank[name] == table.ALL[name].options.index(option)

    @property
    def cut(self):
        return self.least("injury", "cut_pierce_stuck")

    @property
    def splash(self):
        return self.least("chemical", "mild_rinsed")

    @property
    def harsh_splash(self):
        return self.least("chemical", "lens_chem")

    @property
    def held(self):
        return self.by_practice or self.ill

    @property
    def sees_less(self):
        return (
            self.least("floaters", "new")
            or self.least("double", "new_double")
            or self.least("vision", "blur_stays")
        )

    @property
    def loosening(self):
        return self.just("lens", "stuck_now") and not self.cut and not self.splash and self.level in (2, 3)


OF_THE_EYE = {
    "rinse_now": lambda e: e.splash and not e.cut,
    "rinse_tap_water": lambda e: e.splash and not e.cut,
    "rinse_lens_loose": lambda e: e.splash and not e.cut,
    "cut_do_not_touch": lambda e: e.cut,
    "cut_shield": lambda e: e.cut,
    "do_not_pull": lambda e: (
        (e.just("lens", "stuck_now") or e.just("lens", "stuck_long_or_broken")) and not e.cut
    ),
    "stuck_loosen": lambda e: e.loosening,
    "stuck_call": lambda e: e.loosening,
    "lens_missing": lambda e: e.just("lens", "maybe_in_eye") and not e.cut,
    "blow_cold_pack": lambda e: e.just("injury", "blow_or_scratch") and not e.splash,
    "no_lens_back": lambda e: e.held,
    "wait_for_practice": lambda e: e.by_practice,
    "no_damaged_lens": lambda e: e.least("lens_damage", "yes"),
}
OF_THE_PERSON = {
    "ambulance_first": lambda e: e.least("very_unwell", "yes"),
    "follow_call_taker": lambda e: e.splash and e.cut,
    "go_now": lambda e: e.level == 5 and not e.harsh_splash,
    "rinse_then_go": lambda e: e.level == 5 and e.harsh_splash,
    "call_today": lambda e: e.level == 4,
    "book_within_day": lambda e: e.level == 3,
    "hear_from_practice": lambda e: e.level == 2,
    "watch_at_home": lambda e: e.level == 1,
    "no_lens_until_well": lambda e: e.ill,
    "keep_lenses": lambda e: e.held,
    "wear_glasses": lambda e: e.held,
    "do_not_drive": lambda e: e.sees_less,
    "drive_with_care": lambda e: (
        not e.sees_less
        and (e.least("vision", "fluctuating") or e.least("double", "ghost") or e.least("haloes", "usual"))
    ),
    "bring_bottle": lambda e: e.splash,
    "tell_water": lambda e: e.least("hygiene", "water"),
    "water_watch": lambda e: e.least("hygiene", "water"),
    "stop_unprescribed_drops": lambda e: e.least("risk_modifier", "yes"),
    "say_lenses_overnight": lambda e: e.level >= 3,
    "no_old_drops": lambda e: e.level >= 2,
    "do_not_cover": lambda e: e.level >= 3 and not e.cut,
    "own_doctor": lambda e: e.level in (2, 3) and e.least("headache_vomit", "yes"),
    "tell_if_worse": lambda e: e.level in (2, 3),
    "wear_only_if_white": lambda e: e.level == 1 and not e.held,
    "tell_if_back": lambda e: e.level == 1,
    "not_emergency_service": lambda e: True,
}


def situations(said: dict[table.Slot, str], verdict: Verdict) -> tuple[dict[str, Eye], Eye]:
    rank = {slot: table.ALL[slot[1]].rank(answer) for slot, answer in said.items()}
    eyes = {
        eye: Eye(
            {name: value for (part, name), value in rank.items() if part in ("general", eye)},
            verdict.level,
            any(table.holds_eye(rule) for rule in verdict.fired[eye]),
            bool(rank["general", "fever"] or rank["general", "cold_ill"]),
        )
        for eye in EYES
    }
    right, left = eyes.values()
    worst = {name: max(right.rank[name], left.rank[name]) for name in right.rank}
    return eyes, Eye(worst, verdict.level, right.by_practice or left.by_practice, right.ill)


def test_each_piece_of_advice_is_given_exactly_where_it_belongs():
    assert OF_THE_EYE.keys() | OF_THE_PERSON.keys() == {step.key for step in load_rules().advice}
    _, places = table.drawn(np.random.default_rng(SEED), SETS)
    given = set()
    for i in range(SETS):
        said = table.answers_at(places, i)
        verdict = evaluate(answers_from_file(table.document(said)))
        eyes, person = situations(said, verdict)
        expected = {key: () for key, applies in OF_THE_PERSON.items() if applies(person)}
        for key, applies in OF_THE_EYE.items():
            about = tuple(eye for eye in EYES if applies(eyes[eye]))
            expected |= {key: about} if about else {}
        assert {advice.key: advice.eyes for advice in verdict.advice} == expected, said
        given |= expected.keys()
    assert given == OF_THE_EYE.keys() | OF_THE_PERSON.keys(), "each was seen at least once"
