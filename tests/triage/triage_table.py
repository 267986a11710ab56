"""The triage table as people read it, written out again by hand: the tests hold `rules.json` against this.

`q=x` means the worst option, `q>=x` that option or a worse one. An evaluator over NumPy arrays stands beside it,
so that a million answer sets take seconds; it shares no code with the one that is tested.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

# id: options from best to worst | what *unsure* counts as
GENERAL_TEXT = """
very_unwell: no yes | yes
fever: no yes | yes
cold_ill: no yes | yes
headache_vomit: no yes | yes
hygiene: none lapse water | water
risk_modifier: no yes | yes
worried: no yes | yes
recurrent: no yes | yes
"""
EYE_TEXT = """
chemical: no mild_rinsed lens_chem other_chem | other_chem
injury: no touch blow_or_scratch cut_pierce_stuck | blow_or_scratch
odd_look: no yes | yes
vision: normal fluctuating blur_stays sudden_loss | blur_stays
floaters: none old new curtain | new
double: none ghost new_double | new_double
swelling: none puffy red_hot bulging | red_hot
pain: none gone_lens_out mild moderate severe | moderate
light: none mild marked | marked
redness: none cleared pink red | red
discharge: none watery sticky pus | sticky
spot: no yes | yes
haloes: none usual new | new
itch: none mild strong | strong
dry: none some constant | constant
fb: no gone still | still
lens: ok freed_once freed_repeat stuck_now maybe_in_eye stuck_long_or_broken | maybe_in_eye
lens_damage: no yes | yes
course: cleared under_1h over_1h over_24h_or_worse | over_1h
"""
RULES_TEXT = """
R501 very_unwell=yes
R502 chemical=other_chem
R503 injury=cut_pierce_stuck
R504 vision=sudden_loss
R505 floaters=curtain
R506 odd_look=yes
R507 swelling=bulging
R508 swelling>=red_hot & fever=yes
R509 pain=severe
R510 headache_vomit=yes & pain>=moderate | vision>=blur_stays | haloes=new
R511 double=new_double & headache_vomit=yes | injury>=blow_or_scratch
R512 injury>=blow_or_scratch & vision>=blur_stays | headache_vomit=yes
R513 chemical>=lens_chem & pain>=moderate | vision>=blur_stays
R401 vision>=blur_stays
R402 pain>=moderate
R403 light=marked
R404 light>=mild & redness>=pink | pain>=mild | discharge>=watery
R405 redness=red & pain>=mild | light>=mild | vision>=fluctuating | discharge>=sticky | fb=still
R406 discharge=pus
R407 spot=yes
R408 floaters>=new
R409 double=new_double
R410 swelling>=red_hot
R411 swelling>=puffy & fever=yes
R412 injury>=blow_or_scratch
R413 chemical>=lens_chem
R414 lens=stuck_long_or_broken
R415 course=over_24h_or_worse & redness>=pink | pain>=mild | light>=mild | fb=still | discharge>=sticky
R416 hygiene=water & redness>=pink | pain>=mild | light>=mild | fb=still | discharge>=watery
R417 headache_vomit=yes & redness>=pink | pain>=mild | light>=mild | vision>=fluctuating
R418 lens>=stuck_now & pain>=mild | redness=red
R419 fb=still & redness>=pink | light>=mild | discharge>=watery
R420 haloes=new & redness>=pink | pain>=mild | light>=mild
R301 redness=red
R302 course>=over_1h & redness>=pink | pain>=mild
R303 light>=mild
R304 discharge>=sticky
R305 fb=still
R306 lens>=maybe_in_eye
R307 hygiene>=lapse & redness>=pink | pain>=mild | discharge>=watery
R308 worried=yes
R309 course=over_24h_or_worse & discharge>=watery | swelling>=puffy
R310 recurrent=yes & redness>=pink | pain>=mild
R311 vision>=fluctuating & redness>=pink | pain>=mild
R201 vision>=fluctuating | double>=ghost | haloes=new
R202 redness>=pink | pain>=mild
R203 discharge>=watery | swelling>=puffy
R204 itch=strong | dry=constant
R205 lens>=freed_repeat
R206 lens_damage=yes
R207 hygiene=water
R208 recurrent=yes
R209 chemical>=mild_rinsed | injury>=touch
R210 headache_vomit=yes
"""
HOLDING_AT_LEVEL_2 = ("R202", "R203", "R204", "R205", "R206", "R207", "R208")
UNSURE = "unsure"

Ranks = Mapping[str, NDArray[np.int8]]


class Asked(NamedTuple):
    options: tuple[str, ...]
    unsure: str

    def rank(self, answer: str) -> int:
        return self.options.index(self.unsure if answer == UNSURE else answer)

    @property
    def answers(self) -> tuple[str, ...]:
        return (*self.options, UNSURE)


def _asked(text: str) -> dict[str, Asked]:
    rows = {}
    for line in text.strip().splitlines():
        name, rest = line.split(": ")
        options, unsure = rest.split(" | ")
        rows[name] = Asked(tuple(options.split()), unsure)
    return rows


GENERAL = _asked(GENERAL_TEXT)
EYE = _asked(EYE_TEXT)
ALL = GENERAL | EYE


def _condition(text: str) -> tuple[str, int]:
    name, option = text.split(">=") if ">=" in text else text.split("=")
    rank = ALL[name].options.index(option)
    assert ">=" in text or rank == len(ALL[name].options) - 1, f"{text}: = is for the worst option"
    return name, rank


TABLE: dict[str, list[list[tuple[str, int]]]] = {
    line.split(" ", 1)[0]: [
        [_condition(part) for part in clause.split(" | ")] for clause in rest.split(" & ")
    ]
    for line in RULES_TEXT.strip().splitlines()
    for rest in [line.split(" ", 1)[1]]
}


def questions_of(rule_id: str) -> list[str]:
    return list(dict.fromkeys(name for clause in TABLE[rule_id] for name, _ in clause))


def level_of(rule_id: str) -> int:
    return int(rule_id[1])


def holds_eye(rule_id: str) -> bool:
    return level_of(rule_id) >= 3 or rule_id in HOLDING_AT_LEVEL_2


def fires(rule_id: str, rank: Callable[[str], int]) -> bool:
    return all(any(rank(name) >= least for name, least in clause) for clause in TABLE[rule_id])


class Judged(NamedTuple):
    level: NDArray[np.int8]
    """Of one eye, the modifier included."""
    held: NDArray[np.bool_]


def judge_eye(ranks: Ranks) -> Judged:
    """Judge one eye of many answer sets at once, illness held."""
    count = len(next(iter(ranks.values())))
    level = np.ones(count, np.int8)
    held = (ranks["fever"] > 0) | (ranks["cold_ill"] > 0)
    for rule_id, clauses in TABLE.items():
        firing = np.ones(count, np.bool_)
        for clause in clauses:
            firing &= np.logical_or.reduce([ranks[name] >= least for name, least in clause])
        level = np.where(firing, np.maximum(level, level_of(rule_id)), level)
        held = held | firing if holds_eye(rule_id) else held
    raised = (ranks["risk_modifier"] > 0) & ((level == 2) | (level == 3))
    return Judged(level + raised.astype(np.int8), held)


Slot = tuple[str, str]
SLOTS: list[Slot] = [
    *(("general", name) for name in GENERAL),
    *((eye, name) for eye in ("right", "left") for name in EYE),
]
"""Every question that a full answer set answers."""


def document(answers: Mapping[Slot, str]) -> dict[str, dict[str, str]]:
    """Put each answer where a file has it."""
    said: dict[str, dict[str, str]] = {"general": {}, "right": {}, "left": {}}
    for (part, name), answer in answers.items():
        said[part][name] = answer
    return said


def drawn(
    rng: np.random.Generator, count: int
) -> tuple[dict[Slot, NDArray[np.int8]], dict[Slot, NDArray[np.int64]]]:
    """Draw full answer sets, from nearly well to very ill: as ranks, and as places in ``Asked.answers``."""
    illness = rng.beta(0.5, 4, count)
    ranks, places = {}, {}
    for slot in SLOTS:
        asked = ALL[slot[1]]
        rank_of = np.array([asked.rank(answer) for answer in asked.answers], np.int8)
        answer = np.where(rng.random(count) < illness, rng.integers(1, len(asked.answers), count), 0)
        places[slot], ranks[slot] = answer, rank_of[answer]
    return ranks, places


def answers_at(places: Mapping[Slot, NDArray[np.int64]], i: int) -> dict[Slot, str]:
    """Return one of the drawn answer sets as answers."""
    return {slot: ALL[slot[1]].answers[places[slot][i]] for slot in SLOTS}
