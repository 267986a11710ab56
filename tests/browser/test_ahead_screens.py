"""The screens of what is to come: days that matter, a night off, the first weeks, other plans."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from looks import assert_well
from people import ZONE, Cast
from sqlalchemy import update
from windows import EVERY_WAY, PHONE, Open, Site, Window

from companion.common.ids import new_id
from companion.store.models import Person, Wearer
from companion.usecases.actor import actor_of
from companion.usecases.consents import TEXT_VERSION, give
from companion.usecases.prescribing import set_clearance
from companion.usecases.recording import record_entries

HOSTILE = "</h2><script>x</script> ‮%(day)s & <b>"
NAMES = ("Nola", "Gwen", "Gus", "Pavel", "Mina", "Practice by the mill", "right dot", "left dot", ZONE)
MORNING = datetime(2026, 11, 3, 8, 0, tzinfo=UTC)


@pytest.fixture
def agreed(site: Site, cast: Cast) -> Cast:
    """Gwen has agreed; Nola, in her third week, wore every night but the one that begins now, and is cleared."""
    evening = site.clock().replace(hour=21, minute=30)
    entries: list[dict[str, Any]] = []
    for ago in range(17, 0, -1):
        start = evening - timedelta(days=ago)
        entries.append(entry("lenses_in", start, eyes="both"))
        entries.append(entry("lenses_out", start + timedelta(hours=9), eyes="both"))
        entries.append(entry("sight", start + timedelta(hours=20), eye="right", word="good"))
        entries.append(entry("sight", start + timedelta(hours=20), eye="left", word="sharp"))
    entries.append(entry("no_lenses", site.clock(), eyes="both", night="2026-11-02"))
    with site.store.writing() as session:
        gwen = actor_of(session, session.get_one(Person, cast.people["Gwen"]), "")
        assert not record_entries(session, gwen, cast.wearers["Nola"], entries, site.clock()).rejected
    with site.store.writing() as session:
        give(session, gwen, TEXT_VERSION, "en", site.clock())
    with site.store.writing() as session:
        session.get_one(Wearer, cast.wearers["Nola"]).first_night = (evening - timedelta(days=17)).date()
        session.commit()
    with site.store.writing() as session:
        pavel = actor_of(session, session.get_one(Person, cast.people["Pavel"]), "")
        form = {"may_skip": "yes", "longest_gap_nights": "2"}
        set_clearance(session, pavel, cast.wearers["Nola"], form, site.clock())
    return cast


def entry(kind: str, at: datetime, **payload: Any) -> dict[str, Any]:
    moment = at.isoformat()
    return {"id": new_id(), "kind": kind, "at": moment, "zone": ZONE, "made_at": moment, "payload": payload}


def speak(site: Site, language: str) -> None:
    with site.store.writing() as session:
        session.execute(update(Person).values(language=language))
        session.commit()


def look(window: Window) -> None:
    window.page.evaluate("document.querySelectorAll('details').forEach(one => one.open = true)")
    assert_well(window, NAMES)


def add(window: Window, label: str, day: str, driving: str = "no") -> None:
    window.fill(label=label, day=day, starts="09:00", ends="17:00")
    window.choose("driving", driving)
    window.press("main form button.act")


@pytest.mark.parametrize(("size", "language"), EVERY_WAY)
def test_a_day_that_matters_from_its_form_to_tonight_and_off_the_list(
    site: Site, agreed: Cast, window: Open, size: dict[str, int], language: str
) -> None:
    speak(site, language)
    site.clock.now = MORNING
    family, w = window(size, language), f"/w/{agreed.wearers['Nola']}"
    family.sign_in("Gwen")
    family.go(f"{w}/tonight")
    family.press(f"a[href='{w}/days']")
    look(family)
    family.page.locator("main form").last.evaluate("form => form.noValidate = true")
    add(family, "Piano", "2026-11-01")
    assert family.page.locator("#day-problem").count() == 1, "a day that is over is refused"
    assert family.page.locator("[name=label]").input_value() == "Piano"
    look(family)
    add(family, "Piano", "2026-11-07", "yes")
    assert family.path == f"{w}/days"
    add(family, HOSTILE, "2026-11-05")
    add(family, "Trip", "2026-12-20")
    assert family.page.locator("main section.card").count() == 3
    assert "<b>" in family.says("main section.card h2")
    look(family)
    family.go(f"{w}/tonight")
    assert family.page.locator("main p.aside bdi").count() == 2, "those of this week alone"
    look(family)
    family.go(f"{w}/days")
    family.press("main section.card form button")
    assert family.page.locator("main section.card").count() == 2


@pytest.mark.parametrize(("size", "language"), EVERY_WAY)
def test_after_a_night_off_and_in_the_first_weeks(
    site: Site, agreed: Cast, window: Open, size: dict[str, int], language: str
) -> None:
    speak(site, language)
    site.clock.now = MORNING
    family, w = window(size, language), f"/w/{agreed.wearers['Nola']}"
    family.sign_in("Gwen")
    family.go(f"{w}/tonight")
    assert family.page.locator("main section.card ul li").count() >= 3
    look(family)
    family.press(f"a[href='{w}/first-weeks']")
    assert family.page.locator("main table").count() == 2
    look(family)


@pytest.mark.parametrize(("size", "language"), EVERY_WAY)
def test_other_plans_and_the_way_back(
    site: Site, agreed: Cast, window: Open, size: dict[str, int], language: str
) -> None:
    speak(site, language)
    desk, page = window(size, language), f"/desk/wearers/{agreed.wearers['Nola']}"
    desk.sign_in("Pavel")
    desk.go(page)
    look(desk)
    desk.press(f"a[href='{page}/plans']")
    assert desk.page.locator("main details").count() == 8, "from 7 nights a week to none"
    assert desk.page.locator("main form").count() == 0, "it signs nothing"
    look(desk)


def test_by_lamp_the_evening_before(site: Site, agreed: Cast, window: Open) -> None:
    """The other screens were looked at by day. Tonight's answer rests on the day, and says so."""
    site.clock.now = datetime(2026, 11, 6, 20, 30, tzinfo=UTC)
    family, w = window(PHONE, "en"), f"/w/{agreed.wearers['Nola']}"
    family.sign_in("Gwen")
    family.go(f"{w}/days")
    add(family, "Piano", "2026-11-07", "yes")
    look(family)
    for path in ("tonight", "first-weeks"):
        family.go(f"{w}/{path}")
        look(family)
    family.go(f"{w}/tonight")
    assert "Lenses in tonight." in family.says("h1")
    assert "A day that matters comes next." in family.says()
    site.clock.now = datetime(2026, 11, 7, 8, 0, tzinfo=UTC)
    family.go(f"{w}/tonight")
    assert "This app can't say who may drive." in family.says("main p.aside")
    look(family)


def test_a_day_of_a_held_eye_names_no_night(site: Site, agreed: Cast, window: Open) -> None:
    from companion.triage.answers import answers_from_file

    site.clock.now = MORNING
    sore = answers_from_file({"right": {"redness": "red", "pain": "moderate"}}).document()
    with site.store.writing() as session:
        gwen = actor_of(session, session.get_one(Person, agreed.people["Gwen"]), "")
        told = [entry("symptom_report", MORNING, answers=sore)]
        assert not record_entries(session, gwen, agreed.wearers["Nola"], told, MORNING).rejected
    family, w = window(PHONE, "en"), f"/w/{agreed.wearers['Nola']}"
    family.sign_in("Gwen")
    family.go(f"{w}/days")
    add(family, "Piano", "2026-11-07", "yes")
    assert "Lenses may not go in for now" in family.says()
    assert "Wear the lenses" not in family.says()
    look(family)
    family.go(f"{w}/tonight")
    look(family)
