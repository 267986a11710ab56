"""Other plans and the way back, for the practice; the first weeks, for both."""

from __future__ import annotations

from datetime import timedelta

import pytest
from fakes import Clock
from people import Cast
from sqlalchemy import select
from telling import actor_named, tell, worn_nights

from companion.common.errors import NotAllowed, NotFound
from companion.store.engine import Store
from companion.store.models import Plan, Refraction, Wearer
from companion.usecases.first_weeks import first_weeks_page
from companion.usecases.forecasting import refresh_forecast
from companion.usecases.plans_page import plans_page
from companion.usecases.tonight import tonight
from companion.usecases.wearer_page import wearer as wearer_page


def test_plans_are_worked_out_from_this_wearers_fit_and_change_nothing(
    store: Store, cast: Cast, clock: Clock
) -> None:
    gwen, nola = actor_named(store, cast.people["Gwen"]), cast.wearers["Nola"]
    tell(store, gwen, nola, clock(), *worn_nights(clock(), 20))
    refresh_forecast(store, nola, clock())
    with store.reading() as session:
        before = session.scalars(select(Plan.id).order_by(Plan.id)).all()
        view = plans_page(session, actor_named(store, cast.people["Pavel"]), nola, clock())
        assert session.scalars(select(Plan.id).order_by(Plan.id)).all() == before
        assert not session.dirty and not session.new
    assert view["plans"]["in_force"]["nights_per_week"] == 7
    assert view["plans"]["target"] == {"logmar": 0.2, "until_local": "18:00", "eyes": "each", "distance_m": None}
    assert set(view["way_back"]["eyes"]) == {"right", "left"}
    assert view["way_back"]["eyes"]["right"]["days"]["p50"] > 3
    assert view["may_sign"]


@pytest.mark.parametrize(("who", "error"), [("Gwen", NotAllowed), ("Hedda", NotFound), ("Petra", NotFound)])
def test_plans_are_for_this_practice(
    store: Store, cast: Cast, clock: Clock, who: str, error: type[Exception]
) -> None:
    with store.reading() as session, pytest.raises(error):
        plans_page(session, actor_named(store, cast.people[who]), cast.wearers["Nola"], clock())


def test_an_assistant_looks_and_does_not_sign(store: Store, cast: Cast, clock: Clock) -> None:
    with store.reading() as session:
        view = plans_page(session, actor_named(store, cast.people["Asta"]), cast.wearers["Nola"], clock())
    assert not view["may_sign"]


def test_without_a_refraction_there_is_nothing_to_work_out(store: Store, cast: Cast, clock: Clock) -> None:
    nola = cast.wearers["Nola"]
    with store.writing() as session:
        for row in session.scalars(select(Refraction).where(Refraction.wearer_id == nola)):
            session.delete(row)
        session.commit()
    with store.reading() as session:
        view = plans_page(session, actor_named(store, cast.people["Pavel"]), nola, clock())
        weeks = first_weeks_page(session, actor_named(store, cast.people["Gwen"]), nola, clock())
    assert (view["plans"], view["way_back"], weeks["weeks"]) == (None, None, None)


@pytest.mark.parametrize(
    ("nights_ago", "habit", "new"), [(0, None, True), (29, None, True), (30, None, False), (5, 6.0, False)]
)
def test_the_first_30_nights_of_a_new_wearer_have_the_way_to_the_first_weeks(
    store: Store, cast: Cast, clock: Clock, nights_ago: int, habit: float | None, new: bool
) -> None:
    nola = cast.wearers["Nola"]
    with store.writing() as session:
        row = session.get_one(Wearer, nola)
        row.first_night = clock().date() - timedelta(days=nights_ago)
        row.settled_nights_per_week = habit
        session.commit()
    with store.reading() as session:
        gwen, pavel = (actor_named(store, cast.people[who]) for who in ("Gwen", "Pavel"))
        assert tonight(session, gwen, nola, clock())["ahead"]["is_new"] is new
        assert (wearer_page(session, pavel, nola, clock())["first_weeks"] is not None) is new
        page = first_weeks_page(session, gwen, nola, clock())
        assert [one["night"] for one in page["weeks"]["eyes"]["right"]] == [1, 2, 3, 4, 5, 6, 7, 30]
        with pytest.raises(NotAllowed):
            first_weeks_page(session, pavel, nola, clock())
