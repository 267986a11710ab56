"""Every screen with life in it, beside those of the story: on a phone and at a desk, in both directions."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import pytest
from looks import assert_well
from people import PASSWORD, ZONE, Cast
from sqlalchemy import select, update
from windows import EVERY_WAY, OWN_NAMES, Open, Site, Window

from companion.common.ids import new_id
from companion.store.models import Person, WearerState
from companion.usecases.actor import actor_of
from companion.usecases.consents import TEXT_VERSION, give
from companion.usecases.recording import record_entries

NAMES = (
    *("Nola", "Timo", "Wim", "Gwen", "Gus", "Hedda", "Asta", "Pavel", "Mina", "Ann", "Practice by the mill"),
    *(*OWN_NAMES, ZONE, "right dot", "left dot", "mm", "A new case since Monday.", "gwen"),
)


@pytest.fixture
def lived_in(site: Site, cast: Cast) -> Cast:
    """Two weeks of Nola's nights, one not worn, one odd, one silent, with checks and a note."""
    evening = site.clock() - timedelta(days=14)
    entries: list[dict[str, Any]] = []
    for day in range(14):
        start = evening + timedelta(days=day)
        match day:
            case 4:
                entries.append(entry("no_lenses", start, eyes="both", night=start.date().isoformat()))
            case 6:
                pass
            case 9:
                entries.append(entry("lenses_in", start, eyes="both"))
                entries.append(entry("lenses_out", start + timedelta(hours=21), eyes="both"))
            case _:
                entries.append(entry("lenses_in", start, eyes="both"))
                entries.append(entry("lenses_out", start + timedelta(hours=10), eyes="both"))
                entries.append(entry("sight", start + timedelta(hours=11), eye="right", word="good"))
                entries.append(entry("sight", start + timedelta(hours=11), eye="left", logmar=0.1, distance_m=3))
    entries.append(entry("note", evening + timedelta(days=3), text="A new case since Monday."))
    with site.store.writing() as session:
        gwen = session.get_one(Person, cast.people["Gwen"])
        receipt = record_entries(session, actor_of(session, gwen, ""), cast.wearers["Nola"], entries, site.clock())
    assert not receipt.rejected
    with site.store.writing() as session:
        for name in ("Gwen", "Wim"):
            person = session.get_one(Person, cast.people[name])
            give(session, actor_of(session, person, ""), TEXT_VERSION, "en", site.clock())
    site.work()
    return cast


def entry(kind: str, at: datetime, **payload: Any) -> dict[str, Any]:
    moment = at.isoformat()
    return {"id": new_id(), "kind": kind, "at": moment, "zone": ZONE, "made_at": moment, "payload": payload}


def speak(site: Site, language: str) -> None:
    with site.store.writing() as session:
        session.execute(update(Person).values(language=language))
        session.commit()


def look_at(window: Window, path: str) -> None:
    window.go(path)
    open_everything(window)
    assert_well(window, NAMES)


def open_everything(window: Window) -> None:
    """Open what is folded away, so that it is looked at as well."""
    window.page.evaluate("document.querySelectorAll('details').forEach(one => one.open = true)")


@pytest.mark.parametrize(("size", "language"), EVERY_WAY)
def test_the_familys_screens(
    site: Site, lived_in: Cast, window: Open, size: dict[str, int], language: str
) -> None:
    speak(site, language)
    family, w = window(size, language), f"/w/{lived_in.wearers['Nola']}"
    family.sign_in("Gwen")
    nights = [(site.clock() - timedelta(days=14 - day)).date() for day in (0, 4, 6, 9)]
    paths = [f"{w}/tonight", f"{w}/diary", f"{w}/sight", f"{w}/note", f"{w}/planned", "/us", "/consent", "/wrong"]
    for path in [*paths, *(f"{w}/diary/{night}" for night in nights), "/no/such/page", "/desk"]:
        look_at(family, path)


@pytest.mark.parametrize(("size", "language"), EVERY_WAY)
def test_the_practices_screens(
    site: Site, lived_in: Cast, window: Open, size: dict[str, int], language: str
) -> None:
    speak(site, language)
    desk, page = window(size, language), f"/desk/wearers/{lived_in.wearers['Nola']}"
    desk.sign_in("Pavel")
    sheets = [f"{page}/{sheet}" for sheet in ("plan", "clearance", "refraction", "lens", "visit", "invite")]
    for path in ["/desk", "/desk/wearers", "/desk/wearers/new", page, *sheets, "/us"]:
        look_at(desk, path)


@pytest.mark.parametrize("dark", [False, True], ids=["day", "lamp"])
@pytest.mark.parametrize(("size", "language"), EVERY_WAY)
def test_sight_that_the_nights_do_not_explain(
    site: Site, lived_in: Cast, window: Open, size: dict[str, int], language: str, dark: bool
) -> None:
    """Both eyes worse than foretold, perhaps swapped, one of them told from the population again."""
    speak(site, language)
    with site.store.writing() as session:
        state = session.scalars(select(WearerState).where(WearerState.wearer_id == lived_in.wearers["Nola"])).one()
        assert state.about is not None
        found = {"checks": 2, "of": 3, "worse_logmar": 0.21, "perhaps_swapped": True}
        eyes = {eye: {**one, "surprise": found} for eye, one in state.about["eyes"].items()}
        eyes["left"] |= {"fell_back": "stale", "too_much_plus": 0.12}
        state.about = {**state.about, "eyes": eyes}
        session.commit()
    family = window(size, language, dark=dark)
    family.sign_in("Gwen")
    look_at(family, f"/w/{lived_in.wearers['Nola']}/tonight")
    assert family.page.locator("ol > li").count() == 3
    desk = window(size, language, dark=dark)
    desk.sign_in("Pavel")
    for path in ("/desk", "/desk/wearers", f"/desk/wearers/{lived_in.wearers['Nola']}"):
        look_at(desk, path)


@pytest.mark.parametrize(("size", "language"), EVERY_WAY)
def test_what_a_stranger_sees(site: Site, cast: Cast, window: Open, size: dict[str, int], language: str) -> None:
    """Signed out: advice to the end, nothing kept, and the practice not told, which the page says."""
    stranger = window(size, language)
    for path in ("/sign-in", "/wrong", "/wrong?country=GB", "/style", "/no/such/page", "/join/no-such-link"):
        look_at(stranger, path)
    stranger.go("/wrong")
    stranger.press("a[href*='/wrong/questions?eyes=both']")
    while stranger.page.locator("input[name=page]").count() and stranger.page.locator("input[type=radio]").count():
        assert_well(stranger, NAMES)
        radios = stranger.page.locator("main form input[type=radio]")
        for name in dict.fromkeys(radios.nth(i).get_attribute("name") for i in range(radios.count())):
            worst = {"left.redness": "red", "left.pain": "moderate"}.get(name or "")
            picked = f"input[name='{name}']" + (f"[value='{worst}']" if worst else "")
            stranger.page.locator(picked).first.check()
        stranger.press("main form button.great")
    assert stranger.page.locator(".level").count() >= 1
    open_everything(stranger)
    assert_well(stranger, NAMES)


@pytest.mark.parametrize(("size", "language"), EVERY_WAY)
def test_a_form_whose_sign_in_ran_out_is_kept(
    site: Site, lived_in: Cast, window: Open, size: dict[str, int], language: str
) -> None:
    speak(site, language)
    family, w = window(size, language), f"/w/{lived_in.wearers['Nola']}"
    family.sign_in("Gwen")
    family.go(f"{w}/note")
    family.page.locator("textarea").fill("A new case since Monday.")
    family.page.context.clear_cookies(name="companion")
    family.press("main form button.act")
    assert_well(family, NAMES)
    family.fill(login="gwen", password=PASSWORD)
    family.press("main form button.act")
    assert_well(family, NAMES)
    family.press("main form button.act")
    assert family.path == f"{w}/diary"
    family.go(f"{w}/diary/{site.clock().date()}")
    assert family.page.get_by_text("A new case since Monday.").count() >= 1
