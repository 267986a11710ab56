"""Tonight, the taps, sight, the diary and its corrections, as forms without script."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from fakes import Clock
from flask import Flask
from flask.testing import FlaskClient
from people import ZONE, Cast, add_guardian
from sqlalchemy import select
from visitors import acting, enter, hidden, text

from companion.common.ids import new_id
from companion.store.engine import Store
from companion.store.models import EntryRow, Person, Wearer
from companion.triage.answers import answers_from_file
from companion.usecases.recording import record_entries
from companion.web import entries

NOW = datetime(2026, 11, 2, 20, 30, tzinfo=UTC)


@pytest.fixture
def gwen(app: Flask, cast: Cast) -> FlaskClient:
    app.config["WTF_CSRF_ENABLED"] = False
    return enter(app, cast, "Gwen")


@pytest.fixture
def nola(cast: Cast) -> str:
    return f"/w/{cast.wearers['Nola']}"


def last(store: Store) -> EntryRow:
    with store.reading() as session:
        return session.scalars(select(EntryRow).order_by(EntryRow.seq.desc())).first()  # type: ignore[return-value]


def form(**fields: str) -> dict[str, str]:
    return {"id": new_id(), "zone": ZONE, **fields}


# -- tonight ------------------------------------------------------------------------------------------------------
def test_one_sentence_one_reason_one_large_action(gwen: FlaskClient, nola: str) -> None:
    page = gwen.get(f"{nola}/tonight").get_data(as_text=True)
    assert re.findall(r"<h1>([^<]+)</h1>", page) == ["Lenses in tonight."]
    assert page.count('class="act great"') == 1
    assert page.index("act great") < page.index('class="ways"') < page.index('class="band"')
    assert all(words in page for words in ("One eye only", "Earlier", "Not tonight"))


def test_a_tap_is_kept_said_and_can_be_undone(gwen: FlaskClient, nola: str, store: Store) -> None:
    page = gwen.get(f"{nola}/tonight").get_data(as_text=True)
    first = re.search(r'name="id" value="([^"]+)"', page)
    assert first
    tap = {"id": first[1], "zone": ZONE, "kind": "lenses_in", "eyes": "both"}
    assert gwen.post(f"{nola}/entries", data=tap).headers["Location"].endswith("/tonight?saved=1")
    gwen.post(f"{nola}/entries", data=tap)
    after = gwen.get(f"{nola}/tonight?saved=1")
    assert "Saved." in text(after) and "Lenses are in." in text(after) and "Undo: Both lenses in" in text(after)
    undo = re.search(r'action="([^"]+/withdraw)"', after.get_data(as_text=True))
    assert undo
    gwen.post(undo[1], data=form())
    assert "Lenses in tonight." in text(gwen.get(f"{nola}/tonight"))


@pytest.mark.parametrize(
    ("fields", "at"),
    [
        ({}, NOW),
        ({"minutes_ago": "30"}, NOW - timedelta(minutes=30)),
        ({"clock": "19:45"}, NOW - timedelta(minutes=45)),
        ({"clock": "21:00"}, NOW - timedelta(hours=23, minutes=30)),
        ({"day": "2026-11-01", "clock": "22:15"}, datetime(2026, 11, 1, 22, 15, tzinfo=UTC)),
    ],
)
def test_when_it_happened(fields: dict[str, str], at: datetime) -> None:
    assert entries.when({"zone": ZONE, **fields}, NOW) == at


@pytest.mark.parametrize("fields", [{"minutes_ago": "soon"}, {"minutes_ago": "99999"}, {"clock": "25:00"}])
def test_a_time_that_is_none_is_named_and_kept(gwen: FlaskClient, nola: str, fields: dict[str, str]) -> None:
    answer = gwen.post(f"{nola}/entries", data=form(kind="lenses_in", eyes="both", **fields))
    assert answer.status_code == 422 and "Please look at this once more" in text(answer)


def test_not_tonight_is_as_plain(gwen: FlaskClient, nola: str, store: Store) -> None:
    gwen.post(f"{nola}/entries", data=form(kind="no_lenses", eyes="both", night="2026-11-02"))
    assert last(store).payload == {"eyes": "both", "night": "2026-11-02"}
    assert "Not worn" in text(gwen.get(f"{nola}/diary"))


def test_none_last_night_speaks_of_the_night_just_ending(
    app: Flask, cast: Cast, gwen: FlaskClient, nola: str, clock: Clock
) -> None:
    clock.now = datetime(2026, 11, 3, 7, 0, tzinfo=UTC)
    page = gwen.get(f"{nola}/tonight").get_data(as_text=True)
    last_form = page[: page.index("None last night")].rpartition("<form")[2]
    assert 'name="night" value="2026-11-02"' in last_form and 'value="no_lenses"' in last_form


def test_sight_in_words_and_off_a_chart(gwen: FlaskClient, nola: str, store: Store) -> None:
    ids = {f"id_{how}_{eye}": new_id() for how in ("word", "chart") for eye in ("right", "left")}
    said = form(word_right="good", logmar_left="0,1", distance_m="3", **ids)
    assert gwen.post(f"{nola}/sight", data=said).status_code == 303
    with store.reading() as session:
        told = [row.payload for row in session.scalars(select(EntryRow).order_by(EntryRow.seq))]
    assert told == [{"eye": "right", "word": "good"}, {"eye": "left", "logmar": 0.1, "distance_m": 3.0}]
    empty = gwen.post(f"{nola}/sight", data=form(**ids))
    assert empty.status_code == 422
    wrong = gwen.post(f"{nola}/sight", data=form(logmar_right="very", distance_m="3", **ids))
    assert wrong.status_code == 422 and 'value="very"' in wrong.get_data(as_text=True)


# -- the diary ----------------------------------------------------------------------------------------------------
def test_a_night_has_a_shape_and_a_word_never_colour_alone(gwen: FlaskClient, nola: str) -> None:
    page = gwen.get(f"{nola}/diary").get_data(as_text=True)
    shown = r'<span class="eye-state"><svg .*?<circle class="(\w+)".*?</svg><span>([^<]+)</span>'
    states = re.findall(shown, page)
    assert states and set(states) == {("dots", "Not known")}


def test_anything_can_be_added_to_a_night_and_corrected(gwen: FlaskClient, nola: str, store: Store) -> None:
    night = f"{nola}/diary/2026-10-30"
    gwen.post(night, data=form(kind="lenses_in", eyes="both", clock="21:40"))
    assert last(store).at == datetime(2026, 10, 30, 21, 40, tzinfo=UTC)
    gwen.post(night, data=form(kind="lenses_out", eyes="both", clock="06:10"))
    out = last(store)
    assert out.at == datetime(2026, 10, 31, 6, 10, tzinfo=UTC)
    fixed = form(kind="lenses_out", eyes="right", day="2026-10-31", clock="07:00", back=f"{night}?saved=1")
    answer = gwen.post(f"{nola}/entries/{out.id}/correct", data=fixed)
    assert answer.headers["Location"] == f"{night}?saved=1"
    page = text(gwen.get(night))
    assert "Right lens out" in page and "changed" in page and "9.3 hours, 21:40 – 07:00" in page


def test_a_correction_goes_nowhere_else(gwen: FlaskClient, nola: str, store: Store) -> None:
    gwen.post(f"{nola}/diary/2026-10-30", data=form(kind="no_lenses", eyes="both"))
    row = last(store)
    fixed = form(kind="no_lenses", eyes="left", of_night="2026-10-30", at=row.at.isoformat(), back="//x.example")
    answer = gwen.post(f"{nola}/entries/{row.id}/correct", data=fixed)
    assert answer.headers["Location"].startswith(f"{nola}/diary")


@pytest.mark.parametrize("kept", [{"text": ""}, {"text": "x" * 2001}])
def test_a_note_that_does_not_fit_is_kept(gwen: FlaskClient, nola: str, kept: dict[str, str]) -> None:
    answer = gwen.post(f"{nola}/note", data=form(**kept))
    assert answer.status_code == 422
    assert kept["text"] in answer.get_data(as_text=True) and 'aria-invalid="true"' in answer.get_data(as_text=True)


def test_all_as_planned_with_exceptions(gwen: FlaskClient, nola: str) -> None:
    fields: dict[str, Any] = form(since="2026-10-26", until="2026-11-01")
    fields["except"] = ["2026-10-28", "2026-10-31"]
    assert gwen.post(f"{nola}/planned", data=fields).status_code == 303
    page = text(gwen.get(f"{nola}/diary"))
    assert "5 worn, 2 not worn" in page
    refused = gwen.post(f"{nola}/planned", data=form(since="2026-11-01", until="2026-10-01"))
    assert refused.status_code == 422 and 'value="2026-11-01"' in refused.get_data(as_text=True)


def test_pages_that_are_not_there(gwen: FlaskClient, nola: str) -> None:
    of_nola = ("diary/soon", "diary/1999-01-01", f"reports/{new_id()}")
    for path in (*(f"{nola}/{one}" for one in of_nola), f"/w/{new_id()}/tonight"):
        answer = gwen.get(path)
        assert answer.status_code == 404 and "There is no such page." in text(answer)


def test_when_the_store_breaks_the_page_still_says_what_to_do(app: Flask, cast: Cast) -> None:
    client = enter(app, cast, "Gwen")
    house = app.extensions["companion"]
    house.store.engine.dispose()
    app.testing = False
    app.config["PROPAGATE_EXCEPTIONS"] = False

    def broken(*_: object) -> Any:
        raise RuntimeError("no store")

    house.store.reading = broken
    answer = client.get("/tonight")
    assert answer.status_code == 500
    assert "phone your practice" in text(answer) and "RuntimeError" not in text(answer)


def test_a_family_of_several_is_asked_whose(app: Flask, cast: Cast, store: Store, clock: Clock) -> None:
    with store.writing() as session:
        timo, gwen = session.get_one(Wearer, cast.wearers["Timo"]), session.get_one(Person, cast.people["Gwen"])
        add_guardian(session, timo, gwen, clock())
        session.commit()
    client = enter(app, cast, "Gwen")
    page = client.get("/tonight")
    assert page.status_code == 200 and "Nola" in text(page) and "Timo" in text(page)
    assert "Others" in text(client.get(f"/w/{cast.wearers['Nola']}/tonight"))


def test_hidden_fields_make_each_form_its_own(gwen: FlaskClient, nola: str) -> None:
    ids = re.findall(r'name="id" value="([^"]+)"', gwen.get(f"{nola}/tonight").get_data(as_text=True))
    assert len(ids) == len(set(ids)) >= 4
    assert hidden(gwen.get(f"{nola}/note"))["zone"] == ZONE


def test_H15_a_page_kept_open_since_yesterday_loses_no_tap(
    gwen: FlaskClient, nola: str, store: Store, clock: Clock
) -> None:
    """The form's hidden id was used by yesterday's tap; today's is another entry. A double tap is one."""
    tap = form(kind="lenses_in", eyes="both")
    counts = []
    for later in ({}, {"seconds": 3}, {"days": 1}):
        clock.advance(**later)
        assert gwen.post(f"{nola}/entries", data=tap).status_code == 303
        with store.reading() as session:
            counts.append(len(session.scalars(select(EntryRow)).all()))
    assert counts == [1, 1, 2]


@pytest.mark.parametrize(
    ("right", "told"),
    [({}, "Lenses rest during an illness"), ({"redness": "red", "pain": "moderate"}, "A report is still open")],
)
def test_H1_an_ill_child_with_a_sore_eye_is_not_told_that_a_day_of_being_well_is_enough(
    gwen: FlaskClient, nola: str, store: Store, cast: Cast, clock: Clock, right: dict[str, str], told: str
) -> None:
    answers = answers_from_file({"general": {"fever": "yes"}, "right": right}).document()
    raw = {
        "id": new_id(),
        "kind": "symptom_report",
        "at": clock().isoformat(),
        "made_at": clock().isoformat(),
        "zone": ZONE,
        "payload": {"answers": answers},
    }
    with store.writing() as session:
        record_entries(session, acting(store, cast, "Gwen"), cast.wearers["Nola"], [raw], clock())
    said = text(gwen.get(f"{nola}/tonight"))
    assert told in said
    assert ("Lenses rest during an illness" in said) is (not right)
