"""What an alert's message says. It names no person and no symptom: a mailbox is read by more eyes than one."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

from companion.phrasebook.marks import N_
from companion.phrasebook.phrases import Phrases

TEST = "alert_test"


class Letter(NamedTuple):
    subject: str
    text: str


SUBJECTS: Mapping[str, str] = {
    # note: subject of a mail to practice staff; level is 3, 4 or 5
    "alert": N_("A report at level %(level)s needs you"),
    "alert_next": N_("Still not taken: a report at level %(level)s needs you"),
    "alert_raised": N_("More urgent now: a report at level %(level)s needs you"),
    "alert_no_contact": N_("Taken, but the family is not reached yet: level %(level)s"),
}

BODIES: Mapping[str, str] = {
    "alert": N_("A family has sent a report at level %(level)s."),
    "alert_next": N_("A family has sent a report at level %(level)s. Nobody at the practice has taken it yet."),
    "alert_raised": N_(
        "No word has come since a report. It counts as still there, and by now as level %(level)s. "
        "Call the family."
    ),
    "alert_no_contact": N_(
        "A report at level %(level)s was taken, but no contact with the family is recorded. "
        "Call the family and record it, or take it over."
    ),
}

# note: to whoever looks after the eye; a mailbox is read by more eyes than one, so nothing is named
FAMILY_LETTERS: Mapping[str, Letter] = {
    "family_report": Letter(
        N_("Please look at the companion now"),
        N_("Somebody has sent the practice a report about an eye in your care. Sign in to see what to do."),
    ),
    "family_raised": Letter(
        N_("Please look at the companion now"),
        N_(
            "No word has come since a report about an eye in your care. It counts as still there, and it is more "
            "urgent now. Sign in to see what to do."
        ),
    ),
    "family_alerts_off": Letter(
        N_("The practice has NOT been told: phone them"),
        N_(
            "There is a report about an eye in your care. This app has NOT told the practice. Phone them now, or "
            "go to an eye clinic. Sign in to see what to do."
        ),
    ),
    "family_nobody_to_tell": Letter(
        N_("The practice has NOT been told: phone them"),
        N_(
            "There is a report about an eye in your care. This app could reach nobody at the practice. Phone them "
            "now, or go to an eye clinic. Sign in to see what to do."
        ),
    ),
    "family_nobody_took_it": Letter(
        N_("Nobody at the practice has answered: phone them"),
        N_(
            "There is a report about an eye in your care. Nobody at the practice has answered. Do not wait. Phone "
            "them now, or go to an eye clinic. Sign in to see what to do."
        ),
    ),
    "family_no_contact_yet": Letter(
        N_("The practice has not reached you: phone them"),
        N_(
            "There is a report about an eye in your care. The practice has it, but has not reached you. Do not "
            "wait. Phone them now. Sign in to see what to do."
        ),
    ),
}

# note: a test of the way by which a practice's staff are told of reports
TEST_LETTER = Letter(
    N_("Test alert: please press the button"),
    N_(
        "This is a test. No family has sent a report. It asks whether an alert would reach you by this way. Open "
        "this page, sign in and press the button."
    ),
)

# note: what the level asks for, in a mail to practice staff
HASTE: Mapping[int, str] = {
    3: N_("Level 3: seen within 24 hours."),
    4: N_("Level 4: seen today, within hours."),
    5: N_("Level 5: emergency. The family has been told to go now."),
}

HOW = N_(
    "Open this page, sign in and press the button. Only the button takes the report; opening the page does not."
)
CLIMB = N_("If nobody takes it, the next person is told.")
WHY_BARE = N_("This message names nobody on purpose. Do not answer it; nobody reads the answers.")


def letter(phrases: Phrases, key: str, values: Mapping[str, Any], link: str) -> Letter:
    """Put a message into words. Raises KeyError for a key nobody wrote."""
    if key == TEST:
        return Letter(phrases.say(TEST_LETTER.subject), f"{phrases.say(TEST_LETTER.text)}\n\n{link}\n")
    if key in FAMILY_LETTERS:
        own = FAMILY_LETTERS[key]
        text = "\n\n".join((phrases.say(own.text), link, phrases.say(WHY_BARE)))
        return Letter(phrases.say(own.subject), text + "\n")
    level = int(values["level"])
    said = {"level": phrases.number(level)}
    paragraphs = [
        phrases.say(BODIES[key], **said),
        phrases.say(HASTE[level]) if level in HASTE else "",
        phrases.say(HOW),
        link,
        phrases.say(CLIMB),
        phrases.say(WHY_BARE),
    ]
    return Letter(phrases.say(SUBJECTS[key], **said), "\n\n".join(one for one in paragraphs if one) + "\n")
