"""What can be wrong with triage answers, in words."""

from __future__ import annotations

from collections.abc import Mapping

from companion.phrasebook.marks import N_

SENTENCES: Mapping[str, str] = {
    "triage_not_an_object": N_("must be an object of questions and answers"),
    "triage_unknown_part": N_("is none of general, right and left"),
    "triage_unknown_question": N_("is no question that is asked here"),
    "triage_not_an_option": N_("must be one of the question's options, as text"),
    "triage_unknown_option": N_("must be one of %(allowed)s"),
}
