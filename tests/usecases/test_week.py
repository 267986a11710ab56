"""One tap for a week of which nothing was said: offered late, seldom, and never beside a hold."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from fakes import Clock
from people import Cast
from sqlalchemy import select
from telling import RED_PAIN, actor_named, entry, report, tell, worn_nights

from companion.store.engine import Store
from companion.store.models import Hold, Wearer
from companion.usecases import alerts
from companion.usecases.tonight import tonight


def week(store: Store, cast: Cast, clock: Clock, who: str = "Gwen") -> Any:
    with store.reading() as session:
        view = tonight(session, actor_named(store, cast.people[who]), cast.wearers["Nola"], clock())
    return view["week"]


def silent_nights(store: Store, cast: Cast, clock: Clock, nights: int) -> None:
    tell(store, actor_named(store, cast.people["Gwen"]), cast.wearers["Nola"], clock(), *worn_nights(clock(), 20))
    clock.now = clock() + timedelta(days=nights)


def test_three_silent_nights_are_asked_for_at_once_and_two_are_not(store: Store, cast: Cast, clock: Clock) -> None:
    first = clock().date()
    silent_nights(store, cast, clock, 2)
    assert week(store, cast, clock) is None
    clock.now += timedelta(days=1)
    since, until = first.isoformat(), (first + timedelta(days=2)).isoformat()
    assert week(store, cast, clock) == {"since": since, "until": until, "nights": 3}


def test_what_was_logged_between_is_not_counted_and_a_week_is_the_most(
    store: Store, cast: Cast, clock: Clock
) -> None:
    silent_nights(store, cast, clock, 9)
    nola, gwen = cast.wearers["Nola"], actor_named(store, cast.people["Gwen"])
    logged = clock().date() - timedelta(days=3)
    tell(store, gwen, nola, clock(), entry("no_lenses", clock(), {"eyes": "both", "night": logged.isoformat()}))
    asked = week(store, cast, clock)
    assert asked["nights"] == 6
    assert asked["since"] == (clock().date() - timedelta(days=7)).isoformat()


def test_one_tap_tells_them_and_the_question_is_gone(store: Store, cast: Cast, clock: Clock) -> None:
    silent_nights(store, cast, clock, 7)
    asked = week(store, cast, clock)
    said = {"since": asked["since"], "until": asked["until"], "except": []}
    gwen = actor_named(store, cast.people["Gwen"])
    assert not tell(store, gwen, cast.wearers["Nola"], clock(), entry("as_planned", clock(), said)).rejected
    assert week(store, cast, clock) is None


def test_the_first_weeks_are_told_night_by_night(store: Store, cast: Cast, clock: Clock) -> None:
    silent_nights(store, cast, clock, 5)
    with store.writing() as session:
        session.get_one(Wearer, cast.wearers["Nola"]).first_night = clock().date() - timedelta(days=20)
        session.commit()
    assert week(store, cast, clock) is None


def test_H12_a_held_eye_is_never_said_to_have_worn_as_planned(store: Store, cast: Cast, clock: Clock) -> None:
    silent_nights(store, cast, clock, 5)
    gwen = actor_named(store, cast.people["Gwen"])
    tell(store, gwen, cast.wearers["Nola"], clock(), report(clock(), right=RED_PAIN))
    clock.now += timedelta(days=4)
    assert week(store, cast, clock) is None
    with store.writing() as session:
        for hold in session.scalars(select(Hold)):
            alerts.lift_hold(
                session, actor_named(store, cast.people["Pavel"]), hold.id, "white and quiet", clock()
            )
    assert week(store, cast, clock) is None, "the nights under the hold were not worn, whatever is lifted since"
    clock.now += timedelta(days=4)
    assert week(store, cast, clock) is None
    clock.now += timedelta(days=4)
    assert week(store, cast, clock)["nights"] == 7
