"""One family's night from end to end, without script: on a phone and at a desk, in English and from right to left.

The walk reads pages by their structure, never by their words, so that one walk serves every language; what the
words must say is held elsewhere. Every screen on the way is also looked at as ``looks.assert_well`` looks.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, datetime

import pytest
from looks import assert_well
from people import Cast
from sqlalchemy import update
from windows import EVERY_WAY, OWN_NAMES, Open, Site, Window

from companion.store.models import Person

NAMES = ("Nola", "Gwen", "Gus", "Dora", "Asta", "Pavel", "Mina", "Practice by the mill")
NEXT_MORNING = datetime(2026, 11, 3, 7, 0, tzinfo=UTC)
BY_DAY = datetime(2026, 11, 3, 10, 15, tzinfo=UTC)
RED_AND_PAINFUL = {"right.redness": "red", "right.pain": "severe", "right.light": "marked"}


@dataclass
class Walk:
    """The two sides of the story, and the checks that go along."""

    family: Window
    practice: Window

    def family_sees(self) -> None:
        assert_well(self.family, NAMES)

    def practice_sees(self) -> None:
        assert_well(self.practice, NAMES + OWN_NAMES)


@pytest.mark.parametrize(("size", "language"), EVERY_WAY)
def test_one_familys_night(site: Site, cast: Cast, window: Open, size: dict[str, int], language: str) -> None:
    with site.store.writing() as session:
        session.execute(update(Person).values(language=language))
        session.commit()
    walk = Walk(family=window(size, language), practice=window(size, language))
    link = invite(walk, cast.wearers["Nola"], language)
    join(walk, link)
    a_night(walk, site)
    how_sight_was(walk, site)
    tonight_and_the_curve(walk)
    report = a_red_painful_eye(walk)
    the_practice_takes_it(walk, site, report)
    the_practice_closes_it(walk, site, report)


def invite(walk: Walk, wearer_id: str, language: str) -> str:
    """The practitioner makes a link for Dora, who will look after Nola."""
    practice = walk.practice
    practice.go("/sign-in")
    walk.practice_sees()
    practice.sign_in("Pavel")
    assert practice.path == "/desk"
    walk.practice_sees()
    practice.go(f"/desk/wearers/{wearer_id}/invite")
    walk.practice_sees()
    practice.choose("kind", "guardian")
    practice.fill(name="Dora")
    practice.page.locator("select[name=language]").select_option(language)
    practice.press("main form button.act")
    assert_well(practice, (*NAMES, link_on(practice)))
    return link_on(practice)


def link_on(window: Window) -> str:
    found = re.search(rf"{window.site.address}/join/[\w-]+", window.page.content())
    assert found
    return found[0]


def join(walk: Walk, link: str) -> None:
    """Dora opens the link, sets a password, and agrees before anything else."""
    family = walk.family
    family.page.goto(link)
    walk.family_sees()
    family.fill(name="Dora", login="dora", password="short", password_again="short")
    family.press("main form button.act")
    assert family.page.locator("[aria-invalid=true]").count() == 1, "a password that is too short is named"
    walk.family_sees()
    family.fill(
        name="Dora", login="dora", password="four plain long words", password_again="four plain long words"
    )
    family.press("main form button.act")
    assert family.path == "/consent"
    walk.family_sees()
    family.press("main form button.act")
    assert family.path.endswith("/tonight")
    family.page.goto(link)
    assert family.page.locator("input[name=password]").count() == 0, "the link worked once"
    walk.family_sees()
    family.go("/tonight")


def a_night(walk: Walk, site: Site) -> None:
    """Lenses in at half past eight in the evening, out at seven in the morning."""
    family = walk.family
    walk.family_sees()
    family.press("form:has(input[name=kind][value=lenses_in]) button.great")
    assert family.page.locator("form[action$='/withdraw']").count() == 1, "a slip can be undone"
    walk.family_sees()
    site.clock.now = NEXT_MORNING
    family.go("/tonight")
    walk.family_sees()
    family.press("form:has(input[name=kind][value=lenses_out]) button.great")
    walk.family_sees()


def how_sight_was(walk: Walk, site: Site) -> None:
    """Good in the right eye, sharp in the left."""
    family = walk.family
    site.clock.advance(minutes=40)
    family.go("/tonight")
    family.press("main a[href$='/sight']")
    walk.family_sees()
    family.choose("word_right", "good")
    family.choose("word_left", "sharp")
    family.press("main form button.great")
    assert family.path.endswith("/tonight")
    walk.family_sees()


def tonight_and_the_curve(walk: Walk) -> None:
    """An answer in a sentence, a curve for each eye, and a table that says the same."""
    family = walk.family
    assert family.says("h1").strip()
    curves = family.page.locator("figure.band svg")
    assert curves.count() == 2
    for i in range(2):
        assert len(curves.nth(i).locator(".fan").get_attribute("points") or "") > 100
        assert curves.nth(i).locator(".night").count() >= 1, "last night stands in the drawing"
    family.page.locator("details:has(table) summary").first.click()
    assert family.page.locator("table tbody tr").count() >= 6
    walk.family_sees()


def a_red_painful_eye(walk: Walk) -> str:
    """One tap from anywhere; emergency advice first, then questions, then what to do. Returns its path."""
    family = walk.family
    family.press("a.something-wrong")
    assert family.path == "/wrong"
    assert family.page.locator("main > section").first.get_attribute("class") == "alarm", "advice comes first"
    if family.page.locator("[data-safety-text=held]").count():
        assert family.page.locator("main > a[href^='tel:']").count(), "where it is held back, a number first"
    walk.family_sees()
    family.press("a[href*='/wrong?eyes=right']")
    while family.page.locator("input[name=page]").count():
        walk.family_sees()
        answer_this_page(family, RED_AND_PAINFUL)
        family.press("main form button.great")
    assert "/reports/" in family.path
    assert family.page.locator("main section").first.get_attribute("class") == "alarm"
    assert family.page.locator("main section.alarm .level").inner_text()
    assert family.page.locator("a[href^='tel:']").count() >= 1, "whom to call stands there"
    assert family.page.locator("#told li.open").count() >= 1, "nobody has taken it yet, and the page says so"
    walk.family_sees()
    return family.path


def answer_this_page(window: Window, worst: dict[str, str]) -> None:
    """Answer each question on this page with what ``worst`` says of it, else with its best option."""
    radios = window.page.locator("main form input[type=radio]")
    names = dict.fromkeys(radios.nth(i).get_attribute("name") or "" for i in range(radios.count()))
    for name in names:
        if name in worst:
            window.choose(name, worst[name])
        else:
            window.page.locator(f"input[name='{name}']").first.check()


def the_practice_takes_it(walk: Walk, site: Site, report: str) -> None:
    """The mail goes out, names nobody, and leads to a button; the family's page follows."""
    family, practice = walk.family, walk.practice
    site.work()
    letters = [one for one in site.postbox.letters if "/desk/" in one.get_content()]
    assert len(letters) == 1, "the other letters go to the child's guardians"
    text = letters[0].get_content()
    assert "Nola" not in text + letters[0]["Subject"]
    link = re.search(rf"{site.address}/\S+", text)
    assert link
    family.go(report)
    walk.family_sees()
    before = family.page.locator("#told li.done").count()
    practice.go("/desk")
    walk.practice_sees()
    practice.page.goto(link[0])
    walk.practice_sees()
    family.go(report)
    assert family.page.locator("#told li.done").count() == before, "opening the mail's page takes nothing"
    practice.press("main form button.great")
    assert re.fullmatch(r"/desk/alerts/[\w-]+", practice.path)
    walk.practice_sees()
    family.go(report)
    assert family.page.locator("#told li.done").count() > before
    assert "Pavel" in family.says("#told")
    walk.family_sees()


def the_practice_closes_it(walk: Walk, site: Site, report: str) -> None:
    """Reached, seen, closed with an outcome; the family reads that, and the eye stays on hold."""
    family, practice = walk.family, walk.practice
    site.clock.advance(minutes=10)
    practice.press("button[name=reached][value=yes]")
    family.go(report)
    walk.family_sees()
    reached = family.page.locator("#told li.done").count()
    practice.choose("outcome", "seen_here")
    practice.press("#close form button.act")
    assert practice.page.locator("[aria-invalid=true], .wrong-here").count() >= 1, "closing this asks twice"
    walk.practice_sees()
    practice.page.locator("input[name=confirmed]").check()
    practice.press("#close form button.act")
    walk.practice_sees()
    assert practice.page.locator("#close").count() == 0
    family.go(report)
    assert family.page.locator("#told li.done").count() > reached
    walk.family_sees()
    family.go("/tonight")
    assert family.page.locator("form:has(input[name=kind][value=lenses_in])").count() == 0, "no lens while on hold"
    walk.family_sees()
    practice.go("/desk")
    walk.practice_sees()
