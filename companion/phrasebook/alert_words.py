"""The practice's words about how its alerts travel: ways, hours of the plan, how tests of a way went."""

from __future__ import annotations

from collections.abc import Mapping

from companion.phrasebook.marks import N_, NP_, InContext

# note: by which way somebody of the practice is told of a report
WAYS: Mapping[str, InContext] = {
    "any": NP_("way", "Every way"),
    "push": NP_("way", "Devices"),
    "mail": NP_("way", "Mail"),
    "webhook": NP_("way", "Your gateway"),
}

# note: at which hours somebody of the practice is told of a report
WHENS: Mapping[str, InContext] = {
    "always": NP_("hours", "Always"),
    "open": NP_("hours", "Opening hours"),
    "on_call": NP_("hours", "Hours on call"),
}

# note: how the tests of one way went; what follows is the time of the last one
WAY_STATES: Mapping[str, str] = {
    "untested": N_("Not tested yet"),
    "waiting": N_("Test sent, not answered yet"),
    "answered": N_("Answered"),
    "not_accepted": N_("Dead: the last test was not accepted"),
    "not_answered": N_("Perhaps dead: no test answered for two weeks"),
}

# note: label of a number of minutes; level 5 is the most urgent
MINUTES: Mapping[tuple[int, int], str] = {
    (5, 1): N_("Level 5: minutes until the second person is told"),
    (5, 2): N_("Level 5: minutes until everybody is told"),
    (4, 1): N_("Level 4: minutes until the second person is told"),
    (4, 2): N_("Level 4: minutes until everybody is told"),
    (3, 1): N_("Level 3: minutes in opening hours until everybody is told"),
}
