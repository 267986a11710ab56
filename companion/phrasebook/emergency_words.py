"""What stands on *Something is wrong* before any question, and around a result: where to go, and our limits.

Neither a clinician nor a linguist has reviewed these sentences yet; ``safety_text`` keeps account of that.
"""

from __future__ import annotations

from collections.abc import Mapping

from companion.phrasebook.marks import N_

FIRST: Mapping[str, str] = {
    # note: The red box at the top, read in an emergency. "Go" means to an emergency department.
    "heading": N_("Is it an emergency? Act now."),
    "splash": N_("Something splashed in? Rinse with lots of clean water, tap water too, for 20 minutes. Then go."),
    "cut": N_("Cut, pierced, or something stuck in the eye? Do not touch it. Do not rinse. Go now."),
    "sudden": N_("Sight suddenly gone, a shadow, or pain that cannot be borne? Go now."),
    "very_unwell": N_("Hard to wake, a fit, trouble breathing? Call the emergency number."),
}

GO: Mapping[str, str] = {
    "go": N_("Go to your nearest eye emergency clinic or emergency department."),
    # note: After something that comes first, such as rinsing.
    "then_go": N_("Then go to your nearest eye emergency clinic or emergency department."),
    "within_hours": N_(
        "No one can see you within 4 hours? Go to an eye emergency clinic or emergency department."
    ),
}

LOCAL_NUMBER = N_("Call your local emergency number if you cannot get there fast.")

# note: The clock of this phone has another time zone than before: the family may be on a journey. Countries to tap
# stand below.
MOVED = N_("Are you somewhere else now? Tap the place where you are.")

EYE_ASKED: Mapping[str, str] = {
    "which": N_("Which eye is it?"),
    "own": N_("Right means the wearer's own right: the side of the right hand. Look at both eyes."),
    "right": N_("Right eye"),
    "left": N_("Left eye"),
    "both": N_("Both, or not sure"),
}

LIMITS = N_("This app is not an emergency service. It cannot see the eye, and it can be wrong.")
