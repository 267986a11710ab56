"""The screens of lens care, on a phone and at a desk, in both directions, by day and by lamp, without script."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from looks import assert_well
from people import Cast
from sqlalchemy import update
from windows import EVERY_WAY, PHONE, Open, Site, Window

from companion.regimen.care import load_care
from companion.store.models import CareRegimen, Person
from companion.usecases.actor import actor_of
from companion.usecases.consents import TEXT_VERSION, give

NAMES = ("Nola", "Gwen", "Pavel", "Mina", "Practice by the mill", "right dot", "left dot")
MORNING = datetime(2026, 11, 3, 7, 0, tzinfo=UTC)


@pytest.fixture
def agreed(site: Site, cast: Cast) -> Cast:
    """Gwen has agreed, and the practice has signed a peroxide system."""
    with site.store.writing() as session:
        session.add(
            CareRegimen(
                practice_id=cast.practices["mill"],
                system="peroxide",
                numbers={},
                signed_by=cast.people["Pavel"],
                signed_at=site.clock(),
            )
        )
        gwen = session.get_one(Person, cast.people["Gwen"])
        give(session, actor_of(session, gwen, ""), TEXT_VERSION, "en", site.clock())
    return cast


def speak(site: Site, language: str) -> None:
    with site.store.writing() as session:
        session.execute(update(Person).values(language=language))
        session.commit()


def unchecked(window: Window) -> None:
    """Switch off the browser's own check of a form: what the server says is looked at."""
    window.page.locator("main form").evaluate("form => form.noValidate = true")


def look(window: Window) -> None:
    window.page.evaluate("document.querySelectorAll('details').forEach(one => one.open = true)")
    assert_well(window, NAMES)


@pytest.mark.parametrize(("size", "language"), EVERY_WAY)
def test_care_from_the_evening_to_the_morning(
    site: Site, agreed: Cast, window: Open, size: dict[str, int], language: str
) -> None:
    speak(site, language)
    family, w = window(size, language), f"/w/{agreed.wearers['Nola']}"
    family.sign_in("Gwen")
    family.press("nav.around a[href$='/care']")
    assert family.path == f"{w}/care"
    look(family)
    family.press("a[href*='/care/case']")
    look(family)
    unchecked(family)
    family.fill(day="2026-11-03")
    family.press("main form button.act")
    assert family.page.locator("#day-problem").count() == 1, "a day that is still to come is refused"
    look(family)
    family.fill(day="2026-11-02")
    family.press("main form button.act")
    assert family.path == f"{w}/care"
    for item in ("bottle", "lens", "protein"):
        family.go(f"{w}/care/{item}")
        look(family)
    site.clock.now = MORNING
    family.go(f"{w}/care")
    family.press("#soak form button.act")
    look(family)
    site.clock.now = MORNING + timedelta(hours=7)
    family.go(f"{w}/care")
    look(family)


@pytest.mark.parametrize(("size", "language"), EVERY_WAY)
def test_handling_help(site: Site, agreed: Cast, window: Open, size: dict[str, int], language: str) -> None:
    speak(site, language)
    family, w = window(size, language), f"/w/{agreed.wearers['Nola']}"
    family.sign_in("Gwen")
    for topic in load_care().help:
        family.go(f"{w}/care/help/{topic}")
        look(family)


@pytest.mark.parametrize(("size", "language"), EVERY_WAY)
def test_H9_a_stuck_lens_from_the_clock_to_the_report(
    site: Site, agreed: Cast, window: Open, size: dict[str, int], language: str
) -> None:
    speak(site, language)
    site.clock.now = MORNING
    family, w = window(size, language), f"/w/{agreed.wearers['Nola']}"
    family.sign_in("Gwen")
    family.go(f"{w}/care")
    family.press("a[href$='/care/help/stuck']")
    family.press("button[name=eyes][value=right]")
    assert family.page.locator("main time").count() == 3, "since when, and two ends as clock times"
    look(family)
    for minutes, heads in ((16, "a.great[href^='tel:']"), (31, "section.alarm a.great")):
        site.clock.now = MORNING + timedelta(minutes=minutes)
        family.press(".card .row > a.button")
        assert family.page.locator(heads).count() == 1
        look(family)
    family.press("section.alarm a.great")
    assert family.path == f"{w}/wrong"
    for name in ("general.very_unwell", "right.chemical", "right.injury"):
        family.choose(name, "no")
    family.press("main form button.great")
    family.press("main form button.great")
    assert family.page.locator("input[name='right.lens'][value=stuck_long_or_broken]").is_checked()
    assert_well(family, NAMES)


@pytest.mark.parametrize(("size", "language"), EVERY_WAY)
def test_the_practice_signs(site: Site, agreed: Cast, window: Open, size: dict[str, int], language: str) -> None:
    speak(site, language)
    desk = window(size, language)
    desk.sign_in("Pavel")
    desk.press("a[href='/desk/care']")
    look(desk)
    desk.press("a[href='/desk/care?system=multipurpose']")
    desk.fill(case_days="91")
    unchecked(desk)
    desk.press("main form button.act")
    assert desk.page.locator("#case_days-problem").count() == 1
    look(desk)
    desk.fill(case_days="30")
    desk.press("main form button.act")
    assert desk.path == "/desk/care"
    look(desk)


def test_by_day_it_is_paper(site: Site, agreed: Cast, window: Open) -> None:
    """In the evening the same screens were looked at by lamp."""
    site.clock.now = MORNING + timedelta(hours=4)
    family, w = window(PHONE, "en"), f"/w/{agreed.wearers['Nola']}"
    family.sign_in("Gwen")
    for path in (f"{w}/care", f"{w}/care/help/stuck"):
        family.go(path)
        look(family)
