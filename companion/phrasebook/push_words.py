"""What a push says on a screen that anybody may see: that somebody is needed, and not what for.

Whoever wants more on their own screen gets the mail's subject there, which names nobody and no symptom either.
"""

from __future__ import annotations

from collections.abc import Mapping

from companion.phrasebook.mail_words import FAMILY_LETTERS, TEST
from companion.phrasebook.marks import N_, NP_, InContext
from companion.phrasebook.phrases import Phrases

TITLE = N_("The companion")
# note: on a locked screen, to practice staff: somebody has to act at once; what it is about must not be guessed
STAFF = NP_("push", "You are needed now. Tap to see why.")
# note: on a locked screen, to a family: something has to be read at once; what it is about must not be guessed
FAMILY = NP_("push", "Please look now. Tap to see what is new.")

# note: on a locked screen, to practice staff; a press on the page answers whether alerts reach them
TEST_ALERT = NP_("push", "This is a test. Tap and answer it.")

TESTS: Mapping[str, InContext] = {
    # note: on a locked screen; the person has just asked for it
    "device_test": NP_("push", "This is a test. Alerts reach this device."),
    # note: what the practice's own gateway sends or reads out to the manager, who has just asked for it
    "gateway_test": NP_("push", "This is a test. The practice's gateway works."),
}
"""What a test says, the same on every screen."""


def title(phrases: Phrases) -> str:
    return phrases.say(TITLE)


def brief(phrases: Phrases, key: str) -> str:
    """Return the neutral line for a message."""
    if key == TEST:
        return phrases.say(TEST_ALERT)
    return phrases.say(TESTS.get(key, FAMILY if key in FAMILY_LETTERS else STAFF))
