"""Signing in by phone, short name or mail; the same answer for known and unknown; sign-ins that can be ended."""

from __future__ import annotations

from datetime import timedelta

import pytest
from fakes import Clock
from people import PASSWORD, Cast
from sqlalchemy import select
from telling import sign_in

from companion.common.errors import InvalidInput
from companion.store.engine import Store
from companion.store.models import Person, SignIn
from companion.usecases import passwords, signing
from companion.usecases.logins import read_login


@pytest.mark.parametrize("login", ["gwen", " GWEN ", "Gwen@Example.org", "+44 1632 960123", "01632 960 123"])
def test_every_kind_of_login_opens_the_same_account(store: Store, cast: Cast, clock: Clock, login: str) -> None:
    with store.writing() as session:
        session.get_one(Person, cast.people["Gwen"]).phone = "+441632960123"
        session.commit()
    token = sign_in(store, login, PASSWORD, clock())
    with store.reading() as session:
        actor = signing.actor_for_token(session, token, clock())
    assert actor is not None
    assert actor.person_id == cast.people["Gwen"]


@pytest.mark.parametrize(
    ("login", "password"),
    [("gwen", "wrong"), ("nobody", PASSWORD), ("", ""), ("+44", "x"), ("gwen", "x" * 100_000)],
)
def test_a_wrong_sign_in_gets_one_answer(
    store: Store, cast: Cast, clock: Clock, login: str, password: str
) -> None:
    with pytest.raises(InvalidInput) as caught:
        sign_in(store, login, password, clock())
    assert [(one.code, one.field) for one in caught.value.problems] == [("sign_in_wrong", "password")]


def test_known_and_unknown_people_cost_one_verification_each(
    store: Store, cast: Cast, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The same work is the same time: counted, because a timing in a test would only flake."""
    checked: list[str] = []

    class Counting:
        def verify(self, stored: str, password: str) -> bool:
            checked.append(stored)
            raise passwords.VerificationError

        def hash(self, password: str) -> str:
            made.append(password)
            return "decoy"

    made: list[str] = []
    monkeypatch.setattr(passwords, "HASHER", Counting())
    passwords._decoy.cache_clear()
    counts: list[tuple[int, int]] = []
    for login in ("gwen", "nobody", "\0", "nobody@example.org"):
        with store.reading() as session, pytest.raises(InvalidInput):
            signing.check_password(session, login, "whatever")
        counts.append((len(checked), len(made)))
    passwords._decoy.cache_clear()
    assert counts == [(1, 1), (2, 1), (3, 1), (4, 1)]


def test_a_password_that_changed_while_it_was_checked_opens_nothing(
    store: Store, cast: Cast, clock: Clock
) -> None:
    with store.reading() as session:
        proof = signing.check_password(session, "gwen", PASSWORD)
    with store.writing() as session:
        session.get_one(Person, cast.people["Gwen"]).password_hash = passwords.hashed("another one")
        session.commit()
    with store.writing() as session, pytest.raises(InvalidInput):
        signing.sign_in(session, proof, clock())


def test_one_login_has_one_key_however_it_is_typed(store: Store, cast: Cast) -> None:
    with store.reading() as session:

        def keys(*logins: str) -> int:
            return len({signing.login_key(session, login) for login in logins})

        assert keys("gwen", " GWEN ", "ｇｗｅｎ") == 1
        assert keys("+44 1632 960123", "01632 960 123", "+441632960123") == 1
        assert keys("nobody@example.org", "Nobody@Example.ORG") == 1
        assert keys("gwen", "gus", "?", "", "gwen@example.org") == 5


def test_only_a_hash_of_the_token_is_kept_and_it_ends_with_the_sign_out(
    store: Store, cast: Cast, clock: Clock
) -> None:
    token = sign_in(store, "gwen", PASSWORD, clock())
    with store.reading() as session:
        row = session.scalars(select(SignIn)).one()
        actor = signing.actor_for_token(session, token, clock())
    assert token not in (row.token_hash, row.id)
    assert actor is not None
    with store.writing() as session:
        signing.sign_out(session, actor, clock())
    with store.reading() as session:
        assert signing.actor_for_token(session, token, clock()) is None


def test_a_sign_in_ends_by_itself_after_half_a_year(store: Store, cast: Cast, clock: Clock) -> None:
    token = sign_in(store, "gwen", PASSWORD, clock())
    with store.reading() as session:
        assert signing.actor_for_token(session, token, clock() + timedelta(days=179)) is not None
        assert signing.actor_for_token(session, token, clock() + timedelta(days=181)) is None


def test_the_frame_names_ones_wearers_and_work_place(store: Store, cast: Cast, clock: Clock) -> None:
    frames = {}
    for name in ("gwen", "wim", "asta"):
        token = sign_in(store, name, PASSWORD, clock())
        with store.reading() as session:
            actor = signing.actor_for_token(session, token, clock())
            assert actor is not None
            frames[name] = signing.frame(session, actor, clock())
    assert [one["name"] for one in frames["gwen"]["wearers"]] == ["Nola"]
    assert [(one["name"], one["age"]) for one in frames["wim"]["wearers"]] == [("Wim", 36)]
    assert frames["asta"]["roles"] == ["assistant"]
    assert [frames[name]["consent_due"] for name in ("gwen", "wim", "asta")] == [True, True, False]


@pytest.mark.parametrize("text", ["x", "two words", "@", "a@", "+1", "0", "Ä", "é" * 40, "drop'table--"])
def test_what_can_be_no_login_is_refused(text: str) -> None:
    with pytest.raises(InvalidInput):
        read_login(text, ["GB"])
