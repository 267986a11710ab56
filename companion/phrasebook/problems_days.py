"""What can be wrong with a day that matters, in words."""

from __future__ import annotations

from collections.abc import Mapping

from companion.phrasebook.marks import N_

SENTENCES: Mapping[str, str] = {
    "day_without_length": N_("It ends when it starts. Choose a later time."),
    "day_is_over": N_("This is over already. Choose a later time or day."),
    # note: %(most)s is a number
    "too_many_days": N_("There are %(most)s days on the list. Remove one first."),
}
