"""Where a message to a family leads: to the page of the child it is about, although it names nobody."""

from __future__ import annotations

import json
from datetime import timedelta
from urllib.parse import urlsplit

import pytest
from fakes import Clock
from people import Cast, add_guardian
from reach import add_browser
from sqlalchemy import select
from telling import RED_PAIN, actor_named, report, tell

from companion.delivery.push import Browser, payload
from companion.phrasebook.mail_words import FAMILY_LETTERS, SUBJECTS
from companion.store.engine import Store
from companion.store.models import Outbox, Person, Wearer
from companion.usecases.climbing import climb_alerts
from companion.usecases.rechecking import recheck_reports
from companion.usecases.wording import in_words

BASE = "https://companion.example"
SCREEN = Browser("https://push.example/1", "key", "secret", says_more=True)


@pytest.fixture
def gwen_has_two(store: Store, cast: Cast, clock: Clock) -> str:
    """Gwen looks after Nola and Timo; both other guardians have sent a report. Returns her browser's id."""
    with store.writing() as session:
        timo = session.get_one(Wearer, cast.wearers["Timo"])
        add_guardian(session, timo, session.get_one(Person, cast.people["Gwen"]), clock())
        browser = add_browser(session, cast.people["Gwen"], clock())
        session.commit()
    for name, wearer in (("Gus", "Nola"), ("Hedda", "Timo")):
        who = actor_named(store, cast.people[name])
        tell(store, who, cast.wearers[wearer], clock(), report(clock(), right=RED_PAIN))
    return browser


def family_rows(store: Store, *addresses: str) -> list[Outbox]:
    with store.reading() as session:
        rows = session.scalars(select(Outbox).where(Outbox.delivery_id.is_(None), Outbox.address.in_(addresses)))
        found = list(rows)
        session.expunge_all()
        return found


def test_H8_a_message_leads_to_the_child_it_is_about_by_mail_and_by_push(
    store: Store, cast: Cast, clock: Clock, gwen_has_two: str
) -> None:
    climb_alerts(store, clock() + timedelta(minutes=31))
    pages = {f"/w/{cast.wearers[name]}/tonight" for name in ("Nola", "Timo")}
    for address in ("gwen@example.org", gwen_has_two):
        for key in ("family_report", "family_nobody_took_it"):
            rows = [row for row in family_rows(store, address) if row.message["key"] == key]
            assert {urlsplit(in_words(row, BASE).link).path for row in rows} == pages
    for row in family_rows(store, "gwen@example.org"):
        letter = in_words(row, BASE)
        assert letter.link in letter.text.split("\n")
    for row in family_rows(store, gwen_has_two):
        assert json.loads(payload(SCREEN, in_words(row, BASE)))["path"] in pages


def test_H8_what_time_has_raised_leads_there_too(store: Store, cast: Cast, clock: Clock) -> None:
    """A lens that does not move is level 2, and 4 after half an hour."""
    gwen = actor_named(store, cast.people["Gwen"])
    tell(store, gwen, cast.wearers["Nola"], clock(), report(clock(), right={"lens": "stuck_now"}))
    recheck_reports(store, clock() + timedelta(minutes=30))
    (row,) = [one for one in family_rows(store, "gwen@example.org") if one.message["key"] == "family_raised"]
    assert in_words(row, BASE).link == f"{BASE}/w/{cast.wearers['Nola']}/tonight"


def test_H8_one_childs_message_does_not_take_the_place_of_the_others_on_a_screen(
    store: Store, cast: Cast, gwen_has_two: str
) -> None:
    """A push service and a screen keep only the last of those that are about the same."""
    told = [json.loads(payload(SCREEN, in_words(row, BASE))) for row in family_rows(store, gwen_has_two)]
    assert len(told) == len({one["about"] for one in told}) == 2


def test_H17_no_name_gets_into_a_family_message(store: Store, cast: Cast, clock: Clock, gwen_has_two: str) -> None:
    climb_alerts(store, clock() + timedelta(minutes=31))
    rows = family_rows(store, "gwen@example.org", "gus@example.org", "hedda@example.org", gwen_has_two)
    assert len(rows) >= 8
    for row in rows:
        message = in_words(row, BASE)
        said = f"{row.message} {message.subject} {message.text} {payload(SCREEN, message).decode()}"
        assert not [name for name in (*cast.people, *cast.wearers, *cast.practices) if name in said]


@pytest.mark.parametrize("key", FAMILY_LETTERS)
def test_a_message_that_an_older_release_wrote_leads_where_it_did(key: str) -> None:
    row = Outbox(id="row", address="a", message={"key": key, "language": "en", "values": {"level": 4}})
    message = in_words(row, BASE)
    assert (message.link, message.about) == (f"{BASE}/tonight", key)


@pytest.mark.parametrize("key", SUBJECTS)
def test_a_message_to_the_practice_leads_to_its_alert(key: str) -> None:
    values = {"alert_id": "a1", "level": 4}
    row = Outbox(id="row", address="a", message={"key": key, "language": "en", "values": values})
    message = in_words(row, BASE)
    assert (message.link, message.about) == (f"{BASE}/desk/alerts/a1/take", "a1")
