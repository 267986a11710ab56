"""Sight that the nights do not explain: at the desk, on the wearer's page, on the family's first page."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from fakes import Clock
from people import Cast
from telling import actor_named, entry, tell, worn_nights

from companion.store.engine import Store
from companion.usecases import desk, wearer_page
from companion.usecases.forecasting import refresh_forecast
from companion.usecases.tonight import tonight


def looks(clock: Clock, days: range, right: float, left: float) -> Any:
    for ago in days:
        at = clock().replace(hour=7, minute=30) - timedelta(days=ago)
        yield entry("sight", at, {"eye": "right", "logmar": right, "distance_m": 6})
        yield entry("sight", at, {"eye": "left", "logmar": left, "distance_m": 6})


@pytest.fixture
def wim(store: Store, cast: Cast, clock: Clock) -> str:
    """Three weeks of nights; the right eye, with the stronger lens, reads six lines worse for three days."""
    wearer_id = cast.wearers["Wim"]
    told = [*looks(clock, range(12, 2, -1), 0.0, 0.0), *looks(clock, range(2, -1, -1), 0.6, -0.04)]
    tell(store, actor_named(store, cast.people["Wim"]), wearer_id, clock(), *worn_nights(clock(), 21), *told)
    refresh_forecast(store, wearer_id, clock())
    return wearer_id


def test_H1_the_desk_has_a_row_the_list_a_flag_the_page_both(
    store: Store, cast: Cast, clock: Clock, wim: str
) -> None:
    pavel = actor_named(store, cast.people["Pavel"])
    with store.reading() as session:
        rows = desk.desk(session, pavel, clock())["surprised"]
        flags = {one["name"]: one["surprises"] for one in desk.wearers(session, pavel, clock())["wearers"]}
        page = wearer_page.wearer(session, pavel, wim, clock())
    assert [one["wearer"]["name"] for one in rows] == ["Wim"]
    (found,) = rows[0]["surprises"]
    assert (found["eye"], found["checks"], found["of"], found["perhaps_swapped"]) == ("right", 3, 3, True)
    assert found["worse_logmar"] >= 0.3 and found["lines"] >= 3
    assert flags["Wim"] == page["surprises"] == [found]
    assert flags["Nola"] == []
    assert page["about"]["eyes"]["left"]["too_much_plus"] is not None


def test_H2_another_practice_sees_nothing_of_it(store: Store, cast: Cast, clock: Clock, wim: str) -> None:
    with store.reading() as session:
        assert desk.desk(session, actor_named(store, cast.people["Petra"]), clock())["surprised"] == []


def test_the_family_hears_which_eye(store: Store, cast: Cast, clock: Clock, wim: str) -> None:
    wims = actor_named(store, cast.people["Wim"])
    with store.reading() as session:
        view = tonight(session, wims, wim, clock())
    assert [(one["eye"], one["perhaps_swapped"]) for one in view["surprises"]] == [("right", True)]
