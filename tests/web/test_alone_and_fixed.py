"""A young wearer alone with *Something is wrong*; and a practice that has switched triage off."""

from __future__ import annotations

from typing import Any

import pytest
from fakes import Clock
from flask import Flask
from flask.testing import FlaskClient
from people import EVENING, Cast, add_person
from sqlalchemy import func, select
from telling import actor_named, tell
from telling import report as report_entry
from test_something_is_wrong import RED_AND_SORE, report
from visitors import enter, text

from companion.phrasebook import triage_words
from companion.phrasebook.languages import LANGUAGES
from companion.phrasebook.phrases import Phrases
from companion.store.engine import Store
from companion.store.models import Alert, EntryRow, Hold, Outbox, Person, Practice, Wearer
from companion.triage.rules import UNSURE, load_rules
from companion.usecases.rechecking import recheck_reports
from companion.usecases.tonight import tonight


@pytest.fixture
def timo(app: Flask, cast: Cast, store: Store) -> FlaskClient:
    """Timo is 12 and signs in alone; Hedda looks after him and can be called."""
    app.config["WTF_CSRF_ENABLED"] = False
    with store.writing() as session:
        person = add_person(session, "Timo", EVENING)
        cast.people["Timo"] = person.id
        session.get_one(Wearer, cast.wearers["Timo"]).person_id = person.id
        session.get_one(Person, cast.people["Hedda"]).phone = "+441632960017"
        session.commit()
    return enter(app, cast, "Timo")


@pytest.fixture
def hedda(app: Flask, cast: Cast) -> FlaskClient:
    app.config["WTF_CSRF_ENABLED"] = False
    return enter(app, cast, "Hedda")


def wrong(cast: Cast, wearer: str = "Timo") -> str:
    return f"/w/{cast.wearers[wearer]}/wrong"


# -- alone --------------------------------------------------------------------------------------------------------
def test_H17_a_young_wearer_alone_is_told_to_tell_an_adult_first(timo: FlaskClient, cast: Cast) -> None:
    questions = timo.get(f"{wrong(cast)}?eyes=right")
    for page in (timo.get("/wrong"), questions, report(timo, wrong(cast), RED_AND_SORE)):
        said = text(page)
        assert "Tell an adult near you now." in said
        assert 'href="tel:+441632960017">Call Hedda<' in page.get_data(as_text=True)
    assert said.index("Tell an adult") < said.index("What to do")


@pytest.mark.parametrize(("answers", "told"), [(RED_AND_SORE, True), ({"right.itch": "strong"}, False)])
def test_H17_a_young_wearer_alone_reads_that_a_guardian_is_told_and_they_are(
    timo: FlaskClient, cast: Cast, store: Store, answers: dict[str, str], told: bool
) -> None:
    page = report(timo, wrong(cast), answers)
    assert ("The adults who look after you here are told about this report." in text(page)) is told
    with store.reading() as session:
        mails = [one.address for one in session.scalars(select(Outbox)) if one.message["key"] == "family_report"]
    assert mails == (["hedda@example.org"] if told else [])


def test_H1_alone_the_same_is_asked_and_the_same_comes_of_it(
    timo: FlaskClient, hedda: FlaskClient, cast: Cast
) -> None:
    """Other words, the same ids in the same order, *not sure* among them, and the same level."""

    def inputs(client: FlaskClient) -> list[str]:
        page = client.get(f"{wrong(cast)}?eyes=both").get_data(as_text=True)
        return [line.strip() for line in page.splitlines() if 'type="radio"' in line or 'value="unsure"' in line]

    assert len(inputs(timo)) > 3
    assert [one.split('name="')[1].split(">")[0] for one in inputs(timo)] == [
        one.split('name="')[1].split(">")[0] for one in inputs(hedda)
    ]
    for answers in ({}, RED_AND_SORE, {"right.itch": "strong"}, {"right.pain": "severe"}):
        pages = [report(client, wrong(cast), answers) for client in (timo, hedda)]
        mine, theirs = (page.get_data(as_text=True).split('class="level level-')[1][0] for page in pages)
        assert mine == theirs


def test_an_adult_wearer_and_a_guardian_are_spoken_to_as_ever(app: Flask, cast: Cast, hedda: FlaskClient) -> None:
    app.config["WTF_CSRF_ENABLED"] = False
    for client, path in ((hedda, wrong(cast)), (enter(app, cast, "Wim"), wrong(cast, "Wim"))):
        assert "Tell an adult" not in text(client.get("/wrong"))
        assert "Was the eye bumped, scratched or cut?" in text(client.get(f"{path}?eyes=right"))


@pytest.mark.parametrize("tag", ["en", "zh-Hans", "ar"])
def test_every_question_is_said_to_a_young_wearer_with_every_option(tag: str) -> None:
    phrases = Phrases(LANGUAGES[tag])
    for question in load_rules().questions.values():
        said = triage_words.question_text(phrases, question.id, young=True)
        options = [triage_words.option_text(phrases, question.id, one, young=True) for one in question.options]
        usual = [triage_words.option_text(phrases, question.id, one) for one in question.options]
        assert said and len(set(options)) == len(question.options) == len(usual)
        assert triage_words.option_text(phrases, question.id, UNSURE, young=True) == (
            triage_words.option_text(phrases, question.id, UNSURE)
        )


# -- switched off -------------------------------------------------------------------------------------------------
def switch_off(store: Store, cast: Cast, on: bool = False) -> None:
    with store.writing() as session:
        session.get_one(Practice, cast.practices["mill"]).triage_on = on
        session.commit()


def count(store: Store, model: Any) -> int:
    with store.reading() as session:
        return session.scalar(select(func.count()).select_from(model)) or 0


def test_H3_without_triage_fixed_signs_and_numbers_stand_and_nothing_is_asked(
    hedda: FlaskClient, cast: Cast, store: Store
) -> None:
    switch_off(store, cast)
    for page in (hedda.get("/wrong"), hedda.get(wrong(cast)), hedda.get(f"{wrong(cast)}?eyes=right")):
        said, html = text(page), page.get_data(as_text=True)
        assert page.status_code == 200
        assert said.index("Rinse with lots of clean water") < said.index("The eye must be seen today.")
        assert "Put no lens in. Keep the lenses, the case and the bottles, and bring them." in said
        assert "This app has told nobody: phone them." in said
        assert 'href="tel:+441632960000"' in html
        assert 'type="radio"' not in html and "Which eye is it?" not in said
    assert count(store, EntryRow) == 0


def test_a_stranger_is_asked_whatever_any_practice_has_chosen(app: Flask, cast: Cast, store: Store) -> None:
    app.config["WTF_CSRF_ENABLED"] = False
    switch_off(store, cast)
    assert "Which eye is it?" in text(app.test_client().get("/wrong"))
    assert "Be seen today" in text(report(app.test_client(), "/wrong/questions", RED_AND_SORE))


def test_H3_a_report_that_waited_on_a_phone_is_judged_and_told_all_the_same(cast: Cast, store: Store) -> None:
    switch_off(store, cast)
    gwen = actor_named(store, cast.people["Gwen"])
    receipt = tell(store, gwen, cast.wearers["Nola"], EVENING, report_entry(EVENING, right={"pain": "moderate"}))
    assert len(receipt.reports) == 1
    with store.reading() as session:
        assert session.scalars(select(Alert.level)).one() == 4
        assert sorted(session.scalars(select(Hold.eye))) == ["left", "right"]


def test_who_had_begun_to_answer_may_end(hedda: FlaskClient, cast: Cast, store: Store) -> None:
    from test_something_is_wrong import best_of
    from visitors import hidden

    page = hedda.get(f"{wrong(cast)}?eyes=right")
    switch_off(store, cast)
    answers = {**best_of(0, ("right",)), "right.injury": "cut_pierce_stuck"}
    page = hedda.post(wrong(cast), data={**hidden(page), **answers, "go": "next"})
    assert page.status_code == 303 and count(store, Alert) == 1


def test_H12_holds_stay_and_no_look_is_missed_where_nothing_can_be_answered(
    cast: Cast, store: Store, clock: Clock
) -> None:
    gwen = actor_named(store, cast.people["Gwen"])
    tell(store, gwen, cast.wearers["Nola"], clock(), report_entry(clock(), right={"fb": "still"}))
    switch_off(store, cast)
    clock.advance(hours=6)
    assert recheck_reports(store, clock()) == 0
    with store.reading() as session:
        view = tonight(session, gwen, cast.wearers["Nola"], clock())
    assert len(view["holds"]) == 2 and view["look"] is None and not view["practice"]["triage_on"]
