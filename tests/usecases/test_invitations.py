"""One-time links: shown before acceptance, used once, expiring, stored hashed; the account and tie they make."""

from __future__ import annotations

from datetime import timedelta

import pytest
from fakes import Clock
from people import Cast
from sqlalchemy import select
from telling import actor_named, join

from companion.access import Role
from companion.common.errors import InvalidInput, NotAllowed, NotFound
from companion.store.engine import Store
from companion.store.models import Guardianship, Invitation, Person, Wearer
from companion.usecases import consents, invitations, signing

FORM = {"name": "Greta", "login": "greta", "password": "a long enough one", "password_again": "a long enough one"}


@pytest.fixture
def token(store: Store, cast: Cast, clock: Clock) -> str:
    asta = actor_named(store, cast.people["Asta"])
    with store.writing() as session:
        return invitations.invite(session, asta, cast.wearers["Nola"], "guardian", "Greta", clock())


def test_who_invites_is_shown_first_and_the_token_is_stored_hashed(store: Store, clock: Clock, token: str) -> None:
    with store.reading() as session:
        shown = invitations.look(session, token, clock())
        row = session.scalars(select(Invitation)).one()
    assert (shown["invited_by"], shown["wearer"], shown["kind"]) == ("Asta", {"name": "Nola"}, "guardian")
    assert token not in (row.token_hash, row.id)


def test_accepting_makes_the_account_the_tie_and_the_sign_in(
    store: Store, cast: Cast, clock: Clock, token: str
) -> None:
    signed_in = join(store, token, FORM, clock())
    with store.reading() as session:
        actor = signing.actor_for_token(session, signed_in, clock())
        assert actor is not None
        frame = signing.frame(session, actor, clock())
    assert [one["name"] for one in frame["wearers"]] == ["Nola"]
    assert frame["consent_due"] is True
    with store.writing() as session:
        consents.give(session, actor, consents.TEXT_VERSION, "en", clock())
    with store.writing() as session:
        consents.give(session, actor, consents.TEXT_VERSION, "en", clock())
    with store.reading() as session:
        assert signing.frame(session, actor, clock())["consent_due"] is False


def test_a_link_works_once(store: Store, clock: Clock, token: str) -> None:
    join(store, token, FORM, clock())
    with pytest.raises(NotFound):
        join(store, token, {**FORM, "login": "grete"}, clock())
    with store.reading() as session, pytest.raises(NotFound):
        invitations.look(session, token, clock())


def test_a_link_ends_after_two_weeks(store: Store, clock: Clock, token: str) -> None:
    with store.reading() as session:
        invitations.look(session, token, clock() + timedelta(days=13))
        with pytest.raises(NotFound):
            invitations.look(session, token, clock() + timedelta(days=14))


@pytest.mark.parametrize(
    ("change", "field", "code"),
    [
        ({"name": " "}, "name", "missing"),
        ({"login": "gwen"}, "login", "login_taken"),
        ({"login": "??"}, "login", "login_form"),
        ({"login": "+1 23456"}, "login", "phone_unknown"),
        ({"password": "short", "password_again": "short"}, "password", "password_short"),
        ({"password_again": "another long one"}, "password_again", "passwords_differ"),
    ],
)
def test_what_is_wrong_is_named_and_the_link_stays_good(
    store: Store, clock: Clock, token: str, change: dict[str, str], field: str, code: str
) -> None:
    with pytest.raises(InvalidInput) as caught:
        join(store, token, FORM | change, clock())
    assert [(one.field, one.code) for one in caught.value.problems] == [(field, code)]
    assert join(store, token, FORM, clock())


def test_somebody_with_an_account_joins_a_second_child_with_it(
    store: Store, cast: Cast, clock: Clock, token: str
) -> None:
    hedda = actor_named(store, cast.people["Hedda"])
    with store.writing() as session:
        invitations.accept_as(session, hedda, token, clock())
    with store.reading() as session:
        assert [one.name for one in signing.wearers_of(session, hedda)] == ["Nola", "Timo"]
        guards = session.scalars(select(Guardianship.person_id)).all()
    assert guards.count(hedda.person_id) == 2


def test_an_adult_joins_as_their_own_wearer(store: Store, cast: Cast, clock: Clock) -> None:
    pavel = actor_named(store, cast.people["Pavel"])
    with store.writing() as session:
        link = invitations.invite(session, pavel, cast.wearers["Timo"], "wearer", "Timo", clock())
    signed_in = join(store, link, {**FORM, "name": "Timo", "login": "timo"}, clock())
    with store.reading() as session:
        actor = signing.actor_for_token(session, signed_in, clock())
        assert actor is not None
        assert [one.name for one in signing.wearers_of(session, actor)] == ["Timo"]


def wearers_link(store: Store, cast: Cast, clock: Clock, name: str = "Timo") -> str:
    pavel = actor_named(store, cast.people["Pavel"])
    with store.writing() as session:
        return invitations.invite(session, pavel, cast.wearers[name], "wearer", name, clock())


def test_no_link_puts_another_account_in_the_place_of_a_wearers_own(
    store: Store, cast: Cast, clock: Clock
) -> None:
    first, second = wearers_link(store, cast, clock), wearers_link(store, cast, clock)
    gus = actor_named(store, cast.people["Gus"])
    with store.reading() as session:
        assert invitations.look(session, second, clock())["refused"] is None
    join(store, first, {**FORM, "name": "Timo", "login": "timo"}, clock())
    with store.reading() as session:
        assert invitations.look(session, second, clock())["refused"] == invitations.TAKEN
    with pytest.raises(InvalidInput):
        join(store, second, {**FORM, "login": "other"}, clock())
    with store.writing() as session, pytest.raises(InvalidInput) as caught:
        new = invitations.NewAccount("Other", "short_name", "other", "a hash", "en")
        invitations.accept(session, second, new, clock())  # its form was read before the first one joined
    assert caught.value.problems == (invitations.TAKEN,)
    with store.writing() as session, pytest.raises(InvalidInput):
        invitations.accept_as(session, gus, second, clock())
    with store.reading() as session:
        own = session.get_one(Wearer, cast.wearers["Timo"]).person_id
        assert own is not None and session.get_one(Person, own).short_name == "timo"
        assert session.scalar(select(Person.id).where(Person.short_name == "other")) is None
    with pytest.raises(InvalidInput):
        wearers_link(store, cast, clock)


def test_H17_one_account_is_the_wearers_or_a_guardians_never_both(store: Store, cast: Cast, clock: Clock) -> None:
    hedda, gus, wim = (actor_named(store, cast.people[name]) for name in ("Hedda", "Gus", "Wim"))
    link = wearers_link(store, cast, clock)
    with store.writing() as session:
        guards = invitations.invite(
            session, actor_named(store, cast.people["Asta"]), cast.wearers["Wim"], "guardian", "Wim", clock()
        )
    for actor, token in ((hedda, link), (wim, guards)):
        with store.reading() as session:
            assert invitations.look(session, token, clock(), actor)["refused_as_me"] == invitations.BOTH
        with store.writing() as session, pytest.raises(InvalidInput) as caught:
            invitations.accept_as(session, actor, token, clock())
        assert caught.value.problems == (invitations.BOTH,)
    with store.reading() as session:
        assert invitations.look(session, link, clock(), gus)["refused_as_me"] is None
        assert session.get_one(Wearer, cast.wearers["Timo"]).person_id is None


def test_a_manager_invites_staff_and_nobody_else_does(store: Store, cast: Cast, clock: Clock) -> None:
    mina, asta = (actor_named(store, cast.people[name]) for name in ("Mina", "Asta"))
    with store.writing() as session, pytest.raises(NotAllowed):
        invitations.invite_staff(session, asta, "assistant", "Anna", clock())
    with store.writing() as session, pytest.raises(InvalidInput):
        invitations.invite_staff(session, mina, "guardian", "Anna", clock())
    with store.writing() as session:
        link = invitations.invite_staff(session, mina, "assistant", "Anna", clock())
    join(store, link, {**FORM, "name": "Anna", "login": "anna"}, clock())
    with store.reading() as session:
        anna = session.scalars(select(Person.id).where(Person.short_name == "anna")).one()
    assert actor_named(store, anna).roles == {Role.ASSISTANT}


@pytest.mark.parametrize("name", ["Gwen", "Hedda", "Otto"])
def test_families_and_other_practices_invite_nobody(store: Store, cast: Cast, clock: Clock, name: str) -> None:
    actor = actor_named(store, cast.people[name])
    with store.writing() as session, pytest.raises((NotFound, NotAllowed)):
        invitations.invite(session, actor, cast.wearers["Nola"], "guardian", "X", clock())
