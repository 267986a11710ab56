"""Reports from somebody whose right has ended: every one is kept, none floods the desk or holds an eye twice."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from fakes import Clock
from people import Cast
from sqlalchemy import func, select
from telling import RED_PAIN, actor_named, report, tell

from companion.common.errors import NotFound
from companion.store.engine import Store
from companion.store.models import Alert, CarerPass, EntryRow, Hold, Outbox, Report, Wearer
from companion.usecases import alerts, desk, passes, reports, signing
from companion.usecases.actor import FORMER_FOR, Actor
from companion.usecases.guardianships import end_guardianship
from companion.usecases.raising import open_holds

ILL = {"general": {"cold_ill": "yes"}}


@pytest.fixture
def gus(store: Store, cast: Cast, clock: Clock) -> Actor:
    """A guardian of Nola's, removed a moment ago."""
    asta = actor_named(store, cast.people["Asta"])
    with store.writing() as session:
        end_guardianship(session, asta, cast.wearers["Nola"], cast.people["Gus"], clock())
    return actor_named(store, cast.people["Gus"])


@pytest.fixture
def granny(store: Store, cast: Cast, clock: Clock) -> Actor:
    """Carried a pass for Nola that was ended a moment ago."""
    gwen, nola = actor_named(store, cast.people["Gwen"]), cast.wearers["Nola"]
    with store.writing() as session:
        token = passes.issue(session, gwen, nola, {"name": "Granny", "lasts": "14"}, clock())
    with store.writing() as session:
        sign_in = passes.open_pass(session, token, clock())
    with store.writing() as session:
        passes.revoke(session, gwen, nola, session.scalars(select(CarerPass.id)).one(), clock())
    with store.reading() as session:
        actor = signing.actor_for_token(session, sign_in, clock())
    assert actor is not None
    return actor


def shown(store: Store, cast: Cast, clock: Clock) -> list[dict[str, Any]]:
    asta = actor_named(store, cast.people["Asta"])
    with store.reading() as session:
        rows: list[dict[str, Any]] = desk.desk(session, asta, clock())["alerts"]
    return rows


def count(store: Store, what: Any) -> int:
    with store.reading() as session:
        return session.scalar(select(func.count()).select_from(what)) or 0


def held(store: Store, cast: Cast, clock: Clock) -> list[tuple[str, str]]:
    with store.reading() as session:
        rows = open_holds(session, session.get_one(Wearer, cast.wearers["Nola"]), clock())
    return sorted((one.eye, one.reason) for one in rows)


@pytest.mark.parametrize(("sender", "guardians"), [("gus", 1), ("granny", 2)])
def test_H11_one_senders_reports_are_all_kept_and_join_one_alert(
    store: Store, cast: Cast, clock: Clock, sender: str, guardians: int, request: pytest.FixtureRequest
) -> None:
    who: Actor = request.getfixturevalue(sender)
    for n in range(12):
        sent = report(clock.advance(minutes=1), right=RED_PAIN, left=RED_PAIN if n == 5 else {})
        assert tell(store, who, cast.wearers["Nola"], clock(), sent).accepted == [sent["id"]]
    assert [count(store, one) for one in (EntryRow, Report, Alert)] == [12, 12, 1]
    (alert,) = shown(store, cast, clock)
    assert (alert["unverified"], len(alert["joined"])) == (True, 11)
    assert [one["eyes"]["left"] for one in alert["joined"]].count(4) >= 1, "what a later one says is shown too"
    assert held(store, cast, clock) == [("left", "report"), ("right", "report")]
    assert count(store, Hold) == 2
    with store.reading() as session:
        view = reports.report(
            session, actor_named(store, cast.people["Gwen"]), cast.wearers["Nola"], sent["id"], clock()
        )
    assert view["alert"]["id"] == alert["id"], "the family reads what became of it"
    assert count(store, Outbox) == 1 + guardians, "to the practice and to each guardian once"


def test_H2_something_worse_is_an_alert_of_its_own_and_something_milder_joins(
    store: Store, cast: Cast, clock: Clock, gus: Actor
) -> None:
    worse = {"general": {"very_unwell": "yes"}}
    for answers in ({"right": {"pain": "mild", "redness": "red"}}, worse, {"right": RED_PAIN}, worse):
        tell(store, gus, cast.wearers["Nola"], clock.advance(minutes=1), report(clock(), **answers))
    levels = [(one["level"], len(one["joined"])) for one in shown(store, cast, clock)]
    assert levels[0] == (5, 2)
    assert len(levels) == len({level for level, _ in levels}) == 2


def test_H2_after_the_family_was_reached_a_new_report_is_told_again(
    store: Store, cast: Cast, clock: Clock, gus: Actor
) -> None:
    nola, asta = cast.wearers["Nola"], actor_named(store, cast.people["Asta"])
    for _ in range(2):
        tell(store, gus, nola, clock.advance(minutes=1), report(clock(), right=RED_PAIN))
    (first,) = shown(store, cast, clock)
    with store.writing() as session:
        alerts.record_contact(session, asta, first["id"], True, "", clock.advance(minutes=5))
    tell(store, gus, nola, clock.advance(minutes=1), report(clock(), right=RED_PAIN))
    assert sorted(len(one["joined"]) for one in shown(store, cast, clock)) == [0, 1]


def test_H2_verified_reports_never_join_and_stand_first(
    store: Store, cast: Cast, clock: Clock, gus: Actor, granny: Actor
) -> None:
    nola, gwen = cast.wearers["Nola"], actor_named(store, cast.people["Gwen"])
    for who in (gus, granny, gwen, gwen):
        tell(store, who, nola, clock.advance(minutes=1), report(clock(), right=RED_PAIN))
    rows = shown(store, cast, clock)
    assert [one["unverified"] for one in rows] == [False, False, True, True]
    assert [len(one["joined"]) for one in rows] == [0, 0, 0, 0]
    assert len(held(store, cast, clock)) == 8, "each of the four holds both eyes"


def test_H12_a_sender_without_a_right_holds_an_eye_once_and_shortens_nothing(
    store: Store, cast: Cast, clock: Clock, gus: Actor
) -> None:
    nola, pavel = cast.wearers["Nola"], actor_named(store, cast.people["Pavel"])
    tell(store, gus, nola, clock(), report(clock(), **ILL))
    ill = held(store, cast, clock)
    assert ill == [("left", "illness"), ("right", "illness")]
    tell(store, gus, nola, clock.advance(minutes=1), report(clock(), **ILL))
    assert held(store, cast, clock) == ill
    tell(store, gus, nola, clock.advance(minutes=1), report(clock(), right=RED_PAIN))
    assert held(store, cast, clock) == [("left", "report"), ("right", "report")], "what lasts takes its place"
    tell(store, gus, nola, clock.advance(minutes=1), report(clock(), **ILL))
    assert held(store, cast, clock) == [("left", "report"), ("right", "report")]
    with store.writing() as session:
        for hold in open_holds(session, session.get_one(Wearer, nola), clock()):
            alerts.lift_hold(session, pavel, hold.id, "seen here", clock())
    tell(store, gus, nola, clock.advance(minutes=1), report(clock(), right=RED_PAIN))
    assert len(held(store, cast, clock)) == 2, "after a practitioner has lifted it, a new report holds anew"


def test_H12_an_unverified_word_neither_ends_nor_renews_what_the_family_said(
    store: Store, cast: Cast, clock: Clock, gus: Actor
) -> None:
    nola, gwen = cast.wearers["Nola"], actor_named(store, cast.people["Gwen"])
    tell(store, gwen, nola, clock(), report(clock(), **ILL))
    tell(store, gwen, nola, clock.advance(hours=1), report(clock(), right={"pain": "none"}, left={"pain": "none"}))
    with store.reading() as session:
        before = session.execute(select(Hold.id, Hold.well_since, Hold.lifted_at).order_by(Hold.id)).all()
    assert all(well for _, well, _ in before)
    for answers in ({"right": RED_PAIN}, {"right": {"pain": "none"}}, ILL):
        tell(store, gus, nola, clock.advance(minutes=1), report(clock(), **answers))
    with store.reading() as session:
        rows = select(Hold.id, Hold.well_since, Hold.lifted_at).order_by(Hold.id)
        after = [row for row in session.execute(rows) if row[0] in {one[0] for one in before}]
    assert after == before


@pytest.mark.parametrize("sender", ["gus", "granny"])
def test_a_right_that_ended_is_remembered_for_thirty_days(
    store: Store, cast: Cast, clock: Clock, sender: str, request: pytest.FixtureRequest
) -> None:
    who: Actor = request.getfixturevalue(sender)
    clock.now += FORMER_FOR - timedelta(minutes=1)
    assert not tell(store, who, cast.wearers["Nola"], clock(), report(clock(), right=RED_PAIN)).verified
    clock.advance(minutes=1)
    with pytest.raises(NotFound):
        tell(store, who, cast.wearers["Nola"], clock(), report(clock(), right=RED_PAIN))
