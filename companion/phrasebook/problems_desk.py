"""What can be wrong with a deed at the desk, in words."""

from __future__ import annotations

from collections.abc import Mapping

from companion.phrasebook.marks import N_

SENTENCES: Mapping[str, str] = {
    "text_changed": N_("The text has changed since you opened this page. Read it once more, then sign."),
    "alert_taken": N_("A colleague has taken this report. Below you see who, and when."),
    "alert_closed": N_("This report is closed already. Nothing was changed."),
}
