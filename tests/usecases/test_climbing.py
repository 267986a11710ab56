"""From a report to the next person and the next, until somebody has taken it and reached the family."""

from __future__ import annotations

import threading
from collections import Counter
from datetime import timedelta

import pytest
from fakes import Clock
from people import Cast
from sqlalchemy import select
from telling import RED_PAIN, actor_named, report, tell

from companion.escalation.climb import FamilyNews
from companion.store.engine import Store
from companion.store.models import Alert, Delivery, Outbox, Person, Practice
from companion.usecases.alerts import close, record_contact, take
from companion.usecases.climbing import climb_alerts, family_news


@pytest.fixture
def alert_id(store: Store, cast: Cast, clock: Clock) -> str:
    """Nola's red, sore eye: level 4."""
    gwen = actor_named(store, cast.people["Gwen"])
    receipt = tell(store, gwen, cast.wearers["Nola"], clock(), report(clock(), right=RED_PAIN))
    assert receipt.reports
    with store.reading() as session:
        alert = session.scalars(select(Alert)).one()
        assert alert.level == 4
        return alert.id


def told(store: Store) -> list[tuple[int, str, str]]:
    """Step, name and message of everything queued so far."""
    with store.reading() as session:
        rows = session.execute(
            select(Delivery.step, Person.name, Outbox.message)
            .join(Person, Person.id == Delivery.person_id)
            .join(Outbox, Outbox.delivery_id == Delivery.id)
            .order_by(Delivery.queued_at, Delivery.step, Person.name)
        )
        return [(step, name, message["key"]) for step, name, message in rows]


def news(store: Store, alert_id: str, clock: Clock) -> FamilyNews | None:
    with store.reading() as session:
        alert = session.get_one(Alert, alert_id)
        return family_news(session, session.get_one(Practice, alert.practice_id), alert, clock())


def test_H2_an_alert_that_nobody_takes_climbs_to_everybody(
    store: Store, cast: Cast, clock: Clock, alert_id: str
) -> None:
    first = told(store)
    assert [(step, key) for step, _, key in first] == [(0, "alert")]
    assert climb_alerts(store, clock()) == 0
    clock.advance(minutes=15)
    assert climb_alerts(store, clock()) == 1
    assert climb_alerts(store, clock()) == 0
    assert told(store)[-1][2] == "alert_next"
    assert told(store)[-1][1] != first[0][1]
    assert news(store, alert_id, clock) is None
    clock.advance(minutes=15)
    assert climb_alerts(store, clock()) == 3
    assert Counter(step for step, _, _ in told(store)) == {0: 1, 1: 1, 2: 3}
    assert {name for step, name, _ in told(store) if step == 2} == {"Asta", "Pavel", "Mina"}
    assert news(store, alert_id, clock) is FamilyNews.NOBODY_TOOK_IT


def test_H2_a_worker_that_slept_misses_no_step(store: Store, clock: Clock, alert_id: str) -> None:
    clock.advance(hours=5)
    assert climb_alerts(store, clock()) == 4
    assert Counter(step for step, _, _ in told(store)) == {0: 1, 1: 1, 2: 3}


def test_H2_at_the_top_everybody_hears_again_every_half_hour(store: Store, clock: Clock, alert_id: str) -> None:
    clock.advance(minutes=30)
    climb_alerts(store, clock())
    for again in (3, 4, 5):
        clock.advance(minutes=29)
        assert climb_alerts(store, clock()) == 0
        clock.advance(minutes=1)
        assert climb_alerts(store, clock()) == 3
        assert {name for step, name, _ in told(store) if step == again} == {"Asta", "Pavel", "Mina"}


def test_H2_a_plan_of_one_is_told_first_and_the_last_step_tells_everybody(
    store: Store, cast: Cast, clock: Clock
) -> None:
    with store.writing() as session:
        mill = session.get_one(Practice, cast.practices["mill"])
        mill.alert_plan = [{"person_id": cast.people["Mina"], "channel": "mail"}]
        session.commit()
    gwen = actor_named(store, cast.people["Gwen"])
    tell(store, gwen, cast.wearers["Nola"], clock(), report(clock(), right=RED_PAIN))
    clock.advance(minutes=30)
    climb_alerts(store, clock())
    assert [name for step, name, _ in told(store) if step == 0] == ["Mina"]
    assert {name for step, name, _ in told(store) if step == 2} == {"Asta", "Pavel", "Mina"}


def test_H2_taken_stops_the_climb_and_no_contact_starts_it_again(
    store: Store, cast: Cast, clock: Clock, alert_id: str
) -> None:
    pavel = actor_named(store, cast.people["Pavel"])
    with store.writing() as session:
        take(session, pavel, alert_id, clock())
    clock.advance(minutes=59)
    assert climb_alerts(store, clock()) == 0
    assert news(store, alert_id, clock) is None
    clock.advance(minutes=1)
    assert climb_alerts(store, clock()) == 1
    assert told(store)[-1][0] == 1
    assert told(store)[-1][2] == "alert_no_contact"
    assert news(store, alert_id, clock) is FamilyNews.NO_CONTACT_YET
    with store.writing() as session:
        record_contact(session, pavel, alert_id, True, "", clock())
    clock.advance(hours=9)
    assert climb_alerts(store, clock()) == 0


def test_a_closed_alert_does_not_climb(store: Store, cast: Cast, clock: Clock, alert_id: str) -> None:
    pavel = actor_named(store, cast.people["Pavel"])
    with store.writing() as session:
        close(session, pavel, alert_id, "seen_here", "", clock(), confirmed=True)
    clock.advance(hours=9)
    assert climb_alerts(store, clock()) == 0


def test_H2_an_alert_with_nobody_to_tell_breaks_nothing_and_the_family_is_told(
    store: Store, cast: Cast, clock: Clock, alert_id: str
) -> None:
    with store.writing() as session:
        for person in session.scalars(select(Person)):
            person.email = None
        session.commit()
    clock.advance(hours=1)
    assert climb_alerts(store, clock()) == 0
    assert news(store, alert_id, clock) is FamilyNews.NOBODY_TO_TELL


def test_H2_an_alert_that_breaks_holds_up_no_other(store: Store, cast: Cast, clock: Clock, alert_id: str) -> None:
    otto = actor_named(store, cast.people["Gil"])
    tell(store, otto, cast.wearers["Lea"], clock(), report(clock(), left=RED_PAIN))
    with store.writing() as session:
        session.get_one(Practice, cast.practices["mill"]).zone = "Nowhere/Here"
        session.commit()
    clock.now += timedelta(minutes=15)
    with pytest.raises(ExceptionGroup):
        climb_alerts(store, clock())
    assert {name for step, name, _ in told(store) if step == 1} <= {"Otto", "Petra", "Mark"}
    assert any(step == 1 for step, _, _ in told(store))


def test_H2_two_workers_at_once_write_each_step_once(
    store: Store, store_url: str, clock: Clock, alert_id: str
) -> None:
    clock.advance(hours=1)
    start = threading.Barrier(2)

    def work() -> None:
        own = Store(store_url)
        start.wait()
        climb_alerts(own, clock())
        own.close()

    workers = [threading.Thread(target=work) for _ in range(2)]
    for one in workers:
        one.start()
    for one in workers:
        one.join()
    assert Counter(step for step, _, _ in told(store)) == {0: 1, 1: 1, 2: 3}
