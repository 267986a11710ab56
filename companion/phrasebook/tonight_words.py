"""Tonight in words for a family: the answer, its reason, how sure it is, until when sight should hold.

Owns the sentences of the answer table and the words for sight; decides nothing. Hours are a range rounded early:
a family that plans by it is home before sight fades.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any

from companion.diary.sight import word_for
from companion.phrasebook.marks import N_, NP_, InContext
from companion.phrasebook.phrases import Phrases

ANSWERS: Mapping[str, str] = {
    # note: The one large sentence of the evening. Short, kind, verbs first.
    "wear": N_("Lenses in tonight."),
    "may_skip": N_("You may leave the lenses out tonight."),
    "rest_by_plan": N_("A night without lenses, by the plan."),
    "ask_clinic": N_("Ask the practice before the next night."),
    "do_not_wear": N_("No lenses for now."),
    "per_eye": N_("Tonight is not the same for both eyes."),
}

EYE_ANSWERS: Mapping[str, InContext] = {
    # note: What tonight is for one eye, after its name: "Right eye: lens in tonight".
    "wear": NP_("tonight, one eye", "lens in tonight"),
    "may_skip": NP_("tonight, one eye", "the lens may stay out tonight"),
    "rest_by_plan": NP_("tonight, one eye", "no lens, by the plan"),
    "ask_clinic": NP_("tonight, one eye", "ask the practice first"),
    "do_not_wear": NP_("tonight, one eye", "no lens for now"),
}

REASONS: Mapping[str, str] = {
    "open_hold": N_("A report is still open. The practice will say when lenses may go in again."),
    "practice_stop": N_("The practice has asked for a pause. Lenses stay out until the practice says so."),
    "contradictory_data": N_("What is in the diary does not fit together. The practice can help."),
    "visit_overdue": N_("A check at the practice is more than 30 days late. Book it first."),
    "plan_rests": N_("The plan leaves this night free."),
    "day_that_matters": N_("A day that matters comes next. It never rests on a skipped night."),
    "not_cleared": N_("The plan is to wear them. Only the practice can free a night."),
    "clearance_over": N_(
        "The practice's permission to skip nights has run out. Ask for a new one at the next check."
    ),
    "gap_too_long": N_("Tonight off would make %(nights)s nights in a row. The practice allows %(longest)s."),
    "too_little_data": N_("There is too little in the diary yet to say that a night off would do."),
    "no_forecast": N_("How sight would hold can't be worked out right now, so the plan stays as it is."),
    "target_holds": N_("Sight should stay good enough tomorrow without them."),
    "below_target": N_("Without them, sight would likely not stay good enough tomorrow."),
}
ILLNESS_REASON = N_("Lenses rest during an illness, and for 24 hours after.")

CERTAINTY: Sequence[tuple[float, str]] = (
    # note: How sure a forecast is; in words first, then once in numbers. %% is the sign for per cent.
    (0.95, N_("Very likely (over 95 %%)")),
    (0.80, N_("Likely (80 to 95 %%)")),
    (0.20, N_("It could go either way (20 to 80 %%)")),
    (0.0, N_("Unlikely (under 20 %%)")),
)

SIGHT: Mapping[str, InContext] = {
    # note: How well a person sees, from best to worst.
    "sharp": NP_("sight", "sharp"),
    "good": NP_("sight", "good"),
    "soft": NP_("sight", "soft"),
    "blurred": NP_("sight", "blurred"),
}
SIGHT_HINTS: Mapping[str, str] = {
    "sharp": N_("Small letters far away are clear."),
    "good": N_("Signs and the board are easy to read."),
    "soft": N_("The board is hard to read. Faces across the street are clear."),
    "blurred": N_("Faces across the room are not clear."),
}

EYES: Mapping[str, InContext] = {
    "right": NP_("heading", "Right eye"),
    "left": NP_("heading", "Left eye"),
    "both": NP_("heading", "Both eyes"),
}


def reason_text(phrases: Phrases, key: str, values: Mapping[str, Any]) -> str:
    """Say one reason of an answer."""
    said = {name: phrases.number(value) for name, value in values.items() if isinstance(value, int | float)}
    if key == "long_break":
        # note: nights without lenses in a row; always 7 or more
        return phrases.ngettext(
            "It has been %(num)s night without lenses. The practice will say how to start again.",
            "It has been %(num)s nights without lenses. The practice will say how to start again.",
            int(values["nights"]),
        )
    return phrases.say(REASONS[key], **said)


def certainty_text(phrases: Phrases, chance: float) -> str:
    """Say how likely something is: in words, and once in numbers."""
    return phrases.say(next(words for least, words in CERTAINTY if chance >= least))


def sight_range_text(phrases: Phrases, best: float, worst: float) -> str:
    """Say in which words sight lies between two acuities [logMAR]."""
    better, worse = word_for(best), word_for(worst)
    if better == worse:
        return phrases.say(SIGHT[better])
    # note: two words for sight, the better one first: "good to soft"
    words = {"better": phrases.say(SIGHT[better]), "worse": phrases.say(SIGHT[worse])}
    return phrases.gettext("%(better)s to %(worse)s", **words)


def holds_until_text(phrases: Phrases, until: datetime, now: datetime) -> str:
    """Say until about when sight should hold: two hours that end at the computed one, never after it."""
    late = until.replace(minute=0, second=0, microsecond=0)
    early = late - timedelta(hours=2)
    if early <= now:
        return phrases.gettext("for the next hours only")
    hours = {"early": phrases.time(early, early.tzinfo), "late": phrases.time(late, late.tzinfo)}
    apart = (early.date() - now.date()).days
    if apart == 0:
        # note: hours of today: "until about 15:00 to 17:00 today"
        return phrases.gettext("until about %(early)s to %(late)s today", **hours)
    if apart == 1:
        return phrases.gettext("until about %(early)s to %(late)s tomorrow", **hours)
    return phrases.gettext("until about %(early)s to %(late)s on %(day)s", day=phrases.day(early.date()), **hours)
