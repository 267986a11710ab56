"""May this eye go without its lens tonight? Six rows, the first that matches wins.

The forecast can only narrow what the practice has signed: it is asked last, and only an eye that passed every
other row may skip.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any

GOOD_CHANCE = 0.90
"""A target counts as met from this probability on."""
LONG_BREAK_NIGHTS = 7
NEEDED_WORN_NIGHTS = 14
NEEDED_CHECKS = 6
NEEDED_RECENT_CHECKS = 2
RECENT_HOURS = 168
MOST_UNKNOWN_NIGHTS = 3
UNKNOWN_WINDOW_NIGHTS = 14


class Answer(StrEnum):
    DO_NOT_WEAR = "do_not_wear"
    ASK_CLINIC = "ask_clinic"
    REST_BY_PLAN = "rest_by_plan"
    WEAR = "wear"
    MAY_SKIP = "may_skip"
    PER_EYE = "per_eye"


@dataclass(frozen=True)
class Reason:
    key: str
    values: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class EyeFacts:
    """What is known of one eye tonight.

    hold_level: the gravest open hold on this eye, if there is one.
    nights_off: nights known to be off before tonight; gap_if_skipped counts tonight too, and silence as off.
    unknown_nights: of the last 14. checks, recent_checks: acuity checks of this eye, and those of the last 168 h.
    meets_target: the chance that this eye meets the target tomorrow if tonight is skipped. day_that_matters: one
    rests on tonight; only the app knows of such days.
    """

    hold_level: int | None
    practice_stop: bool
    nights_off: int
    contradictory_data: bool
    visit_overdue: bool
    plan_rests: bool
    may_skip: bool
    clearance_over: bool
    gap_if_skipped: int
    longest_gap_nights: int
    worn_nights: int
    checks: int
    recent_checks: int
    unknown_nights: int
    meets_target: float
    day_that_matters: bool = False

    @property
    def is_held(self) -> bool:
        return self.hold_level is not None or self.practice_stop


@dataclass(frozen=True)
class EyeAnswer:
    answer: Answer
    reasons: tuple[Reason, ...] = ()


def answer_eye(eye: EyeFacts, wearer_meets_target: float) -> EyeAnswer:
    """Return this eye's answer. ``wearer_meets_target`` is the wearer's chance, unrounded."""
    for row in (_hold, _clinic, _plan, _clearance, _data):
        found = row(eye)
        if found is not None:
            return found
    if wearer_meets_target >= GOOD_CHANCE:
        return EyeAnswer(Answer.MAY_SKIP, (Reason("target_holds"),))
    return EyeAnswer(Answer.WEAR, (Reason("below_target"),))


def _hold(eye: EyeFacts) -> EyeAnswer | None:
    reasons = []
    if eye.hold_level is not None:
        reasons.append(Reason("open_hold", {"level": eye.hold_level}))
    if eye.practice_stop:
        reasons.append(Reason("practice_stop"))
    return EyeAnswer(Answer.DO_NOT_WEAR, tuple(reasons)) if reasons else None


def _clinic(eye: EyeFacts) -> EyeAnswer | None:
    reasons = []
    if eye.nights_off >= LONG_BREAK_NIGHTS:
        reasons.append(Reason("long_break", {"nights": eye.nights_off}))
    if eye.contradictory_data:
        reasons.append(Reason("contradictory_data"))
    if eye.visit_overdue:
        reasons.append(Reason("visit_overdue"))
    return EyeAnswer(Answer.ASK_CLINIC, tuple(reasons)) if reasons else None


def _plan(eye: EyeFacts) -> EyeAnswer | None:
    if not eye.plan_rests:
        return None
    reasons = [Reason("plan_rests")]
    if eye.meets_target < GOOD_CHANCE:
        reasons.append(Reason("below_target"))
    return EyeAnswer(Answer.REST_BY_PLAN, tuple(reasons))


def _clearance(eye: EyeFacts) -> EyeAnswer | None:
    if eye.day_that_matters:
        return EyeAnswer(Answer.WEAR, (Reason("day_that_matters"),))
    if not eye.may_skip:
        return EyeAnswer(Answer.WEAR, (Reason("not_cleared"),))
    if eye.clearance_over:
        return EyeAnswer(Answer.WEAR, (Reason("clearance_over"),))
    if eye.gap_if_skipped > eye.longest_gap_nights:
        values = {"nights": eye.gap_if_skipped, "longest": eye.longest_gap_nights}
        return EyeAnswer(Answer.WEAR, (Reason("gap_too_long", values),))
    return None


def _data(eye: EyeFacts) -> EyeAnswer | None:
    enough = (
        eye.worn_nights >= NEEDED_WORN_NIGHTS
        and eye.checks >= NEEDED_CHECKS
        and eye.recent_checks >= NEEDED_RECENT_CHECKS
        and eye.unknown_nights <= MOST_UNKNOWN_NIGHTS
    )
    if enough:
        return None
    values = {
        "worn_nights": eye.worn_nights,
        "checks": eye.checks,
        "recent_checks": eye.recent_checks,
        "unknown_nights": eye.unknown_nights,
    }
    return EyeAnswer(Answer.WEAR, (Reason("too_little_data", values),))


def answer_wearer(eyes: Mapping[str, EyeAnswer]) -> EyeAnswer:
    """Return the eyes' common answer with all their reasons, each once; ``per_eye`` where they differ."""
    reasons: list[Reason] = []
    for one in eyes.values():
        reasons.extend(reason for reason in one.reasons if reason not in reasons)
    answers = {one.answer for one in eyes.values()}
    return EyeAnswer(answers.pop() if len(answers) == 1 else Answer.PER_EYE, tuple(reasons))
