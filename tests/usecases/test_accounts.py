"""One's own account: password, sign-ins, preferences, consent, what is stored; and the ways back in."""

from __future__ import annotations

import json
from datetime import time

import pytest
import telling
from fakes import Clock
from people import PASSWORD, Cast, add_guardian
from sqlalchemy import select
from telling import actor_named, entry, tell

from companion.common.errors import InvalidInput, NotAllowed, NotFound
from companion.common.moments import night_of, zone
from companion.store.engine import Store
from companion.store.models import Guardianship, Person, Recovery, Wearer
from companion.usecases import (
    account,
    consents,
    invitations,
    own_data,
    preferences,
    profile,
    recovery,
    signing,
    staff,
)
from companion.usecases.actor import Actor
from companion.usecases.guardianships import end_guardianship

NEW = {"password": "some other long words", "password_again": "some other long words"}


def sign_in(store: Store, clock: Clock, name: str = "gwen", password: str = PASSWORD) -> tuple[Actor, str]:
    token = telling.sign_in(store, name, password, clock(), "Mozilla/5.0 (Linux; Android 14)")
    with store.reading() as session:
        actor = signing.actor_for_token(session, token, clock())
    assert actor is not None
    return actor, token


def alive(store: Store, clock: Clock, token: str) -> bool:
    with store.reading() as session:
        return signing.actor_for_token(session, token, clock()) is not None


def problems(caught: pytest.ExceptionInfo[InvalidInput]) -> list[tuple[str, str]]:
    return [(one.field, one.code) for one in caught.value.problems]


# -- password and sign-ins --
def test_a_new_password_needs_the_old_one_and_ends_every_other_sign_in(
    store: Store, cast: Cast, clock: Clock
) -> None:
    (actor, here), (_, elsewhere) = sign_in(store, clock), sign_in(store, clock)
    with store.reading() as session:
        with pytest.raises(InvalidInput) as caught:
            account.read_new_password(session, actor, {"old": "not this one", **NEW})
        new = account.read_new_password(session, actor, {"old": PASSWORD, **NEW})
    assert problems(caught) == [("old", "password_wrong")]
    with store.writing() as session:
        account.change_password(session, actor, new, clock())
    with store.writing() as session, pytest.raises(InvalidInput) as caught:
        account.change_password(session, actor, new, clock())
    assert problems(caught) == [("old", "password_wrong")], "the old one has changed meanwhile"
    assert (alive(store, clock, here), alive(store, clock, elsewhere)) == (True, False)
    with pytest.raises(InvalidInput):
        sign_in(store, clock)
    sign_in(store, clock, password=NEW["password"])


def test_one_sees_ones_sign_ins_and_ends_them(store: Store, cast: Cast, clock: Clock) -> None:
    (actor, here), (_, elsewhere), (hedda, hers) = (
        sign_in(store, clock),
        sign_in(store, clock),
        sign_in(store, clock, "hedda"),
    )
    with store.reading() as session:
        listed = account.sign_ins(session, actor, clock())
    assert [one["here"] for one in listed] == [True, False]
    with store.writing() as session:
        account.end_sign_in(session, actor, listed[1]["id"], clock())
    for not_mine in (hedda.sign_in_id, "nonsense"):
        with store.writing() as session, pytest.raises(NotFound):
            account.end_sign_in(session, actor, not_mine, clock())
    assert [alive(store, clock, one) for one in (here, elsewhere, hers)] == [True, False, True]


def test_preferences_are_picked_from_what_is_offered(store: Store, cast: Cast, clock: Clock) -> None:
    gwen = actor_named(store, cast.people["Gwen"])
    with store.writing() as session:
        preferences.prefer(
            session, gwen, {"hour_cycle": "h12", "text_size": "largest", "digits": "latin"}, ("en",)
        )
    with store.reading() as session:
        kept = account.preferences_of(session.get_one(Person, cast.people["Gwen"]))
    assert (kept["hour_cycle"], kept["text_size"], kept["digits"], kept["theme"]) == (
        "h12",
        "largest",
        "latin",
        "hour",
    )
    with store.writing() as session, pytest.raises(InvalidInput) as caught:
        preferences.prefer(session, gwen, {"hour_cycle": "h13", "language": "xx", "theme": "lamp"}, ("en",))
    assert sorted(problems(caught)) == [("hour_cycle", "choice_unknown"), ("language", "choice_unknown")]


# -- consent and what is stored --
def test_consent_can_be_taken_back_and_given_again(store: Store, cast: Cast, clock: Clock) -> None:
    gwen = actor_named(store, cast.people["Gwen"])
    due = []
    with store.writing() as session:
        consents.give(session, gwen, consents.TEXT_VERSION, "en", clock())
        due.append(consents.consent_due(session, gwen))
        consents.withdraw(session, gwen, clock.advance(days=1))
        due.append(consents.consent_due(session, gwen))
        (kept,) = consents.history(session, gwen)
        consents.give(session, gwen, consents.TEXT_VERSION, "en", clock.advance(days=1))
        due.append(consents.consent_due(session, gwen))
    assert due == [False, True, False]
    assert kept["withdrawn_at"] is not None


def test_what_is_stored_can_be_read_and_taken_away(store: Store, cast: Cast, clock: Clock) -> None:
    gwen = actor_named(store, cast.people["Gwen"])
    tell(store, gwen, cast.wearers["Nola"], clock(), entry("note", clock(), {"text": "A new case."}))
    with store.reading() as session:
        summary, export = own_data.summary(session, gwen, clock()), own_data.export(session, gwen, clock())
    assert summary["wearers"][0]["entries"] == {"note": 1}
    assert sorted(summary["wearers"][0]["guardians"]) == ["Gus", "Gwen"]
    (nola,) = json.loads(json.dumps(export))["wearers"]
    assert (nola["name"], nola["entries"][0]["payload"], len(nola["lenses"])) == (
        "Nola",
        {"text": "A new case."},
        2,
    )
    assert "password" not in json.dumps(export)


# -- sign and hours --
def test_H8_two_children_of_one_family_never_have_the_same_sign(store: Store, cast: Cast, clock: Clock) -> None:
    with store.writing() as session:
        timo = session.get_one(Wearer, cast.wearers["Timo"])
        add_guardian(session, timo, session.get_one(Person, cast.people["Gwen"]), clock())
        session.commit()
    gwen = actor_named(store, cast.people["Gwen"])
    with store.writing() as session:
        profile.set_mark(session, gwen, cast.wearers["Nola"], "kite", clock())
    with store.writing() as session, pytest.raises(InvalidInput) as caught:
        profile.set_mark(session, gwen, cast.wearers["Timo"], "kite", clock())
    assert problems(caught) == [("mark", "mark_taken")]
    with store.writing() as session, pytest.raises(InvalidInput):
        profile.set_mark(session, gwen, cast.wearers["Timo"], "<b>", clock())


@pytest.mark.parametrize(
    ("bed", "rising", "split"),
    [
        ("21:30", "06:30", "12:00"),
        ("23:45", "09:30", "12:00"),
        ("08:30", "16:30", "00:00"),
        ("03:00", "11:00", "19:00"),
    ],
)
def test_one_night_ends_in_the_waking_hours(bed: str, rising: str, split: str) -> None:
    assert profile.split_between(time.fromisoformat(rising), time.fromisoformat(bed)) == time.fromisoformat(split)


def test_somebody_who_sleeps_by_day_has_nights_of_their_own(store: Store, cast: Cast, clock: Clock) -> None:
    wim, mine = actor_named(store, cast.people["Wim"]), cast.wearers["Wim"]
    with store.writing() as session:
        profile.set_hours(session, wim, mine, {"usual_in": "08:30", "usual_out": "16:30"}, clock())
    with store.reading() as session:
        row = session.get_one(Wearer, mine)
        asleep = clock.now.replace(hour=10)
        assert night_of(asleep, zone(row.zone), row.split_hour) == asleep.date()
    with store.writing() as session, pytest.raises(InvalidInput) as caught:
        profile.set_hours(session, wim, mine, {"usual_in": "08:30", "usual_out": "09:30"}, clock())
    assert problems(caught) == [("usual_out", "hours_of_sleep")]


# -- back in --
def start(store: Store, cast: Cast, clock: Clock, by: str, whom: str) -> str:
    actor = actor_named(store, cast.people[by])
    with store.writing() as session:
        return recovery.start_at_the_desk(session, actor, cast.people[whom], clock())


def use(store: Store, clock: Clock, token: str) -> str:
    with store.reading() as session:
        password_hash = recovery.read_form(session, token, NEW, clock())
    with store.writing() as session:
        return recovery.use(session, token, password_hash, clock())


def test_the_desk_lets_somebody_back_in_once_and_ends_the_other_sign_ins(
    store: Store, cast: Cast, clock: Clock
) -> None:
    _, old = sign_in(store, clock)
    token = start(store, cast, clock, "Asta", "Gwen")
    with store.reading() as session:
        shown = recovery.look(session, token, clock())
    assert (shown["name"], shown["login"], shown["confirmed"]) == ("Gwen", "gwen", True)
    fresh = use(store, clock, token)
    assert (alive(store, clock, old), alive(store, clock, fresh)) == (False, True)
    with pytest.raises(NotFound):
        use(store, clock, token)
    sign_in(store, clock, password=NEW["password"])


def test_a_new_link_replaces_the_old_and_each_ends_after_an_hour(store: Store, cast: Cast, clock: Clock) -> None:
    first = start(store, cast, clock, "Asta", "Gwen")
    second = start(store, cast, clock, "Asta", "Gwen")
    for token, later in ((first, 0), (second, 60)):
        clock.advance(minutes=later)
        with pytest.raises(NotFound):
            use(store, clock, token)


@pytest.mark.parametrize(
    ("by", "whom", "error"),
    [
        ("Gwen", "Gus", NotAllowed),
        ("Asta", "Gil", NotFound),
        ("Otto", "Gwen", NotFound),
        ("Asta", "Pavel", NotAllowed),
        ("Pavel", "Mina", NotAllowed),
        ("Mina", "Petra", NotFound),
        ("Mina", "Mina", NotAllowed),
    ],
)
def test_who_lets_nobody_in(
    store: Store, cast: Cast, clock: Clock, by: str, whom: str, error: type[Exception]
) -> None:
    with pytest.raises(error):
        start(store, cast, clock, by, whom)


def test_a_manager_lets_a_colleague_back_in(store: Store, cast: Cast, clock: Clock) -> None:
    assert use(store, clock, start(store, cast, clock, "Mina", "Pavel"))


def test_one_practices_desk_never_opens_anothers_doors(store: Store, cast: Cast, clock: Clock) -> None:
    """Gwen looks after a child of the other practice too, and Mark brings his own child to this one."""
    with store.writing() as session:
        lea, timo = (session.get_one(Wearer, cast.wearers[name]) for name in ("Lea", "Timo"))
        add_guardian(session, lea, session.get_one(Person, cast.people["Gwen"]), clock())
        add_guardian(session, timo, session.get_one(Person, cast.people["Mark"]), clock())
        session.commit()
    for by, whom in (("Asta", "Gwen"), ("Mina", "Mark"), ("Otto", "Gwen")):
        with pytest.raises(InvalidInput) as caught:
            start(store, cast, clock, by, whom)
        assert problems(caught) == [("person_id", "recovery_elsewhere")]


def vouched(store: Store, cast: Cast, clock: Clock) -> str:
    gwen = actor_named(store, cast.people["Gwen"])
    with store.writing() as session:
        return recovery.vouch(session, gwen, cast.wearers["Nola"], cast.people["Gus"], clock())


def test_a_co_guardians_word_opens_nothing_before_the_practice_has_spoken_with_the_person(
    store: Store, cast: Cast, clock: Clock
) -> None:
    token, asta = vouched(store, cast, clock), actor_named(store, cast.people["Asta"])
    with pytest.raises(InvalidInput) as caught:
        use(store, clock, token)
    assert problems(caught) == [("password", "recovery_waits")]
    with store.writing() as session:
        (asked,) = recovery.waiting(session, asta, clock())
        assert (asked["name"], asked["asked_by"]) == ("Gus", "Gwen")
        recovery.confirm(session, asta, asked["id"], clock.advance(hours=30))
    with store.reading() as session:
        assert recovery.look(session, token, clock())["login"] is None, "Gwen may hold this link"
    assert use(store, clock, token)


def test_the_practice_can_refuse_and_only_its_own(store: Store, cast: Cast, clock: Clock) -> None:
    token, asta, otto = (
        vouched(store, cast, clock),
        *(actor_named(store, cast.people[one]) for one in ("Asta", "Otto")),
    )
    with store.writing() as session:
        (asked,) = recovery.waiting(session, asta, clock())
        assert recovery.waiting(session, otto, clock()) == []
        for ask in (recovery.confirm, recovery.refuse):
            with pytest.raises(NotFound):
                ask(session, otto, asked["id"], clock())
        recovery.refuse(session, asta, asked["id"], clock())
    with pytest.raises(NotFound):
        use(store, clock, token)


def test_who_began_a_way_back_in_must_have_the_right_to_it_still(store: Store, cast: Cast, clock: Clock) -> None:
    """Gwen vouches and is removed: her link dies, asked and confirmed. Asta leaves: so does hers."""
    asta, nola = actor_named(store, cast.people["Asta"]), cast.wearers["Nola"]
    token = vouched(store, cast, clock)
    with store.writing() as session:
        (asked,) = recovery.waiting(session, asta, clock())
        recovery.confirm(session, asta, asked["id"], clock())
    with store.writing() as session:
        end_guardianship(session, asta, nola, cast.people["Gwen"], clock())
    with store.reading() as session:
        assert session.scalars(select(Recovery)).one().revoked_at is not None
        with pytest.raises(NotFound):
            recovery.look(session, token, clock())
    with pytest.raises(NotFound):
        use(store, clock, token)
    desks = start(store, cast, clock, "Asta", "Gus")
    with store.writing() as session:
        staff.end_membership(
            session, actor_named(store, cast.people["Mina"]), asta.person_id, "assistant", clock()
        )
    with pytest.raises(NotFound):
        use(store, clock, desks)


@pytest.mark.parametrize("whose", ["Gwen", "Gus"])
def test_a_link_that_waits_dies_with_either_guardianship(
    store: Store, cast: Cast, clock: Clock, whose: str
) -> None:
    """Even where nothing revoked it: the right is asked again, when it is confirmed and when it is used."""
    token, asta = vouched(store, cast, clock), actor_named(store, cast.people["Asta"])
    with store.writing() as session:
        (asked,) = recovery.waiting(session, asta, clock())
        guards = session.get_one(Guardianship, (cast.practices["mill"], cast.wearers["Nola"], cast.people[whose]))
        guards.ended_at = clock()
        session.commit()
    with store.writing() as session:
        assert recovery.waiting(session, asta, clock()) == []
        with pytest.raises(NotFound):
            recovery.confirm(session, asta, asked["id"], clock())
    with pytest.raises(NotFound):
        use(store, clock, token)


@pytest.mark.parametrize(("by", "whom"), [("Gwen", "Hedda"), ("Gwen", "Gwen"), ("Hedda", "Gus"), ("Wim", "Gus")])
def test_one_vouches_for_a_co_guardian_alone(store: Store, cast: Cast, clock: Clock, by: str, whom: str) -> None:
    actor = actor_named(store, cast.people[by])
    with store.writing() as session, pytest.raises(NotFound):
        recovery.vouch(session, actor, cast.wearers["Nola"], cast.people[whom], clock())


def test_no_step_needs_an_address_for_mail(store: Store, cast: Cast, clock: Clock) -> None:
    """A phone number alone: invited, joined, locked out, let back in."""
    asta = actor_named(store, cast.people["Asta"])
    form = {"name": "Noor", "login": "01632 960 222", "password": PASSWORD, "password_again": PASSWORD}
    with store.writing() as session:
        token = invitations.invite(session, asta, cast.wearers["Nola"], "guardian", "Noor", clock())
    telling.join(store, token, form, clock())
    noor, _ = sign_in(store, clock, "01632960222")
    cast.people["Noor"] = noor.person_id
    assert use(store, clock, start(store, cast, clock, "Asta", "Noor"))
    sign_in(store, clock, "+441632960222", NEW["password"])
