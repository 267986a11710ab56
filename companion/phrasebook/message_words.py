"""A report in a few short sentences, for somebody who does not have this app: a text message, or a helper at hand.

It says how urgent the answers are, which eye, since when, and whether a lens may still be in. No name, unless the
sender adds it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from companion.common.eyes import EYES
from companion.phrasebook.marks import N_
from companion.phrasebook.phrases import FIRST_STRONG, POP, Phrases
from companion.phrasebook.triage_words import LEVELS
from companion.triage.rules import load_rules

FROM_LEVEL = 2
"""Below it nobody has to be told."""
GO_FROM = 4

WORDS: Mapping[str, str] = {
    # note: A text message to the practice, and a page held out to a helper. Its reader knows nothing yet.
    "about": N_("This person sleeps in hard contact lenses."),
    # note: %(name)s is a first name; the sentence goes to the eye practice.
    "about_name": N_("This is about %(name)s, who sleeps in hard contact lenses."),
    # note: %(level)s is how urgent it is, such as "Be seen today".
    "level": N_("Answers so far say: %(level)s."),
    "right": N_("Right eye."),
    "left": N_("Left eye."),
    "both": N_("Both eyes."),
    # note: How long the trouble has been there.
    "under_1h": N_("For less than 1 hour."),
    "over_1h": N_("For more than 1 hour."),
    "over_24h_or_worse": N_("For more than 24 hours, or getting worse."),
    "lens_out": N_("The lens is out."),
    "lens_in": N_("A lens may still be in the eye."),
    "call_us": N_("Please call us."),
}
HELPER: Mapping[str, str] = {
    # note: On the button that opens a page for a stranger who helps, such as a neighbour, a driver or a nurse.
    "show": N_("Show this to the person who helps you"),
    # note: Said to that helper.
    "go": N_("Please help us get to an eye clinic or emergency department now."),
    "call": N_("Please help us call an eye clinic."),
    # note: Link that opens the phone's own text messages, with a short report in it.
    "send": N_("Send as a text message"),
    # note: The same, with the first name in it.
    "send_name": N_("The same, with the name %(name)s"),
    "no_data": N_("A call or a text message needs no internet."),
}
_SINCE = ("under_1h", "over_1h", "over_24h_or_worse")
_STILL_IN = frozenset({"stuck_now", "maybe_in_eye", "stuck_long_or_broken"})


def parts_of(level: int, eyes: Mapping[str, int], answers: Mapping[str, Mapping[str, str]]) -> tuple[str, ...]:
    """Choose what to say of a report besides its level, by keys of ``WORDS``. The worse of two eyes counts."""
    asked = [eye.value for eye in EYES if answers.get(eye.value)] or [eye.value for eye in EYES]
    about = [eye for eye in asked if eyes[eye] == level] or asked
    said: list[str] = [about[0] if len(about) == 1 else "both"]
    options = load_rules().questions["course"].options
    since = max((options.index(one) for one in _given(answers, about, "course") if one in options), default=0)
    said += [options[since]] if options[since] in _SINCE else []
    lenses = _given(answers, about, "lens")
    if any(one in _STILL_IN for one in lenses):
        said.append("lens_in")
    elif lenses and all(one in load_rules().questions["lens"].options for one in lenses):
        said.append("lens_out")
    return tuple(said)


def _given(answers: Mapping[str, Mapping[str, str]], eyes: Sequence[str], question: str) -> list[str]:
    return [answers[eye][question] for eye in eyes if question in answers.get(eye, {})]


def level_sentence(phrases: Phrases, level: int) -> str:
    return phrases.say(WORDS["level"], level=phrases.say(LEVELS[level].word))


def message_text(phrases: Phrases, level: int, parts: Sequence[str], name: str | None = None) -> str:
    """Say a report in one line, as a text message carries it."""
    about = phrases.say(WORDS["about_name"], name=name) if name else phrases.say(WORDS["about"])
    said = [about, level_sentence(phrases, level), *(phrases.say(WORDS[one]) for one in (*parts, "call_us"))]
    # Signs that keep directions apart are for pages: some phones show them as boxes.
    return " ".join(said).replace(FIRST_STRONG, "").replace(POP, "")
