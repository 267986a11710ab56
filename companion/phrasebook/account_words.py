"""Words around an account: signs for children, how long a pass lasts, who sees what after a hand-over."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from companion.phrasebook.marks import N_, NP_, InContext

# note: names of the small pictures that tell children apart
MARKS: Mapping[str, InContext] = {
    "sun": NP_("picture", "sun"),
    "moon": NP_("picture", "moon"),
    "star": NP_("picture", "star"),
    "boat": NP_("picture", "boat"),
    "fish": NP_("picture", "fish"),
    "tree": NP_("picture", "tree"),
    "kite": NP_("picture", "kite"),
    "house": NP_("picture", "house"),
    "heart": NP_("picture", "heart"),
    "flower": NP_("picture", "flower"),
    "bird": NP_("picture", "bird"),
    "drum": NP_("picture", "drum"),
}

# note: how long a pass for a carer lasts; the morning is the one after the last night
LASTS: Mapping[str, InContext] = {
    "hours_12": NP_("pass", "12 hours"),
    "1": NP_("pass", "1 night"),
    "2": NP_("pass", "2 nights"),
    "3": NP_("pass", "3 nights"),
    "7": NP_("pass", "7 nights"),
    "14": NP_("pass", "14 nights"),
}

ROLES: Mapping[str, InContext] = {
    "assistant": NP_("role", "Assistant"),
    "practitioner": NP_("role", "Practitioner"),
    "manager": NP_("role", "Manager"),
}

ROLE_HINTS: Mapping[str, str] = {
    "assistant": N_("takes reports, calls families, invites them"),
    "practitioner": N_("does that too, signs plans and lenses, closes serious reports"),
    "manager": N_("sees the desk, invites staff, sets hours and who is told"),
}

BEFORE_HANDOVER: Sequence[str] = (
    N_("Today the adults see everything here: nights, sight, notes and reports."),
)
AFTER_HANDOVER_WEARER: Sequence[str] = (
    N_("They keep the diary, and say when lenses go in and out."),
    N_("The adults no longer see the nights, the sight or the notes."),
)
AFTER_HANDOVER_ADULTS: Sequence[str] = (
    N_("The adults still see what tonight should be, and whom to call."),
    N_("They can still report trouble with an eye."),
    N_("They still see every report that needs a check within a day, or sooner."),
)
WHILE_MINOR = N_("Under 18, such a report always reaches an adult at home and the practice.")
PRACTICE_SEES = N_("The practice sees what it saw before.")

# note: what becomes of the diary when somebody takes their agreement back
AFTER_WITHDRAWAL: Sequence[str] = (
    N_("Your pages here close until you agree again. Nothing is deleted by this."),
    N_("Ask the practice to have it deleted. Care goes on without this diary."),
    N_("Emergency advice stays open to all."),
)

KINDS_STORED: Mapping[str, str] = {
    "lenses_in": N_("Lenses in"),
    "lenses_out": N_("Lenses out"),
    "no_lenses": N_("Nights without lenses"),
    "as_planned": N_("Nights as planned"),
    "sight": N_("How sight was"),
    "symptom_report": N_("Reports of trouble"),
    "note": N_("Notes"),
    "care_item": N_("Lens care"),
    "stuck_lens": N_("Stuck lenses"),
    "correction": N_("Corrections"),
    "withdrawal": N_("Taken back"),
}
