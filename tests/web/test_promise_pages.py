"""The pages around the promise: how alerts climb, the switch, tests, and the family's word on a call."""

from __future__ import annotations

import re

import pytest
from fakes import Clock
from flask import Flask
from people import Cast
from sqlalchemy import select
from telling import RED_PAIN, report, tell
from visitors import HERE, acting, enter, text

from companion.store.engine import Store
from companion.store.models import Alert, AlertTest, Practice
from companion.usecases import test_alerts
from companion.usecases.alerts import take

ALERTS = "/desk/practice/alerts"


@pytest.fixture(autouse=True)
def no_tokens(app: Flask) -> None:
    app.config["WTF_CSRF_ENABLED"] = False


@pytest.fixture
def test_id(store: Store, cast: Cast, clock: Clock) -> str:
    with store.writing() as session:
        test_alerts.send_now(session, acting(store, cast, "Mina"), cast.people["Asta"], clock())
    with store.reading() as session:
        return session.scalars(select(AlertTest.id)).one()


def switched_off(store: Store, cast: Cast) -> None:
    with store.writing() as session:
        session.get_one(Practice, cast.practices["mill"]).alerts_on = False
        session.commit()


def nolas_report(store: Store, cast: Cast, clock: Clock) -> str:
    """The address of the page of Nola's red, sore eye."""
    tell(store, acting(store, cast, "Gwen"), cast.wearers["Nola"], clock(), report(clock(), right=RED_PAIN))
    with store.reading() as session:
        entry_id = session.scalars(select(Alert.entry_id)).one()
    return f"/w/{cast.wearers['Nola']}/reports/{entry_id}"


# -- a test -------------------------------------------------------------------------------------------
def test_H2_opening_a_test_a_hundred_times_answers_nothing_and_only_the_button_does(
    app: Flask, store: Store, cast: Cast, test_id: str
) -> None:
    asta = enter(app, cast, "Asta")
    for _ in range(100):
        assert asta.get(f"/desk/tests/{test_id}").status_code == 200
        assert asta.head(f"/desk/tests/{test_id}").status_code == 200
    with store.reading() as session:
        assert session.get_one(AlertTest, test_id).answered_at is None
    page = asta.get(f"/desk/tests/{test_id}").get_data(as_text=True)
    main = page[page.index("<main") :]
    assert len(re.findall(r"<button", main)) == 1
    answered = asta.post(f"/desk/tests/{test_id}", headers=HERE, follow_redirects=True)
    assert "Alerts reach you by this way" in text(answered)
    with store.reading() as session:
        assert session.get_one(AlertTest, test_id).answered_by == cast.people["Asta"]


def test_H2_alerts_cannot_be_switched_on_before_somebody_answered(
    app: Flask, store: Store, cast: Cast, test_id: str
) -> None:
    switched_off(store, cast)
    mina, asta = enter(app, cast, "Mina"), enter(app, cast, "Asta")
    refused = mina.post(f"{ALERTS}/switch", data={"on": "yes"}, headers=HERE)
    assert refused.status_code == 422
    assert "Nobody has answered a test alert yet" in text(refused)
    asta.post(f"/desk/tests/{test_id}", headers=HERE)
    assert mina.post(f"{ALERTS}/switch", data={"on": "yes"}, headers=HERE).status_code == 303
    assert "Alerts are on" in text(mina.get(ALERTS))


def test_switching_off_asks_once_more(app: Flask, cast: Cast) -> None:
    mina = enter(app, cast, "Mina")
    refused = mina.post(f"{ALERTS}/switch", data={"on": "no"}, headers=HERE)
    assert refused.status_code == 422
    assert "Tick the box" in text(refused)
    mina.post(f"{ALERTS}/switch", data={"on": "no", "confirmed": "yes"}, headers=HERE)
    assert "Alerts are off" in text(mina.get(ALERTS))
    assert "Alerts are off" in text(mina.get("/desk"))


def test_a_manager_sends_a_test_and_sees_how_it_went(app: Flask, store: Store, cast: Cast, clock: Clock) -> None:
    mina, asta = enter(app, cast, "Mina"), enter(app, cast, "Asta")
    assert "Not tested yet" in text(mina.get(ALERTS))
    sent = mina.post(f"{ALERTS}/test/{cast.people['Asta']}", headers=HERE, follow_redirects=True)
    assert "A test is on its way" in text(sent)
    assert "Test sent, not answered yet" in text(sent)
    with store.reading() as session:
        test_id = session.scalars(select(AlertTest.id)).one()
    asta.post(f"/desk/tests/{test_id}", headers=HERE)
    assert "Mail: Answered" in text(mina.get(ALERTS))
    clock.advance(hours=20)
    with store.writing() as session:
        test_alerts.send_now(session, acting(store, cast, "Mina"), cast.people["Asta"], clock())
    clock.advance(minutes=31)
    for page in (mina.get(ALERTS), asta.get("/desk")):
        assert "Dead: the last test was not accepted" in text(page)


def test_the_plan_keeps_what_was_typed_and_names_what_is_wrong(app: Flask, cast: Cast) -> None:
    mina = enter(app, cast, "Mina")
    form = {
        "who_1": cast.people["Pavel"], "when_1": "on_call", "way_1": "mail", "call_mon": "18:00-24:00",
        "contact_minutes": "60", "minutes_5_1": "60", "minutes_5_2": "10", "minutes_4_1": "15",
        "minutes_4_2": "30", "minutes_3_1": "120",
    }  # fmt: skip
    refused = mina.post(ALERTS, data=form, headers=HERE)
    assert refused.status_code == 422
    assert "Write a number from 1 to 10." in text(refused)
    assert 'value="18:00-24:00"' in refused.get_data(as_text=True)
    saved = mina.post(ALERTS, data=form | {"minutes_5_1": "5"}, headers=HERE, follow_redirects=True)
    page = saved.get_data(as_text=True)
    assert re.search(rf'<option value="{cast.people["Pavel"]}" selected>', page)
    assert '<option value="on_call" selected>' in page


# -- what a family sees -------------------------------------------------------------------------------
def test_H2_with_alerts_off_the_first_line_and_tonight_say_that_nobody_was_told(
    app: Flask, store: Store, cast: Cast, clock: Clock
) -> None:
    switched_off(store, cast)
    address = nolas_report(store, cast, clock)
    gwen = enter(app, cast, "Gwen")
    page = gwen.get(address)
    first = re.search(r"<h1[^>]*>(.*?)</h1>", page.get_data(as_text=True), re.DOTALL)
    assert first is not None
    assert "Your practice has NOT been told. Phone them now." in first[1]
    assert "This app has NOT told the practice." in text(page)
    assert "Nobody was sent a message." in text(page)
    tonight = gwen.get(f"/w/{cast.wearers['Nola']}/tonight")
    assert "This app has NOT told the practice. Phone them" in text(tonight)


def test_in_the_hours_on_call_the_first_line_says_so(app: Flask, store: Store, cast: Cast, clock: Clock) -> None:
    with store.writing() as session:
        mill = session.get_one(Practice, cast.practices["mill"])
        mill.alert_plan = [{"person_id": cast.people["Asta"], "channel": "any", "when": "on_call"}]
        mill.on_call_hours = {"mon": [["18:00", "24:00"]]}
        session.commit()
    page = text(enter(app, cast, "Gwen").get(nolas_report(store, cast, clock)))
    assert "now. Somebody is on call." in page
    assert "closed; somebody is on call" in text(enter(app, cast, "Asta").get("/desk"))


def test_H2_a_family_says_that_nobody_has_called_and_the_call_sheet_shows_it(
    app: Flask, store: Store, cast: Cast, clock: Clock
) -> None:
    address = nolas_report(store, cast, clock)
    gwen, asta = enter(app, cast, "Gwen"), enter(app, cast, "Asta")
    question = "Has somebody from the practice called you?"
    assert question not in text(gwen.get(address))
    with store.reading() as session:
        alert_id = session.scalars(select(Alert.id)).one()
    with store.writing() as session:
        take(session, acting(store, cast, "Asta"), alert_id, clock())
    for _ in range(3):
        assert question in text(gwen.get(address))
    with store.reading() as session:
        assert session.get_one(Alert, alert_id).called_said is None
    clock.advance(minutes=61)
    said = gwen.post(f"{address}/called", data={"called": "no"}, headers=HERE, follow_redirects=True)
    assert "You said: no." in text(said)
    assert "The family says: nobody has called." in text(asta.get(f"/desk/alerts/{alert_id}"))
    assert "The family says: nobody has called." in text(asta.get("/desk"))
    gwen.post(f"{address}/called", data={"called": "yes"}, headers=HERE)
    assert "The family says: somebody has called." in text(asta.get(f"/desk/alerts/{alert_id}"))
    assert "has not reached you. Phone them" not in text(gwen.get(address))
