"""The desk, the call sheet and how reports come in, with life in them, at a desk and on a phone."""

from __future__ import annotations

from typing import Any

import pytest
from looks import assert_well
from people import Cast
from sqlalchemy import select
from telling import actor_named, report, tell
from test_screens import NAMES, lived_in, look_at, speak  # noqa: F401
from windows import PHONE, Open, Site

from companion.store.models import Alert, Hold, Lens, Person
from companion.usecases import alerts

SCREEN = {"width": 1280, "height": 800}
GRAVE = {"redness": "red", "pain": "moderate", "vision": "blur_stays", "light": "marked", "discharge": "watery"}
LOOKS = [
    pytest.param(SCREEN, "en", False, id="screen-en-day"),
    pytest.param(PHONE, "en", True, id="phone-en-lamp"),
    pytest.param(SCREEN, "en-x-mirror", True, id="screen-en-x-mirror-lamp", marks=pytest.mark.slow),
    pytest.param(SCREEN, "zh-Hans", True, id="screen-zh-Hans-lamp"),
    pytest.param(PHONE, "zh-Hans", False, id="phone-zh-Hans-day", marks=pytest.mark.slow),
    pytest.param(PHONE, "ar", True, id="phone-ar-lamp"),
    pytest.param(SCREEN, "ar", False, id="screen-ar-day", marks=pytest.mark.slow),
]


@pytest.fixture
def busy(site: Site, lived_in: Cast) -> Cast:  # noqa: F811
    """Nola's red, sore eye, told in the evening and received at night, after fourteen nights in the diary; Timo's
    red eye, taken without reaching anybody; Wim's pink one, closed."""
    made = site.clock()
    people = {name: actor_named(site.store, person) for name, person in lived_in.people.items()}

    def told(wearer: str, author: str, **said: Any) -> str:
        now = site.clock()
        sent = report(made, **said)
        sent["payload"]["language"] = "ar"
        tell(site.store, people[author], lived_in.wearers[wearer], now, sent)
        with site.store.reading() as session:
            return session.scalars(select(Alert.id).where(Alert.wearer_id == lived_in.wearers[wearer])).one()

    with site.store.writing() as session:
        session.get_one(Person, lived_in.people["Gwen"]).phone = "+441632960123"
        for lens in session.scalars(select(Lens)):
            lens.base_curve_mm, lens.diameter_mm = 8.35, 10.6
        session.commit()
    closed, taken = told("Wim", "Wim", right={"redness": "pink"}), told("Timo", "Hedda", left={"redness": "red"})
    with site.store.writing() as session:
        alerts.close(session, people["Pavel"], closed, "no_fault_found", "", site.clock())
    with site.store.writing() as session:
        alerts.take(session, people["Asta"], taken, site.clock())
    site.clock.advance(hours=6, minutes=30)
    told("Nola", "Gwen", general={"hygiene": "water"}, right=GRAVE)
    site.work()
    return lived_in


def worst(site: Site) -> str:
    with site.store.reading() as session:
        return session.scalars(select(Alert.id).order_by(Alert.level.desc())).first() or ""


@pytest.mark.parametrize(("size", "language", "dark"), LOOKS)
def test_the_desks_screens(
    site: Site, busy: Cast, window: Open, size: dict[str, int], language: str, dark: bool
) -> None:
    speak(site, language)
    desk = window(size, language, dark=dark)
    desk.sign_in("Pavel")
    sheet = f"/desk/alerts/{worst(site)}"
    for path in ("/desk", f"{sheet}/take", sheet, "/desk/reports"):
        look_at(desk, path)
    desk.go(f"{sheet}/take")
    desk.press("main form button.act")
    look_at(desk, sheet)
    with site.store.reading() as session:
        mine = select(Hold.id).where(Hold.eye == "right", Hold.wearer_id == busy.wearers["Nola"])
        hold_id = session.scalars(mine).one()
    desk.go(sheet)
    desk.page.locator(f"details:has(#reason-{hold_id}) > summary").click()
    desk.press(f"form:has(#reason-{hold_id}) button")
    assert desk.page.locator("[aria-invalid=true]").count() == 1, "a hold is lifted with a reason"
    assert_well(desk, NAMES)


ON_ONE_SCREEN = {
    "whom to call": ".is-call a[href^='tel:']",
    "in which language": ".is-call p .quiet",
    "lens in or out": ".is-call dd",
    "the hold": ".is-call details summary",
    "the state": ".is-state h2",
    "contact": ".is-state button[name=reached][value=yes]",
    "no contact": ".is-state button[name=reached][value=no]",
    "the worst answer": ".is-answers .worst li",
    "what the family was told": ".is-told > ul li",
    "lens data": ".is-lenses dd",
    "nights": ".is-lenses .nights-strip",
    "the curve": ".is-curve .curves > figure svg",
    "made and received": ".sheet-head .late",
}


@pytest.mark.parametrize("language", ["en", "zh-Hans", "ar"])
def test_the_call_sheet_is_on_one_screen(site: Site, busy: Cast, window: Open, language: str) -> None:
    """At 1280 by 800, without scrolling, after the report was taken: all that a call needs."""
    speak(site, language)
    desk = window(SCREEN, language)
    desk.sign_in("Pavel")
    desk.go(f"/desk/alerts/{worst(site)}/take")
    desk.press("main form button.act")
    lows = {}
    for what, selector in ON_ONE_SCREEN.items():
        found = desk.page.locator(selector)
        lows[what] = max(box["y"] + box["height"] for one in found.all() if (box := one.bounding_box()))
    assert {what: low for what, low in lows.items() if low > SCREEN["height"]} == {}
    assert desk.page.locator(".nights-strip tbody td").count() == 2 * 14
    worn = desk.page.locator(".nights-strip tbody tr").first.locator("td .for-ears").all_inner_texts()
    assert len(worn) == 14, "each night has its word for ears"
