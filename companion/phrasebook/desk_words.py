"""The practice's own words: states of an alert, outcomes, holds, and what its forms ask. Tables only."""

from __future__ import annotations

from collections.abc import Mapping

from companion.phrasebook.marks import N_, NP_, InContext

# note: what became of a report, as a column in the practice's list
STATES: Mapping[str, str] = {
    "listed": N_("On the list. Nobody was sent a message."),
    "queued": N_("Not sent yet"),
    "handed_over": N_("Sent, not taken yet"),
    "delivered": N_("Sent, not taken yet"),
    "taken": N_("Taken, family not reached yet"),
    "contact_made": N_("Family reached, still open"),
    "closed": N_("Closed"),
}

# note: %(who)s is a person's name, %(time)s a time of day
STEP_STATES: Mapping[str, str] = {
    "queued": N_("To %(who)s by %(channel)s: waiting since %(time)s"),
    "handed_over": N_("To %(who)s by %(channel)s: sent %(time)s"),
    "delivered": N_("To %(who)s by %(channel)s: arrived %(time)s"),
    "failed": N_("To %(who)s by %(channel)s: not accepted %(time)s"),
}

CHANNELS: Mapping[str, InContext] = {
    "mail": NP_("channel", "mail"),
    "push": NP_("channel", "device"),
    "webhook": NP_("channel", "gateway"),
}

OUTCOMES: Mapping[str, str] = {
    "seen_here": N_("Seen at the practice"),
    "sent_to_emergency": N_("Sent to an emergency department or eye clinic"),
    "advice_given": N_("Advice given, no visit needed"),
    "no_fault_found": N_("Looked at, nothing found"),
    "could_not_reach": N_("Family could not be reached"),
}

# note: what comes after a hold on an eye ("no lens in this eye") is lifted
NEXT_STEPS: Mapping[str, str] = {
    "as_planned": N_("Lenses in again as planned"),
    "look_again": N_("Lenses in again, and a visit here on this day"),
}

HOLD_REASONS: Mapping[str, str] = {
    "report": N_("from a report"),
    "illness": N_("illness; ends by itself after 24 hours well"),
    "practice": N_("set by the practice"),
}

ANSWERS: Mapping[str, InContext] = {
    # note: what tonight should be, very short, in a list of wearers
    "wear": NP_("tonight, short", "Lenses in"),
    "may_skip": NP_("tonight, short", "May skip"),
    "rest_by_plan": NP_("tonight, short", "Free by plan"),
    "ask_clinic": NP_("tonight, short", "To ask us"),
    "do_not_wear": NP_("tonight, short", "No lens: on hold"),
    "per_eye": NP_("tonight, short", "Differs by eye"),
}

EYES: Mapping[str, InContext] = {
    "right": NP_("eye", "right eye"),
    "left": NP_("eye", "left eye"),
    "both": NP_("eye", "both eyes"),
}

LENS_STATES: Mapping[str, InContext] = {
    "in": NP_("lens now", "lens in"),
    "out": NP_("lens now", "lens out"),
    "unknown": NP_("lens now", "not known whether a lens is in"),
}

VISIT_KINDS: Mapping[str, InContext] = {
    "first_morning": NP_("visit", "First morning"),
    "week": NP_("visit", "After a week"),
    "month": NP_("visit", "After a month"),
    "quarter": NP_("visit", "After 3 months"),
    "year": NP_("visit", "Yearly"),
    "extra": NP_("visit", "Extra visit"),
    "check": NP_("visit", "Check"),
}

REFRACTION_KINDS: Mapping[str, InContext] = {
    "baseline": NP_("refraction", "Before treatment"),
    "residual": NP_("refraction", "Under treatment"),
}

INVITATION_KINDS: Mapping[str, InContext] = {
    "guardian": NP_("invitation", "Guardian"),
    "wearer": NP_("invitation", "The wearer in person"),
}

INVITATION_STATES: Mapping[str, InContext] = {
    "open": NP_("invitation", "not used yet"),
    "used": NP_("invitation", "used"),
    "expired": NP_("invitation", "expired"),
    "revoked": NP_("invitation", "withdrawn"),
}

WEEKDAYS: Mapping[str, InContext] = {
    "mon": NP_("day of the week", "Monday"),
    "tue": NP_("day of the week", "Tuesday"),
    "wed": NP_("day of the week", "Wednesday"),
    "thu": NP_("day of the week", "Thursday"),
    "fri": NP_("day of the week", "Friday"),
    "sat": NP_("day of the week", "Saturday"),
    "sun": NP_("day of the week", "Sunday"),
}
