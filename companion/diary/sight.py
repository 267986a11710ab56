"""Sight entries as observations of logMAR: words coarsely, chart readings with the spread of a reading at home.

Sight is unaided always. A word is the family's own impression, so its value and spread are design choices; they
only have to keep the order of the words and to weigh far less than a reading. The spread of one chart reading is
0.07 logMAR for a grown-up and 0.12 for a child near best focus, and grows with blur: repeatability IOVS
2004;45:1076, children of 6 to 9 doi 10.1080/09273970601180222, readings at home doi 10.2147/OPTH.S309727. How
blur widens it is for the science, which knows the defocus.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from companion.common.eyes import BOTH, Eye
from companion.diary.kinds import Kind, SightWord
from companion.diary.merge import StandingEntry
from companion.diary.wear import counted_at

WORD_LOGMAR: Mapping[SightWord, float] = {
    SightWord.SHARP: 0.0,
    SightWord.GOOD: 0.15,
    SightWord.SOFT: 0.30,
    SightWord.BLURRED: 0.60,
}
"""Middle of what each word covers [logMAR]; design."""
WORD_SD = 0.15
"""[logMAR]; design."""
WORD_SD_BLURRED = 0.25
"""*Blurred* has no worse neighbour, so it covers more [logMAR]; design."""
READING_SD_ADULT, READING_SD_CHILD = 0.07, 0.12
"""[logMAR], sources above."""
WORD_UPPER_BOUNDS: tuple[tuple[float, SightWord], ...] = (
    (0.075, SightWord.SHARP),
    (0.225, SightWord.GOOD),
    (0.45, SightWord.SOFT),
)
"""Half-way between the words' values [logMAR]."""


@dataclass(frozen=True)
class Observation:
    """One look at how well an eye sees without glasses."""

    entry_id: str
    eye: Eye | None
    """None: both eyes together, which counts for no single eye."""
    at: datetime
    logmar: float
    sd: float
    distance_m: float | None
    """None: far."""
    word: SightWord | None
    """The word that was said, if it was a word."""


def word_for(logmar: float) -> SightWord:
    """Return the word for an acuity."""
    return next((word for bound, word in WORD_UPPER_BOUNDS if logmar <= bound), SightWord.BLURRED)


def observations(standing: Iterable[StandingEntry], *, is_child: bool) -> tuple[Observation, ...]:
    """Return what the sight entries tell, in order of time. One from the future tells nothing until corrected."""
    seen = []
    for entry in standing:
        if entry.kind is not Kind.SIGHT:
            continue
        at, _ = counted_at(entry)
        if at is not None:
            seen.append(_observation(entry, at, READING_SD_CHILD if is_child else READING_SD_ADULT))
    return tuple(sorted(seen, key=lambda one: (one.at, one.entry_id)))


def _observation(entry: StandingEntry, at: datetime, reading_sd: float) -> Observation:
    said = entry.payload
    eye = None if said["eye"] == BOTH else Eye(said["eye"])
    if "word" in said:
        word = SightWord(said["word"])
        sd = WORD_SD_BLURRED if word is SightWord.BLURRED else WORD_SD
        return Observation(entry.id, eye, at, WORD_LOGMAR[word], sd, None, word)
    return Observation(entry.id, eye, at, said["logmar"], reading_sd, said["distance_m"], None)
