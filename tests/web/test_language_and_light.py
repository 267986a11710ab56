"""Which language a page speaks, in which direction it runs, and how it is lit."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from html import unescape

import pytest
from fakes import Clock
from flask import Flask
from people import EVENING, PASSWORD, Cast
from sqlalchemy import select
from visitors import enter, hidden

from companion.phrasebook.languages import PSEUDO, PSEUDO_RTL
from companion.store.engine import Store
from companion.store.models import Person
from companion.usecases.actor import actor_of
from companion.usecases.invitations import invite


def language_of(page: str) -> tuple[str, str]:
    found = re.search(r'<html lang="([^"]+)" dir="([^"]+)"', page)
    assert found
    return found[1], found[2]


def test_a_stranger_reads_what_their_browser_asks_for(app: Flask) -> None:
    page = app.test_client().get("/sign-in", headers={"Accept-Language": "fr, en-x-pseudo;q=0.8, en;q=0.5"})
    assert language_of(page.get_data(as_text=True)) == (PSEUDO.tag, "ltr")
    page = app.test_client().get("/sign-in", headers={"Accept-Language": "fr"})
    assert language_of(page.get_data(as_text=True)) == ("en", "ltr")


def test_a_language_picked_on_a_page_is_remembered_on_this_device(app: Flask) -> None:
    client = app.test_client()
    client.get("/sign-in?lang=en-x-mirror")
    assert language_of(client.get("/wrong").get_data(as_text=True)) == (PSEUDO_RTL.tag, "rtl")
    client.get("/sign-in?lang=xx")
    assert language_of(client.get("/wrong").get_data(as_text=True))[0] in ("en", PSEUDO_RTL.tag)


def test_a_persons_own_language_comes_before_the_devices(app: Flask, cast: Cast, store: Store) -> None:
    client = enter(app, cast, "Gwen")
    with store.writing() as session:
        session.get_one(Person, cast.people["Gwen"]).language = PSEUDO_RTL.tag
        session.commit()
    client.set_cookie("language", "en")
    assert language_of(client.get("/us").get_data(as_text=True)) == (PSEUDO_RTL.tag, "rtl")
    assert language_of(client.get("/us?lang=en").get_data(as_text=True))[0] == "en", "asked for on this page"


@pytest.mark.parametrize("path", ["/sign-in", "/wrong", "/wrong/questions?eyes=both", "/style", "/nowhere"])
def test_no_plain_english_on_the_pseudo_page(app: Flask, path: str) -> None:
    page = app.test_client().get(path, headers={"Accept-Language": PSEUDO.tag}).get_data(as_text=True)
    body = re.sub(r"<(\w+)[^>]*translate=\"no\"[^>]*>.*?</\1>", "", page, flags=re.DOTALL)
    texts = [one.strip() for one in re.findall(r">([^<]+)<", body) if one.strip()]
    plain = [one for one in texts if re.search(r"[A-Za-z]{3,}", re.sub(r"\[[^\]]*\]", "", one))]
    assert [one for one in plain if not re.search(r"\b(?:Sun|Sept)\b", one)] == []


@pytest.mark.parametrize("path", ["/sign-in", "/wrong", "/wrong?country=GB", "/join/{token}"])
def test_every_language_is_a_link_in_its_own_name(app: Flask, cast: Cast, store: Store, path: str) -> None:
    address = path.format(token=invitation(cast, store, "ar"))
    page = app.test_client().get(address, headers={"Accept-Language": "en"}).get_data(as_text=True)
    spoken = language_of(page)[0]
    assert spoken == ("ar" if "join" in path else "en"), "an invitation is read in the language it was made for"
    links = dict(re.findall(r'<a [^>]*href="([^"]+)" lang="([^"]+)"[^>]*translate="no">', page))
    assert {*links.values(), spoken} == {"en", "zh-Hans", "ar"}, "no pseudo-language among them"
    for link, tag in links.items():
        other = app.test_client().get(unescape(link)).get_data(as_text=True)
        assert language_of(other) == (tag, "rtl" if tag == "ar" else "ltr")
        assert ("country=GB" in link) == ("country" in path), "the rest of the address is kept"


def test_an_account_speaks_the_language_in_which_it_was_made(app: Flask, cast: Cast, store: Store) -> None:
    app.config["WTF_CSRF_ENABLED"] = False
    token = invitation(cast, store, "ar")
    client = app.test_client()
    form = {"name": "Ann", "login": "ann", "password": PASSWORD, "password_again": "another"}
    page = client.get(f"/join/{token}?lang=zh-Hans")
    again = client.post(f"/join/{token}", data={**hidden(page), **form})
    assert (again.status_code, language_of(again.get_data(as_text=True))[0]) == (422, "zh-Hans")
    client.post(f"/join/{token}", data={**hidden(again), **form, "password_again": PASSWORD})
    with store.reading() as session:
        assert session.scalars(select(Person.language).where(Person.name == "Ann")).one() == "zh-Hans"


def invitation(cast: Cast, store: Store, language: str) -> str:
    with store.writing() as session:
        asta = actor_of(session, session.get_one(Person, cast.people["Asta"]), "")
        return invite(session, asta, cast.wearers["Nola"], "guardian", "Aunt", EVENING, language)


# -- light --------------------------------------------------------------------------------------------------------
def light_of(page: str) -> tuple[str, list[str]]:
    lit = re.search(r'data-light="(\w+)"', page)
    assert lit
    return lit[1], re.findall(r'lamp\.css"(?: media="([^"]+)")?', page)


@pytest.mark.parametrize(("hour", "lit"), [(6, "lamp"), (8, "device"), (18, "device"), (19, "lamp"), (23, "lamp")])
def test_evening_and_night_are_lit_by_lamp(app: Flask, cast: Cast, clock: Clock, hour: int, lit: str) -> None:
    clock.now = datetime(2026, 11, 2, hour, 30, tzinfo=UTC)
    page = enter(app, cast, "Gwen").get(f"/w/{cast.wearers['Nola']}/diary").get_data(as_text=True)
    assert light_of(page)[0] == lit
    assert light_of(page)[1] == (["(prefers-color-scheme: dark)"] if lit == "device" else [""])


def test_the_light_can_be_pinned(app: Flask, cast: Cast, clock: Clock) -> None:
    client = enter(app, cast, "Gwen")
    page = f"/w/{cast.wearers['Nola']}/diary"
    for pinned, sheets in (("paper", []), ("lamp", [""])):
        client.post("/us", data={**hidden(client.get("/us")), "theme": pinned})
        assert light_of(client.get(page).get_data(as_text=True)) == (pinned, sheets)
    refused = client.post("/us", data={**hidden(client.get("/us")), "theme": "neon"})
    assert refused.status_code == 422
