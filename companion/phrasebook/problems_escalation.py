"""What can be wrong with opening hours, in words. A practice reads them beside its form."""

from __future__ import annotations

from collections.abc import Mapping

from companion.phrasebook.marks import N_

SENTENCES: Mapping[str, str] = {
    "hours_unknown_day": N_("must be one of %(allowed)s"),
    "hours_not_spans": N_("Write each span as two times, such as 08:30 and 18:00."),
    "hours_not_a_clock": N_("Write times like 08:30. A day may end at 24:00."),
    "hours_end_before_start": N_("This span ends before it starts."),
    "hours_overlap": N_("Two spans of this day overlap. Join them."),
    "hours_not_a_date": N_("Write closed days like 2026-12-25."),
}
