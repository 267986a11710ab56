"""Every id of the diary has words, and every problem code of diary and escalation a sentence to fill."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

import companion
from companion.common.errors import Problem
from companion.diary.entry import Kind
from companion.diary.nights import NightState, Source
from companion.diary.wear import Odd
from companion.phrasebook import diary_words, problems_diary, problems_escalation
from companion.phrasebook.diary_words import entry_text
from companion.phrasebook.languages import PSEUDO
from companion.phrasebook.phrases import Phrases
from companion.phrasebook.problems import problem_text

HOUSE = Path(companion.__file__).parent


def test_every_id_has_words() -> None:
    assert set(diary_words.KINDS) == {kind.value for kind in Kind}
    assert set(diary_words.NIGHT_STATES) == {state.value for state in NightState}
    assert set(diary_words.NIGHT_SOURCES) == {source.value for source in Source}
    assert set(diary_words.ODDITIES) == {odd.value for odd in Odd}


SAID: list[tuple[str, dict[str, Any], str]] = [
    ("lenses_in", {"eyes": "both"}, "Both lenses in"),
    ("lenses_out", {"eyes": "left"}, "Left lens out"),
    ("no_lenses", {"eyes": "both", "night": "2026-10-01"}, "No lenses on the night of Thu 1 Oct"),
    ("as_planned", {"since": "2026-10-01", "until": "2026-10-07", "except": []},
     "From Thu 1 Oct to Wed 7 Oct all as planned"),
    ("as_planned", {"since": "2026-10-01", "until": "2026-10-07", "except": ["2026-10-03", "2026-10-06"]},
     "From Thu 1 Oct to Wed 7 Oct as planned, except Sat 3 Oct and Tue 6 Oct"),
    ("sight", {"eye": "right", "word": "soft"}, "Right eye: soft"),
    ("sight", {"eye": "both", "logmar": 0.1, "distance_m": 3.0},
     "Both eyes together: good, read off a chart at 3 m"),
    ("symptom_report", {"answers": {}}, "Something is wrong"),
    ("care_item", {"item": "case"}, "New lens case"),
    ("care_item", {"item": "bottle", "which": "saline", "label_days": 1}, "New bottle of saline"),
    ("care_item", {"item": "lens", "eyes": "both"}, "New lenses right and left"),
    ("care_item", {"item": "soak"}, "Lenses in fresh peroxide"),
    ("stuck_lens", {"eyes": "right", "said": "stuck"}, "Right lens stuck"),
    ("stuck_lens", {"eyes": "both", "said": "free"}, "Both lenses free again"),
    ("note", {"text": "100% new %(bottle)s"}, "100% new %(bottle)s"),
]  # fmt: skip


@pytest.mark.parametrize(("kind", "payload", "text"), SAID)
def test_an_entry_in_one_line(kind: str, payload: dict[str, Any], text: str) -> None:
    assert entry_text(Phrases(), kind, payload).replace(",", "") == text.replace(",", "")
    if kind != "note":
        assert entry_text(Phrases(PSEUDO), kind, payload).startswith("[")


def test_nobody_is_blamed() -> None:
    every = [*diary_words.ODDITIES.values(), *problems_diary.SENTENCES.values()]
    assert not [said for said in every if re.search(r"forg[oe]t|\bbad\b|fail|streak|miss(ed|ing)", said)]


@pytest.mark.parametrize(
    ("room", "prefix", "table"),
    [
        ("diary", "entry_", problems_diary.SENTENCES),
        ("diary", "(?:no_such_entry|[a-z]+_stays|correction_changes)", problems_diary.SENTENCES),
        ("escalation", "hours_", problems_escalation.SENTENCES),
    ],
)
def test_every_problem_code_has_its_sentence_and_no_sentence_is_idle(
    room: str, prefix: str, table: dict[str, str]
) -> None:
    source = "".join(path.read_text() for path in (HOUSE / room).rglob("*.py"))
    raised = set(re.findall(rf'(?:wrong|Problem)\(\s*"({prefix}[a-z_]*)"', source))
    assert raised
    assert raised == {code for code in table if re.match(prefix, code)}


VALUES = {"key": "hours", "most": 62, "longest": 2000, "low": -0.5, "high": 2.0, "allowed": "mon, tue"}


@pytest.mark.parametrize("code", sorted({*problems_diary.SENTENCES, *problems_escalation.SENTENCES}))
def test_every_sentence_can_be_said(code: str) -> None:
    assert problem_text(Phrases(), Problem(code, "payload", VALUES))
