"""Who can be told, by which ways: each way is carried apart, and nothing waits for the plan."""

from __future__ import annotations

from datetime import timedelta

import pytest
from fakes import Clock
from people import Cast
from reach import add_browser, add_gateway, messages, plan, the_alert
from sqlalchemy import select
from telling import RED_PAIN, actor_named, report, tell

from companion.common.moments import zone
from companion.delivery.base import DeliveryError, Message
from companion.store.engine import Store
from companion.store.models import Delivery, Outbox, Person, Practice, PushSubscription, Report, Webhook
from companion.usecases.alert_state import alert_for_family
from companion.usecases.climbing import climb_alerts
from companion.usecases.reaching import people_to_tell, plan_lines, rota_of, ways_to_reach
from companion.usecases.reports import report as family_report
from companion.usecases.sending import send_due

NIGHTS = {day: [["00:00", "08:30"], ["18:00", "24:00"]] for day in ("mon", "tue", "wed", "thu", "fri")}


def raise_alert(store: Store, cast: Cast, clock: Clock) -> None:
    """Nola's red, sore eye on a Monday at half past eight in the evening: level 4, and the practice is shut."""
    gwen = actor_named(store, cast.people["Gwen"])
    tell(store, gwen, cast.wearers["Nola"], clock(), report(clock(), right=RED_PAIN))


def everything(store: Store, cast: Cast, clock: Clock) -> dict[str, str]:
    """Give Asta two browsers beside her mail, and the practice a gateway. Returns ids by name."""
    with store.writing() as session:
        asta = session.get_one(Person, cast.people["Asta"])
        asta.phone = "+441632960001"
        ids = {name: add_browser(session, asta.id, clock()) for name in ("one", "two")}
        ids["gateway"] = add_gateway(session, cast.practices["mill"], clock())
        session.commit()
    return ids


def test_H2_an_alert_goes_by_every_way_that_a_person_has(store: Store, cast: Cast, clock: Clock) -> None:
    ids = everything(store, cast, clock)
    with store.writing() as session:
        session.get_one(Practice, cast.practices["mill"]).alert_plan = [{"person_id": cast.people["Asta"]}]
        session.commit()
    raise_alert(store, cast, clock)
    assert messages(store) == [
        (0, "Asta", "mail", "asta@example.org"),
        *sorted((0, "Asta", "push", ids[one]) for one in ("one", "two")),
        (0, "Asta", "webhook", f"{ids['gateway']} +441632960001"),
    ]
    with store.reading() as session:
        assert len(session.scalars(select(Delivery)).all()) == 3, "one a channel, whatever its browsers"


def test_H2_the_way_that_the_plan_wishes_for_or_every_way_where_it_is_dead(
    store: Store, cast: Cast, clock: Clock
) -> None:
    ids = everything(store, cast, clock)

    def channels(wish: str) -> list[str]:
        with store.reading() as session:
            practice = session.get_one(Practice, cast.practices["mill"])
            asta = session.get_one(Person, cast.people["Asta"])
            return [channel for channel, _ in ways_to_reach(session, practice, asta, wish)]

    every = ["push", "push", "mail", "webhook"]
    assert channels("any") == every
    assert channels("push") == ["push", "push"]
    assert (channels("mail"), channels("webhook")) == (["mail"], ["webhook"])
    assert channels("pigeon") == every
    with store.writing() as session:
        session.get_one(PushSubscription, ids["one"]).failing_since = clock()
        session.commit()
    assert channels("push") == ["push", "push"], "one browser still takes them"
    with store.writing() as session:
        session.get_one(PushSubscription, ids["two"]).failing_since = clock()
        session.get_one(Webhook, ids["gateway"]).failing_since = clock()
        session.get_one(Person, cast.people["Asta"]).email = None
        session.commit()
    every.remove("mail")
    assert channels("push") == channels("webhook") == channels("mail") == every


def test_H2_whoever_has_any_way_is_told_and_nobody_else(store: Store, cast: Cast, clock: Clock) -> None:
    with store.writing() as session:
        practice = session.get_one(Practice, cast.practices["mill"])
        for person in people_to_tell(session, practice):
            person.email = None
        session.flush()
        assert people_to_tell(session, practice) == []
        add_browser(session, cast.people["Pavel"], clock())
        assert [one.name for one in people_to_tell(session, practice)] == ["Pavel"]
        add_gateway(session, practice.id, clock())
        assert {one.name for one in people_to_tell(session, practice)} == {"Asta", "Pavel", "Mina"}
        session.commit()


def test_H2_a_dead_channel_never_blocks_another(store: Store, cast: Cast, clock: Clock) -> None:
    everything(store, cast, clock)
    plan(store, cast.practices["mill"], (cast.people["Asta"], "any", "always"), on_call={})
    raise_alert(store, cast, clock)
    taken: list[str] = []

    def dead(message: Message) -> str:
        raise DeliveryError("dead", permanent=True)

    def hangs(message: Message) -> str:
        raise DeliveryError("timed out", permanent=False)

    def takes(message: Message) -> str:
        taken.append(message.address)
        return "taken"

    send_due(store, {"mail": dead, "push": hangs, "webhook": takes}, "http://here", "one", clock)
    assert len(taken) == 1
    with store.reading() as session:
        states = {
            one.channel: (one.handed_over_at is not None, one.failed_at is not None)
            for one in session.scalars(select(Delivery))
        }
    assert states == {"mail": (False, True), "push": (False, False), "webhook": (True, False)}
    clock.advance(minutes=15)
    assert climb_alerts(store, clock()) == 1, "and the climb goes on as if nothing were wrong"


@pytest.mark.parametrize("final", [True, False])
def test_H2_the_way_that_the_plan_wishes_for_is_not_left_alone_with_an_alert(
    store: Store, cast: Cast, clock: Clock, final: bool
) -> None:
    everything(store, cast, clock)
    plan(store, cast.practices["mill"], (cast.people["Asta"], "mail", "always"), on_call={})
    raise_alert(store, cast, clock)

    def ways() -> list[str]:
        return [channel for _, _, channel, _ in messages(store)]

    def breaks(message: Message) -> str:
        raise DeliveryError("no", permanent=final)

    assert ways() == ["mail"]
    send_due(store, {"mail": breaks}, "http://here", "one", clock)
    if not final:
        clock.advance(minutes=1)
        assert climb_alerts(store, clock()) == 0
        clock.advance(minutes=1)
    assert climb_alerts(store, clock()) == 1
    assert ways() == ["mail", "push", "push", "webhook"]
    clock.advance(minutes=5)
    assert climb_alerts(store, clock()) == 0, "once"


def test_H2_a_wished_way_that_took_it_has_done_so(store: Store, cast: Cast, clock: Clock) -> None:
    everything(store, cast, clock)
    plan(store, cast.practices["mill"], (cast.people["Asta"], "mail", "always"), on_call={})
    raise_alert(store, cast, clock)
    send_due(store, {"mail": lambda message: "taken"}, "http://here", "one", clock)
    clock.advance(minutes=14)
    assert climb_alerts(store, clock()) == 0


@pytest.mark.parametrize("gone", [("one",), ("two",), ("one", "two")])
def test_a_step_has_failed_once_all_of_its_browsers_have(
    store: Store, cast: Cast, clock: Clock, gone: tuple[str, ...]
) -> None:
    ids = everything(store, cast, clock)
    plan(store, cast.practices["mill"], (cast.people["Asta"], "push", "always"), on_call={})
    raise_alert(store, cast, clock)

    def push(message: Message) -> str:
        if message.address in {ids[one] for one in gone}:
            raise DeliveryError("gone", permanent=True)
        return "taken"

    send_due(store, {"push": push}, "http://here", "one", clock)
    with store.reading() as session:
        (step,) = session.scalars(select(Delivery)).all()
        assert (step.failed_at is not None) == (len(gone) == 2)
        assert (step.handed_over_at is not None) == (len(gone) < 2)
        practice = session.get_one(Practice, cast.practices["mill"])
        family = alert_for_family(session, practice, the_alert(store), zone(practice.zone), clock())
    assert len(family["steps"]) == 1


def test_the_family_counts_people_and_not_channels(store: Store, cast: Cast, clock: Clock) -> None:
    everything(store, cast, clock)
    plan(store, cast.practices["mill"], (cast.people["Asta"], "any", "always"), on_call={})
    raise_alert(store, cast, clock)

    def takes(message: Message) -> str:
        return "taken"

    send_due(store, {"webhook": takes}, "http://here", "one", clock)
    with store.reading() as session:
        entry_id = session.scalars(select(Report.entry_id)).one()
        gwen = actor_named(store, cast.people["Gwen"])
        shown = family_report(session, gwen, cast.wearers["Nola"], entry_id, clock())
    assert [(step["person"], step["state"]) for step in shown["alert"]["steps"]] == [("Asta", "handed_over")]


# -- the plan ----------------------------------------------------------------------------------------
def test_H2_at_night_whoever_is_on_call_is_told_first(store: Store, cast: Cast, clock: Clock) -> None:
    plan(
        store,
        cast.practices["mill"],
        (cast.people["Asta"], "any", "open"),
        (cast.people["Mina"], "any", "on_call"),
        on_call=NIGHTS,
    )
    raise_alert(store, cast, clock)
    assert [name for _, name, _, _ in messages(store)] == ["Mina"]


def test_H2_an_urgent_alert_never_waits_because_nobody_of_the_plan_is_on_duty(
    store: Store, cast: Cast, clock: Clock
) -> None:
    plan(store, cast.practices["mill"], (cast.people["Asta"], "any", "open"), on_call={})
    raise_alert(store, cast, clock)
    assert {name for _, name, _, _ in messages(store)} == {"Asta", "Pavel", "Mina"}


def test_H2_the_practices_minutes_count(store: Store, cast: Cast, clock: Clock) -> None:
    with store.writing() as session:
        session.get_one(Practice, cast.practices["mill"]).climb_minutes = {"4": [5, 12], "5": [60, 90]}
        session.commit()
    raise_alert(store, cast, clock)
    clock.advance(minutes=5)
    assert climb_alerts(store, clock()) == 1
    clock.advance(minutes=7)
    assert climb_alerts(store, clock()) == 3


def test_a_plan_of_an_earlier_release_still_reads(store: Store, cast: Cast) -> None:
    with store.writing() as session:
        practice = session.get_one(Practice, cast.practices["mill"])
        practice.alert_plan = [
            {"person_id": cast.people["Mina"], "channel": "mail"},
            {"person_id": cast.people["Asta"], "channel": "push", "when": "open"},
            {"person_id": cast.people["Pavel"], "channel": "pigeon", "when": "full moon"},
        ]
        session.flush()
        lines = [(line.person, line.channel, line.when.value) for line in plan_lines(practice)]
        session.rollback()
    assert lines == [
        (cast.people["Mina"], "any", "always"),
        (cast.people["Asta"], "push", "open"),
        (cast.people["Pavel"], "any", "always"),
    ]


# -- on duty -----------------------------------------------------------------------------------------
def test_H2_on_duty_is_open_or_on_call_with_somebody_who_can_be_reached(
    store: Store, cast: Cast, clock: Clock
) -> None:
    def duty() -> tuple[str, bool]:
        with store.reading() as session:
            rota = rota_of(session.get_one(Practice, cast.practices["mill"]))
            opens = rota.next(clock())
            return rota.at(clock()).value, opens is not None and opens - clock() > timedelta(hours=1)

    assert duty() == ("nobody", True)
    plan(store, cast.practices["mill"], (cast.people["Asta"], "any", "open"), on_call=NIGHTS)
    assert duty() == ("nobody", True), "hours alone answer no call"
    plan(store, cast.practices["mill"], (cast.people["Asta"], "any", "on_call"), on_call=NIGHTS)
    assert duty() == ("on_call", False)
    with store.writing() as session:
        session.get_one(Person, cast.people["Asta"]).email = None
        session.commit()
    assert duty() == ("nobody", True)
    with store.writing() as session:
        browser = add_browser(session, cast.people["Asta"], clock())
        session.commit()
    assert duty() == ("on_call", False)
    with store.writing() as session:
        session.get_one(PushSubscription, browser).failing_since = clock()
        session.commit()
    assert duty() == ("nobody", True), "nothing reaches her now: the family is not told to wait for her"


def test_a_report_in_the_hours_on_call_says_that_somebody_is_there(
    store: Store, cast: Cast, clock: Clock
) -> None:
    plan(store, cast.practices["mill"], (cast.people["Asta"], "any", "on_call"), on_call=NIGHTS)
    raise_alert(store, cast, clock)
    with store.reading() as session:
        assert session.scalars(select(Report)).one().on_duty
        assert session.scalars(select(Outbox)).first() is not None
