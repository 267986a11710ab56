"""Which advice goes with a result. Owns the choosing; the file owns the order, the phrasebook the words.

Advice about the person looks at the worst of both eyes, so that a splash in one and a cut in the other are seen
together; advice about an eye looks at that eye alone and names it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from companion.common.eyes import EYES, Eye
from companion.triage.rules import EYE, AdviceStep, Ranks, Rules


@dataclass(frozen=True)
class EyeFindings:
    """What is known of one eye once the rules have been applied."""

    ranks: Ranks
    practice_hold: bool
    illness_hold: bool

    @property
    def held(self) -> bool:
        return self.practice_hold or self.illness_hold

    def fits(self, wanted: str | None) -> bool:
        """Say whether this eye is held in the way that a step asks for; None asks for nothing."""
        if wanted is None:
            return True
        return {
            "any": self.held,
            "practice": self.practice_hold,
            "illness": self.illness_hold,
            "none": not self.held,
        }[wanted]


@dataclass(frozen=True)
class Advice:
    key: str
    eyes: tuple[Eye, ...] = ()
    """The eyes it is about; none: the person."""


def advice_for(level: int, findings: Mapping[Eye, EyeFindings], rules: Rules) -> tuple[Advice, ...]:
    """Return what to say with a result of ``level``, the first thing first."""
    person = _both_together(findings)
    said = []
    for step in rules.advice:
        if level not in step.levels:
            continue
        if step.about == EYE:
            eyes = tuple(eye for eye in EYES if _applies(step, findings[eye]))
            said += [Advice(step.key, eyes)] if eyes else []
        elif _applies(step, person):
            said.append(Advice(step.key))
    return tuple(said)


def _applies(step: AdviceStep, findings: EyeFindings) -> bool:
    return (
        step.when.holds(findings.ranks)
        and not any(condition.holds(findings.ranks) for condition in step.unless)
        and findings.fits(step.held)
    )


def _both_together(findings: Mapping[Eye, EyeFindings]) -> EyeFindings:
    right, left = (findings[eye] for eye in EYES)
    return EyeFindings(
        {question: max(rank, left.ranks[question]) for question, rank in right.ranks.items()},
        right.practice_hold or left.practice_hold,
        right.illness_hold or left.illness_hold,
    )
