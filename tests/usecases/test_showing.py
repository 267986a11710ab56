"""The practice as a page shows it: whom to call, who is there, from when on and until when."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from people import ZONE, Cast

from companion.store.engine import Store
from companion.store.models import Practice
from companion.usecases.showing import practice_now

LONDON = ZoneInfo(ZONE)


def duty(store: Store, cast: Cast, clock: str, where: ZoneInfo = LONDON, **facts: Any) -> dict[str, Any]:
    """The mill, open from 08:30 to 18:00, by its own clock."""
    with store.writing() as session:
        practice = session.get_one(Practice, cast.practices["mill"])
        for name, value in facts.items():
            setattr(practice, name, value)
        session.flush()
        shown = practice_now(practice, datetime.fromisoformat(clock).replace(tzinfo=LONDON), where)
        session.rollback()
    return {key: shown[key] for key in ("on_duty", "on_call", "opens_at", "closes_at")}


def test_while_somebody_is_there_it_says_until_when_and_else_from_when_on(store: Store, cast: Cast) -> None:
    assert duty(store, cast, "2026-11-02T17:59") == {
        "on_duty": True,
        "on_call": False,
        "opens_at": None,
        "closes_at": "2026-11-02T18:00:00+00:00",
    }
    assert duty(store, cast, "2026-11-02T18:00") == {
        "on_duty": False,
        "on_call": False,
        "opens_at": "2026-11-03T08:30:00+00:00",
        "closes_at": None,
    }


def test_H13_the_end_is_written_with_the_offset_of_the_pages_zone(store: Store, cast: Cast) -> None:
    shown = duty(store, cast, "2026-11-02T10:00", ZoneInfo("Asia/Singapore"))
    assert shown["closes_at"] == "2026-11-03T02:00:00+08:00"


@pytest.mark.parametrize(
    ("facts", "until"),
    [
        ({}, "2026-11-03T06:00:00+00:00"),
        ({"alert_plan": []}, "2026-11-02T18:00:00+00:00"),  # hours alone answer no call
        ({"alerts_on": False}, "2026-11-02T18:00:00+00:00"),
    ],
)
def test_H2_hours_on_call_count_while_somebody_answers_them(
    store: Store, cast: Cast, facts: dict[str, Any], until: str
) -> None:
    manned = {
        "alert_plan": [{"person_id": cast.people["Asta"], "channel": "any", "when": "on_call"}],
        "on_call_hours": {"mon": [["18:00", "24:00"]], "tue": [["00:00", "06:00"]]},
    }
    assert duty(store, cast, "2026-11-02T17:00", **(manned | facts))["closes_at"] == until


def test_a_practice_that_never_shuts_has_no_end(store: Store, cast: Cast) -> None:
    always = {day: [["00:00", "24:00"]] for day in ("mon", "tue", "wed", "thu", "fri", "sat", "sun")}
    shown = duty(store, cast, "2026-11-02T10:00", opening_hours=always)
    assert (shown["on_duty"], shown["closes_at"]) == (True, None)
