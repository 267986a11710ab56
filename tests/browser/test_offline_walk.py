"""A family's evening and morning on the phone, offline and back, in three languages; and what ears hear of it."""

from __future__ import annotations

from datetime import timedelta

import pytest
from looks import assert_well
from pages_painted import assert_page_same
from people import Cast
from playwright.sync_api import Page, expect
from sqlalchemy import select
from test_screens import NAMES, lived_in  # noqa: F401
from test_tonight_offline import installed, rows
from test_tonight_painted import assert_same, speak
from windows import Open, Site
from wrong_walk import on_the_phone

from companion.phrasebook.languages import LANGUAGES
from companion.phrasebook.phrases import Phrases
from companion.store.models import EntryRow

IN, OUT = "lenses_in", "lenses_out"


def reopened(page: Page, path: str = "/app") -> Page:
    """The app again from a cold start."""
    context = page.context
    address = page.evaluate("path => new URL(path, location.href).href", path)
    page.close()
    fresh = context.new_page()
    fresh.goto(address)
    return fresh


@pytest.mark.parametrize("language", ["en", "zh-Hans", "ar"])
def test_H3_an_evening_and_a_morning_without_a_network_then_back(
    site: Site,
    lived_in: Cast,  # noqa: F811
    window: Open,
    language: str,
) -> None:
    speak(site, language=language)
    say = Phrases(LANGUAGES[language]).gettext
    nola = lived_in.wearers["Nola"]
    before = kinds_on_server(site, nola)
    family = window(language=language, script=True)
    page = installed(family, "Gwen")
    expect(page.locator("#shell h1").first).to_have_text(say("Lenses in tonight."))
    assert page.evaluate("document.documentElement.dir") == ("rtl" if language == "ar" else "ltr")

    # The evening's steps first, then the lenses.
    tab(page, say("Care"))
    expect(page.locator("#shell h1")).to_have_text(say("Lenses in, step by step."))
    tab(page, say("Tonight"))
    page.locator("button.great").click()
    expect(page.locator("#shell h1").first).to_have_text(say("Lenses are in. Sleep well."))
    expect(page.get_by_role("status")).to_have_text(
        say("Saved on this phone. It is sent as soon as there is a network.")
    )
    assert_well(family, NAMES)

    # Advice stands at once; nothing is asked before it. Then back to the night.
    page.locator("a.something-wrong").click()
    expect(page.locator("#wrong h1")).to_be_visible()
    expect(page.locator("#wrong [data-eyes]").first).to_be_visible()
    page = family.page = reopened(page)
    expect(page.locator("#shell h1").first).to_have_text(say("Lenses are in. Sleep well."))

    # A page that needs the network says so, in the family's language, and loses nothing.
    tab(page, say("Us"))
    expect(page.locator("#shell h1").first).to_have_text(say("This page needs a network."))

    morning = site.clock().replace(hour=6, minute=45) + timedelta(days=1)
    page.context.clock.set_system_time(morning)
    page = family.page = reopened(page)
    expect(page.locator("#shell h1").first).to_have_text(say("Good morning. Lenses out."))
    assert_well(family, NAMES)
    page.locator("button.great").click()
    expect(page.locator("#shell h1").first).not_to_have_text(say("Good morning. Lenses out."))

    # How sight is, in words; then the diary has the night and the look, and Tonight how sight should hold.
    page.goto(site.url(f"/w/{nola}/sight"))
    expect(page.locator("#shell h1")).to_have_text(say("How is sight now, without glasses?"))
    family.choose("word_right", "good")
    family.choose("word_left", "soft")
    page.locator("form button.great").click()
    expect(page).to_have_url(site.url(f"/w/{nola}/tonight"))
    expect(page.locator("#shell h2", has_text=say("How long sight should last"))).to_be_visible()
    expect(page.locator("#shell figure svg").first).to_be_visible()
    tab(page, say("Diary"))
    night = page.locator(f".nights a[href$='{site.clock().date()}']")
    for words in (say("Both lenses in"), say("Both lenses out")):
        expect(night).to_contain_text(say("On this phone only: %(what)s", what=words))
    expect(night).to_contain_text(Phrases(LANGUAGES[language]).pgettext("night", "Worn"))
    assert_well(family, NAMES)
    told = [row["raw"]["kind"] for row in sorted(rows(page), key=lambda row: row["order"])]
    assert told == [IN, OUT, "sight", "sight"]

    # And when something is wrong after all, the report waits here, and the eye that it is about takes no lens.
    page.locator("a.something-wrong").click()
    on_the_phone(family, {"left": {"redness": "red"}})
    expect(page.locator("#told")).to_be_visible()
    page.goto(site.url("/care"))
    left = Phrases(LANGUAGES[language]).pgettext("heading", "Left eye")
    expect(page.locator("#shell .aside", has_text=left)).to_be_visible()

    site.clock.now = morning
    page.context.set_offline(False)
    expect(page.get_by_role("status")).to_have_text(say("Sent."))
    assert sorted(kinds_on_server(site, nola)[len(before) :]) == sorted([*told, "symptom_report"])
    assert_same(family, nola, morning.isoformat())
    for path in ("diary", f"diary/{morning.date() - timedelta(days=1)}", "care"):
        assert_page_same(family, f"/w/{nola}/{path}", morning.isoformat())


def tab(page: Page, name: str) -> None:
    """Go to another place by the bar at the bottom."""
    with page.expect_navigation():
        page.locator(".around a", has_text=name).click()


def kinds_on_server(site: Site, wearer: str) -> list[str]:
    with site.store.reading() as session:
        asked = select(EntryRow.kind).where(EntryRow.wearer_id == wearer).order_by(EntryRow.seq)
        return list(session.scalars(asked))


def test_H14_ears_hear_the_sentence_then_the_deed_then_the_ways_on(
    site: Site,
    lived_in: Cast,  # noqa: F811
    window: Open,
) -> None:
    """In the browser's accessibility tree, of the page that script paints and of the server's."""
    family = window(script=True)
    page = installed(family, "Gwen")
    expect(page.locator("#shell h1").first).to_have_text("Lenses in tonight.")
    painted = page.locator("#shell").aria_snapshot().splitlines()
    order = [
        "text: Nola",
        'heading "Lenses in tonight." [level=1]',
        'button "Lenses in now"',
        'button "Not tonight"',
        'link "Say how sight is"',
        'heading "How long sight should last" [level=2]',
        'img "Right eye: how sight should hold.',
    ]
    heard = [said for line in painted for said in order if said in line]
    assert heard == order, "\n".join(painted)
    assert not [line for line in painted if line.strip() in ("- button", "- link", "- img", "- textbox")]
    page.context.set_offline(False)
    page.goto(site.url(f"/w/{lived_in.wearers['Nola']}/tonight"))
    served = page.locator("#main").aria_snapshot().splitlines()

    def named(lines: list[str], role: str) -> list[str]:
        return [line.strip() for line in lines if f"- {role}" in line or f"- '{role}" in line]

    for role in ("heading", "button", "img"):
        assert named(served, role) == named(painted, role) != []
