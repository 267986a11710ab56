"""The account's pages and ways in by a link: what they show, what they keep, whom they turn away."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from html import unescape
from typing import Any

import pytest
from fakes import Clock
from flask import Flask
from flask.testing import FlaskClient
from people import PASSWORD, Cast, add_guardian
from sqlalchemy import select

from companion.common.ids import new_id
from companion.store.engine import Store
from companion.store.models import EntryRow, Person, Wearer
from companion.usecases import consents, guardianships, passes, signing
from companion.usecases.actor import Actor, actor_of

Enter = Callable[..., FlaskClient]
DANGER = {
    "eyes": "right", "page": "0", "zone": "Europe/London",
    "general.very_unwell": "yes", "right.chemical": "no", "right.injury": "no",
}  # fmt: skip


def actor(session: Any, cast: Cast, name: str) -> Actor:
    return actor_of(session, session.get_one(Person, cast.people[name]), "")


@pytest.fixture
def enter(app: Flask, store: Store, cast: Cast, clock: Clock) -> Enter:
    """Sign somebody in by name, or by a token of their own."""
    app.config["WTF_CSRF_ENABLED"] = False

    def of(name: str, token: str | None = None) -> FlaskClient:
        if token is None:
            with store.writing() as session:
                token = signing.open_sign_in(
                    session, cast.people[name], clock(), "Mozilla/5.0 (Android 14; Mobile)"
                )
                consents.give(session, actor(session, cast, name), consents.TEXT_VERSION, "en", clock())
        client = app.test_client()
        with client.session_transaction() as browser:
            browser["_user_id"], browser["_fresh"] = token, True
        return client

    return of


def seen(page: Any) -> str:
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", page.get_data(as_text=True))).split())


def test_clock_and_size_of_text_follow_the_person(enter: Enter, cast: Cast) -> None:
    gwen = enter("Gwen")
    nola = cast.wearers["Nola"]
    gwen.post(
        f"/w/{nola}/entries", data={"id": new_id(), "zone": "Europe/London", "kind": "lenses_in", "eyes": "both"}
    )
    assert re.search(r"Undo: [^.]*, 20:30", seen(gwen.get(f"/w/{nola}/tonight")))
    gwen.post("/us", data={"hour_cycle": "h12", "text_size": "largest"})
    page = gwen.get(f"/w/{nola}/tonight")
    assert re.search(r"8:30\spm", seen(page))
    assert 'class="text-largest"' in page.get_data(as_text=True)


def test_ones_sign_ins_are_listed_and_ended(enter: Enter) -> None:
    here, elsewhere = enter("Gwen"), enter("Gwen")
    page = here.get("/us/sign-ins").get_data(as_text=True)
    assert page.count("<b>A phone</b>") == 2
    (path,) = re.findall(r'action="(/us/sign-ins/[^"]+/end)"', page)
    here.post(path)
    assert elsewhere.get("/us").status_code == 302
    assert here.get("/us").status_code == 200


def test_a_copy_of_ones_own_data_is_a_file(enter: Enter) -> None:
    answer = enter("Gwen").get("/us/stored.json")
    assert "attachment" in answer.headers["Content-Disposition"]
    assert json.loads(answer.get_data(as_text=True))["account"]["name"] == "Gwen"


def test_taking_agreement_back_shuts_the_familys_pages_and_no_others(enter: Enter, cast: Cast) -> None:
    gwen, nola = enter("Gwen"), cast.wearers["Nola"]
    gwen.post("/us/withdraw")
    assert gwen.get(f"/w/{nola}/tonight").location == "/consent"
    for open_still in ("/wrong", "/us", f"/w/{nola}/wrong?eyes=right"):
        assert gwen.get(open_still).status_code == 200


def test_a_passwords_form_never_shows_what_was_typed(enter: Enter) -> None:
    typed = {"old": "my old secret words", "password": "my new secret words", "password_again": "other words here"}
    page = enter("Gwen").post("/us/password", data=typed)
    assert page.status_code == 422
    assert not any(word in page.get_data(as_text=True) for word in typed.values())


def test_opening_a_pass_replaces_the_sign_in_of_this_browser(
    app: Flask, enter: Enter, store: Store, cast: Cast, clock: Clock
) -> None:
    hedda, nola = enter("Hedda"), cast.wearers["Nola"]
    with store.writing() as session:
        token = passes.issue(
            session, actor(session, cast, "Gwen"), nola, {"name": "Hedda helps", "lasts": "1"}, clock()
        )
    assert "Opening the pass signs you out here" in seen(hedda.get(f"/pass/{token}"))
    hedda.post(f"/pass/{token}")
    assert hedda.get(f"/w/{nola}/tonight").status_code == 200
    assert hedda.get(f"/w/{cast.wearers['Timo']}/tonight").status_code == 404
    assert "Call Practice by the mill" in seen(hedda.get(f"/w/{nola}/tonight"))
    hedda.post("/sign-out")
    assert hedda.get(f"/w/{nola}/tonight").status_code == 302


def test_a_lapsed_pass_says_so(enter: Enter, store: Store, cast: Cast, clock: Clock) -> None:
    with store.writing() as session:
        form = {"name": "Granny", "lasts": "hours_12"}
        token = passes.issue(session, actor(session, cast, "Gwen"), cast.wearers["Nola"], form, clock())
    with store.writing() as session:
        sign_in = passes.open_pass(session, token, clock())
    clock.advance(hours=13)
    answer = enter("Granny", sign_in).get(f"/w/{cast.wearers['Nola']}/tonight")
    assert answer.status_code == 404
    assert "This pass is over." in seen(answer) and "Nola" not in seen(answer)


def test_H2_a_removed_guardian_is_told_what_to_do_and_that_the_desk_has_it_unverified(
    enter: Enter, store: Store, cast: Cast, clock: Clock
) -> None:
    gus, nola = enter("Gus"), cast.wearers["Nola"]
    with store.writing() as session:
        guardianships.end_guardianship(session, actor(session, cast, "Asta"), nola, cast.people["Gus"], clock())
    assert gus.get(f"/w/{nola}/wrong?eyes=right").status_code == 404
    answer = gus.post(f"/w/{nola}/wrong", data=DANGER | {"id": new_id()})
    assert answer.status_code == 200
    assert "It could not check who sent it: phone them." in seen(answer) and "Nola" not in seen(answer)
    with store.reading() as session:
        assert session.scalars(select(EntryRow.verified)).all() == [False]
    assert "sent without a valid sign-in" in seen(enter("Asta").get("/desk"))


def test_H8_the_undo_bar_moves_an_entry_to_the_other_child(
    enter: Enter, store: Store, cast: Cast, clock: Clock
) -> None:
    nola, timo = cast.wearers["Nola"], cast.wearers["Timo"]
    with store.writing() as session:
        add_guardian(session, session.get_one(Wearer, timo), session.get_one(Person, cast.people["Gwen"]), clock())
        session.commit()
    gwen = enter("Gwen")
    gwen.post(
        f"/w/{nola}/entries", data={"id": new_id(), "zone": "Europe/London", "kind": "lenses_in", "eyes": "both"}
    )
    page = gwen.get(f"/w/{nola}/tonight").get_data(as_text=True)
    (path,) = re.findall(r'action="([^"]+/move)"', page)
    form = dict(
        re.findall(r'name="(id|moved_id|to)" value="([^"]+)"', page.partition(path)[2].partition("</form>")[0])
    )
    assert form["to"] == timo
    for _ in range(2):
        assert gwen.post(path, data=form).location == f"/w/{timo}/tonight?moved=1"
    assert "Undo" in seen(gwen.get(f"/w/{timo}/tonight"))
    assert "Undo" not in seen(gwen.get(f"/w/{nola}/tonight"))


def test_an_invitations_card_speaks_the_familys_language_and_names_the_first_night(
    enter: Enter, cast: Cast
) -> None:
    said = {"kind": "guardian", "name": "Hanna", "language": "en-x-mirror"}
    page = enter("Asta").post(f"/desk/wearers/{cast.wearers['Timo']}/invite", data=said).get_data(as_text=True)
    card = page.partition('<section class="card handout"')[2].partition("</section>")[0]
    assert 'lang="en-x-mirror" dir="rtl"' in card
    assert card.count("<li>") == 8 and "[" in card.partition("<li>")[2]
    assert re.search(r'<svg class="qr"[^>]*>.*<path d="M4 4h7v1', card, re.S)
    assert "style=" not in card


def test_back_in_at_the_desk_without_any_address(app: Flask, enter: Enter, cast: Cast) -> None:
    desk = enter("Asta")
    page = desk.post(f"/desk/people/{cast.people['Gwen']}/recover").get_data(as_text=True)
    (link,) = set(re.findall(r"http[^\"<]*(/recover/[\w-]+)", page))
    phone = app.test_client()
    assert "gwen" in seen(phone.get(link))
    said = {"password": "a fresh set of words", "password_again": "a fresh set of words"}
    assert phone.post(link, data=said).status_code == 303
    assert phone.get("/us").status_code == 200
    assert phone.get(link).status_code == 404
    assert PASSWORD not in page


@pytest.mark.parametrize("origin", ["http://localhost", "http://elsewhere.example"])
def test_H2_a_report_sent_after_the_sign_in_ended_reaches_the_desk_unverified_from_our_own_page_alone(
    enter: Enter, store: Store, cast: Cast, clock: Clock, origin: str
) -> None:
    lost, kept, nola = enter("Gwen"), enter("Gwen"), cast.wearers["Nola"]
    kept.post("/us/sign-ins/end-others")
    said = DANGER | {"id": new_id()}
    answer = lost.post(f"/w/{nola}/wrong", data=said, headers={"Origin": origin})
    ours = origin == "http://localhost"
    assert ("It could not check who sent it" in seen(answer)) is ours
    assert "Nola" not in seen(answer)
    with store.reading() as session:
        assert session.scalars(select(EntryRow.verified)).all() == ([False] if ours else [])
    assert lost.get(f"/w/{nola}/tonight").status_code == 302
    stranger = lost.post(f"/w/{cast.wearers['Timo']}/wrong", data=said, headers={"Origin": origin})
    assert "It could not check who sent it" not in seen(stranger)


def test_only_a_changed_session_sets_its_cookie(enter: Enter, app: Flask) -> None:
    """A stylesheet that comes late would bring back the session from before; a shared cache would keep it."""
    gwen = enter("Gwen")
    page = gwen.get("/us").get_data(as_text=True)
    (sheet,) = re.findall(r'href="(/static/[^"]+page\.css)"', page)
    assert "Set-Cookie" not in gwen.get(sheet).headers
    assert "Set-Cookie" not in gwen.get("/us").headers


def test_H2_long_after_a_right_has_ended_the_page_says_that_nobody_has_the_report(
    enter: Enter, store: Store, cast: Cast, clock: Clock
) -> None:
    gus, nola = enter("Gus"), cast.wearers["Nola"]
    with store.writing() as session:
        guardianships.end_guardianship(session, actor(session, cast, "Asta"), nola, cast.people["Gus"], clock())
    clock.advance(days=31)
    answer = gus.post(f"/w/{nola}/wrong", data=DANGER | {"id": new_id()})
    assert answer.status_code == 200
    assert "Nola" not in seen(answer) and "It could not check who sent it" not in seen(answer)
    with store.reading() as session:
        assert session.scalars(select(EntryRow.id)).all() == []
