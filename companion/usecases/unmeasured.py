"""Eyes without a refraction on file: nothing to forecast from, but holds, breaks, visits and plan still speak.

No treated eye and no held eye may vanish from tonight's answer because somebody has not typed its refraction yet.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from companion.common.eyes import EYES, Eye
from companion.diary.spans import gaps, wear_intervals
from companion.regimen.plan import Clearance
from companion.store.models import Hold
from companion.tonight.answer import Answer, EyeAnswer, EyeFacts, Reason, answer_eye, answer_wearer
from companion.usecases.story import Story, plan_asks


def with_every_eye(
    tonight: dict[str, Any] | None,
    story: Story,
    holds: Sequence[Hold],
    clearance: Clearance,
    visit_overdue: bool,
    now: datetime,
) -> dict[str, Any]:
    """Return the document's *tonight* with every treated or held eye in it, the common answer made anew."""
    said = tonight or {
        "night": story.tonight.isoformat(),
        "target_at": None,
        "meets_target": None,
        "holds_until": None,
        "eyes": {},
    }
    held = {hold.eye for hold in holds}
    missing = [eye for eye in EYES if (eye in story.eyes or eye in held) and eye not in said["eyes"]]
    if not missing:
        return said
    answers = {
        name: EyeAnswer(Answer(one["answer"]), tuple(Reason(r["key"], r["values"]) for r in one["reasons"]))
        for name, one in said["eyes"].items()
    }
    for eye in missing:
        answers[eye.value] = _answer(story, eye, holds, clearance, visit_overdue, now)
    wearer = answer_wearer(answers)
    return {
        **said,
        "answer": wearer.answer.value,
        "reasons": [_reason(one) for one in wearer.reasons],
        "eyes": {
            eye.value: said["eyes"].get(eye.value)
            or {
                "answer": answers[eye.value].answer.value,
                "meets_target": None,
                "holds_until": None,
                "reasons": [_reason(one) for one in answers[eye.value].reasons],
            }
            for eye in EYES
            if eye.value in answers
        },
    }


def _answer(
    story: Story, eye: Eye, holds: Sequence[Hold], clearance: Clearance, visit_overdue: bool, now: datetime
) -> EyeAnswer:
    treated = eye in story.eyes
    spans = wear_intervals(story.nights, eye, story.habits, now) if treated else ()
    breaks = gaps(spans, story.nights_so_far, eye, now) if treated else ()
    open_gaps = [gap for gap in breaks if gap.in_at is None]
    off = open_gaps[-1].nights_off if open_gaps else 0
    silent = open_gaps[-1].unknown_nights if open_gaps else 0
    facts = EyeFacts(
        hold_level=max((hold_level(hold) for hold in holds if hold.eye == eye), default=None),
        practice_stop=False,
        nights_off=off - silent,
        contradictory_data=False,
        visit_overdue=visit_overdue,
        plan_rests=not plan_asks(story.plans, story.tonight),
        may_skip=clearance.may_skip,
        clearance_over=clearance.is_over(story.tonight),
        gap_if_skipped=off + 1,
        longest_gap_nights=clearance.longest_gap_nights,
        worn_nights=0,
        checks=0,
        recent_checks=0,
        unknown_nights=silent,
        meets_target=0.0,
    )
    answer = answer_eye(facts, wearer_meets_target=0.0)
    # How sight would hold is not known here, so nothing is said of it.
    return EyeAnswer(answer.answer, tuple(one for one in answer.reasons if one.key != "below_target"))


def hold_level(hold: Hold) -> int:
    """Say how grave a hold is: illness (1) lifts itself, everything else (3) waits for the practice."""
    return 1 if hold.reason == "illness" else 3


def _reason(reason: Reason) -> dict[str, Any]:
    return {"key": reason.key, "values": dict(reason.values)}
