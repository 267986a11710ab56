"""Days to come in words: every code has a sentence, nobody is said to be fit to drive, plans have short names."""

from __future__ import annotations

from typing import Any

import pytest

from companion.fade.day_ahead import Note
from companion.fade.missed_night import Todo
from companion.phrasebook import ahead_words as words
from companion.phrasebook.languages import LANGUAGES
from companion.phrasebook.phrases import Phrases

ENGLISH = Phrases()
SAID_WITH_THE_NIGHTS = {Note.WEAR_THE_NIGHT_BEFORE, Note.NIGHT_BEFORE_FREE_BY_PLAN, Note.NO_NIGHT_LEFT}


def day(**changed: Any) -> dict[str, Any]:
    plan = {
        "nights": [{"night": "2026-11-06", "worn": True, "planned": True}],
        "last_free": None,
        "checks": [{"when": "morning_itself", "at": "2026-11-07T06:30:00+00:00"}],
        "notes": ["glasses_at_hand"],
    }
    plain = {"from": "2026-11-07T09:00:00+00:00", "to": "2026-11-07T17:00:00+00:00", "driving": False}
    return {**plain, "rests_on": ["2026-11-06"], "plan": plan, **changed}


def test_every_code_has_a_sentence() -> None:
    assert set(words.NOTES) == {one.value for one in set(Note) - SAID_WITH_THE_NIGHTS}
    assert set(words.WHAT_TO_DO) == {one.value for one in Todo}


def test_the_nights_are_named() -> None:
    assert words.nights_text(ENGLISH, day()) == "Wear the lenses on the night of Fri 6 Nov."
    assert "Two weeks before" in words.nights_text(ENGLISH, day(rests_on=[], plan=None))
    assert "No night is left" in words.nights_text(ENGLISH, day(rests_on=[]))


def test_a_night_that_the_plan_leaves_free_is_for_the_practice_to_say() -> None:
    one = day()
    one["plan"]["nights"][0]["planned"] = False
    said = words.nights_text(ENGLISH, one)
    assert "Ask the practice" in said
    assert "Wear the lenses on" not in said


def test_a_day_past_midnight_names_both_dates() -> None:
    assert words.when_text(ENGLISH, day()) == "Sat 7 Nov, 09:00 to 17:00"
    said = words.when_text(ENGLISH, day(to="2026-11-08T01:00:00+00:00"))
    assert said == "Sat 7 Nov, 09:00 to Sun 8 Nov at 01:00"


@pytest.mark.parametrize("plan", [True, False])
def test_H1_nobody_is_said_to_be_fit_to_drive(plan: bool) -> None:
    """Whatever is known, who drives hears that this app can't judge it, and when not to."""
    one = day(driving=True)
    if plan:
        one["plan"]["notes"] = [note.value for note in Note]
    else:
        one["plan"] = None
    said = " ".join(words.note_texts(ENGLISH, one))
    assert "can't say who may drive" in said
    assert "Do not drive." in said
    assert "Keep glasses at hand." in said


def test_a_check_is_named_on_its_day() -> None:
    assert words.check_texts(ENGLISH, day()) == ["Check sight on Sat 7 Nov, once the lenses are out."]
    assert words.check_texts(ENGLISH, day(), "2026-11-06T20:00:00+00:00") == []
    assert len(words.check_texts(ENGLISH, day(), "2026-11-07T07:00:00+00:00")) == 1


@pytest.mark.parametrize(
    ("weekdays", "every", "said"),
    [
        (["mon", "tue", "wed", "thu", "fri", "sat", "sun"], None, "Every night"),
        (["mon", "tue", "wed", "thu", "fri"], None, "All nights but Sat and Sun"),
        (["mon", "wed", "fri"], None, "Only Mon, Wed and Fri"),
        ([], None, "No night"),
        (None, 3, "Every 3 nights"),
    ],
)
def test_plans_have_short_names(weekdays: list[str] | None, every: int | None, said: str) -> None:
    assert words.plan_text(ENGLISH, {"weekdays": weekdays, "every": every}) == said


def test_chances_are_never_finer_than_the_model_is_sure() -> None:
    said = words.rhythm_text(ENGLISH, {"every": 3, "weekdays": None, "chances": [0.999, 0.8, 0.01]})
    assert said == "Every 3 nights: over 95 % on the day after the night in lenses, then 80 % and under 5 %"


BLAME = ("forgot", "missed", "should have", "failed", "streak", "bad")


def test_a_night_off_is_told_without_blame() -> None:
    missed = {"good_until": None, "good_again": None, "todo": [one.value for one in Todo], "nights_off": 1}
    said = " ".join([*words.todo_texts(ENGLISH, missed)]).lower()
    assert not [one for one in BLAME if one in said]


@pytest.mark.parametrize("tag", [tag for tag, one in LANGUAGES.items() if not one.pseudo])
def test_each_language_says_it_all(tag: str) -> None:
    phrases = Phrases(LANGUAGES[tag])
    assert words.nights_text(phrases, day())
    assert len(words.weekday_names(phrases)) == 7
