"""The practice's screens, from the alert on the desk to its closing; and its forms, which keep what was typed."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from html import unescape
from typing import Any

import pytest
from fakes import Clock
from flask import Flask
from flask.testing import FlaskClient
from people import ZONE, Cast
from sqlalchemy import select

from companion.common.ids import new_id
from companion.store.engine import Store
from companion.store.models import Alert, Hold, Invitation, Membership, Person, Plan, Refraction
from companion.triage.answers import answers_from_file
from companion.usecases import consents, signing
from companion.usecases.actor import actor_of
from companion.usecases.recording import record_entries

Open = Callable[..., FlaskClient]


@pytest.fixture
def enter(app: Flask, store: Store, cast: Cast, clock: Clock) -> Open:
    """Sign somebody in by name."""
    app.config["WTF_CSRF_ENABLED"] = False

    def of(name: str) -> FlaskClient:
        with store.writing() as session:
            token = signing.open_sign_in(session, cast.people[name], clock(), "tests")
            actor = actor_of(session, session.get_one(Person, cast.people[name]), "")
            consents.give(session, actor, consents.TEXT_VERSION, "en", clock())
        client = app.test_client()
        with client.session_transaction() as browser:
            browser["_user_id"], browser["_fresh"] = token, True
        return client

    return of


@pytest.fixture
def alert_id(store: Store, cast: Cast, clock: Clock) -> str:
    """Nola's right eye is red and sore, and water touched a lens: level 4."""
    said = {"general": {"hygiene": "water"}, "right": {"redness": "red", "pain": "moderate"}}
    entry = {
        "id": new_id(),
        "kind": "symptom_report",
        "at": clock().isoformat(),
        "made_at": clock().isoformat(),
        "zone": ZONE,
        "payload": {"answers": answers_from_file(said).document()},
    }
    with store.writing() as session:
        gwen = session.get_one(Person, cast.people["Gwen"])
        gwen.phone = "+441632960123"
        record_entries(session, actor_of(session, gwen, ""), cast.wearers["Nola"], [entry], clock())
    with store.reading() as session:
        return session.scalars(select(Alert.id)).one()


def seen(page: Any) -> str:
    """The page's visible text on one line."""
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", page.get_data(as_text=True))).split())


def alert_of(store: Store, alert_id: str) -> Alert:
    with store.reading() as session:
        row = session.get_one(Alert, alert_id)
        session.expunge(row)
        return row


def test_an_empty_desk_says_what_to_do_next(enter: Open) -> None:
    page = seen(enter("Asta").get("/desk"))
    assert "Nobody is waiting for the practice." in page
    assert "open a wearer before the next visit" in page


def test_H14_the_desk_shows_level_by_number_shape_and_word(enter: Open, alert_id: str, clock: Clock) -> None:
    clock.advance(minutes=391)
    answer = enter("Asta").get("/desk")
    page = seen(answer)
    assert "Level 4: Be seen today" in page
    assert "Nola · 8 right eye" in page
    assert "6 h 31 min" in page
    assert '<path class="shape" d="M20 1 39 20 20 39 1 20Z"/>' in answer.get_data(as_text=True)


def test_H2_opening_the_page_a_hundred_times_takes_nothing(enter: Open, store: Store, alert_id: str) -> None:
    client = enter("Asta")
    for _ in range(100):
        assert client.get(f"/desk/alerts/{alert_id}/take").status_code == 200
        assert client.head(f"/desk/alerts/{alert_id}/take").status_code == 200
    client.get(f"/desk/alerts/{alert_id}")
    assert alert_of(store, alert_id).taken_at is None


def test_H2_the_page_behind_the_mail_has_one_button_and_only_it_takes(
    enter: Open, store: Store, cast: Cast, alert_id: str
) -> None:
    client = enter("Asta")
    page = client.get(f"/desk/alerts/{alert_id}/take").get_data(as_text=True)
    assert page.count("<button") == 1
    answer = client.post(f"/desk/alerts/{alert_id}/take", follow_redirects=True)
    assert "Taken by Asta" in seen(answer)
    assert alert_of(store, alert_id).taken_by == cast.people["Asta"]


def test_the_second_of_two_hears_who_was_faster(enter: Open, store: Store, cast: Cast, alert_id: str) -> None:
    enter("Asta").post(f"/desk/alerts/{alert_id}/take")
    answer = enter("Pavel").post(f"/desk/alerts/{alert_id}/take", follow_redirects=True)
    assert "A colleague has taken this report." in seen(answer)
    assert "Taken by Asta" in seen(answer)
    assert alert_of(store, alert_id).taken_by == cast.people["Asta"]


def test_the_call_sheet_has_all_that_a_call_needs(enter: Open, alert_id: str) -> None:
    answer = enter("Asta").get(f"/desk/alerts/{alert_id}")
    page = seen(answer)
    assert 'href="tel:+441632960123"' in answer.get_data(as_text=True)
    for words in (
        "Nola · 8",
        "speaks English",
        "right eye",
        "Clearly red, or a red patch",
        "Water or spit on a lens",
        "Because the eye is really sore.",
        "What the family was told, in English That nobody sees this before tomorrow 08:30.",
        "Put no lens back in.",
        "On hold: no lens",
        "The last 14 nights",
    ):
        assert words in page, words


def test_only_a_practitioner_is_offered_to_close(enter: Open, alert_id: str) -> None:
    assert "A practitioner closes reports at level 3 or more." in seen(
        enter("Asta").get(f"/desk/alerts/{alert_id}")
    )
    assert enter("Asta").post(f"/desk/alerts/{alert_id}/close", data={"outcome": "seen_here"}).status_code == 403


def test_H16_a_lighter_outcome_takes_a_reason_and_a_second_confirmation(
    enter: Open, store: Store, alert_id: str
) -> None:
    client = enter("Pavel")
    said = {"outcome": "no_fault_found", "note": "", "lenses_out_until": "2026-11-05"}
    refused = client.post(f"/desk/alerts/{alert_id}/close", data=said)
    page = refused.get_data(as_text=True)
    assert refused.status_code == 422
    assert "Say why, in a few words." in seen(refused)
    assert "Tick the box to say that you mean it." in seen(refused)
    assert re.search(r'value="no_fault_found" checked', page)
    assert 'value="2026-11-05"' in page
    assert alert_of(store, alert_id).closed_at is None
    kept = client.post(f"/desk/alerts/{alert_id}/close", data={**said, "note": "White and quiet"})
    assert "Say why" not in seen(kept) and "White and quiet" in kept.get_data(as_text=True)
    done = client.post(
        f"/desk/alerts/{alert_id}/close",
        data={**said, "note": "White and quiet", "confirmed": "yes"},
        follow_redirects=True,
    )
    assert "Looked at, nothing found" in seen(done)
    assert "Lenses stay out until the evening of Thu 5 Nov." in seen(done)
    assert alert_of(store, alert_id).closed_at is not None


def test_contact_is_recorded_with_what_was_said(enter: Open, store: Store, alert_id: str) -> None:
    client = enter("Asta")
    client.post(f"/desk/alerts/{alert_id}/take")
    said = {"reached": "no", "contact_note": "No answer"}
    answer = client.post(f"/desk/alerts/{alert_id}/contact", data=said, follow_redirects=True)
    assert "No answer" in seen(answer)
    assert alert_of(store, alert_id).contact_at is None
    client.post(f"/desk/alerts/{alert_id}/contact", data={"reached": "yes", "contact_note": "On their way"})
    assert alert_of(store, alert_id).contact_at is not None


def test_H12_a_hold_is_lifted_by_a_practitioner_with_a_reason(
    enter: Open, store: Store, cast: Cast, alert_id: str
) -> None:
    with store.reading() as session:
        hold_id = session.scalars(select(Hold.id).where(Hold.eye == "right")).one()
    form = {"wearer_id": cast.wearers["Nola"], "hold_id": hold_id}
    assert enter("Asta").post(f"/desk/holds/{hold_id}/lift", data={**form, "reason": "fine"}).status_code == 403
    assert "Lift this hold" not in seen(enter("Asta").get(f"/desk/wearers/{cast.wearers['Nola']}"))
    client = enter("Pavel")
    refused = client.post(f"/desk/holds/{hold_id}/lift", data=form)
    assert (refused.status_code, "Say why, in a few words." in seen(refused)) == (422, True)
    said = {**form, "reason": "Seen, cornea clear", "next_step": "as_planned"}
    client.post(f"/desk/holds/{hold_id}/lift", data=said)
    with store.reading() as session:
        lifted = session.get_one(Hold, hold_id)
        assert (lifted.lifted_by, lifted.lift_reason) == (cast.people["Pavel"], "Seen, cornea clear")


def test_H12_a_hold_is_lifted_from_the_call_sheet_and_what_was_typed_is_kept(
    enter: Open, store: Store, cast: Cast, alert_id: str
) -> None:
    client, sheet = enter("Pavel"), f"/desk/alerts/{alert_id}"
    assert "Lift this hold" in seen(client.get(sheet)) and "Lift this hold" not in seen(enter("Asta").get(sheet))
    with store.reading() as session:
        hold_id = session.scalars(select(Hold.id).where(Hold.eye == "right")).one()
    form = {"wearer_id": cast.wearers["Nola"], "hold_id": hold_id, "alert_id": alert_id, "reason": "Cornea clear"}
    refused = client.post(f"/desk/holds/{hold_id}/lift", data={**form, "next_step": "look_again"})
    assert (refused.status_code, "Please fill this in." in seen(refused)) == (422, True)
    assert 'value="Cornea clear"' in refused.get_data(as_text=True)
    said = {**form, "next_step": "look_again", "look_on": "2026-11-09"}
    done = client.post(f"/desk/holds/{hold_id}/lift", data=said)
    assert (done.status_code, done.location) == (303, sheet)
    assert "Extra visit · Mon 9 Nov" in seen(client.get(f"/desk/wearers/{cast.wearers['Nola']}"))


def test_a_late_report_is_marked_on_the_desk_and_on_the_sheet(
    enter: Open, store: Store, cast: Cast, clock: Clock
) -> None:
    made = clock()
    received = clock.advance(hours=11)
    with store.reading() as session:
        gwen = actor_of(session, session.get_one(Person, cast.people["Gwen"]), "")
    entry = {"id": new_id(), "kind": "symptom_report", "at": made.isoformat(), "made_at": made.isoformat()}
    answers = answers_from_file({"right": {"redness": "red"}}).document()
    with store.writing() as session:
        sent = entry | {"zone": ZONE, "payload": {"answers": answers}}
        record_entries(session, gwen, cast.wearers["Nola"], [sent], received)
    client = enter("Asta")
    desk = client.get("/desk")
    (path,) = set(re.findall(r'href="(/desk/alerts/[^"]+)"', desk.get_data(as_text=True)))
    for page in (desk, client.get(path)):
        assert "made yesterday at 20:30, received 07:30" in seen(page)


def test_the_wearers_page_shows_nights_curve_and_what_is_signed(enter: Open, cast: Cast, alert_id: str) -> None:
    answer = enter("Pavel").get(f"/desk/wearers/{cast.wearers['Nola']}")
    page = seen(answer)
    for words in (
        "8 years old",
        "The last 28 nights",
        "Target: 0.20 logMAR until 18:00, each eye",
        "Not cleared: the app never releases a night.",
        "right dot",
        "-3.00 D",
        "Gwen",
        "median (5th to 95th percentile)",
    ):
        assert words in page, words
    assert answer.get_data(as_text=True).count('class="band"') == 2


def test_a_form_keeps_what_was_typed_and_names_the_field(enter: Open, store: Store, cast: Cast) -> None:
    address = f"/desk/wearers/{cast.wearers['Nola']}/refraction"
    said = {"eye": "left", "kind": "residual", "sphere_d": "minus two", "cylinder_d": "−0.50", "axis_deg": "170"}
    client = enter("Pavel")
    refused = client.post(address, data=said)
    page = refused.get_data(as_text=True)
    assert refused.status_code == 422
    assert 'value="minus two"' in page and 'value="−0.50"' in page and 'value="170"' in page
    assert re.search(r'id="sphere_d-problem">Write a number here\.', page)
    assert re.search(r'id="sphere_d"[^>]*aria-invalid="true"', page)
    assert client.post(address, data={**said, "sphere_d": "−2,25"}).status_code == 303
    with store.reading() as session:
        row = session.scalars(select(Refraction).where(Refraction.kind == "residual")).one()
        assert (row.sphere_d, row.cylinder_d, row.axis_deg) == (-2.25, -0.5, 170)


def test_a_plan_by_weekdays_takes_several_boxes(enter: Open, store: Store, cast: Cast) -> None:
    client, address = enter("Pavel"), f"/desk/wearers/{cast.wearers['Wim']}/plan"
    assert client.get(address).status_code == 200
    said = {
        "weekdays": ["mon", "thu"],
        "target_acuity_logmar": "0.1",
        "target_until": "20:00",
        "target_eyes": "better",
    }
    assert client.post(address, data=said).status_code == 303
    with store.reading() as session:
        plan = session.scalars(select(Plan).where(Plan.weekdays.is_not(None), Plan.target_eyes == "better")).one()
        assert plan.weekdays == ["mon", "thu"]


def test_an_invitations_link_is_shown_once(
    enter: Open, app: Flask, store: Store, cast: Cast, clock: Clock
) -> None:
    client, page_of = enter("Asta"), f"/desk/wearers/{cast.wearers['Timo']}"
    said = {"kind": "guardian", "name": "Hanna", "language": "en"}
    answer = client.post(f"{page_of}/invite", data=said)
    (link,) = re.findall(r'value="(http[^"]*/join/[^"]+)"', answer.get_data(as_text=True))
    assert "Guardian: Hanna" in seen(client.get(page_of))
    assert "/join/" not in client.get(page_of).get_data(as_text=True)
    assert app.test_client().get(link.partition("8000")[2]).status_code == 200
    with store.reading() as session:
        assert session.scalars(select(Invitation.token_hash)).one() not in link


def test_an_assistant_is_not_offered_what_a_practitioner_signs(enter: Open, cast: Cast) -> None:
    page = seen(enter("Asta").get(f"/desk/wearers/{cast.wearers['Nola']}"))
    assert "Change the plan" not in page and "New lens" not in page
    assert "Invite somebody" in page and "Set a visit" in page


@pytest.mark.parametrize("language", ["en-x-pseudo", "en-x-mirror"])
def test_every_word_of_the_practices_screens_is_translated(
    enter: Open, cast: Cast, alert_id: str, language: str
) -> None:
    nola = cast.wearers["Nola"]
    client = enter("Pavel")
    sheets = ("plan", "clearance", "refraction", "lens", "visit", "invite")
    paths = [
        "/desk",
        f"/desk/alerts/{alert_id}",
        f"/desk/alerts/{alert_id}/take",
        "/desk/wearers",
        "/desk/wearers/new",
        f"/desk/wearers/{nola}",
        *(f"/desk/wearers/{nola}/{sheet}" for sheet in sheets),
    ]
    # Names, what a person typed, and dates (the pseudo-languages have an English locale) stay as they are.
    names = {"Nola", "Timo", "Wim", "Gwen", "Gus", "Pavel", "Mina", "Asta", "English", "Pseudo", "Mirror"}
    dates = {"Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun", "Sept", "Oct", "Nov", "Dec", "Jan"}
    kept = names | dates | {"right", "left", "dot", "Europe", "London"}
    for path in paths:
        page = client.get(f"{path}?lang={language}").get_data(as_text=True)
        body = re.sub(r"<(time|option)[^>]*>.*?</\1>", " ", page.partition("<body>")[2], flags=re.S)
        text = re.sub(r"\[[^\[\]]*(\[[^\[\]]*\][^\[\]]*)*\]", " ", unescape(re.sub(r"<[^>]+>", " ", body)))
        assert set(re.findall(r"[A-Za-z]{3,}", text)) <= kept, path


def test_no_sign_changes_sides_where_reading_goes_from_right_to_left(enter: Open, cast: Cast) -> None:
    page = enter("Pavel").get(f"/desk/wearers/{cast.wearers['Nola']}?lang=en-x-mirror").get_data(as_text=True)
    signed = re.findall(r"(<bdi dir=\"ltr\">)?([+-]\d+\.\d\d)", page.partition("<body>")[2])
    assert signed and all(kept for kept, _ in signed)


def test_H11_what_one_sender_without_a_valid_sign_in_sent_again_is_counted_and_listed(
    enter: Open, store: Store, cast: Cast, clock: Clock
) -> None:
    with store.reading() as session:
        gus = actor_of(session, session.get_one(Person, cast.people["Gus"]), "")
    for n in range(3):
        answers = answers_from_file({("right", "left")[n % 2]: {"redness": "red", "pain": "moderate"}}).document()
        at = clock.advance(minutes=1).isoformat()
        raw = {"id": new_id(), "kind": "symptom_report", "at": at, "made_at": at, "zone": "Europe/London"}
        with store.writing() as session:
            sent = raw | {"payload": {"answers": answers}}
            record_entries(session, replace(gus, expired=True), cast.wearers["Nola"], [sent], clock())
    desk = enter("Asta").get("/desk").get_data(as_text=True)
    assert "2 more reports from the same sender" in desk
    (path,) = set(re.findall(r'href="(/desk/alerts/[^"]+)"', desk))
    sheet = enter("Asta").get(path).get_data(as_text=True)
    joined = sheet.partition("More reports from the same sender")[2].partition("</ul>")[0]
    assert joined.count("<li>") == 2 and "left eye" in joined


def test_somebody_of_two_practices_sees_the_desk_they_picked_last(
    enter: Open, store: Store, cast: Cast, clock: Clock
) -> None:
    mill, hill = (cast.practices[name] for name in ("mill", "hill"))
    with store.writing() as session:
        later = clock() + timedelta(minutes=1)
        session.add(Membership(practice_id=hill, person_id=cast.people["Asta"], role="assistant", since=later))
        session.commit()
    client = enter("Asta")
    assert "Nola" in seen(client.get("/desk/wearers"))
    assert f'href="/desk?practice={hill}"' in client.get("/desk").get_data(as_text=True)
    client.get(f"/desk?practice={hill}")
    assert "Lea" in seen(client.get("/desk/wearers"))
    assert client.get(f"/desk/news?practice={mill}").json != client.get(f"/desk/news?practice={hill}").json
    assert "Lea" in seen(client.get("/desk/wearers")), "a page that asks for itself changes nobody over"
    client.get(f"/desk?practice={mill}")
    assert "Nola" in seen(client.get("/desk/wearers"))
    other = enter("Pavel")
    other.get(f"/desk?practice={hill}")
    assert "Nola" in seen(other.get("/desk/wearers")), "he does not work there"
