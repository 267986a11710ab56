"""How a practice sets the climb of its alerts, and the switch that asks for an answered test first."""

from __future__ import annotations

from datetime import timedelta

import pytest
from fakes import Clock
from people import Cast
from sqlalchemy import select
from telling import RED_PAIN, actor_named, report, tell

from companion.common.errors import InvalidInput, NotAllowed
from companion.store.engine import Store
from companion.store.models import Alert, AlertTest, AuditEvent, Delivery, Outbox, Person, Practice
from companion.usecases import alert_settings, test_alerts
from companion.usecases.climbing import climb_alerts
from companion.usecases.founding import found_practice
from companion.usecases.reports import report as family_report
from companion.usecases.tonight import tonight

MINUTES = {
    "contact_minutes": "45", "minutes_5_1": "3", "minutes_5_2": "8", "minutes_4_1": "15", "minutes_4_2": "30",
    "minutes_3_1": "120",
}  # fmt: skip


def test_a_plan_is_kept_whole_and_shown_again(store: Store, cast: Cast, clock: Clock) -> None:
    mina = actor_named(store, cast.people["Mina"])
    pavel, asta = cast.people["Pavel"], cast.people["Asta"]
    lines = {
        "who_1": pavel, "when_1": "open", "way_1": "push",
        "who_3": asta, "when_3": "on_call", "way_3": "any",
        "who_4": pavel, "when_4": "on_call", "way_4": "mail",
        "who_5": pavel, "when_5": "open", "way_5": "mail",
        "call_mon": "18:00-24:00", "call_tue": "00:00-8:30",
    }  # fmt: skip
    with store.writing() as session:
        alert_settings.save(session, mina, MINUTES | lines, clock())
    with store.reading() as session:
        row = session.get_one(Practice, cast.practices["mill"])
        shown = alert_settings.settings(session, mina, clock())
    assert row.alert_plan == [
        {"person_id": pavel, "channel": "push", "when": "open"},
        {"person_id": asta, "channel": "any", "when": "on_call"},
        {"person_id": pavel, "channel": "mail", "when": "on_call"},
    ], "a second line of one person for the same hours says nothing new"
    assert row.on_call_hours == {"mon": [["18:00", "24:00"]], "tue": [["00:00", "08:30"]]}
    assert row.climb_minutes == {"5": [3, 8]}, "what is as usual is not kept: the usual may change"
    assert row.contact_minutes == 45
    values = shown["values"]
    assert (values["who_2"], values["when_2"], values["way_3"]) == (asta, "on_call", "mail")
    assert (values["who_4"], values["call_tue"], values["minutes_5_1"]) == ("", "00:00-08:30", "3")
    assert not shown["on_call_unmanned"]
    assert shown["lines"] == [1, 2, 3, 4, 5], "two empty ones follow"


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"who_1": "somebody"}, "who_1"),
        ({"way_1": "pigeon"}, "way_1"),
        ({"when_1": "full moon"}, "when_1"),
        ({"call_sat": "9 to 12"}, "call_sat"),
        ({"call_sat": "12:00-09:00"}, "call_sat"),
        ({"contact_minutes": "5"}, "contact_minutes"),
        ({"minutes_5_1": "60"}, "minutes_5_1"),
        ({"minutes_5_2": "60"}, "minutes_5_2"),
        ({"minutes_5_1": "8"}, "minutes_5_2"),
        ({"minutes_4_1": ""}, "minutes_4_1"),
        ({"minutes_3_1": "241"}, "minutes_3_1"),
    ],
)
def test_H2_what_is_wrong_with_the_plan_is_named_and_nobody_sets_an_hour_for_level_5(
    store: Store, cast: Cast, clock: Clock, change: dict[str, str], field: str
) -> None:
    mina = actor_named(store, cast.people["Mina"])
    with store.writing() as session, pytest.raises(InvalidInput) as caught:
        alert_settings.save(session, mina, MINUTES | change, clock())
    assert [one.field for one in caught.value.problems] == [field]


def test_hours_on_call_without_anybody_are_named(store: Store, cast: Cast, clock: Clock) -> None:
    mina = actor_named(store, cast.people["Mina"])
    with store.writing() as session:
        alert_settings.save(session, mina, MINUTES | {"call_sat": "09:00-12:00"}, clock())
    with store.reading() as session:
        assert alert_settings.settings(session, mina, clock())["on_call_unmanned"]


# -- the switch --------------------------------------------------------------------------------------
def is_on(store: Store, cast: Cast) -> bool:
    with store.reading() as session:
        return session.get_one(Practice, cast.practices["mill"]).alerts_on


def put_off(store: Store, cast: Cast) -> None:
    with store.writing() as session:
        session.get_one(Practice, cast.practices["mill"]).alerts_on = False
        session.commit()


def test_H2_alerts_are_switched_on_only_once_a_named_person_has_answered_a_test(
    store: Store, cast: Cast, clock: Clock
) -> None:
    put_off(store, cast)
    mina, asta = (actor_named(store, cast.people[name]) for name in ("Mina", "Asta"))
    with store.writing() as session, pytest.raises(InvalidInput, match="nobody_answered"):
        alert_settings.switch(session, mina, True, False, clock())
    with store.writing() as session:
        test_alerts.send_now(session, mina, asta.person_id, clock())
    with store.writing() as session, pytest.raises(InvalidInput, match="nobody_answered"):
        alert_settings.switch(session, mina, True, False, clock())
    with store.reading() as session:
        test_id = session.scalars(select(AlertTest.id)).one()
    with store.writing() as session:
        test_alerts.answer(session, asta, test_id, clock())
    with store.writing() as session:
        alert_settings.switch(session, mina, True, False, clock())
    assert is_on(store, cast)
    with store.reading() as session:
        verbs = session.scalars(select(AuditEvent.verb).order_by(AuditEvent.at)).all()
    assert set(verbs) >= {"send_test", "answer_test", "alerts_on"}


@pytest.mark.parametrize("spoilt", ["old", "left", "no_way"])
def test_H2_an_answer_counts_while_it_is_fresh_and_its_person_can_be_reached_so(
    store: Store, cast: Cast, clock: Clock, spoilt: str
) -> None:
    put_off(store, cast)
    mina, asta = (actor_named(store, cast.people[name]) for name in ("Mina", "Asta"))
    with store.writing() as session:
        test = AlertTest(
            practice_id=cast.practices["mill"],
            person_id=asta.person_id,
            channel="push" if spoilt == "no_way" else "mail",
            sent_at=clock(),
            answered_at=clock(),
            answered_by=cast.people["Otto"] if spoilt == "left" else asta.person_id,
        )
        session.add(test)
        session.commit()
    if spoilt == "old":
        clock.advance(days=14)
    with store.writing() as session, pytest.raises(InvalidInput, match="nobody_answered"):
        alert_settings.switch(session, mina, True, False, clock())


def test_H2_alerts_are_switched_off_only_when_that_is_confirmed(store: Store, cast: Cast, clock: Clock) -> None:
    mina = actor_named(store, cast.people["Mina"])
    with store.writing() as session, pytest.raises(InvalidInput, match="confirm_missing"):
        alert_settings.switch(session, mina, False, False, clock())
    assert is_on(store, cast)
    with store.writing() as session:
        alert_settings.switch(session, mina, False, True, clock())
    assert not is_on(store, cast)


@pytest.mark.parametrize("name", ["Asta", "Pavel", "Gwen"])
def test_only_a_manager_sets_and_switches(store: Store, cast: Cast, clock: Clock, name: str) -> None:
    who = actor_named(store, cast.people[name])
    for deed in (
        lambda session: alert_settings.save(session, who, MINUTES, clock()),
        lambda session: alert_settings.switch(session, who, False, True, clock()),
        lambda session: test_alerts.send_now(session, who, cast.people["Asta"], clock()),
    ):
        with store.writing() as session, pytest.raises(NotAllowed):
            deed(session)


def test_H2_a_new_practice_starts_with_alerts_off(store: Store, clock: Clock) -> None:
    form = {
        "name": "Practice by the sea", "zone": "Europe/London", "country": "GB", "phone": "01632 960 222",
        "manager": "Sam",
    }  # fmt: skip
    with store.writing() as session:
        found_practice(session, form, clock())
    with store.reading() as session:
        assert not session.scalars(select(Practice).where(Practice.name == "Practice by the sea")).one().alerts_on


def test_H2_with_alerts_off_nobody_is_told_and_the_family_is_told_so(
    store: Store, cast: Cast, clock: Clock
) -> None:
    """Judged, held and listed as always; nothing is sent to staff, not even after hours; the family must phone."""
    put_off(store, cast)
    gwen = actor_named(store, cast.people["Gwen"])
    tell(store, gwen, cast.wearers["Nola"], clock(), report(clock(), right=RED_PAIN))
    climb_alerts(store, clock())
    clock.advance(hours=12)
    climb_alerts(store, clock())
    with store.reading() as session:
        assert session.scalars(select(Delivery)).all() == []
        alert = session.scalars(select(Alert)).one()
        shown = family_report(session, gwen, cast.wearers["Nola"], alert.entry_id, clock())
        evening = tonight(session, gwen, cast.wearers["Nola"], clock())
        sent = session.execute(select(Outbox.address, Outbox.message)).all()
    assert alert.level == 4
    assert not shown["practice"]["alerts_on"]
    assert shown["alert"]["news"] == evening["alert"]["news"] == "alerts_off"
    assert evening["holds"]
    news = [address for address, message in sent if message["key"] == "family_alerts_off"]
    assert sorted(news) == ["gus@example.org", "gwen@example.org"], "once"
    assert {message["key"] for _, message in sent} == {"family_report", "family_alerts_off"}


def test_H2_alerts_switched_on_again_climb_at_once(store: Store, cast: Cast, clock: Clock) -> None:
    put_off(store, cast)
    gwen = actor_named(store, cast.people["Gwen"])
    tell(store, gwen, cast.wearers["Nola"], clock(), report(clock(), right=RED_PAIN))
    clock.now += timedelta(hours=1)
    with store.writing() as session:
        session.get_one(Practice, cast.practices["mill"]).alerts_on = True
        session.commit()
    assert climb_alerts(store, clock()) == 5
    with store.reading() as session:
        told = session.scalars(select(Person.name).join(Delivery, Delivery.person_id == Person.id)).all()
    assert set(told) == {"Asta", "Pavel", "Mina"}
