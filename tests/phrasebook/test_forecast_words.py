"""Words about a forecast: never surer than the model, never comforting, trouble before everything else."""

from __future__ import annotations

import re
from typing import Any

import pytest
from test_tonight_words import view

from companion.phrasebook import forecast_words as words
from companion.phrasebook.phrases import Phrases
from companion.web.tonight_page import tonight_page

SAY = Phrases()


def forecast(*warnings: tuple[str, dict[str, Any]], **changes: Any) -> dict[str, Any]:
    return {
        "as_of": "2026-11-02T20:30:00+00:00",
        "warnings": [{"key": key, "values": values} for key, values in warnings],
        "eyes": 2,
        "record": {"inside": 18, "of": 20},
        "used": {"checks": 20, "refractions": 2},
        "fell_back": {},
        **changes,
    }


@pytest.mark.parametrize(
    ("chance", "said"),
    [
        (1.0, "over 95 %"),
        (0.951, "over 95 %"),
        (0.95, "95 %"),
        (0.882, "88 %"),
        (0.049, "under 5 %"),
        (0.0, "under 5 %"),
    ],
)
def test_no_chance_is_said_more_finely_than_the_model_is_sure(chance: float, said: str) -> None:
    assert words.chance_text(SAY, chance) == said


@pytest.mark.parametrize(
    ("made", "lines"),
    [
        (
            forecast(),
            [
                "18 of the last 20 checks came out as expected.",
                "Made from 20 sight checks and 2 measurements at the practice.",
            ],
        ),
        (
            forecast(
                ("mostly_population", {"eye": "left"}),
                record={"inside": 1, "of": 1},
                used={"checks": 1, "refractions": 0},
            ),
            [
                words.MOSTLY_POPULATION["left"],
                "1 of the last 1 check came out as expected.",
                "Made from 1 sight check.",
            ],
        ),
        (
            forecast(
                *(("mostly_population", {"eye": eye}) for eye in ("right", "left")),
                record={"inside": 0, "of": 0},
                used={"checks": 0, "refractions": 2},
            ),
            [words.MOSTLY_POPULATION["both"]],
        ),
        (forecast(("no_forecast", {}), eyes=0), [words.NO_FORECAST]),
    ],
)
def test_what_a_forecast_is_worth_comes_before_what_it_is_made_from(
    made: dict[str, Any], lines: list[str]
) -> None:
    assert words.family_lines(SAY, made) == lines


def test_one_that_is_kept_says_how_old_it_is_and_old_checks_that_they_are_old() -> None:
    made = forecast(("forecast_kept", {"hours": 3}), fell_back={"left": "stale"})
    first, second, *_ = words.family_lines(SAY, made)
    assert first.startswith("This is 3 hours old.") and second == words.OLD_CHECKS


@pytest.mark.parametrize(("nats", "said"), [(0.0, "little"), (0.99, "little"), (1.0, "some"), (3.2, "much")])
def test_nats_are_said_as_how_much_is_its_own(nats: float, said: str) -> None:
    assert words.own_text(SAY, nats) == f"{said} of its own"


def test_every_warning_of_the_document_has_words_for_the_practice() -> None:
    values = {"eye": "right", "nights": 3, "hours": 30}
    for key in (*words.WARNINGS, "unknown_nights", "forecast_kept"):
        assert words.warning_text(SAY, key, values)


def surprised(*eyes: str, swapped: bool = False) -> dict[str, Any]:
    found = [
        {"eye": eye, "checks": 2, "of": 3, "worse_logmar": 0.18, "lines": 2, "perhaps_swapped": swapped}
        for eye in eyes
    ]
    return view("none", "wear", surprises=found)


def test_H1_unexplained_sight_asks_for_trouble_first_and_always_for_the_practice() -> None:
    page = tonight_page(surprised("right"), SAY)
    assert page.surprise is not None
    assert page.surprise.heading.startswith("The right eye sees less")
    assert "Something is wrong" in page.surprise.trouble and "red" in page.surprise.trouble
    assert page.surprise.steps[-1].startswith("Tell the practice.")
    assert not any("changed places" in step for step in page.surprise.steps)
    said = [page.surprise.trouble, *page.surprise.steps, *words.SURPRISE.values(), *words.SURPRISE_STEPS.values()]
    never = re.compile(r"\b(?:fine|safe|well|no infection|normal|worry|forgot|bad|failed)\b", re.IGNORECASE)
    assert not [one for one in said if never.search(one)]


def test_H7_swapped_lenses_are_named_only_where_they_are_likely_and_doubt_leaves_both_out() -> None:
    page = tonight_page(surprised("right", swapped=True), SAY)
    assert page.surprise is not None
    step = next(one for one in page.surprise.steps if "changed places" in one)
    assert "Not sure? Leave both out, and call the practice." in step
    assert "Both eyes" in tonight_page(surprised("right", "left"), SAY).surprise.heading  # type: ignore[union-attr]


def test_the_practice_hears_which_eye_how_far_and_how_often() -> None:
    one = surprised("left")["surprises"][0]
    assert words.surprise_text(SAY, one) == (
        "left eye: worse than the nights explain by 0.18 logMAR (about 2 lines)"
    )
    assert words.surprise_details(SAY, one) == "In 2 of the last 3 checks."
    swapped = surprised("left", swapped=True)["surprises"][0]
    assert words.surprise_details(SAY, swapped) == "In 2 of the last 3 checks. Perhaps the lenses are swapped."


@pytest.mark.parametrize("when", ["this_evening", "tomorrow_morning"])
def test_a_check_is_asked_for_in_one_line_with_its_reason(when: str) -> None:
    page = tonight_page(view("lenses_in", "wear", check={"when": when, "why": "answer"}), SAY)
    assert page.check_line is not None and "would help to answer" in page.check_line
    assert (
        tonight_page(view("sight", "wear", "morning", check={"when": "now", "why": "answer"}), SAY).check_line
        is None
    )
