"""What comes after a report: asking for more than the answers gave, and looking again."""

from __future__ import annotations

import re
from html import unescape

import pytest
from fakes import Clock
from flask import Flask
from flask.testing import FlaskClient
from people import Cast
from sqlalchemy import select
from telling import actor_named, tell
from telling import report as report_entry
from test_something_is_wrong import RED_AND_SORE, report, stored
from visitors import enter, hidden, text
from werkzeug.test import TestResponse

from companion.store.engine import Store
from companion.store.models import Alert, EntryRow, Hold


@pytest.fixture
def gwen(app: Flask, cast: Cast) -> FlaskClient:
    app.config["WTF_CSRF_ENABLED"] = False
    return enter(app, cast, "Gwen")


@pytest.fixture
def path(cast: Cast) -> str:
    return f"/w/{cast.wearers['Nola']}/wrong"


# -- asked for more -----------------------------------------------------------------------------------------------
def ask(client: FlaskClient, page: TestResponse, level: str) -> TestResponse:
    """Press one of the buttons of *I think it is worse than this*."""
    path = re.search(r'action="([^"]+/more)"', page.get_data(as_text=True))
    assert path, "nothing more can be asked for"
    answer = client.post(path[1], data={**hidden(page), "asked_level": level})
    assert answer.status_code == 303
    return client.get(answer.headers["Location"])


def test_H1_whoever_sees_the_eye_may_ask_for_more_and_the_alert_follows(
    gwen: FlaskClient, path: str, store: Store
) -> None:
    page = report(gwen, path, {})
    assert "Watch at home" in text(page)
    page = ask(gwen, page, "2")
    page = ask(gwen, page, "5")
    said = text(page)
    assert "Go now" in said and "Because somebody who sees the eye thinks that it is worse." in said
    assert "Right eye: take the lens out" in said and "Left eye: take the lens out" in said
    assert 'id="ask"' not in page.get_data(as_text=True), "there is nothing above"
    with store.reading() as session:
        rows = session.scalars(select(EntryRow).order_by(EntryRow.seq)).all()
        alerts_ = session.scalars(select(Alert).order_by(Alert.level)).all()
        held = session.scalars(select(Hold.eye)).all()
    assert [row.payload.get("asked_level") for row in rows] == [None, 2, 5]
    assert len({(str(row.payload["answers"]), row.at) for row in rows}) == 1, "the same answers and moment"
    assert [one.level for one in alerts_] == [2, 5]
    assert sorted(held) == ["left", "right"]


@pytest.mark.parametrize("level", ["1", "3", "4", "0", "-1", "high", "", "99999999999999999999"])
def test_H1_nobody_can_ask_for_less(gwen: FlaskClient, path: str, store: Store, level: str) -> None:
    page = report(gwen, path, RED_AND_SORE)
    before = stored(store)
    again = ask(gwen, page, level)
    more = level.startswith("999")
    assert stored(store) == before + more
    with store.reading() as session:
        assert max(session.scalars(select(Alert.level))) == (5 if more else 4)
    assert again.request.path == page.request.path or more


def test_a_second_press_asks_once(gwen: FlaskClient, path: str, store: Store) -> None:
    page = report(gwen, path, {})
    ask(gwen, page, "3")
    ask(gwen, page, "3")
    assert stored(store) == 2


def test_a_stranger_may_ask_for_more_too(app: Flask) -> None:
    app.config["WTF_CSRF_ENABLED"] = False
    client = app.test_client()
    page = report(client, "/wrong/questions", {})
    said = dict(re.findall(r'name="([^"]+)" value="([^"]*)"', page.get_data(as_text=True)))
    assert "asked_level" in said
    worse = client.post("/wrong/questions", data={**said, "asked_level": "4"})
    assert "Be seen today" in text(worse) and "take the lens out" in text(worse)


# -- looking again ------------------------------------------------------------------------------------------------
def test_the_page_says_when_to_look_again_and_asks_for_an_alarm(
    gwen: FlaskClient, path: str, clock: Clock
) -> None:
    page = report(gwen, path, {"right.redness": "pink", "right.course": "under_1h"})
    assert "Look at the eye again: 21:30." in text(page)
    assert "Set an alarm on this phone for then." in text(page)
    address = re.search(r'href="([^"]+)">Worse<', page.get_data(as_text=True))
    assert address
    clock.advance(minutes=61)
    page = gwen.get(page.request.path)
    assert "<b data-due>Look at the eye again now.</b>" in page.get_data(as_text=True)
    questions = gwen.get(unescape(address[1]))
    assert hidden(questions)["right.course"] == "over_24h_or_worse"
    assert hidden(questions)["eyes"] == "right"


@pytest.mark.parametrize("answer", ["cleared", "under_1h", "unsure"])
def test_H1_no_address_answers_ahead_that_it_got_better(gwen: FlaskClient, path: str, answer: str) -> None:
    assert "right.course" not in hidden(gwen.get(f"{path}?eyes=right&right.course={answer}"))


def test_a_report_that_came_late_says_when_it_was_made_and_when_it_came(
    gwen: FlaskClient, cast: Cast, store: Store, clock: Clock
) -> None:
    made = clock.now
    clock.advance(hours=6)
    actor = actor_named(store, cast.people["Gwen"])
    late, soon = report_entry(made, right={"fb": "still"}), report_entry(clock(), right={"fb": "still"})
    for one, said in ((late, "made yesterday at 20:30, received 02:30"), (soon, "made at 02:30")):
        (id_,) = tell(store, actor, cast.wearers["Nola"], clock(), one).reports
        assert said in text(gwen.get(f"/w/{cast.wearers['Nola']}/reports/{id_}"))
