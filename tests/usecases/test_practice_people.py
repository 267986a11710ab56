"""Invitations sent again and taken back, staff as the manager sees them, and what a practice sets for itself."""

from __future__ import annotations

import pytest
from fakes import Clock
from people import Cast
from telling import actor_named

from companion.common.errors import Conflict, InvalidInput, NotAllowed, NotFound
from companion.store.engine import Store
from companion.store.models import Practice
from companion.usecases import invitations, practice_settings, staff


def test_sending_an_invitation_again_ends_the_old_link(store: Store, cast: Cast, clock: Clock) -> None:
    asta, otto = (actor_named(store, cast.people[one]) for one in ("Asta", "Otto"))
    with store.writing() as session:
        old = invitations.invite(session, asta, cast.wearers["Nola"], "guardian", "Greta", clock(), "en")
        first = invitations.invitation_of(session, old).id
    for actor, invitation_id, error in ((otto, first, NotFound), (asta, "nonsense", NotFound)):
        with store.writing() as session, pytest.raises(error):
            invitations.resend(session, actor, invitation_id, clock())
    with store.writing() as session:
        new = invitations.resend(session, asta, first, clock.advance(days=20))
    with store.reading() as session:
        assert invitations.look(session, new, clock())["name"] == "Greta"
        with pytest.raises(NotFound):
            invitations.look(session, old, clock())
        second = invitations.invitation_of(session, new).id
    with store.writing() as session:
        invitations.revoke(session, asta, second, clock())
    with store.reading() as session, pytest.raises(NotFound):
        invitations.look(session, new, clock())


def test_a_used_invitation_can_neither_be_sent_again_nor_taken_back(
    store: Store, cast: Cast, clock: Clock
) -> None:
    asta, hedda = (actor_named(store, cast.people[one]) for one in ("Asta", "Hedda"))
    with store.writing() as session:
        token = invitations.invite(session, asta, cast.wearers["Nola"], "guardian", "Hedda", clock(), "en")
        row = invitations.invitation_of(session, token)
        invitations.accept_as(session, hedda, token, clock())
    for do in (invitations.resend, invitations.revoke):
        with store.writing() as session, pytest.raises(Conflict):
            do(session, asta, row.id, clock())


def test_a_manager_sees_staff_and_ends_a_membership_but_the_last_managers(
    store: Store, cast: Cast, clock: Clock
) -> None:
    mina, asta = (actor_named(store, cast.people[one]) for one in ("Mina", "Asta"))
    with store.writing() as session:
        assert [one["name"] for one in staff.staff(session, mina, clock())["people"]] != []
        with pytest.raises(NotAllowed):
            staff.staff(session, asta, clock())
        with pytest.raises(InvalidInput):
            staff.end_membership(session, mina, mina.person_id, "manager", clock())
        with pytest.raises(NotFound):
            staff.end_membership(session, mina, cast.people["Petra"], "practitioner", clock())
        staff.end_membership(session, mina, asta.person_id, "assistant", clock())
    assert actor_named(store, asta.person_id).roles == frozenset()


SETTINGS = {
    "name": "Practice by the mill",
    "phone": "01632 960 111",
    "hours_mon": "8:30-12:30, 14:00–18:00",
    "hours_sat": "",
    "closed_days": "2026-12-25\n2026-12-26",
    "handover_age": "15",
    "illness_holds": "yes",
    "one_eye_holds_both": "no",
    "triage_on": "no",
}


def test_a_practices_settings_are_all_set_or_none(store: Store, cast: Cast, clock: Clock) -> None:
    mina = actor_named(store, cast.people["Mina"])
    with store.writing() as session:
        practice_settings.save(session, mina, SETTINGS, clock())
    with store.reading() as session:
        row = session.get_one(Practice, cast.practices["mill"])
        shown = practice_settings.settings(session, mina)["values"]
    assert (row.phone, row.triage_on, row.handover_age) == ("+441632960111", False, 15)
    assert row.opening_hours == {"mon": [["08:30", "12:30"], ["14:00", "18:00"]]}
    assert (shown["hours_mon"], shown["triage_on"]) == ("08:30-12:30, 14:00-18:00", "no")


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"hours_mon": "all day"}, "hours_mon"),
        ({"hours_mon": "18:00-08:30"}, "hours_mon"),
        ({"hours_mon": "08:00-12:00, 11:00-13:00"}, "hours_mon"),
        ({"closed_days": "Christmas"}, "closed_days"),
        ({"phone": "12"}, "phone"),
        ({"triage_on": "perhaps"}, "triage_on"),
        ({"handover_age": "9"}, "handover_age"),
        ({"illness_holds": ""}, "illness_holds"),
    ],
)
def test_what_is_wrong_with_the_settings_is_named(
    store: Store, cast: Cast, clock: Clock, change: dict[str, str], field: str
) -> None:
    mina = actor_named(store, cast.people["Mina"])
    with store.writing() as session, pytest.raises(InvalidInput) as caught:
        practice_settings.save(session, mina, SETTINGS | change, clock())
    assert {one.field for one in caught.value.problems} == {field}
