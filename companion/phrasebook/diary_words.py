"""The diary in words: what was said, how a night was, and what is kindly asked about.

Owns the sentences for the ids of `diary/`; decides nothing. "Not worn" is as plain as "worn", and nobody is ever
told that they forgot. A family reads sight in words, also where it was read off a chart.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from companion.diary.kinds import Kind
from companion.diary.sight import word_for
from companion.phrasebook.care_words import renewed_text, stuck_text
from companion.phrasebook.marks import N_, NP_, InContext
from companion.phrasebook.phrases import Phrases
from companion.phrasebook.tonight_words import SIGHT

KINDS: Mapping[str, InContext] = {
    # note: The kinds of entry in a diary, as headings.
    "lenses_in": NP_("kind of entry", "Lenses in"),
    "lenses_out": NP_("kind of entry", "Lenses out"),
    "no_lenses": NP_("kind of entry", "No lenses"),
    "as_planned": NP_("kind of entry", "All as planned"),
    "sight": NP_("kind of entry", "Sight"),
    "symptom_report": NP_("kind of entry", "Something is wrong"),
    "note": NP_("kind of entry", "Note"),
    "care_item": NP_("kind of entry", "Lens care"),
    "stuck_lens": NP_("kind of entry", "Stuck lens"),
    "correction": NP_("kind of entry", "Change"),
    "withdrawal": NP_("kind of entry", "Taken back"),
}

NIGHT_STATES: Mapping[str, InContext] = {
    # note: How one night was for one eye; all three are equally plain.
    "worn": NP_("night", "Worn"),
    "not_worn": NP_("night", "Not worn"),
    "unknown": NP_("night", "Not known"),
}

NIGHT_SOURCES: Mapping[str, InContext] = {
    # note: How we know of a night: somebody tapped, or the family said "all as planned" for the week.
    "logged": NP_("night", "from your taps"),
    "as_planned": NP_("night", "as planned"),
}

TAPS: Mapping[tuple[str, str], str] = {
    ("lenses_in", "both"): N_("Both lenses in"),
    ("lenses_in", "right"): N_("Right lens in"),
    ("lenses_in", "left"): N_("Left lens in"),
    ("lenses_out", "both"): N_("Both lenses out"),
    ("lenses_out", "right"): N_("Right lens out"),
    ("lenses_out", "left"): N_("Left lens out"),
}

NO_LENSES: Mapping[str, str] = {
    # note: %(night)s is the date of the evening.
    "both": N_("No lenses on the night of %(night)s"),
    "right": N_("No right lens on the night of %(night)s"),
    "left": N_("No left lens on the night of %(night)s"),
}

SIGHT_SAID: Mapping[str, str] = {
    # note: %(word)s is sharp, good, soft or blurred.
    "both": N_("Both eyes together: %(word)s"),
    "right": N_("Right eye: %(word)s"),
    "left": N_("Left eye: %(word)s"),
}

SIGHT_READ: Mapping[str, str] = {
    # note: %(word)s is sharp, good, soft or blurred; %(distance)s a number of metres.
    "both": N_("Both eyes together: %(word)s, read off a chart at %(distance)s m"),
    "right": N_("Right eye: %(word)s, read off a chart at %(distance)s m"),
    "left": N_("Left eye: %(word)s, read off a chart at %(distance)s m"),
}

ODDITIES: Mapping[str, str] = {
    # note: Asked kindly about taps that do not fit together; never a reproach. Each ends in what to do.
    "out_before_in": N_("“Out” comes before “in” here. Did they swap places? Change the time that is wrong."),
    "out_without_in": N_("There is an “out” without an “in”. When did the lens go in? Add it if you know."),
    "in_without_out": N_("There is an “in” without an “out”. When did the lens come out? Add it if you know."),
    "in_again": N_("“In” is here twice. Was the lens out in between? Add the “out”, or take one “in” back."),
    "out_again": N_("“Out” is here twice, and we count the first. Take back the one that is wrong."),
    "very_long": N_("Over 20 hours between “in” and “out”. Is that right? Confirm it, or change a time."),
    "short": N_("Less than 3 hours between “in” and “out”. Is that right? Confirm it, or change a time."),
    "future_time": N_("This time is still to come. When was it? Change the time."),
    "worn_and_not": N_("This night is both worn and not worn. Which is right? Take the other one back."),
}


def entry_text(phrases: Phrases, kind: str, payload: Mapping[str, Any]) -> str:
    """Say in one line what an entry says; a note in its author's own words."""
    match Kind(kind):
        case Kind.LENSES_IN | Kind.LENSES_OUT:
            return phrases.say(TAPS[kind, payload["eyes"]])
        case Kind.NO_LENSES:
            return phrases.say(NO_LENSES[payload["eyes"]], night=phrases.day(date.fromisoformat(payload["night"])))
        case Kind.AS_PLANNED:
            return _as_planned_text(phrases, payload)
        case Kind.SIGHT:
            return _sight_text(phrases, payload)
        case Kind.NOTE:
            return str(payload["text"])
        case Kind.CARE_ITEM:
            return renewed_text(phrases, payload)
        case Kind.STUCK_LENS:
            return stuck_text(phrases, payload)
        case _:
            return phrases.say(KINDS[kind])


def _as_planned_text(phrases: Phrases, payload: Mapping[str, Any]) -> str:
    since, until = (phrases.day(date.fromisoformat(payload[key])) for key in ("since", "until"))
    exceptions = [phrases.day(date.fromisoformat(night)) for night in payload["except"]]
    if exceptions:
        # note: "From Thu 1 Oct to Wed 7 Oct as planned, except Sat 3 Oct and Tue 6 Oct".
        sentence = N_("From %(since)s to %(until)s as planned, except %(nights)s")
        return phrases.gettext(sentence, since=since, until=until, nights=phrases.listing(exceptions))
    return phrases.gettext(N_("From %(since)s to %(until)s all as planned"), since=since, until=until)


def _sight_text(phrases: Phrases, payload: Mapping[str, Any]) -> str:
    if "word" in payload:
        return phrases.say(SIGHT_SAID[payload["eye"]], word=phrases.say(SIGHT[payload["word"]]))
    word = phrases.say(SIGHT[word_for(payload["logmar"])])
    return phrases.say(SIGHT_READ[payload["eye"]], word=word, distance=phrases.number(payload["distance_m"]))
