"""Test alerts: whose turn it is, once a day, what counts as accepted and answered, which ways count as dead."""

from __future__ import annotations

import threading
from collections import Counter
from datetime import UTC, datetime, timedelta

import pytest
from fakes import Clock
from people import Cast
from reach import add_browser, add_gateway
from sqlalchemy import select
from telling import actor_named

from companion.common.errors import InvalidInput, NotAllowed, NotFound
from companion.delivery.base import DeliveryError, Message
from companion.store.engine import Store
from companion.store.models import AlertTest, AuditEvent, Outbox, Person, Practice
from companion.usecases import checking, test_alerts
from companion.usecases.desk import desk
from companion.usecases.sending import send_due
from companion.usecases.test_alerts import send_daily_tests, way_state

TEN = datetime(2026, 11, 3, 10, 0, tzinfo=UTC)
"""Ten in the morning in London, a Tuesday."""


def sent(store: Store, cast: Cast, practice: str = "mill") -> list[tuple[str, str]]:
    """Person and channel of every test of a practice, in the order in which they went."""
    with store.reading() as session:
        rows = session.execute(
            select(Person.name, AlertTest.channel)
            .join(Person, Person.id == AlertTest.person_id)
            .where(AlertTest.practice_id == cast.practices[practice])
            .order_by(AlertTest.sent_at, Person.name, AlertTest.channel)
        )
        return [(name, channel) for name, channel in rows]


# -- the daily round ---------------------------------------------------------------------------------
def test_H2_each_day_one_person_in_turn_is_tested_once(store: Store, cast: Cast) -> None:
    turns = []
    for day in range(6):
        for hour in (0, 1, 9):
            send_daily_tests(store, TEN + timedelta(days=day, hours=hour))
        turns.append(sent(store, cast)[day:])
    assert [len(one) for one in turns] == [1] * 6
    names = [name for ((name, _),) in turns]
    assert set(names[:3]) == set(names[3:]) == {"Asta", "Pavel", "Mina"}
    assert names[:3] == names[3:]


def test_H2_each_channel_of_a_practice_speaks_every_day(store: Store, cast: Cast, clock: Clock) -> None:
    with store.writing() as session:
        add_browser(session, cast.people["Asta"], clock())
        add_browser(session, cast.people["Asta"], clock())
        add_browser(session, cast.people["Mina"], clock())
        session.get_one(Person, cast.people["Pavel"]).email = None
        add_gateway(session, cast.practices["mill"], clock())
        session.commit()
    for day in range(6):
        known = len(sent(store, cast))
        send_daily_tests(store, TEN + timedelta(days=day))
        today = sent(store, cast)[known:]
        assert Counter(channel for _, channel in today) == {"mail": 1, "push": 1, "webhook": 1}
        assert len({name for name, _ in today}) <= 2
    assert {name for name, channel in sent(store, cast) if channel == "push"} == {"Asta", "Mina"}
    with store.reading() as session:
        pushes = session.scalars(select(Outbox).where(Outbox.channel == "push")).all()
    assert len(pushes) > 6, "one message a browser"


@pytest.mark.parametrize(
    ("hour", "minute", "goes"), [(9, 59, False), (10, 0, True), (19, 59, True), (20, 0, False), (3, 0, False)]
)
def test_nobody_is_woken_by_a_test(store: Store, cast: Cast, hour: int, minute: int, goes: bool) -> None:
    send_daily_tests(store, TEN.replace(hour=hour, minute=minute))
    assert bool(sent(store, cast)) is goes


def test_the_hour_is_the_practices_own(store: Store, cast: Cast) -> None:
    with store.writing() as session:
        session.get_one(Practice, cast.practices["mill"]).zone = "Asia/Singapore"
        session.commit()
    send_daily_tests(store, TEN.replace(hour=2))
    assert len(sent(store, cast)) == 1
    assert sent(store, cast, "hill") == []


def test_no_daily_test_goes_while_alerts_are_off(store: Store, cast: Cast) -> None:
    with store.writing() as session:
        session.get_one(Practice, cast.practices["mill"]).alerts_on = False
        session.commit()
    send_daily_tests(store, TEN)
    assert sent(store, cast) == []
    assert len(sent(store, cast, "hill")) == 1


def test_a_practice_that_breaks_holds_up_no_other(store: Store, cast: Cast) -> None:
    with store.writing() as session:
        session.get_one(Practice, cast.practices["mill"]).zone = "Nowhere/Here"
        session.commit()
    with pytest.raises(ExceptionGroup):
        send_daily_tests(store, TEN)
    assert len(sent(store, cast, "hill")) == 1


def test_two_workers_at_once_send_one_days_tests(store: Store, cast: Cast) -> None:
    for day in range(5):
        at, gate = TEN + timedelta(days=day), threading.Barrier(2)

        def work(at: datetime = at, gate: threading.Barrier = gate) -> None:
            gate.wait()
            send_daily_tests(store, at)

        workers = [threading.Thread(target=work) for _ in range(2)]
        for one in workers:
            one.start()
        for one in workers:
            one.join()
        assert len(sent(store, cast)) == day + 1


def test_where_nobody_has_a_way_no_test_goes(store: Store, cast: Cast) -> None:
    with store.writing() as session:
        for name in ("Asta", "Pavel", "Mina"):
            session.get_one(Person, cast.people[name]).email = None
        session.commit()
    send_daily_tests(store, TEN)
    assert sent(store, cast) == []


# -- sent, accepted, answered ------------------------------------------------------------------------
def test_H2_accepted_is_the_channels_word_and_answered_a_persons(store: Store, cast: Cast, clock: Clock) -> None:
    mina, asta = (actor_named(store, cast.people[name]) for name in ("Mina", "Asta"))
    with store.writing() as session:
        add_browser(session, asta.person_id, clock())
        session.commit()
    with store.writing() as session:
        test_alerts.send_now(session, mina, asta.person_id, clock())
    taken: list[Message] = []

    def mail(message: Message) -> str:
        taken.append(message)
        return "taken"

    def dead(message: Message) -> str:
        raise DeliveryError("gone", permanent=True)

    send_due(store, {"mail": mail, "push": dead}, "http://here", "one", clock)
    with store.reading() as session:
        tests = {one.channel: one for one in session.scalars(select(AlertTest))}
    assert tests["mail"].accepted_at == clock()
    assert (tests["push"].accepted_at, tests["push"].failed_at) == (None, clock())
    assert tests["mail"].answered_at is None
    (message,) = taken
    assert f"http://here/desk/tests/{tests['mail'].id}" in message.text
    assert "Asta" not in message.text + message.subject
    with store.writing() as session:
        test_alerts.answer(session, asta, tests["mail"].id, clock.advance(minutes=3))
    with store.writing() as session:
        test_alerts.answer(session, asta, tests["mail"].id, clock.advance(minutes=3))
    with store.reading() as session:
        row = session.get_one(AlertTest, tests["mail"].id)
        verbs = session.scalars(select(AuditEvent.verb).where(AuditEvent.object_id == row.id)).all()
    assert (row.answered_by, row.answered_at) == (asta.person_id, clock() - timedelta(minutes=3))
    assert list(verbs) == ["answer_test"]


def test_H2_nobody_answers_for_another(store: Store, cast: Cast, clock: Clock) -> None:
    mina = actor_named(store, cast.people["Mina"])
    with store.writing() as session:
        test_alerts.send_now(session, mina, cast.people["Asta"], clock())
    with store.reading() as session:
        test_id = session.scalars(select(AlertTest.id)).one()
    for name, refusal in (("Mina", NotAllowed), ("Pavel", NotAllowed), ("Otto", NotFound), ("Gwen", NotAllowed)):
        with store.writing() as session, pytest.raises(refusal):
            test_alerts.answer(session, actor_named(store, cast.people[name]), test_id, clock())
        with store.reading() as session, pytest.raises(refusal):
            test_alerts.show(session, actor_named(store, cast.people[name]), test_id)


def test_a_test_asked_for_twice_goes_once(store: Store, cast: Cast, clock: Clock) -> None:
    mina = actor_named(store, cast.people["Mina"])
    for seconds in (0, 30, 30):
        clock.advance(seconds=seconds)
        with store.writing() as session:
            test_alerts.send_now(session, mina, cast.people["Asta"], clock())
    assert len(sent(store, cast)) == 2


def test_a_test_to_somebody_without_a_way_or_from_elsewhere_is_refused(
    store: Store, cast: Cast, clock: Clock
) -> None:
    mina = actor_named(store, cast.people["Mina"])
    with store.writing() as session:
        session.get_one(Person, cast.people["Asta"]).email = None
        session.commit()
    with store.writing() as session, pytest.raises(InvalidInput, match="no_way_to_reach"):
        test_alerts.send_now(session, mina, cast.people["Asta"], clock())
    for stranger in (cast.people["Otto"], cast.people["Gwen"], "nobody"):
        with store.writing() as session, pytest.raises(NotFound):
            test_alerts.send_now(session, mina, stranger, clock())


# -- dead ways ---------------------------------------------------------------------------------------
def sample(days_ago: float, *, taken: bool = True, failed: bool = False, answered: bool = False) -> AlertTest:
    at = TEN - timedelta(days=days_ago)
    return AlertTest(
        sent_at=at,
        accepted_at=at if taken else None,
        failed_at=at if failed else None,
        answered_at=at if answered else None,
    )


STATES = [
    ([], "untested"),
    ([sample(0.01)], "waiting"),
    ([sample(0.01, taken=False)], "waiting"),
    ([sample(0.03, taken=False)], "not_accepted"),  # three quarters of an hour
    ([sample(0.001, taken=False, failed=True)], "not_accepted"),
    ([sample(3, taken=False), sample(2)], "waiting"),
    ([sample(2), sample(1, taken=False)], "not_accepted"),
    ([sample(1, answered=True)], "answered"),
    ([sample(40, answered=True)], "answered"),
    ([sample(1, answered=True), sample(0.01)], "waiting"),
    ([sample(13), sample(4)], "waiting"),
    ([sample(14), sample(4)], "not_answered"),
    ([sample(20), sample(14.5, answered=True), sample(13.9)], "waiting"),
    ([sample(20), sample(16, answered=True), sample(14.1), sample(3)], "not_answered"),
    ([sample(1, answered=True), sample(0.5, taken=False)], "not_accepted"),
]


@pytest.mark.parametrize(("tests", "state"), STATES)
def test_H2_how_a_way_stands(tests: list[AlertTest], state: str) -> None:
    assert way_state(tests, TEN) == state


def test_H2_a_dead_way_is_shown_at_the_desk_and_by_the_check(store: Store, cast: Cast, clock: Clock) -> None:
    clock.now = TEN
    mina, asta = (actor_named(store, cast.people[name]) for name in ("Mina", "Asta"))
    with store.writing() as session:
        test_alerts.send_now(session, mina, asta.person_id, clock())

    def seen() -> tuple[list[str], list[str]]:
        with store.reading() as session:
            at_desk = [f"{one['person']} {one['why']}" for one in desk(session, asta, clock())["dead_ways"]]
            found = [one.code for one in checking.findings(session, clock()) if one.code.startswith("way_")]
        return at_desk, found

    assert seen() == ([], [])
    clock.advance(minutes=30)
    assert seen() == (["Asta not_accepted"], ["way_not_accepted"])

    def takes(message: Message) -> str:
        return "taken"

    send_due(store, {"mail": takes}, "http://here", "one", clock)
    assert seen() == ([], [])
    clock.advance(days=14)
    assert seen() == (["Asta not_answered"], ["way_not_answered"])
    with store.writing() as session:
        test_alerts.answer(session, asta, session.scalars(select(AlertTest.id)).one(), clock())
    assert seen() == ([], [])


def test_the_check_says_that_alerts_are_off_and_that_nobody_is_on_call(
    store: Store, cast: Cast, clock: Clock
) -> None:
    def codes() -> set[str]:
        with store.reading() as session:
            return {one.code for one in checking.findings(session, clock()) if one.area == "practices"}

    assert codes() == set()
    with store.writing() as session:
        mill = session.get_one(Practice, cast.practices["mill"])
        mill.alert_plan = [{"person_id": cast.people["Asta"], "channel": "any", "when": "open"}]
        mill.on_call_hours = {"sat": [["09:00", "12:00"]]}
        session.commit()
    assert codes() == {"on_call_unmanned"}
    with store.writing() as session:
        session.get_one(Practice, cast.practices["mill"]).alerts_on = False
        session.commit()
    assert codes() == {"alerts_off"}
