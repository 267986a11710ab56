"""Somebody who works at two practices opens what belongs to either, with the roles that they have there."""

from __future__ import annotations

import pytest
from fakes import Clock
from people import Cast
from sqlalchemy import select
from telling import RED_PAIN, actor_named, report, tell

from companion.access import Role
from companion.common.errors import NotAllowed, NotFound
from companion.store.engine import Store
from companion.store.models import Alert, Hold, Membership
from companion.usecases import call_sheet
from companion.usecases.actor import Actor, at_practice
from companion.usecases.alerts import close, lift_hold, record_contact, take
from companion.usecases.desk import desk
from companion.usecases.wearer_page import wearer


@pytest.fixture
def pavel(store: Store, cast: Cast, clock: Clock) -> Actor:
    """A practitioner at the mill, and since today an assistant at the hill."""
    with store.writing() as session:
        session.add(
            Membership(
                practice_id=cast.practices["hill"],
                person_id=cast.people["Pavel"],
                role="assistant",
                since=clock(),
            )
        )
        session.commit()
    return actor_named(store, cast.people["Pavel"])


@pytest.fixture
def alert_id(store: Store, cast: Cast, clock: Clock) -> str:
    """Lea's red, sore eye, at the hill."""
    tell(
        store, actor_named(store, cast.people["Gil"]), cast.wearers["Lea"], clock(), report(clock(), left=RED_PAIN)
    )
    with store.reading() as session:
        return session.scalars(select(Alert.id)).one()


def test_H2_an_alert_of_the_second_practice_is_opened_taken_and_worked_on(
    store: Store, cast: Cast, clock: Clock, pavel: Actor, alert_id: str
) -> None:
    with store.writing() as session:
        take(session, pavel, alert_id, clock())
    with store.writing() as session:
        record_contact(session, pavel, alert_id, True, "", clock())
    with store.reading() as session:
        sheet = call_sheet.alert(session, pavel, alert_id, clock())
        assert wearer(session, pavel, cast.wearers["Lea"], clock())["wearer"]["name"] == "Lea"
    assert sheet["taken_by"] == "Pavel"
    assert (sheet["may_close"], sheet["may_lift"]) == (False, False), (
        "an assistant there, whatever he is elsewhere"
    )


def test_H16_a_role_at_one_practice_is_none_at_the_other(
    store: Store, clock: Clock, pavel: Actor, alert_id: str
) -> None:
    with store.reading() as session:
        hold_id = session.scalars(select(Hold.id)).first()
    assert hold_id is not None
    with store.writing() as session, pytest.raises(NotAllowed):
        lift_hold(session, pavel, hold_id, "looks well", clock())
    with store.writing() as session, pytest.raises(NotAllowed):
        close(session, pavel, alert_id, "seen_here", "", clock(), confirmed=True)


def test_whoever_works_elsewhere_finds_nothing(store: Store, cast: Cast, clock: Clock, alert_id: str) -> None:
    asta = actor_named(store, cast.people["Asta"])
    with store.writing() as session, pytest.raises(NotFound):
        take(session, asta, alert_id, clock())


def test_an_ended_membership_opens_nothing(
    store: Store, cast: Cast, clock: Clock, pavel: Actor, alert_id: str
) -> None:
    with store.writing() as session:
        row = session.get_one(Membership, (cast.practices["hill"], cast.people["Pavel"], "assistant"))
        row.ended_at = clock()
        session.commit()
    again = actor_named(store, cast.people["Pavel"])
    with store.writing() as session, pytest.raises(NotFound):
        take(session, again, alert_id, clock())


def test_somebody_changes_over_to_the_other_desk_with_the_roles_they_have_there(
    store: Store, cast: Cast, clock: Clock, pavel: Actor, alert_id: str
) -> None:
    there = at_practice(pavel, cast.practices["hill"])
    with store.reading() as session:
        here, other = desk(session, pavel, clock()), desk(session, there, clock())
    assert (here["alerts"], [row["id"] for row in other["alerts"]]) == ([], [alert_id])
    names = [(one["name"], one["here"], one["waiting"]) for one in here["practices"]]
    assert names == [("Practice by the mill", True, 0), ("Practice by the hill", False, 1)], "it counts what waits"
    assert there.roles == {Role.ASSISTANT}


def test_nobody_changes_over_to_where_they_do_not_work(store: Store, cast: Cast, clock: Clock) -> None:
    asta = actor_named(store, cast.people["Asta"])
    for other in (cast.practices["hill"], "no-such-practice", None):
        assert at_practice(asta, other) == asta
    with store.reading() as session:
        assert desk(session, asta, clock())["practices"] == []
