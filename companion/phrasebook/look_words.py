"""When to look at an eye again after a report, and how somebody asks for more than the answers gave.

Part of the safety text: neither a clinician nor a linguist has reviewed these sentences yet.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from companion.phrasebook.marks import N_, NN_, Plural
from companion.phrasebook.phrases import Phrases
from companion.phrasebook.result_words import time_and_day

LOOK: Mapping[str, str] = {
    "heading": N_("The next look"),
    # note: %(time)s is a time, with its day where that is not today: "22:40", "tomorrow at 06:30".
    "at": N_("Look at the eye again: %(time)s."),
    "at.before_insertion": N_("Before a lens goes in, look at the eye again: %(time)s."),
    "at.bedtime": N_("Before bed, look at the eye again: %(time)s."),
    "at.waking": N_("After waking, look at the eye again: %(time)s."),
    "due": N_("Look at the eye again now."),
    "alarm": N_("Set an alarm on this phone for then. This page cannot ring when the phone is locked."),
    # note: Then three buttons. Each leads to the questions about the eye, which are answered afresh.
    "looked": N_("You looked? How is the eye now?"),
    "same": N_("The same"),
    "better": N_("Better, or gone"),
    "worse": N_("Worse"),
    "then": N_("Then answer the questions again."),
}

LEFT: Mapping[str, Plural] = {
    # note: A clock that counts down, below "Look at the eye again: 22:40."
    "minutes": NN_("That is in %(num)s minute.", "That is in %(num)s minutes."),
    "hours": NN_("That is in about %(num)s hour.", "That is in about %(num)s hours."),
}

ASK: Mapping[str, str] = {
    # note: Somebody may ask for more urgency than the answers gave. The buttons name a level: "Be seen today".
    "heading": N_("I think it is worse than this"),
    "why": N_("You see the eye, this app does not. Ask for more if you think so. Nobody can ask for less here."),
}


def look_text(phrases: Phrases, look: Mapping[str, Any], now: datetime) -> str:
    """Say when to look again, or that it is time."""
    if look["due"]:
        return phrases.say(LOOK["due"])
    key = f"at.{look['moment']}" if look["moment"] else "at"
    return phrases.say(LOOK[key], time=time_and_day(phrases, look["at"], now))
