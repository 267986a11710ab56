"""What can be wrong with a deed at the desk, in words."""

from __future__ import annotations

from collections.abc import Mapping

from companion.phrasebook.marks import N_

SENTENCES: Mapping[str, str] = {
    "text_changed": N_("The text has changed since you opened this page. Read it once more, then sign."),
    "nobody_answered": N_(
        "Nobody has answered a test alert yet. Send one, let its person press the button, then switch alerts on."
    ),
    "no_way_to_reach": N_("There is no way to reach this person: no mail address, no device, no gateway."),
    "minutes_order": N_("Each step comes later than the one before it."),
    "alert_taken": N_("A colleague has taken this report. Below you see who, and when."),
    "alert_closed": N_("This report is closed already. Nothing was changed."),
}
