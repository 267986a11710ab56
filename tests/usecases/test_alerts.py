"""An alert is taken by a named person, contact is recorded, it is closed; holds are lifted by practitioners."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from fakes import Clock
from people import Cast
from sqlalchemy import select
from telling import RED_PAIN, actor_named, report, tell

from companion.common.errors import Conflict, InvalidInput, NotAllowed, NotFound
from companion.store.engine import Store
from companion.store.models import Alert, AuditEvent, Hold
from companion.usecases import alerts, call_sheet, desk
from companion.usecases.actor import Actor
from companion.usecases.reports import report as family_report
from companion.usecases.tonight import tonight


@pytest.fixture
def alert_id(store: Store, cast: Cast, clock: Clock) -> str:
    gwen = actor_named(store, cast.people["Gwen"])
    tell(store, gwen, cast.wearers["Nola"], clock(), report(clock(), right=RED_PAIN))
    with store.reading() as session:
        return session.scalars(select(Alert)).one().id


@pytest.fixture
def staff(store: Store, cast: Cast) -> dict[str, Actor]:
    return {name: actor_named(store, person) for name, person in cast.people.items()}


def family_state(store: Store, cast: Cast, clock: Clock) -> str:
    with store.reading() as session:
        row = session.scalars(select(Alert)).one()
        shown = family_report(
            session, actor_named(store, cast.people["Gwen"]), cast.wearers["Nola"], row.entry_id, clock()
        )
        return str(shown["alert"]["state"])


def test_from_queued_to_closed_the_family_sees_the_truth(
    store: Store, cast: Cast, clock: Clock, alert_id: str, staff: dict[str, Actor]
) -> None:
    assert family_state(store, cast, clock) == "queued"
    with store.writing() as session:
        alerts.take(session, staff["Asta"], alert_id, clock())
    assert family_state(store, cast, clock) == "taken"
    with store.writing() as session:
        alerts.record_contact(session, staff["Asta"], alert_id, True, "Spoke to the mother.", clock())
    assert family_state(store, cast, clock) == "contact_made"
    with store.writing() as session:
        alerts.close(session, staff["Pavel"], alert_id, "seen_here", "", clock(), confirmed=True)
    assert family_state(store, cast, clock) == "closed"
    with store.reading() as session:
        verbs = session.scalars(select(AuditEvent.verb).where(AuditEvent.object_id == alert_id)).all()
    assert list(verbs) == ["take", "contact", "close"]


def test_H2_a_family_that_nobody_answers_is_told_so(
    store: Store, cast: Cast, clock: Clock, alert_id: str, staff: dict[str, Actor]
) -> None:
    """Design of the safety guidance: at level 4 the family is told 30 minutes after nobody has taken it."""
    with store.reading() as session:
        entry_id = session.get_one(Alert, alert_id).entry_id
    news = {}
    for minutes in (29, 30):
        with store.reading() as session:
            now = clock() + timedelta(minutes=minutes)
            shown = family_report(session, staff["Gwen"], cast.wearers["Nola"], entry_id, now)
            news[minutes] = shown["alert"]["news"]
    assert news == {29: None, 30: "nobody_took_it"}


def test_H2_of_two_who_take_at_once_one_is_named(
    store: Store, cast: Cast, clock: Clock, alert_id: str, staff: dict[str, Actor]
) -> None:
    with store.writing() as session:
        alerts.take(session, staff["Asta"], alert_id, clock())
    with store.writing() as session, pytest.raises(Conflict, match="alert_taken"):
        alerts.take(session, staff["Pavel"], alert_id, clock())
    with store.writing() as session:
        alerts.take(session, staff["Asta"], alert_id, clock() + timedelta(minutes=1))
    with store.reading() as session:
        row = session.get_one(Alert, alert_id)
        assert (row.taken_by, row.taken_at) == (cast.people["Asta"], clock())


def test_H2_an_alert_taken_without_contact_in_time_may_be_taken_over(
    store: Store, cast: Cast, clock: Clock, alert_id: str, staff: dict[str, Actor]
) -> None:
    with store.writing() as session:
        alerts.take(session, staff["Asta"], alert_id, clock())
    with store.writing() as session:
        alerts.take(session, staff["Pavel"], alert_id, clock() + timedelta(minutes=61))
    with store.reading() as session:
        assert session.get_one(Alert, alert_id).taken_by == cast.people["Pavel"]


@pytest.mark.parametrize("name", ["Asta", "Mina"])
def test_only_a_practitioner_closes_level_three_or_more(
    store: Store, clock: Clock, alert_id: str, staff: dict[str, Actor], name: str
) -> None:
    with store.writing() as session, pytest.raises(NotAllowed):
        alerts.close(session, staff[name], alert_id, "seen_here", "", clock(), confirmed=True)


@pytest.mark.parametrize("name", ["Otto", "Petra", "Mark"])
def test_another_practice_does_not_find_it(
    store: Store, clock: Clock, alert_id: str, staff: dict[str, Actor], name: str
) -> None:
    with store.writing() as session, pytest.raises(NotFound):
        alerts.take(session, staff[name], alert_id, clock())
    with store.reading() as session, pytest.raises(NotFound):
        call_sheet.alert(session, staff[name], alert_id, clock())


@pytest.mark.parametrize(
    ("outcome", "note", "confirmed", "wrong"),
    [
        ("fine", "", True, ["outcome"]),
        ("advice_given", " ", True, ["note"]),
        ("seen_here", "", False, ["confirmed"]),
        ("no_fault_found", "", False, ["note", "confirmed"]),
    ],
)
def test_H16_closing_a_serious_alert_wants_a_reason_and_a_second_confirmation(
    store: Store,
    clock: Clock,
    alert_id: str,
    staff: dict[str, Actor],
    outcome: str,
    note: str,
    confirmed: bool,
    wrong: list[str],
) -> None:
    with store.writing() as session, pytest.raises(InvalidInput) as caught:
        alerts.close(session, staff["Pavel"], alert_id, outcome, note, clock(), confirmed=confirmed)
    assert [problem.field for problem in caught.value.problems] == wrong


def test_H12_lenses_out_until_thursday_holds_until_thursday(
    store: Store, cast: Cast, clock: Clock, alert_id: str, staff: dict[str, Actor]
) -> None:
    thursday = date(2026, 11, 5)
    with store.writing() as session:
        alerts.close(session, staff["Pavel"], alert_id, "seen_here", "", clock(), thursday, confirmed=True)
    answers = {}
    for days in (0, 2, 3):
        with store.reading() as session:
            shown = tonight(session, staff["Gwen"], cast.wearers["Nola"], clock() + timedelta(days=days))
        answers[days] = shown["answer"]["wearer"]
    assert answers == {0: "do_not_wear", 2: "do_not_wear", 3: "wear"}


def test_H12_lenses_out_until_ends_only_what_this_alert_holds(
    store: Store, cast: Cast, clock: Clock, alert_id: str, staff: dict[str, Actor]
) -> None:
    """A milder alert closed with a date must not free the eye that a graver one, or the practice, holds."""
    nola, later = cast.wearers["Nola"], clock() + timedelta(minutes=5)
    tell(store, staff["Gwen"], nola, later, report(later, left={"itch": "strong"}))
    with store.writing() as session:
        alerts.stop_wear(session, staff["Pavel"], nola, "left", "stain", later)
    with store.reading() as session:
        mild = session.scalars(select(Alert.id).where(Alert.level == 2)).one()
    tomorrow = date(2026, 11, 3)
    with store.writing() as session, pytest.raises(NotAllowed):
        alerts.close(session, staff["Asta"], mild, "advice_given", "", later, tomorrow)
    with store.writing() as session:
        alerts.close(session, staff["Pavel"], mild, "advice_given", "", later, tomorrow)
    with store.reading() as session:
        shown = tonight(session, staff["Gwen"], nola, clock() + timedelta(days=2))
    assert shown["answer"]["wearer"] == "do_not_wear"
    assert {(hold["eye"], hold["reason"]) for hold in shown["holds"]} == {
        ("right", "report"),
        ("left", "report"),
        ("left", "practice"),
    }


def test_H12_a_later_date_is_never_made_sooner(
    store: Store, cast: Cast, clock: Clock, alert_id: str, staff: dict[str, Actor]
) -> None:
    far, sooner = clock() + timedelta(days=9), date(2026, 11, 3)
    with store.writing() as session:
        for hold in session.scalars(select(Hold)):
            hold.ends_at = far
        session.commit()
    with store.writing() as session:
        alerts.close(session, staff["Pavel"], alert_id, "seen_here", "", clock(), sooner, confirmed=True)
    with store.reading() as session:
        assert {hold.ends_at for hold in session.scalars(select(Hold))} == {far}


def test_H2_a_slip_of_the_finger_does_not_end_the_climb(
    store: Store, cast: Cast, clock: Clock, alert_id: str, staff: dict[str, Actor]
) -> None:
    for reached in (True, False):
        with store.writing() as session:
            alerts.record_contact(session, staff["Asta"], alert_id, reached, "", clock())
    assert family_state(store, cast, clock) == "taken"


def test_H12_closing_alone_lifts_nothing(
    store: Store, cast: Cast, clock: Clock, alert_id: str, staff: dict[str, Actor]
) -> None:
    with store.writing() as session:
        alerts.close(session, staff["Pavel"], alert_id, "seen_here", "", clock(), confirmed=True)
    with store.reading() as session:
        shown = tonight(session, staff["Gwen"], cast.wearers["Nola"], clock() + timedelta(days=9))
    assert shown["answer"]["wearer"] == "do_not_wear"


def test_a_hold_is_lifted_by_a_practitioner_with_a_reason_and_for_that_eye(
    store: Store, cast: Cast, clock: Clock, alert_id: str, staff: dict[str, Actor]
) -> None:
    with store.reading() as session:
        right = session.scalars(select(Hold).where(Hold.eye == "right")).one().id
    with store.writing() as session, pytest.raises(NotAllowed):
        alerts.lift_hold(session, staff["Asta"], right, "white and quiet", clock())
    with store.writing() as session, pytest.raises(NotFound):
        alerts.lift_hold(session, staff["Petra"], right, "white and quiet", clock())
    with store.writing() as session, pytest.raises(InvalidInput):
        alerts.lift_hold(session, staff["Pavel"], right, " ", clock())
    with store.writing() as session:
        alerts.lift_hold(session, staff["Pavel"], right, "white and quiet", clock())
    with store.reading() as session:
        shown = tonight(session, staff["Gwen"], cast.wearers["Nola"], clock())
    assert shown["answer"]["wearer"] == "per_eye"
    assert shown["answer"]["eyes"]["left"]["answer"] == "do_not_wear"
    assert shown["answer"]["eyes"]["right"]["answer"] == "wear"
    assert shown["action"]["eyes"] == ["right"]


def test_a_practice_stop_holds_the_named_eye(
    store: Store, cast: Cast, clock: Clock, staff: dict[str, Actor]
) -> None:
    with store.writing() as session, pytest.raises(NotAllowed):
        alerts.stop_wear(session, staff["Asta"], cast.wearers["Nola"], "left", "stain", clock())
    with store.writing() as session:
        alerts.stop_wear(session, staff["Pavel"], cast.wearers["Nola"], "left", "stain", clock())
    with store.reading() as session:
        shown = tonight(session, staff["Gwen"], cast.wearers["Nola"], clock())
    assert {eye: one["answer"] for eye, one in shown["answer"]["eyes"].items()} == {
        "right": "wear",
        "left": "do_not_wear",
    }


def test_the_desk_lists_worst_and_oldest_first(
    store: Store, cast: Cast, clock: Clock, alert_id: str, staff: dict[str, Actor]
) -> None:
    later = clock() + timedelta(minutes=5)
    tell(store, staff["Hedda"], cast.wearers["Timo"], later, report(later, left=RED_PAIN))
    tell(store, staff["Wim"], cast.wearers["Wim"], later, report(later, left={"pain": "severe"}))
    tell(store, staff["Wim"], cast.wearers["Wim"], later, report(later, left={"itch": "strong"}))
    with store.reading() as session:
        shown = desk.desk(session, staff["Asta"], later)
    listed = [(row["level"], row["wearer"]["name"]) for row in shown["alerts"]]
    assert listed == [(5, "Wim"), (4, "Nola"), (4, "Timo")]
    assert [row["wearer"]["name"] for row in shown["later"]] == ["Wim"]
