"""The kinds of entry and the payload of each. To add a kind: name it in ``Kind``, declare its shape in ``SHAPES``.

A payload says what happened and nothing else; who said it, when and where stand beside it in the entry. Whether a
report's answers mean anything is for the triage room: answers to older or newer questions are kept all the same.
"""

from __future__ import annotations

from datetime import date
from enum import StrEnum
from typing import Any

from companion.common.eyes import BOTH, Eye
from companion.diary.shape import (
    Reader,
    Shape,
    a_night,
    a_zone,
    an_id,
    an_instant_as_text,
    list_of,
    number,
    one_of,
    text_of,
    whole_number,
    words_by_key,
    wrong,
)


class Kind(StrEnum):
    LENSES_IN = "lenses_in"
    LENSES_OUT = "lenses_out"
    NO_LENSES = "no_lenses"
    AS_PLANNED = "as_planned"
    SIGHT = "sight"
    SYMPTOM_REPORT = "symptom_report"
    NOTE = "note"
    CARE_ITEM = "care_item"
    STUCK_LENS = "stuck_lens"
    CORRECTION = "correction"
    WITHDRAWAL = "withdrawal"


class SightWord(StrEnum):
    """How sight was, from best to worst."""

    SHARP = "sharp"
    GOOD = "good"
    SOFT = "soft"
    BLURRED = "blurred"


FOLLOW_UPS = frozenset({Kind.CORRECTION, Kind.WITHDRAWAL})
"""Kinds that speak about another entry."""

CORRECTABLE = frozenset(Kind) - FOLLOW_UPS - {Kind.SYMPTOM_REPORT}
"""A symptom report stays as it is: a new one can add to it or raise it."""

LONGEST_AS_PLANNED_NIGHTS = 62

CARE_ITEMS = ("case", "bottle", "lens", "suction_cup", "protein", "soak")
"""What can be opened, replaced or done anew at ``at``. ``soak``: the lenses went into fresh fluid."""
BOTTLES = ("solution", "cleaner", "saline", "drops")

_EYES = one_of(Eye.RIGHT, Eye.LEFT, BOTH)
_MOST_ANSWERS = 60


def _check_as_planned(said: dict[str, Any], path: str) -> dict[str, Any]:
    since, until = date.fromisoformat(said["since"]), date.fromisoformat(said["until"])
    if until < since:
        raise wrong("entry_until_before_since", f"{path}.until")
    if (until - since).days >= LONGEST_AS_PLANNED_NIGHTS:
        raise wrong("entry_too_many_nights", f"{path}.until", most=LONGEST_AS_PLANNED_NIGHTS)
    exceptions = said.setdefault("except", [])
    if any(not said["since"] <= night <= said["until"] for night in exceptions):
        raise wrong("entry_exception_outside", f"{path}.except")
    return said


_sight_in_words = Shape({"eye": _EYES, "word": one_of(*SightWord)})
_sight_off_a_chart = Shape({"eye": _EYES, "logmar": number(-0.5, 2.0), "distance_m": number(0.2, 10.0)})


def _sight(value: object, path: str) -> Any:
    in_words = isinstance(value, dict) and "word" in value
    return (_sight_in_words if in_words else _sight_off_a_chart)(value, path)


_answers = Shape(
    {},
    {part: words_by_key(_MOST_ANSWERS) for part in ("general", Eye.RIGHT, Eye.LEFT)},
    also=lambda parts, path: {part: parts.get(part, {}) for part in ("general", Eye.RIGHT.value, Eye.LEFT.value)},
)

_ask_for_more = {
    "asked_level": whole_number(2, 5),  # the family may ask for more urgency than the rules give, never for less
    "judged_level": whole_number(1, 5),  # what the phone told the family, by the rules that it has
    "rules_version": text_of(64),
    "language": text_of(35),
}


_care_item_alone = Shape({"item": one_of(*CARE_ITEMS)})
_label = {"label_days": whole_number(1, 1100), "use_by": a_night}
_care_shapes: dict[str, Reader] = {
    "bottle": Shape({"item": one_of("bottle"), "which": one_of(*BOTTLES)}, _label),
    "case": Shape({"item": one_of("case")}, _label),
    "suction_cup": Shape({"item": one_of("suction_cup")}, _label),
    "lens": Shape({"item": one_of("lens"), "eyes": _EYES}),
}


def _care_item(value: object, path: str) -> Any:
    item = value.get("item") if isinstance(value, dict) else None
    read = _care_shapes.get(item) if isinstance(item, str) else None
    return (read or _care_item_alone)(value, path)


def _correction(said: dict[str, Any], path: str) -> dict[str, Any]:
    said["payload"] = SHAPES[Kind(said["kind"])](said["payload"], f"{path}.payload")
    return said


def _anything(value: object, path: str) -> object:
    return value


SHAPES: dict[Kind, Reader] = {
    Kind.LENSES_IN: Shape({"eyes": _EYES}),
    Kind.LENSES_OUT: Shape({"eyes": _EYES}),
    Kind.NO_LENSES: Shape({"eyes": _EYES, "night": a_night}),
    Kind.AS_PLANNED: Shape(
        {"since": a_night, "until": a_night},
        {"except": list_of(a_night, LONGEST_AS_PLANNED_NIGHTS)},
        also=_check_as_planned,
    ),
    Kind.SIGHT: _sight,
    Kind.SYMPTOM_REPORT: Shape({"answers": _answers}, _ask_for_more),
    Kind.NOTE: Shape({"text": text_of(2000)}),
    Kind.CARE_ITEM: _care_item,
    Kind.STUCK_LENS: Shape({"eyes": _EYES, "said": one_of("stuck", "free")}),
    Kind.CORRECTION: Shape(
        {
            "replaces": an_id,
            "kind": one_of(*sorted(CORRECTABLE)),
            "at": an_instant_as_text,
            "zone": a_zone,
            "payload": _anything,
        },
        also=_correction,
    ),
    Kind.WITHDRAWAL: Shape({"withdraws": an_id}),
}
