"""Passes for carers: given by a guardian or the practice, stored hashed, showing little, and lapsing."""

from __future__ import annotations

from datetime import timedelta

import pytest
from fakes import Clock
from people import Cast
from sqlalchemy import select
from telling import RED_PAIN, actor_named, entry, report, tell

from companion.common.errors import InvalidInput, NotAllowed, NotFound
from companion.store.engine import Store
from companion.store.models import CarerPass, EntryRow
from companion.usecases import diary_pages, passes, reports, signing, tonight
from companion.usecases.actor import Actor, own_account

FORM = {"name": "Granny", "lasts": "1"}


def give(store: Store, cast: Cast, clock: Clock, who: str = "Gwen", **form: str) -> str:
    giver = actor_named(store, cast.people[who])
    with store.writing() as session:
        return passes.issue(session, giver, cast.wearers["Nola"], FORM | form, clock())


def carry(store: Store, token: str, clock: Clock) -> str:
    with store.writing() as session:
        return passes.open_pass(session, token, clock())


def who(store: Store, sign_in: str, clock: Clock) -> Actor:
    with store.reading() as session:
        actor = signing.actor_for_token(session, sign_in, clock())
    assert actor is not None
    return actor


def test_who_gave_it_is_shown_first_and_the_token_is_stored_hashed(store: Store, cast: Cast, clock: Clock) -> None:
    token = give(store, cast, clock)
    with store.reading() as session:
        shown = passes.look(session, token, clock())
        row = session.scalars(select(CarerPass)).one()
    assert (shown["given_by"], shown["name"], shown["wearer"]["name"]) == ("Gwen", "Granny", "Nola")
    assert token not in (row.id, row.token_hash)


@pytest.mark.parametrize(
    ("lasts", "until"),
    # It is Monday, half past eight in the evening; nights end at noon.
    [("hours_12", "2026-11-03T08:30"), ("1", "2026-11-03T12:00"), ("14", "2026-11-16T12:00")],
)
def test_it_lasts_hours_or_nights(store: Store, cast: Cast, clock: Clock, lasts: str, until: str) -> None:
    token = give(store, cast, clock, lasts=lasts)
    with store.reading() as session:
        assert passes.look(session, token, clock())["expires_at"] == f"{until}:00+00:00"


@pytest.mark.parametrize(
    ("form", "field"), [({"lasts": "15"}, "lasts"), ({"lasts": ""}, "lasts"), ({"name": " "}, "name")]
)
def test_what_is_wrong_is_named(store: Store, cast: Cast, clock: Clock, form: dict[str, str], field: str) -> None:
    with pytest.raises(InvalidInput) as caught:
        give(store, cast, clock, **form)
    assert [one.field for one in caught.value.problems] == [field]


def test_it_opens_tonight_and_reports_and_nothing_else(store: Store, cast: Cast, clock: Clock) -> None:
    nola, gwen = cast.wearers["Nola"], actor_named(store, cast.people["Gwen"])
    tell(store, gwen, nola, clock(), entry("lenses_in", clock(), {"eyes": "both"}))
    granny = who(store, carry(store, give(store, cast, clock), clock), clock)
    with store.reading() as session:
        assert [one.name for one in signing.wearers_of(session, granny)] == ["Nola"]
        shown = tonight.tonight(session, granny, nola, clock())
        assert shown["lens"]["right"]["state"] == "in"
        assert (shown["curve"], shown["undo"], shown["asks"]) == (None, None, [])
        assert (shown["forecast"], shown["check"], shown["surprises"]) == (None, None, [])
        assert "write_diary" not in shown["may"] and "report_symptoms" in shown["may"]
        with pytest.raises(NotAllowed):
            diary_pages.diary(session, granny, nola, clock())
        with pytest.raises(NotAllowed):
            own_account(session, granny)
        with pytest.raises(NotFound):
            tonight.tonight(session, granny, cast.wearers["Timo"], clock())
    refused = tell(store, granny, nola, clock(), entry("lenses_out", clock(), {"eyes": "both"}))
    assert [one.problems[0].code for one in refused.rejected] == ["not_allowed"]


def test_what_the_carrier_reports_is_a_report_like_any_other_and_theirs_to_read(
    store: Store, cast: Cast, clock: Clock
) -> None:
    nola, gwen = cast.wearers["Nola"], actor_named(store, cast.people["Gwen"])
    theirs = report(clock(), left=RED_PAIN)
    tell(store, gwen, nola, clock(), theirs)
    granny = who(store, carry(store, give(store, cast, clock), clock), clock)
    mine = report(clock(), right=RED_PAIN)
    receipt = tell(store, granny, nola, clock(), mine)
    assert (receipt.reports, receipt.verified) == ([mine["id"]], True)
    with store.reading() as session:
        assert reports.report(session, granny, nola, mine["id"], clock())["report"]["level"] == 4
        with pytest.raises(NotAllowed):
            reports.report(session, granny, nola, theirs["id"], clock())


@pytest.mark.parametrize("how", ["lapses", "is ended"])
def test_afterwards_it_opens_nothing_and_a_report_still_reaches_the_desk_unverified(
    store: Store, cast: Cast, clock: Clock, how: str
) -> None:
    token = give(store, cast, clock)
    sign_in = carry(store, token, clock)
    if how == "lapses":
        clock.advance(hours=16)
    else:
        with store.writing() as session:
            row = session.scalars(select(CarerPass)).one()
            passes.revoke(session, actor_named(store, cast.people["Gus"]), row.wearer_id, row.id, clock())
    granny = who(store, sign_in, clock)
    with store.reading() as session:
        assert signing.wearers_of(session, granny) == []
        for ask in (passes.look, passes.open_pass):
            with pytest.raises(NotFound):
                ask(session, token, clock())
        with pytest.raises(NotFound):
            tonight.tonight(session, granny, cast.wearers["Nola"], clock())
    sent = report(clock(), right=RED_PAIN)
    receipt = tell(store, granny, cast.wearers["Nola"], clock(), sent)
    assert (receipt.reports, receipt.verified) == ([sent["id"]], False)
    with store.reading() as session:
        assert session.get_one(EntryRow, sent["id"]).verified is False
    with pytest.raises(NotFound):
        tell(store, granny, cast.wearers["Timo"], clock(), report(clock(), right=RED_PAIN))


@pytest.mark.parametrize("name", ["Gwen", "Asta", "Pavel", "Mina"])
def test_guardians_and_the_practice_give_passes(store: Store, cast: Cast, clock: Clock, name: str) -> None:
    assert give(store, cast, clock, name)


@pytest.mark.parametrize("name", ["Hedda", "Wim", "Otto"])
def test_others_do_not(store: Store, cast: Cast, clock: Clock, name: str) -> None:
    with pytest.raises(NotFound):
        give(store, cast, clock, name)


def test_a_pass_is_not_the_way_to_another(store: Store, cast: Cast, clock: Clock) -> None:
    granny = who(store, carry(store, give(store, cast, clock), clock), clock)
    with store.writing() as session, pytest.raises(NotAllowed):
        passes.issue(session, granny, cast.wearers["Nola"], FORM, clock())
    with store.reading() as session:
        row = session.scalars(select(CarerPass)).one()
        assert row.expires_at - clock() < timedelta(days=1)
