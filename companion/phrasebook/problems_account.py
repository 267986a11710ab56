"""What can be wrong with an account, a family's doings or a practice's settings, in words."""

from __future__ import annotations

from collections.abc import Mapping

from companion.phrasebook.marks import N_

SENTENCES: Mapping[str, str] = {
    "password_wrong": N_("This is not your password of today. Try again."),
    "mark_taken": N_("Another child of yours has this sign. Pick one that tells them apart."),
    "hours_of_sleep": N_("A night in lenses lasts from 4 to 14 hours. Look at both times again."),
    "recovery_elsewhere": N_(
        "This person belongs to another practice too. Send a new invitation: it makes an account for yours alone."
    ),
    "recovery_waits": N_("The practice has to speak with you first. Phone them. Then open this link again."),
    "guardian_needed": N_(
        "This young wearer signs in alone and has no other guardian here. Invite another one first."
    ),
    "handover_too_young": N_("Your practice hands over from the age of %(age)s years on."),
    "invitation_used": N_("This invitation was used already. Nothing was changed."),
    "wearer_has_account": N_(
        "This wearer has an account of their own already. Nothing was changed. If they cannot sign in, "
        "the practice can let them back in."
    ),
    "wearer_or_guardian": N_(
        "One account is the wearer's own or a guardian's, not both. Make a new account for this one."
    ),
    "last_manager": N_("A practice needs a manager. Invite another one first."),
    "subscription_form": N_("This browser did not say how it takes alerts. Try again, or use another browser."),
    # note: a practice's own program that sends text messages; the field holds a web address
    "gateway_address": N_("Give one address that starts with https:// and lies outside of your own network."),
    "hours_form": N_("Write hours like 08:30-12:30, 14:00-18:00. Leave it empty on a closed day."),
}
