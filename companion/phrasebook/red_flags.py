"""What stands in place of the questions where a practice has switched triage off: signs, and whom to call.

Fixed: it judges nothing and asks nothing. Part of the safety text: neither a clinician nor a linguist has reviewed
these sentences yet.
"""

from __future__ import annotations

from collections.abc import Mapping

from companion.phrasebook.marks import N_

RED_FLAGS: Mapping[str, str] = {
    "heading": N_("Is any of this true? The eye must be seen today."),
    # note: A list of signs.
    "pain": N_("The eye is sore, or light hurts."),
    "blur": N_("Sight is blurred, and blinking and glasses do not clear it."),
    "red": N_("The white of the eye is clearly red."),
    "spot": N_("There is a white or cloudy dot on the coloured part."),
    "pus": N_("Yellow or green pus comes out."),
    "flashes": N_("There are new spots or flashes, or one thing looks like two."),
    "lids": N_("The lids are red, warm and sore."),
    "stuck": N_("A lens is stuck for 30 minutes or more, or a piece is missing. Do not pull."),
    "longer": N_("It gets worse, or it is still there a day after the lens came out."),
    # note: What to do then, one after the other.
    "out": N_("Take the lens out if it moves with ease. Leave it if the eye is cut."),
    "no_lens": N_("Put no lens in. Keep the lenses, the case and the bottles, and bring them."),
    "call": N_("Call the practice now. Say: overnight lenses, and which eye."),
    "else": N_("Something else, or not sure? Put no lens in, and call the practice."),
    # note: Why there are no questions.
    "not_judged": N_(
        "Here your practice answers questions about eyes itself. This app has told nobody: phone them."
    ),
}
SIGNS = ("pain", "blur", "red", "spot", "pus", "flashes", "lids", "stuck", "longer")
DEEDS = ("out", "no_lens", "call")
