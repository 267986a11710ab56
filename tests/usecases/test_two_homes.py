"""Guardians come and go, children grow up, entries land with the wrong child: rights are judged at receipt."""

from __future__ import annotations

from datetime import date
from uuid import uuid4

import pytest
from fakes import Clock
from people import Cast, add_guardian
from sqlalchemy import select
from telling import RED_PAIN, actor_named, entry, report, tell

from companion.common.errors import InvalidInput, NotAllowed, NotFound
from companion.diary.merge import standing
from companion.store.engine import Store
from companion.store.models import EntryRow, Outbox, Person, Wearer
from companion.store.queries.entries import entries_of
from companion.usecases import desk, diary_pages, handover, own_data, passes, profile, reports, tonight
from companion.usecases.guardianships import end_guardianship, guardianship
from companion.usecases.moving import move_entry


def end(store: Store, cast: Cast, clock: Clock, by: str, whose: str) -> None:
    actor = actor_named(store, cast.people[by])
    with store.writing() as session:
        end_guardianship(session, actor, cast.wearers["Nola"], cast.people[whose], clock())


@pytest.fixture
def grown(store: Store, cast: Cast, clock: Clock) -> str:
    """Timo is sixteen and has a log-in of his own."""
    with store.writing() as session:
        timo = Person(name="Timo", short_name="timo", created_at=clock())
        session.add(timo)
        session.flush()
        row = session.get_one(Wearer, cast.wearers["Timo"])
        row.birth_date, row.person_id = date(2010, 7, 9), timo.id
        session.commit()
    cast.people["Timo"] = timo.id
    return row.id


# -- ending a guardianship --
def test_a_removed_guardian_sees_nothing_from_then_on(store: Store, cast: Cast, clock: Clock) -> None:
    gus, nola = actor_named(store, cast.people["Gus"]), cast.wearers["Nola"]
    end(store, cast, clock, "Asta", "Gus")
    with store.reading() as session:
        for page in (tonight.tonight, diary_pages.diary, passes.passes, profile.profile):
            with pytest.raises(NotFound):
                page(session, gus, nola, clock())


def test_H2_a_removed_guardians_report_reaches_the_desk_unverified_and_nothing_else_of_theirs_does(
    store: Store, cast: Cast, clock: Clock
) -> None:
    gus, nola = actor_named(store, cast.people["Gus"]), cast.wearers["Nola"]
    end(store, cast, clock, "Asta", "Gus")
    sent = report(clock(), right=RED_PAIN)
    receipt = tell(store, gus, nola, clock(), entry("lenses_in", clock(), {"eyes": "both"}), sent)
    assert receipt.accepted == [sent["id"]]
    assert [one.problems[0].code for one in receipt.rejected] == ["not_allowed"]
    with store.reading() as session:
        (alert,) = desk.desk(session, actor_named(store, cast.people["Asta"]), clock())["alerts"]
        assert (alert["level"], alert["unverified"]) == (4, True)
        with pytest.raises(NotFound):
            reports.report(session, gus, nola, sent["id"], clock())


@pytest.mark.parametrize(
    ("by", "error"), [("Gwen", NotAllowed), ("Gus", NotAllowed), ("Hedda", NotFound), ("Otto", NotFound)]
)
def test_only_the_practice_removes_a_guardian(
    store: Store, cast: Cast, clock: Clock, by: str, error: type[Exception]
) -> None:
    with pytest.raises(error):
        end(store, cast, clock, by, "Gus")


def test_a_removed_guardians_passes_end_too(store: Store, cast: Cast, clock: Clock) -> None:
    gus = actor_named(store, cast.people["Gus"])
    with store.writing() as session:
        token = passes.issue(session, gus, cast.wearers["Nola"], {"name": "Granny", "lasts": "7"}, clock())
    end(store, cast, clock, "Asta", "Gus")
    with store.reading() as session, pytest.raises(NotFound):
        passes.look(session, token, clock())


def test_H17_a_minor_who_signs_in_alone_keeps_one_guardian(
    store: Store, cast: Cast, clock: Clock, grown: str
) -> None:
    asta = actor_named(store, cast.people["Asta"])
    with store.writing() as session:
        assert guardianship(session, asta, grown, cast.people["Hedda"], clock())["needed"] is True
        with pytest.raises(InvalidInput):
            end_guardianship(session, asta, grown, cast.people["Hedda"], clock())
    with store.writing() as session:
        add_guardian(session, session.get_one(Wearer, grown), session.get_one(Person, cast.people["Gus"]), clock())
        session.commit()
    with store.writing() as session:
        end_guardianship(session, asta, grown, cast.people["Hedda"], clock())


def test_two_homes_never_see_how_to_reach_each_other(store: Store, cast: Cast, clock: Clock) -> None:
    with store.writing() as session:
        session.get_one(Person, cast.people["Gus"]).phone = "+441632960777"
        session.commit()
    gwen, gus, nola = (
        actor_named(store, cast.people["Gwen"]),
        actor_named(store, cast.people["Gus"]),
        cast.wearers["Nola"],
    )
    tell(store, gus, nola, clock(), entry("lenses_in", clock(), {"eyes": "both"}))
    with store.reading() as session:
        shown = [
            tonight.tonight(session, gwen, nola, clock()),
            diary_pages.night(session, gwen, nola, clock().date(), clock()),
            own_data.summary(session, gwen, clock()),
            own_data.export(session, gwen, clock()),
        ]
    text = str(shown)
    assert "960777" not in text and "gus@example.org" not in text
    assert "Gus" in text


# -- a minor's report reaches the guardians --
def test_H17_a_teenagers_serious_report_is_mailed_to_the_guardians_naming_nobody(
    store: Store, cast: Cast, clock: Clock, grown: str
) -> None:
    timo = actor_named(store, cast.people["Timo"])
    tell(store, timo, grown, clock(), report(clock(), right={"pain": "mild"}))
    with store.reading() as session:
        assert session.scalars(select(Outbox).where(Outbox.delivery_id.is_(None))).all() == []
    tell(store, timo, grown, clock(), report(clock(), right=RED_PAIN))
    with store.reading() as session:
        letter = session.scalars(select(Outbox).where(Outbox.delivery_id.is_(None))).one()
        shown = tonight.tonight(session, actor_named(store, cast.people["Hedda"]), grown, clock())
    assert letter.address == "hedda@example.org"
    values = {"level": 4, "wearer_id": grown}
    assert letter.message == {"key": "family_report", "language": "en", "values": values}
    assert shown["alert"]["level"] == 4


def test_an_adults_report_is_the_adults(store: Store, cast: Cast, clock: Clock) -> None:
    tell(
        store,
        actor_named(store, cast.people["Wim"]),
        cast.wearers["Wim"],
        clock(),
        report(clock(), right=RED_PAIN),
    )
    with store.reading() as session:
        assert session.scalars(select(Outbox).where(Outbox.delivery_id.is_(None))).all() == []


# -- hand-over --
def offered(store: Store, cast: Cast, clock: Clock, grown: str) -> None:
    with store.writing() as session:
        handover.offer(session, actor_named(store, cast.people["Asta"]), grown, clock())


def reads(store: Store, cast: Cast, clock: Clock, grown: str, name: str) -> None:
    with store.writing() as session:
        handover.read(session, actor_named(store, cast.people[name]), grown, clock())


def test_nothing_changes_before_both_sides_have_read_who_sees_what(
    store: Store, cast: Cast, clock: Clock, grown: str
) -> None:
    hedda, timo = actor_named(store, cast.people["Hedda"]), actor_named(store, cast.people["Timo"])
    offered(store, cast, clock, grown)
    with store.reading() as session:
        assert handover.show(session, timo, grown, clock())["side"] == "wearer"
        assert handover.show(session, hedda, grown, clock())["waits_for"] == ["wearer", "guardian"]
        assert tonight.tonight(session, hedda, grown, clock())["handover"] is True
    reads(store, cast, clock, grown, "Timo")
    with store.reading() as session:
        diary_pages.diary(session, hedda, grown, clock())
    reads(store, cast, clock, grown, "Hedda")
    with store.reading() as session:
        diary_pages.diary(session, timo, grown, clock())
        with pytest.raises(NotAllowed):
            diary_pages.diary(session, hedda, grown, clock())
        assert tonight.tonight(session, hedda, grown, clock())["may"] == ["see_care", "report_symptoms"]


def test_H17_after_the_hand_over_a_guardian_still_sees_serious_reports(
    store: Store, cast: Cast, clock: Clock, grown: str
) -> None:
    hedda, timo = actor_named(store, cast.people["Hedda"]), actor_named(store, cast.people["Timo"])
    offered(store, cast, clock, grown)
    for name in ("Hedda", "Timo"):
        reads(store, cast, clock, grown, name)
    mild, serious = report(clock(), right={"itch": "strong"}), report(clock(), right=RED_PAIN)
    tell(store, timo, grown, clock(), mild, serious)
    with store.reading() as session:
        assert reports.report(session, hedda, grown, serious["id"], clock())["report"]["level"] == 4
        with pytest.raises(NotAllowed):
            reports.report(session, hedda, grown, mild["id"], clock())
        assert tonight.tonight(session, hedda, grown, clock())["alert"]["level"] == 4
        assert session.scalars(select(Outbox.address).where(Outbox.delivery_id.is_(None))).all() == [
            "hedda@example.org"
        ]


def test_the_practices_age_decides_and_the_practice_can_take_it_back(
    store: Store, cast: Cast, clock: Clock, grown: str
) -> None:
    asta, hedda = actor_named(store, cast.people["Asta"]), actor_named(store, cast.people["Hedda"])
    with store.writing() as session, pytest.raises(InvalidInput):
        handover.offer(session, asta, cast.wearers["Nola"], clock())
    with store.writing() as session, pytest.raises(NotAllowed):
        handover.offer(session, hedda, grown, clock())
    offered(store, cast, clock, grown)
    for name in ("Hedda", "Timo"):
        reads(store, cast, clock, grown, name)
    with store.writing() as session:
        handover.take_back(session, asta, grown, clock())
    with store.reading() as session:
        diary_pages.diary(session, hedda, grown, clock())


# -- the wrong child --
def kinds(store: Store, wearer_id: str) -> list[str]:
    with store.reading() as session:
        return [one.kind.value for one in standing(entries_of(session, session.get_one(Wearer, wearer_id)))]


@pytest.fixture
def both_children(store: Store, cast: Cast, clock: Clock) -> None:
    """Gwen looks after Timo too."""
    with store.writing() as session:
        add_guardian(
            session,
            session.get_one(Wearer, cast.wearers["Timo"]),
            session.get_one(Person, cast.people["Gwen"]),
            clock(),
        )
        session.commit()


@pytest.mark.usefixtures("both_children")
def test_H8_an_entry_for_the_wrong_child_moves_once_however_often_it_is_pressed(
    store: Store, cast: Cast, clock: Clock
) -> None:
    gwen, nola, timo = actor_named(store, cast.people["Gwen"]), cast.wearers["Nola"], cast.wearers["Timo"]
    said = entry("lenses_in", clock(), {"eyes": "both"})
    tell(store, gwen, nola, clock(), said)
    ids = (str(uuid4()), str(uuid4()))
    clock.advance(minutes=2)
    for _ in range(2):
        with store.writing() as session:
            move_entry(session, gwen, nola, said["id"], timo, ids, clock())
    assert (kinds(store, nola), kinds(store, timo)) == ([], ["lenses_in"])
    with store.reading() as session:
        moved = session.get_one(EntryRow, ids[1])
        assert (moved.at, moved.payload) == (clock.now.replace(minute=30), {"eyes": "both"})


@pytest.mark.usefixtures("both_children")
def test_H8_a_report_for_the_wrong_child_is_said_again_and_stays(store: Store, cast: Cast, clock: Clock) -> None:
    gwen, nola, timo = actor_named(store, cast.people["Gwen"]), cast.wearers["Nola"], cast.wearers["Timo"]
    sent = report(clock(), right=RED_PAIN)
    tell(store, gwen, nola, clock(), sent)
    with store.writing() as session:
        move_entry(session, gwen, nola, sent["id"], timo, (str(uuid4()), str(uuid4())), clock())
    assert (kinds(store, nola), kinds(store, timo)) == (["symptom_report"], ["symptom_report"])


def test_an_entry_moves_to_ones_own_children_only(store: Store, cast: Cast, clock: Clock) -> None:
    gwen, nola = actor_named(store, cast.people["Gwen"]), cast.wearers["Nola"]
    said = entry("lenses_in", clock(), {"eyes": "both"})
    tell(store, gwen, nola, clock(), said)
    for other in ("Timo", "Lea"):
        with store.writing() as session, pytest.raises(NotFound):
            move_entry(session, gwen, nola, said["id"], cast.wearers[other], (str(uuid4()), str(uuid4())), clock())
    assert kinds(store, nola) == ["lenses_in"]
