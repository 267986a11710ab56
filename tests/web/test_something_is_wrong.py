"""*Something is wrong*, from the advice before any question to the page that says who has been told."""

from __future__ import annotations

import re
from typing import Any

import pytest
from fakes import Clock
from flask import Flask
from flask.testing import FlaskClient
from people import Cast
from sqlalchemy import func, select
from visitors import enter, hidden, text
from werkzeug.test import TestResponse

from companion.common.ids import new_id
from companion.escalation.places import countries, place_for
from companion.store.engine import Store
from companion.store.models import Alert, EntryRow, Person, Practice, Report
from companion.triage.rules import PERSON, load_rules
from companion.usecases import alerts
from companion.usecases.actor import actor_of
from companion.web.questions import first_sheet, next_sheet
from companion.web.static_files import TREE

Answers = dict[str, str]


@pytest.fixture
def gwen(app: Flask, cast: Cast) -> FlaskClient:
    app.config["WTF_CSRF_ENABLED"] = False
    return enter(app, cast, "Gwen")


@pytest.fixture
def path(cast: Cast) -> str:
    return f"/w/{cast.wearers['Nola']}/wrong"


def best_of(page: int, eyes: tuple[str, ...]) -> Answers:
    """Every question of a page answered with its best option."""
    rules = load_rules()
    asked = [rules.questions[id_] for id_ in rules.pages[page].questions]
    return {
        f"{part}.{one.id}": one.options[0]
        for one in asked
        for part in (("general",) if one.about == PERSON else eyes)
    }


def report(
    client: FlaskClient, path: str, said: Answers, eyes: str = "right", query: str = ""
) -> TestResponse:
    """Answer page after page as a browser does, until something else than a page of questions comes."""
    parts = ("right", "left") if eyes == "both" else (eyes,)
    page = client.get(f"{path}?eyes={eyes}{query}")
    for number in range(len(load_rules().pages)):
        asked = best_of(number, parts)
        mine = {name: said.get(name, best) for name, best in asked.items()}
        page = client.post(path, data={**hidden(page), **mine, "go": "next"})
        if 'name="page"' not in page.get_data(as_text=True):
            break
    return client.get(page.headers["Location"]) if page.status_code == 303 else page


def stored(store: Store) -> int:
    with store.reading() as session:
        return session.scalar(select(func.count()).select_from(EntryRow)) or 0


# -- before the questions -----------------------------------------------------------------------------------------
def test_emergency_advice_comes_before_any_question_and_needs_no_sign_in(app: Flask) -> None:
    page = app.test_client().get("/wrong")
    assert page.status_code == 200
    said = text(page)
    assert said.index("Rinse with lots of clean water") < said.index("Which eye is it?")
    assert "not an emergency service" in said
    assert "<input" not in page.get_data(as_text=True)


@pytest.mark.parametrize("path", ["/sign-in", "/wrong", "/style", "/nowhere", "/wrong/questions?eyes=left"])
def test_one_tap_from_everywhere(app: Flask, path: str) -> None:
    assert 'class="button something-wrong" href="/wrong"' in app.test_client().get(path).get_data(as_text=True)


def test_consent_never_stands_before_help(app: Flask, cast: Cast, path: str) -> None:
    client = enter(app, cast, "Gwen", consent=False)
    assert client.get("/tonight").headers["Location"] == "/consent"
    assert client.get("/wrong").status_code == 200
    assert client.get(f"{path}?eyes=right").status_code == 200


def test_H7_both_eyes_are_asked_about_as_the_wearers_own(app: Flask, gwen: FlaskClient, path: str) -> None:
    assert "the wearer's own right" in text(gwen.get("/wrong"))
    page = gwen.get(f"{path}?eyes=both").get_data(as_text=True)
    assert 'name="right.injury"' in page and 'name="left.injury"' in page


def test_H8_each_child_stands_by_name_before_and_on_the_questions(gwen: FlaskClient, path: str) -> None:
    assert "Nola" in text(gwen.get("/wrong"))
    assert "Nola" in text(gwen.get(f"{path}?eyes=left"))


# -- the questions ------------------------------------------------------------------------------------------------
def test_danger_questions_come_first_and_cannot_be_skipped(gwen: FlaskClient, path: str) -> None:
    page = gwen.get(f"{path}?eyes=right")
    answer = gwen.post(path, data={**hidden(page), "general.very_unwell": "no", "go": "next"})
    assert answer.status_code == 422
    kept = answer.get_data(as_text=True)
    assert re.search(r'name="general.very_unwell" value="no" checked', kept), "what was tapped is kept"
    assert kept.count('class="problem"') == 2, "chemical and injury are named"


def test_not_sure_is_always_offered_and_blank_counts_as_it(gwen: FlaskClient, path: str, store: Store) -> None:
    rules = load_rules()
    page = gwen.get(f"{path}?eyes=right")
    for number, one in enumerate(rules.pages):
        assert page.get_data(as_text=True).count('value="unsure"') == len(one.questions)
        said = best_of(number, ("right",)) if one.required else {}
        page = gwen.post(path, data={**hidden(page), **said, "go": "next"})
        if page.status_code == 303:
            break
    with store.reading() as session:
        answers = session.scalars(select(EntryRow)).one().payload["answers"]
    assert answers["right"]["pain"] == "unsure" and answers["right"]["vision"] == "unsure"
    assert answers["left"] == {}, "an eye that was not asked about carries no answers"


def test_going_back_keeps_every_answer(gwen: FlaskClient, path: str) -> None:
    page = gwen.get(f"{path}?eyes=right")
    page = gwen.post(path, data={**hidden(page), **best_of(0, ("right",)), "go": "next"})
    back = gwen.post(path, data={**hidden(page), "right.pain": "mild", "go": "back"})
    assert re.search(r'name="right.injury" value="no" checked', back.get_data(as_text=True))
    assert hidden(back)["right.pain"] == "mild"


def test_questions_stop_as_soon_as_the_answer_is_emergency_now() -> None:
    form = {"eyes": "right", "page": "0", **best_of(0, ("right",)), "right.injury": "cut_pierce_stuck"}
    assert next_sheet(form).done
    form["right.injury"] = "no"
    assert not next_sheet(form).done and next_sheet(form).number == 1


@pytest.mark.parametrize("eyes", ["", "middle", "right,left"])
def test_an_eye_nobody_has_is_asked_again(gwen: FlaskClient, path: str, eyes: str) -> None:
    with pytest.raises(ValueError):
        first_sheet(eyes)
    assert gwen.get(path, query_string={"eyes": eyes}).headers["Location"] == "/wrong"


def test_foreign_fields_are_passed_over() -> None:
    form = {"eyes": "right", "page": "0", "general.pain": "none", "left.pain": "none", "right.pain": "rotten"}
    assert next_sheet(form).given == {"general": {}, "right": {}, "left": {}}


# -- what is said then --------------------------------------------------------------------------------------------
RED_AND_SORE = {"right.redness": "red", "right.pain": "moderate"}


def test_the_first_line_says_that_nobody_is_there(gwen: FlaskClient, path: str) -> None:
    page = report(gwen, path, RED_AND_SORE)
    assert "Nobody at Practice by the mill will see this before tomorrow at 08:30. Go now." in text(page)
    assert 'href="tel:+441632960000"' in page.get_data(as_text=True)


def test_the_first_line_says_that_they_are_open(gwen: FlaskClient, path: str, clock: Clock) -> None:
    clock.advance(hours=14)
    assert "Call Practice by the mill now. They are open." in text(report(gwen, path, RED_AND_SORE))


def test_H5_a_splash_is_told_to_rinse_before_anything_else(gwen: FlaskClient, path: str) -> None:
    said = text(report(gwen, path, {"right.chemical": "other_chem"}))
    first = said.index("Rinse the eye now, for at least 20 minutes. Tap water is right for this.")
    assert first < said.index("Then go to your nearest eye emergency clinic")
    assert "Go now." not in said[:first]


def test_H6_no_rinse_when_cut(gwen: FlaskClient, path: str) -> None:
    said = text(report(gwen, path, {"right.injury": "cut_pierce_stuck"}))
    assert "Right eye: do not touch it. Leave the lens where it is." in said and "Do not rinse it." in said
    assert "Rinse the eye now" not in said and "Right eye: take the lens out" not in said


def test_H2_the_family_sees_how_far_the_report_has_come(
    gwen: FlaskClient, path: str, cast: Cast, store: Store, clock: Clock
) -> None:
    page = report(gwen, path, RED_AND_SORE)
    assert "Nobody at the practice has taken it yet." in text(page)
    address = page.request.path
    with store.writing() as session:
        alert = session.scalars(select(Alert)).one()
        asta = actor_of(session, session.get_one(Person, cast.people["Asta"]), "")
        alerts.take(session, asta, alert.id, clock.advance(minutes=5))
    assert "Asta at the practice has taken it: 20:35." in text(gwen.get(address))
    assert "The practice has not reached you yet." in text(gwen.get(address))


def test_H2_the_family_is_told_that_nobody_answers(gwen: FlaskClient, path: str, clock: Clock) -> None:
    address = report(gwen, path, RED_AND_SORE).request.path
    assert "has answered" not in text(gwen.get(address))
    clock.advance(minutes=31)  # level 4: the family is told after 30 minutes (design)
    assert "Nobody at the practice has answered. Do not wait." in text(gwen.get(address))


def test_H3_a_stranger_is_told_that_nobody_was_told_and_nothing_is_kept(app: Flask, store: Store) -> None:
    page = report(app.test_client(), "/wrong/questions", RED_AND_SORE)
    assert "Your practice has NOT been told." in text(page)
    assert stored(store) == 0


def test_H3_a_report_of_somebody_signed_out_is_judged_all_the_same(app: Flask, path: str) -> None:
    client = app.test_client()
    form = {"eyes": "right", "page": "0", **best_of(0, ("right",)), "right.injury": "cut_pierce_stuck"}
    answer = client.post(path, data=form)
    assert answer.status_code == 200
    assert "Your practice has NOT been told." in text(answer)


def test_H14_the_level_has_a_number_a_shape_and_a_word(gwen: FlaskClient, path: str) -> None:
    page = report(gwen, path, RED_AND_SORE).get_data(as_text=True)
    badge = re.search(r'<span class="level level-4">.*?</span></span>', page, re.DOTALL)
    assert badge and 'class="shape"' in badge[0] and ">4</text>" in badge[0] and "Be seen today" in badge[0]


def test_H15_a_report_sent_twice_is_one(gwen: FlaskClient, path: str, store: Store) -> None:
    form = hidden(gwen.get(f"{path}?eyes=right")) | best_of(0, ("right",)) | {"right.injury": "cut_pierce_stuck"}
    first, second = (gwen.post(path, data=form) for _ in range(2))
    assert first.headers["Location"] == second.headers["Location"]
    assert stored(store) == 1


def test_H15_other_answers_under_the_same_id_are_not_lost(gwen: FlaskClient, path: str, store: Store) -> None:
    form = hidden(gwen.get(f"{path}?eyes=right")) | best_of(0, ("right",)) | {"right.injury": "cut_pierce_stuck"}
    gwen.post(path, data=form)
    gwen.post(path, data=form | {"right.chemical": "other_chem"})
    gwen.post(path, data=form | {"id": "spoilt"})
    with store.reading() as session:
        assert session.scalars(select(Report.level)).all() == [5, 5, 5]


def test_level_one_never_says_that_all_is_well(gwen: FlaskClient, path: str) -> None:
    said = text(report(gwen, path, {})).lower()
    assert "does not look urgent" in said and "cannot see the eye" in said
    assert not re.search(r"\b(?:you are fine|no infection|all is well|is normal)\b", said)


# -- whom to call -------------------------------------------------------------------------------------------------
def test_H10_a_number_is_shown_only_where_it_is_verified(
    app: Flask, gwen: FlaskClient, path: str, store: Store, cast: Cast
) -> None:
    page = report(gwen, path, {"right.injury": "cut_pierce_stuck"})
    assert "Call your local emergency number" in text(page), "Britain's row is not verified yet"
    there = gwen.get(f"{page.request.path}?country=SG")
    assert 'href="tel:995"' in there.get_data(as_text=True)
    assert 'href="tel:995"' in gwen.get("/wrong").get_data(as_text=True), "the place picked is remembered"


def test_H10_the_number_follows_the_place_never_the_language(
    app: Flask, store: Store, cast: Cast, gwen: FlaskClient
) -> None:
    with store.writing() as session:
        session.get_one(Practice, cast.practices["mill"]).country = "SG"
        session.commit()
    assert 'href="tel:995"' in gwen.get("/wrong").get_data(as_text=True)
    assert 'href="tel:995"' in gwen.get("/wrong?lang=en-x-mirror").get_data(as_text=True)


def test_H10_rows_that_are_not_verified_give_no_number() -> None:
    assert place_for("SG").number == "995"
    assert [one for one in countries() if place_for(one).verified] == ["SG"]
    assert place_for(None).number is None and place_for("XX").number is None


def test_a_strangers_result_keeps_its_answers_when_the_place_changes(app: Flask) -> None:
    client = app.test_client()
    form: dict[str, Any] = {"eyes": "right", "page": "0", **best_of(0, ("right",)), "id": new_id()}
    page = client.post("/wrong/questions", data=form | {"right.injury": "cut_pierce_stuck"})
    again = client.post("/wrong/questions", data={**hidden(page), "country": "SG"})
    assert 'href="tel:995"' in again.get_data(as_text=True)
    assert "Do not rinse it." in text(again)


# -- two drawings of redness --------------------------------------------------------------------------------------
def test_H1_two_drawings_stand_with_redness_each_shows_the_least_and_says_so_in_words(app: Flask) -> None:
    """In between counts as the redder: a drawing never makes an eye look milder than its answer."""
    number = next(n for n, one in enumerate(load_rules().pages) if "redness" in one.questions)
    form = {"eyes": "both", "page": str(number - 1), **best_of(number - 1, ("right", "left")), "go": "next"}
    page = app.test_client().post("/wrong/questions", data=form).get_data(as_text=True)
    drawn = re.findall(r'<img src="(\S+pictures/redness-\w+\.svg)"[^>]* alt="([^"]+)"><figcaption>([^<]+)<', page)
    assert [below for _, _, below in drawn] == [
        "Like this, or a bit more? Tap “Pink”.",
        "Like this, or more, or a red patch? Tap “Clearly red”.",
    ]
    assert all("white is" in in_words for _, in_words, _ in drawn)
    for address, _, _ in drawn:
        answer = app.test_client().get(address)
        assert (answer.status_code, answer.mimetype) == (200, "image/svg+xml")
        assert address in app.test_client().get("/sw.js").get_data(as_text=True), "kept for days without one"


def test_H1_the_drawings_differ_without_colour() -> None:
    """Lines of the redder one are more and thicker, on a darker ground: greyscale and colour-blind eyes see it."""
    pink, red = ((TREE / f"pictures/redness-{one}.svg").read_text("utf-8") for one in ("pink", "red"))

    def lines(drawing: str) -> float:
        found = re.findall(r'stroke-width="([\d.]+)" d="([^"]+)"/>', drawing)
        return sum(float(width) * path.count("M") for width, path in found)

    def ground(drawing: str) -> float:
        red_, green, blue = bytes.fromhex(re.findall(r'<path d="[^"]+" fill="#(\w{6})"', drawing)[0])
        return 0.2126 * red_ + 0.7152 * green + 0.0722 * blue  # WCAG 2.2's weights, without its gamma

    assert lines(red) > 2 * lines(pink)
    assert ground(red) < ground(pink) - 30
