"""Which alert *Tonight* shows, of several: what nobody answers is hidden behind nothing."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest
from fakes import Clock
from people import Cast
from sqlalchemy import select
from telling import RED_PAIN, actor_named, report, tell
from test_tonight import at, shown

from companion.store.engine import Store
from companion.store.models import Alert
from companion.usecases.alerts import close, record_contact, take


def test_H2_tonight_says_when_nobody_answers(store: Store, cast: Cast, clock: Clock) -> None:
    gwen, nola = actor_named(store, cast.people["Gwen"]), cast.wearers["Nola"]
    tell(store, gwen, nola, clock(), report(clock(), right=RED_PAIN))
    news = [
        shown(store, cast, "Gwen", "Nola", clock() + timedelta(minutes=m))["alert"]["news"] for m in (29, 31)
    ]
    assert news == [None, "nobody_took_it"]


def alert_levels(store: Store) -> dict[int, str]:
    with store.reading() as session:
        return {one.level: one.id for one in session.scalars(select(Alert))}


def reached(store: Store, cast: Cast, alert_id: str, now: datetime) -> None:
    with store.writing() as session:
        record_contact(session, actor_named(store, cast.people["Asta"]), alert_id, True, "", now)


def monday_and_tuesday(store: Store, cast: Cast, monday: datetime, tuesday: datetime) -> dict[int, str]:
    """Level 4 of the right eye on Monday, level 3 of the left on Tuesday; both open. Their alerts by level."""
    gwen, nola = actor_named(store, cast.people["Gwen"]), cast.wearers["Nola"]
    tell(store, gwen, nola, monday, report(monday, right=RED_PAIN))
    tell(store, gwen, nola, tuesday, report(tuesday, left={"redness": "red"}))
    alerts = alert_levels(store)
    assert set(alerts) == {3, 4}
    return alerts


@pytest.mark.parametrize("hours_later", [1, 5])
def test_H2_an_alert_that_nobody_answers_is_not_hidden_behind_an_older_graver_one_that_is_answered(
    store: Store, cast: Cast, clock: Clock, hours_later: int
) -> None:
    """The graver one stays open until a practitioner closes it; the family was reached about it on Monday."""
    tuesday = at(clock, 12, days=1)
    alerts = monday_and_tuesday(store, cast, clock(), tuesday)
    reached(store, cast, alerts[4], clock() + timedelta(minutes=10))
    later = tuesday + timedelta(hours=hours_later)
    view = shown(store, cast, "Gwen", "Nola", later)["alert"]
    assert (view["id"], view["level"]) == (alerts[3], 3)
    assert view["news"] == ("nobody_took_it" if hours_later == 5 else None)
    reached(store, cast, alerts[3], later)
    assert shown(store, cast, "Gwen", "Nola", later)["alert"]["level"] == 4


def test_H2_nor_behind_one_about_which_the_family_says_that_somebody_has_called(
    store: Store, cast: Cast, clock: Clock
) -> None:
    tuesday = at(clock, 12, days=1)
    alerts = monday_and_tuesday(store, cast, clock(), tuesday)
    with store.writing() as session:
        take(session, actor_named(store, cast.people["Asta"]), alerts[4], clock())
    assert shown(store, cast, "Gwen", "Nola", tuesday)["alert"]["level"] == 4
    with store.writing() as session:
        row = session.get_one(Alert, alerts[4])
        row.called_said, row.called_said_at = "yes", clock() + timedelta(minutes=10)
        session.commit()
    assert shown(store, cast, "Gwen", "Nola", tuesday)["alert"]["level"] == 3


def test_H2_nor_behind_one_that_time_had_raised_before_somebody_reached_them(
    store: Store, cast: Cast, clock: Clock
) -> None:
    tuesday = at(clock, 12, days=1)
    alerts = monday_and_tuesday(store, cast, clock(), tuesday)
    with store.writing() as session:
        session.get_one(Alert, alerts[4]).raised_again_at = clock() + timedelta(minutes=5)
        session.commit()
    reached(store, cast, alerts[4], clock() + timedelta(minutes=10))
    assert shown(store, cast, "Gwen", "Nola", tuesday)["alert"]["level"] == 3


def test_H2_of_two_that_nobody_answers_the_graver_is_shown(store: Store, cast: Cast, clock: Clock) -> None:
    tuesday = at(clock, 12, days=1)
    alerts = monday_and_tuesday(store, cast, clock(), tuesday)
    view = shown(store, cast, "Gwen", "Nola", tuesday + timedelta(hours=5))["alert"]
    assert (view["id"], view["news"]) == (alerts[4], "nobody_took_it")


def test_what_is_only_on_the_list_does_not_stand_before_a_grave_one_that_is_answered(
    store: Store, cast: Cast, clock: Clock
) -> None:
    """At level 2 nobody is sent a message, so nobody is late."""
    gwen, nola = actor_named(store, cast.people["Gwen"]), cast.wearers["Nola"]
    tell(store, gwen, nola, clock(), report(clock(), right=RED_PAIN))
    reached(store, cast, alert_levels(store)[4], clock())
    tell(store, gwen, nola, clock(), report(clock(), left={"itch": "strong"}))
    assert set(alert_levels(store)) == {2, 4}
    assert shown(store, cast, "Gwen", "Nola", clock())["alert"]["level"] == 4


def test_what_is_open_stands_before_what_is_closed(store: Store, cast: Cast, clock: Clock) -> None:
    tuesday = at(clock, 12, days=1)
    alerts = monday_and_tuesday(store, cast, clock(), tuesday)
    reached(store, cast, alerts[3], tuesday)
    pavel = actor_named(store, cast.people["Pavel"])
    with store.writing() as session:
        close(session, pavel, alerts[4], "seen_here", "", tuesday, confirmed=True)
    assert shown(store, cast, "Gwen", "Nola", tuesday)["alert"]["level"] == 3
