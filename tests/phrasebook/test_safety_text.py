"""H4: which sentences are safety text, that a changed word makes every review stale, and who reads what."""

from __future__ import annotations

import pytest

from companion.phrasebook import emergency_words, triage_advice
from companion.phrasebook.languages import ARABIC, CHINESE, ENGLISH, PSEUDO
from companion.phrasebook.safety_text import (
    REVIEWERS,
    Sentence,
    Speech,
    released,
    reviews,
    sentences,
    speech_of,
    text_version,
    version_of,
)

EVERYBODY = dict.fromkeys(REVIEWERS, "somebody")


def test_H4_every_sentence_that_tells_what_to_do_is_safety_text() -> None:
    known = {one.text for one in sentences()}
    for table in (triage_advice.WHY, triage_advice.ADVICE, emergency_words.FIRST, emergency_words.GO):
        assert set(table.values()) <= known
    assert "Right eye: do not pull the lens. Use no suction cup." in known
    assert "Nobody at the practice has taken it yet." in known, "those said inside a function count too"
    assert "No lenses for now." in known
    assert len(known) > 300


def test_H4_one_changed_word_is_another_version() -> None:
    now = sentences()
    pull = next(one for one in now if one.text.startswith("Do not pull the lens."))
    changed = tuple(Sentence(None, "Pull the lens.") if one == pull else one for one in now)
    assert version_of(changed) != version_of(now) == text_version()
    assert version_of(now[::-1]) == version_of(now), "moving a sentence changes nothing"
    assert (
        version_of(tuple(Sentence("elsewhere", one.text) if one == pull else one for one in now)) != text_version()
    )


@pytest.mark.parametrize("language", [CHINESE, ARABIC], ids=lambda one: one.tag)
def test_H4_a_review_of_an_older_text_releases_nothing(language) -> None:
    def known(**review: str):
        return {language.tag: {"reviews": [review]}}

    assert released(language, "now", known(text_version="now", **EVERYBODY))
    assert not released(language, "now", known(text_version="before", **EVERYBODY))
    for missing in REVIEWERS:
        signed = {who: name for who, name in EVERYBODY.items() if who != missing}
        assert not released(language, "now", known(text_version="now", **signed)), missing
    assert not released(language, "now", {})


def test_english_needs_a_clinician_alone() -> None:
    known = {"en": {"reviews": [{"text_version": "now", "clinician": "somebody"}]}}
    assert released(ENGLISH, "now", known)
    assert not released(ENGLISH, "later", known)


def test_what_comes_with_the_app_claims_no_review_that_nobody_made() -> None:
    """Fails when a review is added, so that whoever adds it has read the rule: it names the text of today."""
    assert {tag: one["reviews"] for tag, one in reviews().items()} == {"en": [], "zh-Hans": [], "ar": []}
    assert all(one["written_by"] for one in reviews().values())


@pytest.mark.parametrize(
    ("language", "signed", "demo", "speech"),
    [
        (ENGLISH, False, False, Speech.SOURCE),
        (ENGLISH, True, False, Speech.REVIEWED),
        (ENGLISH, False, True, Speech.SOURCE),
        (CHINESE, False, False, Speech.HELD),
        (CHINESE, False, True, Speech.BESIDE),
        (CHINESE, True, False, Speech.REVIEWED),
        (ARABIC, False, False, Speech.HELD),
        (PSEUDO, False, False, Speech.REVIEWED),
    ],
)
def test_H4_who_reads_what(language, signed: bool, demo: bool, speech: Speech) -> None:
    assert speech_of(language, signed=signed, demo=demo) is speech
