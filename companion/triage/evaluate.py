"""Answers to verdict. Owns how rules, the modifier, holds and the lens instruction combine; knows no sentences.

For each eye the rules see the general answers and that eye's own. So a rule over general questions alone fires
for both eyes, and a rule that mixes them fires for the eye whose answers complete it. An eye's level is the
highest that fires there, then the modifier; the verdict's level is the higher of the two.

Two decisions about holds. A hold is judged by the rules that fire, not by the level after the modifier: blur that
glasses clear holds nothing, whoever has it. And illness (fever always; a cold by the practice's choice) holds both
eyes whatever the level, because that hold protects a healthy eye and lifts itself.

Whoever sees the eye may ask for a higher level than the rules give, never for a lower one. Asked for from level 3
on, it holds both eyes, as serious worry does.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from companion.common.eyes import EYES, Eye
from companion.triage.advice import Advice, EyeFindings, advice_for
from companion.triage.answers import Answers
from companion.triage.rules import Ranks, Recheck, Rule, Rules, load_rules

LOWEST_LEVEL, HIGHEST_LEVEL = 1, 5
"""1, where no rule fires: self-care, and look again. 5: emergency now."""
HOLDS_FROM = 3
"""Asked for from this level on, no lens goes in."""
ASKED, TOLD = "asked", "told"
"""Among the reasons: somebody asked for this level; the family has been told it already."""


@dataclass(frozen=True)
class Verdict:
    """What the answers call for. Level 5 is *emergency now*, 1 *self-care*."""

    level: int
    eyes: Mapping[Eye, int]
    """Each eye's own level."""
    rules: tuple[str, ...]
    """Every rule that fires, the most urgent first."""
    fired: Mapping[Eye, tuple[str, ...]]
    """The same, for each eye."""
    deciding: tuple[str, ...]
    """Why the level is what it is: the rules of the highest level, then ``M1`` where it raised that level; first
    ``asked`` where somebody asked for more, or ``told`` where the family has been told more."""
    lens: Mapping[Eye, str]
    """The one lens instruction of each eye."""
    wear_hold: Mapping[Eye, bool]
    """No lens in this eye."""
    practice_hold: Mapping[Eye, bool]
    """The part of ``wear_hold`` that only a practitioner lifts."""
    illness_hold: bool
    """The part that lifts itself after a day of being well, with every eye question at its best."""
    advice: tuple[Advice, ...]
    recheck_min: tuple[int, ...]
    """Minutes after the report at which to ask again, in order."""
    recheck_moments: tuple[str, ...]
    """Moments of the day at which to ask again: ``before_insertion``, ``bedtime``, ``waking``."""
    rules_version: str


def evaluate(
    answers: Answers,
    illness_holds: bool = True,
    rules: Rules | None = None,
    *,
    one_eye_holds_both: bool = False,
    asked_level: int = LOWEST_LEVEL,
    told_level: int = LOWEST_LEVEL,
) -> Verdict:
    """Judge one full set of answers.

    illness_holds: the practice's choice whether any illness, not only fever, means no lens.
    one_eye_holds_both: the practice's choice that one sore eye holds the other too; lens instruction and advice
    then speak of both. Levels and rules stay each eye's own.
    asked_level: what somebody asked for; below what the rules give it changes nothing.
    told_level: what the family has been told by rules of another day; where it is more than all else gives, it
    stands, with all that follows from it.
    """
    rules = rules or load_rules()
    ranks = {eye: answers.ranks(eye, rules) for eye in EYES}
    fired = {eye: tuple(rule for rule in rules.rules if rule.when.holds(ranks[eye])) for eye in EYES}
    unmodified = {eye: highest(rule.level for rule in fired[eye]) for eye in EYES}
    eyes = {eye: _modified(unmodified[eye], ranks[eye], rules) for eye in EYES}
    judged = highest((*eyes.values(), asked_level))
    level = highest((judged, told_level))
    called_for = told_level if told_level > judged else asked_level

    illness = any(
        hold.when.holds(ranks[eye]) and (illness_holds or not hold.by_choice)
        for hold in rules.illness_holds
        for eye in EYES
    )
    sore = {eye: any(rule.holds_eye for rule in fired[eye]) for eye in EYES}
    either = (one_eye_holds_both and any(sore.values())) or called_for >= HOLDS_FROM
    findings = {eye: EyeFindings(ranks[eye], sore[eye] or either, illness) for eye in EYES}
    rechecks = [row for row in rules.rechecks if level in row.levels and _fits(row, ranks.values())]
    return Verdict(
        level=level,
        eyes=MappingProxyType(eyes),
        rules=_ids_in_order(fired, rules),
        fired=MappingProxyType({eye: tuple(rule.id for rule in fired[eye]) for eye in EYES}),
        deciding=(
            *((TOLD,) if level > judged else (ASKED,) if judged > max(eyes.values()) else ()),
            *_deciding(fired, unmodified, eyes, rules),
        ),
        lens=MappingProxyType({eye: _lens_instruction(findings[eye], rules) for eye in EYES}),
        wear_hold=MappingProxyType({eye: findings[eye].held for eye in EYES}),
        practice_hold=MappingProxyType({eye: findings[eye].practice_hold for eye in EYES}),
        illness_hold=illness,
        advice=advice_for(level, findings, rules),
        recheck_min=tuple(sorted({minutes for row in rechecks for minutes in row.after_min})),
        recheck_moments=tuple(moment for row in rechecks for moment in row.moments),
        rules_version=rules.version,
    )


def highest(levels: Iterable[int]) -> int:
    """Return the most urgent of several levels: two eyes, two judges, or an episode so far and now."""
    return max(levels, default=LOWEST_LEVEL)


def _modified(level: int, ranks: Ranks, rules: Rules) -> int:
    modifier = rules.modifier
    applies = modifier.from_level <= level <= modifier.to_level and modifier.when.holds(ranks)
    return level + modifier.levels_up if applies else level


def _ids_in_order(fired: Mapping[Eye, tuple[Rule, ...]], rules: Rules) -> tuple[str, ...]:
    firing = {rule.id for eye in EYES for rule in fired[eye]}
    return tuple(rule.id for rule in rules.rules if rule.id in firing)


def _deciding(
    fired: Mapping[Eye, tuple[Rule, ...]],
    unmodified: Mapping[Eye, int],
    eyes: Mapping[Eye, int],
    rules: Rules,
) -> tuple[str, ...]:
    level = max(eyes.values())
    leading = [eye for eye in EYES if eyes[eye] == level]
    reasons = {rule.id for eye in leading for rule in fired[eye] if rule.level == unmodified[eye]}
    raised = any(unmodified[eye] < level for eye in leading)
    return (
        *(rule.id for rule in rules.rules if rule.id in reasons),
        *((rules.modifier.id,) if raised else ()),
    )


def _lens_instruction(findings: EyeFindings, rules: Rules) -> str:
    return next(
        step.instruction
        for step in rules.lens
        if step.when.holds(findings.ranks) and findings.fits(step.held)
    )


def _fits(row: Recheck, ranks: Iterable[Ranks]) -> bool:
    return any(row.when.holds(each) for each in ranks)
