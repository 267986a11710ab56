"""What stands with a result: a text message, a page for a helper, a photo, and the place again after a journey."""

from __future__ import annotations

import re
from html import unescape
from io import BytesIO
from urllib.parse import unquote
from uuid import uuid4

import pytest
from flask import Flask
from flask.testing import FlaskClient
from people import Cast
from PIL import Image
from test_something_is_wrong import RED_AND_SORE, report
from visitors import enter, hidden, text
from werkzeug.test import TestResponse


@pytest.fixture
def gwen(app: Flask, cast: Cast) -> FlaskClient:
    app.config["WTF_CSRF_ENABLED"] = False
    return enter(app, cast, "Gwen")


@pytest.fixture
def path(cast: Cast) -> str:
    return f"/w/{cast.wearers['Nola']}/wrong"


# -- for somebody without this app --------------------------------------------------------------------------------
def links(page: TestResponse) -> list[str]:
    return [unescape(one) for one in re.findall(r'href="(sms:[^"]+)"', page.get_data(as_text=True))]


def test_H3_a_result_goes_out_as_a_text_message_without_a_name_unless_one_is_asked_for(
    gwen: FlaskClient, path: str
) -> None:
    page = report(gwen, path, RED_AND_SORE)
    bare, named = links(page)
    assert bare.startswith("sms:+441632960000?&body=") and "Nola" not in bare
    said = unquote(bare.partition("body=")[2])
    assert said == (
        "This person sleeps in hard contact lenses. Answers so far say: Be seen today. Right eye. "
        "The lens is out. Please call us."
    )
    assert "This is about Nola, who sleeps in hard contact lenses." in unquote(named)
    assert "A call or a text message needs no internet." in text(page)


def test_H3_a_stranger_sends_it_to_whom_they_choose_and_at_level_one_nobody_is_bothered(app: Flask) -> None:
    stranger = app.test_client()
    found = links(report(stranger, "/wrong/questions", RED_AND_SORE))
    assert len(found) == 1 and found[0].startswith("sms:?&body=This%20person%20sleeps")
    assert links(report(stranger, "/wrong/questions", {})) == []


@pytest.mark.parametrize(("language", "direction"), [("zh-Hans", "ltr"), ("ar", "rtl")])
def test_H4_a_helper_reads_it_in_english_beside_the_familys_language(
    app: Flask, language: str, direction: str
) -> None:
    """An element that opens by itself: no script, no network, and the family's choice of language stays."""
    app.config["WTF_CSRF_ENABLED"] = False
    client = app.test_client()
    page = report(client, "/wrong/questions", RED_AND_SORE, query=f"&lang={language}")
    whole = page.get_data(as_text=True)
    shown = whole.partition('<details class="more" id="helper">')[2].partition("</details>")[0]
    beside = r'<p lang="([\w-]+)" dir="(\w+)">([^<]+)</p><p lang="en" dir="ltr" translate="no">([^<]+)</p>'
    pairs = re.findall(beside, shown)
    assert {(tag, way) for tag, way, _, _ in pairs} == {(language, direction)}
    english = [unescape(one) for _, _, _, one in pairs]
    assert english[0] == "This person sleeps in hard contact lenses."
    assert "Be seen today" in english[1] and english[2].startswith("Right eye.")
    assert english[3] == "Please help us get to an eye clinic or emergency department now."
    assert any("take the lens out" in one.lower() for one in english[4:])
    assert shown.count("<li>") == len(english[4:]) and all(said != beside for _, _, said, beside in pairs)
    assert len(unquote(links(page)[0].partition("body=")[2]).split("\n")) == 2


def test_a_photo_is_offered_after_the_result_and_shown_beside_it(app: Flask, gwen: FlaskClient, path: str) -> None:
    page = report(gwen, path, RED_AND_SORE)
    address = page.request.path
    assert text(page).index("What to do") < text(page).index("Add a photo for the practice")
    assert "It does not change what to do, however the eye looks in it." in text(page)
    form = gwen.get(f"{address}/photo")
    sent = BytesIO()
    Image.new("RGB", (40, 30), "white").save(sent, "PNG")
    fields = {**hidden(form), "eye": "right"}
    answer = gwen.post(f"{address}/photo", data=fields | {"photo": (BytesIO(b"no photo"), "eye.jpg")})
    assert answer.status_code == 422 and "We cannot read this picture." in text(answer)
    assert hidden(answer)["id"] == fields["id"], "the form keeps what was typed"
    sent.seek(0)
    answer = gwen.post(f"{address}/photo", data=fields | {"photo": (sent, "eye.svg")})
    assert answer.status_code == 303 and answer.headers["Location"] == f"{address}#photos"
    shown = re.search(r'<img src="(/w/\S+/photos/\S+\.jpg)"', gwen.get(address).get_data(as_text=True))
    assert shown
    photo = gwen.get(shown[1])
    assert photo.data.startswith(b"\xff\xd8\xff")
    assert {name: photo.headers[name] for name in ("Content-Type", "Cache-Control", "X-Content-Type-Options")} == {
        "Content-Type": "image/jpeg", "Cache-Control": "private, no-store", "X-Content-Type-Options": "nosniff",
    }  # fmt: skip


def test_no_file_is_read_for_a_report_that_has_all_its_photos(
    gwen: FlaskClient, path: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    address = report(gwen, path, RED_AND_SORE).request.path
    monkeypatch.setattr("companion.usecases.photos.MOST", 1)
    sent = BytesIO()
    Image.new("RGB", (40, 30), "white").save(sent, "PNG")
    first = {**hidden(gwen.get(f"{address}/photo")), "eye": "right"}

    def post(fields: dict[str, str], content: bytes) -> TestResponse:
        return gwen.post(f"{address}/photo", data=fields | {"photo": (BytesIO(content), "eye.png")})

    assert post(first, sent.getvalue()).status_code == 303
    assert post(first, sent.getvalue()).status_code == 303, "sent twice it is one, and no trouble"
    refused = post(first | {"id": str(uuid4())}, b"no photo")
    assert refused.status_code == 422 and "We cannot read this picture." not in text(refused)


def test_more_than_a_photo_is_refused_before_it_is_read(gwen: FlaskClient, path: str) -> None:
    address = report(gwen, path, RED_AND_SORE).request.path
    answer = gwen.post(f"{address}/photo", data={"photo": (BytesIO(bytes(13_000_000)), "eye.jpg")})
    assert answer.status_code == 413
    assert gwen.post(path, data={"photo": (BytesIO(bytes(1_100_000)), "eye.jpg")}).status_code == 413


def test_H10_the_place_is_asked_again_once_the_phones_clock_has_another_zone(
    gwen: FlaskClient, path: str
) -> None:
    """The phone's script keeps its zone in a cookie; the page asks, and one tap answers."""
    asked = "Are you somewhere else now? Tap the place where you are."
    gwen.set_cookie("zone", "Europe/London")
    assert asked not in text(gwen.get("/wrong")), "at home"
    gwen.set_cookie("zone", "Asia/Singapore")
    first = gwen.get("/wrong")
    assert asked in text(first) and '<details class="more" id="place" open>' in first.get_data(as_text=True)
    assert asked in text(report(gwen, path, RED_AND_SORE))
    assert asked not in text(gwen.get("/wrong?country=SG")), "just answered"
    assert asked not in text(gwen.get("/wrong")) and "Call 995" in text(gwen.get("/wrong"))
    gwen.set_cookie("zone", "Europe/London")
    assert asked in text(gwen.get("/wrong")), "and back"
    gwen.set_cookie("zone", "<script>")
    assert asked not in text(gwen.get("/wrong")), "what is no zone says nothing"
