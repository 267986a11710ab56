"""H4: what families read where an eye is in trouble, while nobody has answered for their language, and after."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from fakes import Clock
from flask import Flask
from flask.testing import FlaskClient
from people import Cast
from visitors import enter, hidden, text

from companion.app import create_app
from companion.config import Settings
from companion.phrasebook.languages import CHINESE
from companion.phrasebook.phrases import Phrases
from companion.phrasebook.safety_text import NOTES, Speech
from companion.store.engine import Store
from companion.store.models import Person

FIRST = "Cut, pierced, or something stuck in the eye? Do not touch it. Do not rinse. Go now."
CHINESE_FIRST = Phrases(CHINESE).gettext(FIRST)
PHONE = "+441632960000"
DANGER = {"general.very_unwell": "yes", "right.chemical": "no", "right.injury": "no"}


@pytest.fixture
def gwen(app: Flask, cast: Cast, store: Store) -> FlaskClient:
    return chinese(app, cast, store)


def chinese(app: Flask, cast: Cast, store: Store) -> FlaskClient:
    app.config["WTF_CSRF_ENABLED"] = False
    client = enter(app, cast, "Gwen")
    with store.writing() as session:
        session.get_one(Person, cast.people["Gwen"]).language = "zh-Hans"
        session.commit()
    return client


def note(speech: Speech) -> str:
    return " ".join(Phrases(CHINESE).say(NOTES[speech], language=CHINESE.own_name).split())


def pages_of(client: FlaskClient, cast: Cast) -> dict[str, str]:
    """The first page, the questions, and the page that says what to do, as HTML."""
    path = f"/w/{cast.wearers['Nola']}/wrong"
    first, questions = client.get("/wrong"), client.get(f"{path}?eyes=right")
    sent = client.post(path, data={**hidden(questions), **DANGER, "go": "next"})
    result = client.get(sent.headers["Location"])
    return {
        name: page.get_data(as_text=True)
        for name, page in (("first", first), ("questions", questions), ("result", result))
    }


def sentences_of(page: str, kind: str) -> list[str]:
    return re.findall(rf'<span class="{kind}" lang="en" dir="ltr">([^<]+)</span>', page)


def test_H4_on_a_live_practice_numbers_come_first_and_the_text_is_english(gwen: FlaskClient, cast: Cast) -> None:
    for name, page in pages_of(gwen, cast).items():
        main = page[page.index("<main") :]
        assert 'data-safety-text="held"' in main, name
        assert main.index(f"tel:{PHONE}") < main.index("<h1"), name
        assert len(sentences_of(main, "in-english")) > 5, name
        assert 'lang="zh-Hans"' in page, "all else stays in the reader's language"
        assert sentences_of(main, "beside") == []
    assert FIRST in sentences_of(pages_of(gwen, cast)["first"], "in-english")


def test_H4_a_manager_unlocks_a_language_by_a_signed_review(
    app: Flask, gwen: FlaskClient, cast: Cast, clock: Clock
) -> None:
    manager = enter(app, cast, "Mina")
    page = manager.get("/desk/languages?language=zh-Hans")
    assert FIRST in page.get_data(as_text=True), "the text to be read stands on the page"
    form = {**hidden(page), "reviewer": "Somebody", "reviewer_role": "optometrist"}
    refused = manager.post("/desk/languages", data=form)
    assert refused.status_code == 422
    assert "Somebody" in refused.get_data(as_text=True), "what was typed is kept"
    assert manager.post("/desk/languages", data={**form, "confirmed": "yes"}).status_code == 303
    for page in pages_of(gwen, cast).values():
        assert "data-safety-text" not in page
        assert sentences_of(page, "in-english") == sentences_of(page, "beside") == []
    shown = manager.get("/desk/languages?language=zh-Hans")
    assert "Somebody" in text(shown)
    manager.post("/desk/languages", data={**hidden(shown), "deed": "lock"})
    assert 'data-safety-text="held"' in gwen.get("/wrong").get_data(as_text=True)


@pytest.mark.parametrize("topic", ["stuck", "stings"])
def test_H9_H4_help_with_a_lens_is_held_back_as_well(gwen: FlaskClient, cast: Cast, topic: str) -> None:
    page = gwen.get(f"/w/{cast.wearers['Nola']}/care/help/{topic}").get_data(as_text=True)
    main = page[page.index("<main") :]
    assert main.index('data-safety-text="held"') < main.index(f"tel:{PHONE}") < main.index("<h1")
    assert len(sentences_of(main, "in-english")) > 5


def test_H4_in_the_demo_the_english_stands_beside(
    settings: Settings, store: Store, clock: Clock, cast: Cast
) -> None:
    demo = create_app(replace(settings, demo=True), store=store, clock=clock)
    for name, page in pages_of(chinese(demo, cast, store), cast).items():
        assert 'data-safety-text="beside"' in page, name
        assert len(sentences_of(page, "beside")) > 5, name
        assert sentences_of(page, "in-english") == []


def test_H4_a_stranger_reads_both(app: Flask) -> None:
    client = app.test_client()
    page = client.get("/wrong?lang=zh-Hans")
    assert note(Speech.BESIDE) in text(page)
    assert FIRST in sentences_of(page.get_data(as_text=True), "beside")
    assert CHINESE_FIRST in text(page)
    questions = client.get("/wrong/questions?eyes=right")
    result = client.post("/wrong/questions", data={**hidden(questions), **DANGER, "go": "next"})
    assert len(sentences_of(result.get_data(as_text=True), "beside")) > 5


def test_english_says_of_itself_that_no_clinician_has_reviewed_it(app: Flask, cast: Cast) -> None:
    for name, page in pages_of(enter_plain(app, cast), cast).items():
        assert "No clinician has reviewed the advice on this page yet." in page, name
        assert sentences_of(page, "beside") == sentences_of(page, "in-english") == []


def enter_plain(app: Flask, cast: Cast) -> FlaskClient:
    app.config["WTF_CSRF_ENABLED"] = False
    return enter(app, cast, "Gwen")


def test_a_page_in_the_title_bar_has_no_marks_in_it(app: Flask) -> None:
    page = app.test_client().get("/wrong/questions?eyes=right&lang=zh-Hans").get_data(as_text=True)
    title = re.search("<title>([^<]*)</title>", page)
    assert title
    assert title[1].startswith(Phrases(CHINESE).gettext("First: is this an emergency?"))
    assert "First: is this an emergency?" not in title[1], "said once"
