"""A photo after a report, with and without script, and as family and practice see it."""

from __future__ import annotations

from io import BytesIO

import pytest
from looks import assert_readable_by_all, assert_well
from people import Cast
from PIL import Image, ImageDraw
from sqlalchemy import select
from windows import DESK, EVERY_WAY, PHONE, Open, Site, Window

from companion.common.ids import new_id
from companion.store.models import Alert, Person, Photo
from companion.triage.answers import answers_from_file
from companion.usecases.actor import actor_of
from companion.usecases.consents import TEXT_VERSION, give
from companion.usecases.recording import record_entries

NAMES = ("Nola", "Gwen", "Practice by the mill")
SAID = {"right": {"redness": "red", "pain": "moderate"}}


HOLD = """() => {
    const { submit } = HTMLFormElement.prototype;
    HTMLFormElement.prototype.submit = function () {
        HTMLFormElement.prototype.submit = submit;
        window.held = this;
    };
}"""
"""Stops a form that a script is about to send."""
LOOK = """async () => {
    const [file] = window.held.elements.photo.files;
    const { width, height } = await createImageBitmap(file);
    return [file.name, width, height, file.size, (await file.text()).slice(0, 2000)];
}"""


def photo_of(size: tuple[int, int]) -> bytes:
    """A drawn eye with the place where it was taken."""
    image = Image.new("RGB", size, "#f3ddd6")
    pen = ImageDraw.Draw(image)
    pen.ellipse((size[0] * 0.35, size[1] * 0.25, size[0] * 0.65, size[1] * 0.75), fill="#5b4a3a")
    exif = Image.Exif()
    exif.get_ifd(0x8825).update({1: "N", 2: (51.0, 30.0, 0.0)})
    made = BytesIO()
    image.save(made, "JPEG", exif=exif, quality=98)
    return made.getvalue()


def reported(site: Site, cast: Cast, open_window: Open, language: str, **more: object) -> tuple[Window, str]:
    """Gwen's browser after a report, and where that stands."""
    raw = {
        "id": new_id(), "kind": "symptom_report", "at": site.clock().isoformat(), "zone": "Europe/London",
        "made_at": site.clock().isoformat(), "payload": {"answers": answers_from_file(SAID).document()},
    }  # fmt: skip
    with site.store.writing() as session:
        person = session.get_one(Person, cast.people["Gwen"])
        person.language = language
        session.flush()
        gwen = actor_of(session, person, "")
        give(session, gwen, TEXT_VERSION, language, site.clock())
    with site.store.writing() as session:
        record_entries(session, gwen, cast.wearers["Nola"], [raw], site.clock())
    opened = open_window(language=language, **more)
    opened.sign_in("Gwen")
    return opened, f"/w/{cast.wearers['Nola']}/reports/{raw['id']}"


def send(window: Window, address: str, photo: bytes) -> None:
    window.go(f"{address}/photo")
    window.page.locator("#photo").set_input_files({"name": "eye.jpg", "mimeType": "image/jpeg", "buffer": photo})
    window.press("form button.great")
    assert window.path == address


@pytest.mark.parametrize(("size", "language"), EVERY_WAY)
def test_every_screen_of_a_photo_is_fit_for_all(
    site: Site, cast: Cast, window: Open, size: dict[str, int], language: str
) -> None:
    mine, address = reported(site, cast, window, language, size=size)
    mine.go(f"{address}/photo")
    assert mine.page.locator("input[name=eye][value=right]").is_checked(), "the eye that the report is about"
    assert_well(mine, NAMES)
    send(mine, address, photo_of((900, 600)))
    assert mine.page.locator("#photos img").evaluate("one => one.complete && one.naturalWidth") == 900
    assert_well(mine, NAMES)


def test_with_script_it_is_made_smaller_before_it_leaves_the_phone(site: Site, cast: Cast, window: Open) -> None:
    mine, address = reported(site, cast, window, "en", script=True)
    photo = photo_of((3000, 2000))
    mine.go(f"{address}/photo")
    mine.page.evaluate(HOLD)
    mine.page.locator("#photo").set_input_files({"name": "IMG_1.jpg", "mimeType": "image/jpeg", "buffer": photo})
    mine.page.locator("form button.great").click()
    mine.page.wait_for_function("() => window.held")
    name, width, height, size, text = mine.page.evaluate(LOOK)
    assert (name, width, height) == ("photo.jpg", 1600, 1067)
    assert size < len(photo) and "Exif" not in text and b"Exif" in photo
    with mine.page.expect_navigation():
        mine.page.evaluate("() => window.held.submit()")
    with site.store.reading() as session:
        kept = session.scalars(select(Photo)).one()
        assert (kept.width, kept.height, kept.eye) == (1600, 1067, "right")


def test_what_this_browser_cannot_read_is_sent_as_it_is_and_the_page_says_so(
    site: Site, cast: Cast, window: Open
) -> None:
    mine, address = reported(site, cast, window, "en", script=True)
    mine.go(f"{address}/photo")
    spoilt = {"name": "eye.jpg", "mimeType": "image/jpeg", "buffer": b"no photo"}
    mine.page.locator("#photo").set_input_files(spoilt)
    mine.press("form button.great")
    assert "We cannot read this picture." in mine.says()
    assert_well(mine, NAMES)


def test_the_call_sheet_shows_it_beside_the_answers(site: Site, cast: Cast, window: Open) -> None:
    mine, address = reported(site, cast, window, "en", size=PHONE)
    send(mine, address, photo_of((900, 600)))
    staff = window(size=DESK)
    staff.sign_in("Asta")
    with site.store.reading() as session:
        alert_id = session.scalars(select(Alert.id)).one()
    staff.go(f"/desk/alerts/{alert_id}")
    assert staff.page.locator(".photos img").evaluate("one => one.complete && one.naturalWidth") == 900
    assert "It changes no level: the answers do." in staff.says()
    assert_readable_by_all(staff.page)
