"""Lens care on its pages: the steps of the practice, dates, handling help, and the clock of a stuck lens."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta

import pytest
from fakes import Clock
from flask import Flask
from flask.testing import FlaskClient
from people import ZONE, Cast
from sqlalchemy import select
from visitors import enter, hidden, text

from companion.common.ids import new_id
from companion.regimen.care import load_care
from companion.store.engine import Store
from companion.store.models import CareRegimen, EntryRow, Person, Report
from companion.usecases import passes
from companion.usecases.actor import actor_of

MORNING = datetime(2026, 11, 3, 7, 0, tzinfo=UTC)


@pytest.fixture
def gwen(app: Flask, cast: Cast) -> FlaskClient:
    app.config["WTF_CSRF_ENABLED"] = False
    return enter(app, cast, "Gwen")


@pytest.fixture
def nola(cast: Cast) -> str:
    return f"/w/{cast.wearers['Nola']}"


def sign(store: Store, cast: Cast, system: str, at: datetime, **numbers: int | None) -> None:
    with store.writing() as session:
        session.add(
            CareRegimen(
                practice_id=cast.practices["mill"], system=system, numbers=numbers,
                signed_by=cast.people["Pavel"], signed_at=at,
            )
        )  # fmt: skip
        session.commit()


def kept(store: Store) -> list[tuple[str, dict[str, object]]]:
    with store.reading() as session:
        return [(row.kind, row.payload) for row in session.scalars(select(EntryRow).order_by(EntryRow.seq))]


def form(**fields: str) -> dict[str, str]:
    return {"id": new_id(), "zone": ZONE, **fields}


# -- the steps ----------------------------------------------------------------------------------------------------
def test_the_hour_says_which_steps_come_first(gwen: FlaskClient, nola: str, clock: Clock) -> None:
    assert "<h1>Lenses in, step by step.</h1>" in gwen.get(f"{nola}/care").get_data(as_text=True)
    clock.now = MORNING
    assert "<h1>Lenses out, step by step.</h1>" in gwen.get(f"{nola}/care").get_data(as_text=True)


def test_every_step_says_why(gwen: FlaskClient, nola: str, store: Store, cast: Cast, clock: Clock) -> None:
    sign(store, cast, "multipurpose", clock())
    page = gwen.get(f"{nola}/care").get_data(as_text=True)
    steps = [*load_care().evening["multipurpose"], *load_care().morning["multipurpose"]]
    assert page.count("<li>") >= len(steps)
    assert page.count('class="small quiet why"') == len(steps)


def test_without_a_signed_system_no_fluid_is_named(gwen: FlaskClient, nola: str) -> None:
    said = text(gwen.get(f"{nola}/care"))
    assert "The practice has not said yet which lens fluids you use." in said
    assert "fresh peroxide up to the line" not in said
    assert "fresh solution up to the line" not in said


def test_right_and_left_are_marked_as_the_practice_marks_them(gwen: FlaskClient, nola: str) -> None:
    for path in ("care", "care/help/swapped", "care/lens"):
        said = text(gwen.get(f"{nola}/{path}"))
        assert "Right lens right dot" in said and "Left lens left dot" in said


def test_care_is_one_of_four_ways_round(gwen: FlaskClient, nola: str) -> None:
    page = gwen.get(f"{nola}/care").get_data(as_text=True)
    ways = re.search(r'<nav class="around".*?</nav>', page, re.DOTALL)
    assert ways
    assert re.findall(r">([A-Z][a-z]+)</a>", ways[0]) == ["Tonight", "Diary", "Care", "Us"]
    assert re.search(r'aria-current="page">Care<', ways[0])
    assert gwen.get("/care").headers["Location"] == f"{nola}/care"


def test_signed_out_there_is_no_care_but_something_is_wrong(app: Flask, cast: Cast, nola: str) -> None:
    stranger = app.test_client()
    assert stranger.get(f"{nola}/care").headers["Location"].startswith("/sign-in")
    assert "something-wrong" in stranger.get("/sign-in").get_data(as_text=True)


# -- dates --------------------------------------------------------------------------------------------------------
def test_a_new_thing_is_written_down_and_gets_its_date(gwen: FlaskClient, nola: str, store: Store) -> None:
    assert "No date yet." in text(gwen.get(f"{nola}/care"))
    said = form(day="2026-10-30", label_days="")
    assert gwen.post(f"{nola}/care/case", data=said).headers["Location"] == f"{nola}/care?saved=1"
    assert kept(store) == [("care_item", {"item": "case"})]
    said = text(gwen.get(f"{nola}/care")).replace(",", "")
    assert "Lens case Change it by Thu 28 Jan. Since Fri 30 Oct · as the practice set it" in said


def test_H18_the_label_counts_where_it_says_less(gwen: FlaskClient, nola: str, store: Store) -> None:
    said = form(day="2026-11-02", which="solution", label_days="30", use_by="2027-05-31")
    assert gwen.post(f"{nola}/care/bottle", data=said).status_code == 303
    assert kept(store)[-1][1] == {"item": "bottle", "which": "solution", "label_days": 30, "use_by": "2027-05-31"}
    assert "as the label says" in text(gwen.get(f"{nola}/care"))


def test_a_lens_of_one_eye(gwen: FlaskClient, nola: str, store: Store) -> None:
    gwen.post(f"{nola}/care/lens", data=form(day="2026-11-02", eyes="left"))
    assert kept(store) == [("care_item", {"item": "lens", "eyes": "left"})]


@pytest.mark.parametrize(
    ("item", "fields", "field"),
    [
        ("case", {"day": "2026-11-03"}, "day"),
        ("case", {"day": "soon"}, "day"),
        ("bottle", {"day": "2026-11-02"}, "which"),
        ("bottle", {"day": "2026-11-02", "which": "saline", "label_days": "0"}, "label_days"),
        ("bottle", {"day": "2026-11-02", "which": "saline", "use_by": "31/12"}, "use_by"),
        ("lens", {"day": "2026-11-02", "eyes": "third"}, "eyes"),
    ],
)
def test_a_refused_form_keeps_what_was_typed(
    gwen: FlaskClient, nola: str, store: Store, item: str, fields: dict[str, str], field: str
) -> None:
    answer = gwen.post(f"{nola}/care/{item}", data=form(**fields))
    page = answer.get_data(as_text=True)
    assert answer.status_code == 422 and f'id="{field}-problem"' in page
    assert 'value="2026-11-02"' in page or fields["day"] != "2026-11-02"
    assert kept(store) == []


def test_sent_twice_it_counts_once_and_can_be_taken_back(gwen: FlaskClient, nola: str, store: Store) -> None:
    said = form(day="2026-11-02")
    for _ in range(2):
        gwen.post(f"{nola}/care/case", data=said)
    assert len(kept(store)) == 1
    night = gwen.get(f"{nola}/diary/2026-11-02")
    assert "New lens case" in text(night) and "It was like this" not in text(night)
    gwen.post(f"{nola}/entries/{said['id']}/withdraw", data=form())
    assert "No date yet." in text(gwen.get(f"{nola}/care"))


# -- peroxide -----------------------------------------------------------------------------------------------------
def test_H13_the_page_shows_the_end_and_is_never_early(
    gwen: FlaskClient, nola: str, store: Store, cast: Cast, clock: Clock
) -> None:
    sign(store, cast, "peroxide", clock())
    assert "Peroxide: no time written down" in text(gwen.get(f"{nola}/care"))
    clock.now = datetime(2026, 11, 3, 7, 0, 30, tzinfo=UTC)
    assert gwen.post(f"{nola}/care/soak", data=form()).status_code == 303
    assert "Peroxide: ready at" in text(gwen.get(f"{nola}/care"))
    assert re.search(r"ready at .{0,8}\b1(3:01|:01\s?PM)", text(gwen.get(f"{nola}/care")))
    clock.now = datetime(2026, 11, 3, 13, 0, 59, tzinfo=UTC)
    assert "Peroxide: ready at" in text(gwen.get(f"{nola}/care"))
    clock.now = datetime(2026, 11, 3, 13, 1, tzinfo=UTC)
    assert "its time was up" in text(gwen.get(f"{nola}/care"))
    gwen.post(f"{nola}/entries", data=form(kind="lenses_in", eyes="both"))
    assert "no time written down" in text(gwen.get(f"{nola}/care")), "a lens went in: that soak is over"


# -- handling help ------------------------------------------------------------------------------------------------
@pytest.mark.parametrize("topic", load_care().help)
def test_every_topic_leads_to_the_report_with_what_is_known(gwen: FlaskClient, nola: str, topic: str) -> None:
    page = gwen.get(f"{nola}/care/help/{topic}").get_data(as_text=True)
    reports = [one.replace("&amp;", "&") for one in re.findall(r'href="([^"]*/wrong\?[^"]*)"', page)]
    assert {re.search(r"eyes=(\w+)", one)[1] for one in reports} == {"right", "left", "both"}  # type: ignore[index]
    for address in reports:
        assert gwen.get(address).status_code == 200
    known = {answer for lead in load_care().help[topic].leads if not lead.to for answer in lead.answers.values()}
    if topic != "stuck":
        assert known == {one for address in reports for one in re.findall(r"\.\w+=(\w+)", address)}


def test_no_such_topic(gwen: FlaskClient, nola: str) -> None:
    assert gwen.get(f"{nola}/care/help/juggling").status_code == 404
    assert gwen.get(f"{nola}/care/towel").status_code == 404


def test_H5_stinging_begins_with_rinsing_the_eye(gwen: FlaskClient, nola: str) -> None:
    said = text(gwen.get(f"{nola}/care/help/stings"))
    assert said.index("Tap water is right for this.") < said.index("Never use tap water on a lens.")


def test_H9_the_stuck_clock_runs_by_itself_and_looking_changes_nothing(
    gwen: FlaskClient, nola: str, store: Store, clock: Clock
) -> None:
    clock.now = MORNING
    assert "Start the clock" in text(gwen.get(f"{nola}/care/help/stuck"))
    gwen.post(f"{nola}/care/help/stuck", data=form(said="stuck", eyes="right", minutes_ago="0"))
    assert kept(store) == [("stuck_lens", {"eyes": "right", "said": "stuck"})]
    seen = []
    for minutes in (0, 14, 15, 29, 30, 90):
        clock.now = MORNING + timedelta(minutes=minutes)
        page = gwen.get(f"{nola}/care/help/stuck").get_data(as_text=True)
        heading = re.search(r"<h1>([^<]+)</h1>", page)
        assert heading
        seen.append(heading[1])
        assert "right.lens=stuck_long_or_broken" in page if minutes >= 30 else "right.lens=stuck_now" in page
        for moment in ("07:00", "07:15", "07:30"):
            assert f'datetime="2026-11-03T{moment}:00+00:00"' in page, "ends are clock times"
    assert seen == [
        *["Do not pull. Loosen it first."] * 2,
        *["Call the practice now. Do not pull."] * 2,
        *["Do not pull. This needs help today."] * 2,
    ]
    assert len(kept(store)) == 1
    assert "Right lens stuck" in text(gwen.get(f"{nola}/care")), "the care page says so too"


def test_H9_a_report_from_the_stuck_clock_never_says_take_it_out(
    gwen: FlaskClient, nola: str, store: Store, clock: Clock
) -> None:
    """Even when the questions stop at an emergency before the lens's own page."""
    page = gwen.get(f"{nola}/wrong?eyes=right&right.lens=stuck_long_or_broken")
    said = hidden(page)
    assert said["right.lens"] == "stuck_long_or_broken"
    danger = {
        "general.very_unwell": "yes",
        "right.chemical": "no",
        "right.injury": "no",
        "page": "0",
        "eyes": "right",
    }
    gwen.post(f"{nola}/wrong", data=said | danger)
    with store.reading() as session:
        report = session.scalars(select(Report)).one()
    assert report.level == 5
    assert report.lens["right"] == "do_not_pull"
    assert {"R414", "R501"} <= set(report.rules)


def test_what_is_known_can_be_changed_on_its_own_page(gwen: FlaskClient, nola: str) -> None:
    page = gwen.get(f"{nola}/wrong?eyes=right&right.lens=stuck_now")
    calm = {"general.very_unwell": "no", "right.chemical": "no", "right.injury": "no", "go": "next"}
    page = gwen.post(f"{nola}/wrong", data=hidden(page) | calm)
    page = gwen.post(f"{nola}/wrong", data=hidden(page) | {"go": "next"})
    assert re.search(r'name="right.lens" value="stuck_now" checked', page.get_data(as_text=True))


@pytest.mark.parametrize("known", ["right.lens=magic", "right.pain=severe", "general.fever=yes", "third.lens=ok"])
def test_an_address_answers_nothing_but_a_lens(gwen: FlaskClient, nola: str, known: str) -> None:
    page = gwen.get(f"{nola}/wrong?eyes=right&{known}")
    assert page.status_code == 200
    assert not {name for name in hidden(page) if "." in name}


def test_free_again_the_eye_is_looked_at(gwen: FlaskClient, nola: str, clock: Clock) -> None:
    for day in range(2):
        clock.now = MORNING + timedelta(days=day)
        gwen.post(f"{nola}/care/help/stuck", data=form(said="stuck", eyes="both", minutes_ago="10"))
        assert text(gwen.get(f"{nola}/care/help/stuck")).count("Both lenses stuck") == 1
        clock.now = MORNING + timedelta(days=day, minutes=5)
        gwen.post(f"{nola}/care/help/stuck", data=form(said="free", eyes="both"))
        page = gwen.get(f"{nola}/care/help/stuck").get_data(as_text=True)
        assert "It is free. Look at the eye now." in page
        assert ("right.lens=freed_repeat" if day else "right.lens=freed_once") in page


def test_a_lens_that_is_out_is_not_stuck(gwen: FlaskClient, nola: str, clock: Clock) -> None:
    clock.now = MORNING
    gwen.post(f"{nola}/care/help/stuck", data=form(said="stuck", eyes="both"))
    clock.now = MORNING + timedelta(minutes=20)
    gwen.post(f"{nola}/entries", data=form(kind="lenses_out", eyes="left"))
    said = text(gwen.get(f"{nola}/care/help/stuck"))
    assert "Right lens stuck" in said and "Both lenses stuck" not in said


@pytest.mark.parametrize("fields", [{"eyes": "third"}, {"said": "maybe"}, {"minutes_ago": "soon"}])
def test_a_broken_stuck_form_keeps_nothing(
    gwen: FlaskClient, nola: str, store: Store, fields: dict[str, str]
) -> None:
    answer = gwen.post(f"{nola}/care/help/stuck", data=form(**({"said": "stuck", "eyes": "left"} | fields)))
    assert answer.status_code == 422
    assert kept(store) == []


def test_a_clock_in_the_address_is_shown_where_it_can_be_true(gwen: FlaskClient, nola: str, clock: Clock) -> None:
    clock.now = MORNING
    since = (MORNING - timedelta(minutes=16)).isoformat()
    page = gwen.get(f"{nola}/care/help/stuck", query_string={"eyes": "left", "since": since})
    assert "Call the practice now." in text(page)
    for query in (
        {"eyes": "left", "since": (MORNING + timedelta(days=1)).isoformat()},
        {"since": since},
        {"eyes": "left"},
    ):
        assert "Start the clock" in text(gwen.get(f"{nola}/care/help/stuck", query_string=query))


def test_H9_for_the_carrier_of_a_pass_the_clock_rides_in_the_address(
    app: Flask, cast: Cast, nola: str, store: Store, clock: Clock
) -> None:
    app.config["WTF_CSRF_ENABLED"] = False
    with store.writing() as session:
        gwen = actor_of(session, session.get_one(Person, cast.people["Gwen"]), "")
        token = passes.issue(session, gwen, cast.wearers["Nola"], {"name": "Granny", "lasts": "1"}, clock())
    with store.writing() as session:
        opened = passes.open_pass(session, token, clock())
    granny = app.test_client()
    with granny.session_transaction() as browser:
        browser["_user_id"], browser["_fresh"] = opened, True
    care = granny.get(f"{nola}/care").get_data(as_text=True)
    assert "Lenses in, step by step." in care and f"{nola}/care/case" not in care
    assert granny.get(f"{nola}/care/case").status_code == 403
    answer = granny.post(f"{nola}/care/help/stuck", data=form(said="stuck", eyes="right"))
    clock.advance(minutes=31)
    page = granny.get(answer.headers["Location"]).get_data(as_text=True)
    assert "Do not pull. This needs help today." in page and "right.lens=stuck_long_or_broken" in page
    assert kept(store) == []


# -- the practice's form ------------------------------------------------------------------------------------------
PEROXIDE = {
    "system": "peroxide", "case_days": "60", "bottle_days": "90", "lens_days": "365", "suction_cup_days": "",
    "protein_days": "14", "stored_days": "1", "peroxide_hours": "8",
}  # fmt: skip


def test_a_practitioner_signs_and_families_see_it(
    app: Flask, gwen: FlaskClient, nola: str, cast: Cast, store: Store
) -> None:
    pavel = enter(app, cast, "Pavel")
    assert "Nobody has signed a care system yet." in text(pavel.get("/desk/care"))
    assert pavel.post("/desk/care", data=PEROXIDE).status_code == 303
    said = text(pavel.get("/desk/care"))
    assert "Peroxide system" in said and "Signed by Pavel" in said
    family = text(gwen.get(f"{nola}/care"))
    assert "fresh peroxide up to the line" in family and "for 8 hours or more" in family
    assert "Suction cup" not in family and "Bottle of peroxide" in family


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"system": "vinegar"}, "system"),
        ({"case_days": "91"}, "case_days"),
        ({"peroxide_hours": "5"}, "peroxide_hours"),
        ({"lens_days": ""}, "lens_days"),
        ({"bottle_days": "2.5"}, "bottle_days"),
    ],
)
def test_H18_nothing_outside_its_bounds_is_signed(
    app: Flask, cast: Cast, store: Store, change: dict[str, str], field: str
) -> None:
    app.config["WTF_CSRF_ENABLED"] = False
    answer = enter(app, cast, "Pavel").post("/desk/care", data=PEROXIDE | change)
    assert answer.status_code == 422
    assert field == "system" or f'id="{field}-problem"' in answer.get_data(as_text=True)
    with store.reading() as session:
        assert session.scalars(select(CareRegimen)).all() == []


def test_others_at_the_practice_may_look(app: Flask, cast: Cast) -> None:
    for name in ("Mina", "Asta"):
        said = text(enter(app, cast, name).get("/desk/care?system=peroxide"))
        assert "A practitioner signs this." in said and "Peroxide needs at least [hours] 6" in said
