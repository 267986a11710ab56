"""Asking for a sight check: rarely, where it teaches, and never of an eye that needs the practice."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import pytest
from fakes import Clock
from people import Cast
from telling import RED_PAIN, actor_named, entry, report, tell, worn_nights

from companion.store.engine import Store
from companion.usecases import asking
from companion.usecases.tonight import tonight


def shown(store: Store, cast: Cast, who: str, now: datetime) -> dict[str, Any]:
    with store.reading() as session:
        return tonight(session, actor_named(store, cast.people[who]), cast.wearers["Wim"], now)


def check(store: Store, cast: Cast, now: datetime) -> dict[str, str] | None:
    asked: dict[str, str] | None = shown(store, cast, "Wim", now)["check"]
    return asked


@pytest.fixture
def asks(monkeypatch: pytest.MonkeyPatch) -> dict[str, Any]:
    """What the science would ask for, whatever the diary."""
    named: dict[str, Any] = {"check": "this_evening", "at": "", "swing": 0.1}
    monkeypatch.setattr("companion.exchange.about._ask", lambda _: dict(named) if named else None)
    return named


@pytest.fixture
def worn(store: Store, cast: Cast, clock: Clock) -> str:
    """Wim wore his lenses for three weeks and looked once, in both eyes, at 07:30 on the first of November."""
    wim, wearer_id = actor_named(store, cast.people["Wim"]), cast.wearers["Wim"]
    at = clock().replace(hour=7, minute=30) - timedelta(days=1)
    sights = [entry("sight", at, {"eye": eye, "logmar": 0.0, "distance_m": 6}) for eye in ("right", "left")]
    tell(store, wim, wearer_id, clock(), *worn_nights(clock(), 21), *sights)
    return wearer_id


def test_two_quiet_days_then_one_night_in_three(
    store: Store, cast: Cast, clock: Clock, worn: str, asks: dict[str, Any]
) -> None:
    """The look at 07:30 belongs to the night before: two days on is the morning of the 3rd."""
    evenings = [check(store, cast, clock() + timedelta(days=days)) is not None for days in range(9)]
    assert evenings == [False, False, False, True, False, False, True, False, False]
    mornings = [
        check(store, cast, clock().replace(hour=8) + timedelta(days=days)) is not None for days in range(1, 8)
    ]
    assert mornings == [True, False, False, True, False, False, True]


def test_a_request_has_its_hour_and_its_reason(
    store: Store, cast: Cast, clock: Clock, worn: str, asks: dict[str, Any]
) -> None:
    evening, morning = clock() + timedelta(days=3), clock().replace(hour=8) + timedelta(days=1)
    assert check(store, cast, morning) == {"when": "now", "why": "lasting"}, "last night is not logged yet"
    assert check(store, cast, evening) == {"when": "this_evening", "why": "lasting"}, "by now no night may be free"
    wim = actor_named(store, cast.people["Wim"])
    tell(store, wim, worn, evening, *worn_nights(evening, 3))
    assert check(store, cast, evening) == {"when": "this_evening", "why": "answer"}
    assert shown(store, cast, "Wim", evening)["action"]["kind"] == "lenses_in", "the lenses stay the first deed"
    asks["check"] = "tomorrow_morning"
    assert check(store, cast, evening) == {"when": "tomorrow_morning", "why": "answer"}
    assert check(store, cast, evening.replace(hour=14)) is None
    tell(store, wim, worn, evening, entry("lenses_in", evening, {"eyes": "both"}))
    assert check(store, cast, evening) is None, "a lens is in"


def test_nothing_is_asked_where_no_answer_would_move(
    store: Store, cast: Cast, clock: Clock, worn: str, asks: dict[str, Any]
) -> None:
    asks.clear()
    evening = clock() + timedelta(days=3)
    assert check(store, cast, evening) is None
    tell(store, actor_named(store, cast.people["Wim"]), worn, evening, *worn_nights(evening, 3))
    reasons = {reason["key"] for reason in shown(store, cast, "Wim", evening)["answer"]["reasons"]}
    assert reasons == {"too_little_data"}, "and so a check would help all the same"
    assert check(store, cast, evening) == {"when": "this_evening", "why": "answer"}
    for name in ("target_holds", "below_target"):
        answer = {"eyes": {"right": {"answer": "wear", "reasons": [{"key": name}]}}}
        assert asking.wanted({"ask": None}, answer) is None


def test_H1_an_eye_that_needs_the_practice_is_asked_for_nothing(
    store: Store, cast: Cast, clock: Clock, worn: str, asks: dict[str, Any]
) -> None:
    evening = clock() + timedelta(days=3)
    assert check(store, cast, evening) is not None
    tell(store, actor_named(store, cast.people["Wim"]), worn, evening, report(evening, right=RED_PAIN))
    assert check(store, cast, evening) is None
