"""The one way into the diary: idempotent, each entry on its own, judged and alerted in one transaction."""

from __future__ import annotations

import threading
from datetime import timedelta

import pytest
from fakes import Clock
from people import Cast
from sqlalchemy import func, select
from telling import RED_PAIN, actor_named, entry, report, tell, worn_nights

from companion.common.errors import NotAllowed, NotFound
from companion.store.engine import Store
from companion.store.models import Alert, Delivery, EntryRow, Hold, Outbox, Practice, Report, Wearer, WearerState
from companion.usecases.derived import derive
from companion.usecases.story import load_story


def count(store: Store, model: type) -> int:
    with store.reading() as session:
        return session.scalar(select(func.count()).select_from(model)) or 0


def test_a_week_of_nights_gets_numbers_in_order_and_becomes_nights(store: Store, cast: Cast, clock: Clock) -> None:
    gwen, nola = actor_named(store, cast.people["Gwen"]), cast.wearers["Nola"]
    receipt = tell(store, gwen, nola, clock(), *worn_nights(clock(), 7))
    assert (len(receipt.accepted), receipt.rejected) == (14, [])
    with store.reading() as session:
        rows = session.scalars(select(EntryRow).order_by(EntryRow.seq)).all()
        state = session.scalars(select(WearerState)).one()
    assert [row.seq for row in rows] == list(range(1, 15))
    assert (state.worn, state.not_worn, state.unknown, state.planned, state.seq) == (7, 0, 7, 14, 14)


def test_H15_sending_twice_changes_nothing(store: Store, cast: Cast, clock: Clock) -> None:
    gwen, nola = actor_named(store, cast.people["Gwen"]), cast.wearers["Nola"]
    batch = [*worn_nights(clock(), 2), report(clock(), right=RED_PAIN)]
    first = tell(store, gwen, nola, clock(), *batch)
    again = tell(store, gwen, nola, clock() + timedelta(minutes=1), *batch, *batch)
    assert first.accepted == again.accepted[:5]
    assert again.rejected == []
    # Two messages: one to the practice, one to Gus, who looks after Nola too.
    assert [count(store, one) for one in (EntryRow, Report, Alert, Delivery, Outbox)] == [5, 1, 1, 1, 2]


def test_the_same_id_with_other_words_is_a_conflict_and_the_first_words_stand(
    store: Store, cast: Cast, clock: Clock
) -> None:
    gwen, nola = actor_named(store, cast.people["Gwen"]), cast.wearers["Nola"]
    said = entry("lenses_in", clock(), {"eyes": "both"})
    tell(store, gwen, nola, clock(), said)
    receipt = tell(store, gwen, nola, clock(), {**said, "payload": {"eyes": "left"}})
    assert [(one.id, one.problems[0].code) for one in receipt.rejected] == [(said["id"], "id_conflict")]
    with store.reading() as session:
        assert session.get_one(EntryRow, said["id"]).payload == {"eyes": "both"}


def test_another_wearers_entry_cannot_be_reached_by_its_id(store: Store, cast: Cast, clock: Clock) -> None:
    said = entry("lenses_in", clock(), {"eyes": "both"})
    tell(store, actor_named(store, cast.people["Gwen"]), cast.wearers["Nola"], clock(), said)
    hedda = actor_named(store, cast.people["Hedda"])
    taken_back = entry("withdrawal", clock(), {"withdraws": said["id"]})
    receipt = tell(store, hedda, cast.wearers["Timo"], clock(), said, taken_back)
    assert [one.problems[0].code for one in receipt.rejected] == ["id_conflict", "no_such_entry"]


def test_a_bad_entry_is_named_and_takes_nothing_with_it(store: Store, cast: Cast, clock: Clock) -> None:
    gwen, nola = actor_named(store, cast.people["Gwen"]), cast.wearers["Nola"]
    good, bad = entry("lenses_in", clock(), {"eyes": "both"}), entry("lenses_out", clock(), {"eyes": "middle"})
    later = entry("lenses_out", clock(), {"eyes": "both"})
    receipt = tell(store, gwen, nola, clock(), good, bad, {"id": "x"}, later)
    assert receipt.accepted == [good["id"], later["id"]]
    assert receipt.rejected[0].problems[0].field == "payload.eyes"
    assert receipt.rejected[1].id == "x"
    with store.reading() as session:
        assert [row.seq for row in session.scalars(select(EntryRow).order_by(EntryRow.seq))] == [1, 2]


def test_correcting_keeps_the_first_words_and_changes_the_night(store: Store, cast: Cast, clock: Clock) -> None:
    gwen, gus = (actor_named(store, cast.people[name]) for name in ("Gwen", "Gus"))
    nola = cast.wearers["Nola"]
    went_in, came_out = worn_nights(clock(), 1)
    tell(store, gwen, nola, clock(), went_in, came_out)
    corrected = entry(
        "correction",
        clock(),
        {
            "replaces": came_out["id"],
            "kind": "lenses_out",
            "at": (clock().replace(hour=5, minute=0)).isoformat(),
            "zone": "Europe/London",
            "payload": {"eyes": "both"},
        },
    )
    assert tell(store, gus, nola, clock(), corrected).accepted == [corrected["id"]]
    with store.reading() as session:
        story = load_story(session, session.get_one(Wearer, nola), clock())
        assert story.nights[-2].eyes["right"].hours == 7.5  # type: ignore[index]
        assert session.get_one(EntryRow, came_out["id"]).payload == {"eyes": "both"}


def test_the_cache_is_what_the_entries_say(store: Store, cast: Cast, clock: Clock) -> None:
    gwen, nola = actor_named(store, cast.people["Gwen"]), cast.wearers["Nola"]
    tell(store, gwen, nola, clock(), *worn_nights(clock(), 5))
    with store.reading() as session:
        state = session.scalars(select(WearerState)).one()
        fresh = derive(load_story(session, session.get_one(Wearer, nola), clock()))
    assert {name: getattr(state, name) for name in fresh} == fresh


@pytest.mark.parametrize("name", ["Hedda", "Gil", "Otto", "Petra", "Mark"])
def test_strangers_to_a_child_learn_nothing(store: Store, cast: Cast, clock: Clock, name: str) -> None:
    with pytest.raises(NotFound):
        tell(store, actor_named(store, cast.people[name]), cast.wearers["Nola"], clock())


def test_a_manager_sees_but_does_not_write_the_diary(store: Store, cast: Cast, clock: Clock) -> None:
    with pytest.raises(NotAllowed):
        tell(store, actor_named(store, cast.people["Mina"]), cast.wearers["Nola"], clock())


def test_H2_a_red_painful_eye_becomes_an_alert_with_its_first_message_in_one_transaction(
    store: Store, cast: Cast, clock: Clock
) -> None:
    gwen, nola = actor_named(store, cast.people["Gwen"]), cast.wearers["Nola"]
    sent = report(clock(), right=RED_PAIN)
    receipt = tell(store, gwen, nola, clock(), sent)
    assert receipt.reports == [sent["id"]]
    with store.reading() as session:
        judged = session.get_one(Report, sent["id"])
        alert = session.scalars(select(Alert)).one()
        message = session.scalars(select(Outbox).where(Outbox.delivery_id.is_not(None))).one()
        held = {hold.eye for hold in session.scalars(select(Hold))}
    assert (judged.level, judged.right_level, judged.left_level) == (4, 4, 1)
    assert judged.lens == {"right": "take_out", "left": "take_out"}
    assert judged.on_duty is False
    assert (alert.level, alert.entry_id) == (4, sent["id"])
    assert message.message["values"] == {"alert_id": alert.id, "level": 4}
    assert held == {"right", "left"}, "this practice lets one sore eye hold both, which is its default"


def test_a_practice_may_hold_the_sore_eye_alone(store: Store, cast: Cast, clock: Clock) -> None:
    with store.writing() as session:
        session.get_one(Practice, cast.practices["mill"]).one_eye_holds_both = False
        session.commit()
    gwen, nola = actor_named(store, cast.people["Gwen"]), cast.wearers["Nola"]
    sent = report(clock(), right=RED_PAIN)
    tell(store, gwen, nola, clock(), sent)
    with store.reading() as session:
        assert session.get_one(Report, sent["id"]).lens == {"right": "take_out", "left": "none"}
        assert [hold.eye for hold in session.scalars(select(Hold))] == ["right"]


def test_a_report_of_level_two_is_listed_and_sent_to_nobody(store: Store, cast: Cast, clock: Clock) -> None:
    gwen, nola = actor_named(store, cast.people["Gwen"]), cast.wearers["Nola"]
    tell(store, gwen, nola, clock(), report(clock(), right={"vision": "fluctuating"}))
    assert [count(store, one) for one in (Alert, Hold, Outbox)] == [1, 0, 0]


def test_H1_a_family_can_ask_for_more_urgency_never_for_less(store: Store, cast: Cast, clock: Clock) -> None:
    gwen, nola = actor_named(store, cast.people["Gwen"]), cast.wearers["Nola"]
    mild, grave = report(clock()), report(clock(), right=RED_PAIN)
    mild["payload"]["asked_level"], grave["payload"]["asked_level"] = 5, 2
    tell(store, gwen, nola, clock(), mild, grave)
    with store.reading() as session:
        levels = {row.entry_id: row.level for row in session.scalars(select(Report))}
    assert levels == {mild["id"]: 5, grave["id"]: 4}


def test_H12_what_a_phone_told_by_rules_of_another_day_holds_as_well(
    store: Store, cast: Cast, clock: Clock
) -> None:
    gwen, nola = actor_named(store, cast.people["Gwen"]), cast.wearers["Nola"]
    mild = report(clock(), right={"itch": "mild"})
    mild["payload"]["judged_level"] = 4
    tell(store, gwen, nola, clock(), mild)
    with store.reading() as session:
        row = session.scalars(select(Report)).one()
        assert (row.level, row.lens["right"], row.wear_hold) == (4, "take_out", {"right": True, "left": True})
        assert {hold.eye for hold in session.scalars(select(Hold))} == {"right", "left"}
        assert "wear_only_if_white" not in [one["key"] for one in row.advice]


def test_H12_a_report_stays_and_its_hold_stays_whatever_the_family_says_next(
    store: Store, cast: Cast, clock: Clock
) -> None:
    gwen, nola = actor_named(store, cast.people["Gwen"]), cast.wearers["Nola"]
    sent = report(clock(), right=RED_PAIN)
    tell(store, gwen, nola, clock(), sent)
    later = clock() + timedelta(hours=2)
    better, taken_back = report(later), entry("withdrawal", later, {"withdraws": sent["id"]})
    receipt = tell(store, gwen, nola, later, better, taken_back)
    assert [one.problems[0].code for one in receipt.rejected] == ["report_stays"]
    with store.reading() as session:
        assert {hold.eye for hold in session.scalars(select(Hold).where(Hold.lifted_at.is_(None)))} == {
            "right",
            "left",
        }
        assert session.scalars(select(Alert)).one().closed_at is None


def test_two_phones_at_once_lose_nothing_and_share_no_number(store: Store, cast: Cast, clock: Clock) -> None:
    nola, start = cast.wearers["Nola"], threading.Barrier(2)
    actors = [actor_named(store, cast.people[name]) for name in ("Gwen", "Gus")]

    def phone(which: int) -> None:
        start.wait()
        for minute in range(20):
            note = entry("note", clock() + timedelta(minutes=minute), {"text": "x"})
            tell(store, actors[which], nola, clock(), note)

    threads = [threading.Thread(target=phone, args=(which,)) for which in (0, 1)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    with store.reading() as session:
        assert sorted(row.seq for row in session.scalars(select(EntryRow))) == list(range(1, 41))
