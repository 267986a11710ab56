"""Photos of an eye: after the report, for whoever may see it, and without a say in what to do."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from people import EVENING, ZONE, Cast
from sqlalchemy import func, select

from companion.common.errors import InvalidInput, NotAllowed, NotFound
from companion.common.ids import new_id
from companion.exchange.picture import Picture
from companion.store.engine import Store
from companion.store.models import Alert, AuditEvent, Outbox, Person, Photo, Report, Wearer
from companion.triage.answers import answers_from_file
from companion.usecases import call_sheet, own_data, photos, reports
from companion.usecases.actor import Actor, actor_of
from companion.usecases.recording import record_entries

FRESH = "2c9a7bcb-4b01-4ca8-a677-68a95751b99e"

PICTURE = Picture(b"\xff\xd8 a picture \xff\xd9", 1600, 1200)
RED_AND_SORE = {"right": {"redness": "red", "pain": "moderate"}}


def acting(store: Store, cast: Cast, name: str) -> Actor:
    with store.reading() as session:
        return actor_of(session, session.get_one(Person, cast.people[name]), "")


@pytest.fixture
def report(store: Store, cast: Cast) -> str:
    return reported(store, cast, "Gwen", "Nola")


def reported(store: Store, cast: Cast, author: str, wearer: str, said: dict[str, Any] = RED_AND_SORE) -> str:
    raw = {
        "id": new_id(), "kind": "symptom_report", "at": EVENING.isoformat(), "made_at": EVENING.isoformat(),
        "zone": ZONE, "payload": {"answers": answers_from_file(said).document()},
    }  # fmt: skip
    with store.writing() as session:
        receipt = record_entries(session, acting(store, cast, author), cast.wearers[wearer], [raw], EVENING)
    return receipt.reports[0]


def send(store: Store, cast: Cast, who: str, report_id: str, id_: str | None = None, eye: str = "right") -> str:
    form = {"id": id_ or new_id(), "eye": eye}
    with store.writing() as session:
        later = EVENING + timedelta(minutes=5)
        photos.add(session, acting(store, cast, who), cast.wearers["Nola"], report_id, form, PICTURE, later)
    return form["id"]


def look(store: Store, cast: Cast, who: str, photo_id: str, wearer: str = "Nola") -> bytes:
    with store.reading() as session:
        return photos.photo(session, acting(store, cast, who), cast.wearers[wearer], photo_id)


def test_H1_a_photo_changes_no_level_no_hold_and_no_message(store: Store, cast: Cast, report: str) -> None:
    def judged() -> list[Any]:
        with store.reading() as session:
            row, alert = session.get_one(Report, report), session.scalars(select(Alert)).one()
            told = session.scalar(select(func.count()).select_from(Outbox))
            return [row.level, row.lens, row.wear_hold, row.advice, alert.level, alert.raised_at, told]

    before = judged()
    for _ in range(photos.MOST):
        send(store, cast, "Gwen", report)
    assert judged() == before
    with pytest.raises(InvalidInput):
        send(store, cast, "Gwen", report)


def test_family_and_practice_find_it_beside_the_report(store: Store, cast: Cast, report: str) -> None:
    photo_id = send(store, cast, "Gwen", report)
    nola = cast.wearers["Nola"]
    with store.reading() as session:
        alert_id = session.scalars(select(Alert.id)).one()
        family = reports.report(session, acting(store, cast, "Gwen"), nola, report, EVENING)["report"]["photos"]
        sheet = call_sheet.alert(session, acting(store, cast, "Asta"), alert_id, EVENING)["report"]["photos"]
    assert family == sheet
    assert {key: family[0][key] for key in ("id", "eye", "by", "width", "height")} == {
        "id": photo_id, "eye": "right", "by": "Gwen", "width": 1600, "height": 1200,
    }  # fmt: skip
    for who in ("Gwen", "Gus", "Asta", "Pavel", "Mina"):
        assert look(store, cast, who, photo_id) == PICTURE.jpeg


def test_it_is_for_whoever_may_see_the_report_and_nobody_else(store: Store, cast: Cast, report: str) -> None:
    photo_id = send(store, cast, "Gwen", report)
    for stranger in ("Hedda", "Wim", "Otto", "Petra"):
        with pytest.raises(NotFound):
            look(store, cast, stranger, photo_id)
        with pytest.raises(NotFound):
            send(store, cast, stranger, report)
    with pytest.raises(NotFound):  # through another child's page
        look(store, cast, "Asta", photo_id, "Timo")
    with pytest.raises(NotAllowed):  # staff send none
        send(store, cast, "Asta", report)


def test_after_the_hand_over_a_guardian_sees_photos_of_serious_reports_alone(store: Store, cast: Cast) -> None:
    mild = reported(store, cast, "Gwen", "Nola", {"right": {"itch": "mild"}})
    seen, kept = (send(store, cast, "Gwen", one) for one in (reported(store, cast, "Gwen", "Nola"), mild))
    with store.writing() as session:
        session.get_one(Wearer, cast.wearers["Nola"]).handed_over_at = EVENING
        session.commit()
    assert look(store, cast, "Gus", seen)
    with pytest.raises(NotAllowed):
        look(store, cast, "Gus", kept)
    assert look(store, cast, "Gwen", kept), "who wrote the report sees what belongs to it"


def test_H15_a_photo_sent_twice_is_one(store: Store, cast: Cast, report: str) -> None:
    id_ = new_id()
    for _ in range(3):
        send(store, cast, "Gwen", report, id_)
    with store.reading() as session:
        assert session.scalars(select(Photo.id)).all() == [id_]
        noted = session.scalars(select(AuditEvent).where(AuditEvent.object_kind == "photo")).one()
    assert (noted.verb, noted.object_id, noted.actor_id) == ("add", id_, cast.people["Gwen"])


def test_the_same_id_with_another_report_is_refused(store: Store, cast: Cast, report: str) -> None:
    another = reported(store, cast, "Gwen", "Nola")
    id_ = send(store, cast, "Gwen", report)
    with pytest.raises(InvalidInput):
        send(store, cast, "Gwen", another, id_)


@pytest.mark.parametrize(("id_", "eye"), [("no id", "right"), (FRESH, "both"), (FRESH, "")])
def test_nonsense_is_refused(store: Store, cast: Cast, report: str, id_: str, eye: str) -> None:
    with pytest.raises(InvalidInput):
        send(store, cast, "Gwen", report, id_, eye)


def test_ones_own_data_name_every_photo(store: Store, cast: Cast, report: str) -> None:
    photo_id = send(store, cast, "Gwen", report)
    with store.reading() as session:
        gwen = acting(store, cast, "Gwen")
        told = own_data.export(session, gwen, EVENING)["wearers"][0]["photos"]
        counted = own_data.summary(session, gwen, EVENING)["wearers"][0]["photos"]
    assert counted == 1
    assert [(one["eye"], one["by"], one["at"]) for one in told] == [
        ("right", "Gwen", f"/w/{cast.wearers['Nola']}/photos/{photo_id}.jpg")
    ]
