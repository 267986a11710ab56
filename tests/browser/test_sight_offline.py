"""*How is sight?* without a network: asked, kept, undone and sent; and days that matter, as they stood."""

from __future__ import annotations

import pytest
from looks import assert_well
from people import Cast
from playwright.sync_api import expect
from sqlalchemy import select
from test_screens import NAMES, lived_in  # noqa: F401
from test_tonight_offline import installed, rows
from test_tonight_painted import speak
from windows import Open, Site

from companion.phrasebook.languages import LANGUAGES
from companion.phrasebook.phrases import Phrases
from companion.store.models import EntryRow, Person
from companion.usecases.actor import actor_of
from companion.usecases.days import add_day


def sights(site: Site, wearer: str) -> list[dict[str, object]]:
    with site.store.reading() as session:
        asked = select(EntryRow.payload).where(EntryRow.wearer_id == wearer, EntryRow.kind == "sight")
        return list(session.scalars(asked.order_by(EntryRow.seq)))


@pytest.mark.parametrize("language", ["en", "zh-Hans", "ar"])
def test_sight_is_told_without_a_network_and_is_sent_once(
    site: Site,
    lived_in: Cast,  # noqa: F811
    window: Open,
    language: str,
) -> None:
    speak(site, language=language)
    say = Phrases(LANGUAGES[language]).gettext
    nola = lived_in.wearers["Nola"]
    before = sights(site, nola)
    family = window(language=language, script=True)
    page = installed(family, "Gwen")
    page.goto(site.url(f"/w/{nola}/sight"))
    expect(page.locator("#shell h1")).to_have_text(say("How is sight now, without glasses?"))
    expect(page.locator(".around [aria-current=page]")).to_have_text(say("Tonight"))
    assert_well(family, NAMES)

    page.locator("form button.great").click()  # nothing was picked yet
    expect(page.locator(".problems")).to_contain_text(say("Say how sight was, for one eye at least."))
    family.choose("word_right", "good")
    family.choose("word_left", "sharp")
    page.locator("form button.great").click()
    expect(page).to_have_url(site.url(f"/w/{nola}/tonight"))
    expect(page.locator("#shell h1").first).to_have_text(say("Lenses in tonight."))
    expect(page.locator(".strip")).to_contain_text(
        say("Saved on this phone. It is sent as soon as there is a network.")
    )
    assert [row["raw"]["payload"] for row in sorted(rows(page), key=lambda row: row["order"])] == [
        {"eye": "right", "word": "good"},
        {"eye": "left", "word": "sharp"},
    ]

    page.locator(".strip .undo").click()
    expect(page.locator(".strip .undo")).to_have_count(0)
    page.goto(site.url(f"/w/{nola}/sight"))
    family.choose("word_left", "soft")
    page.locator("summary").first.click()
    family.fill(logmar_right="0,1")
    page.locator("form button.great").click()
    expect(page).to_have_url(site.url(f"/w/{nola}/tonight"))

    page.context.set_offline(False)
    expect(page.get_by_role("status")).to_have_text(say("Sent."))
    told = sights(site, nola)[len(before) :]
    assert {"eye": "left", "word": "soft"} in told and {"eye": "right", "logmar": 0.1, "distance_m": 3.0} in told
    page.goto(site.url(f"/w/{nola}/diary"))
    first = page.locator(".nights li").first
    said = {say("Left eye: %(word)s", word=Phrases(LANGUAGES[language]).pgettext("sight", "soft"))}
    assert all(one in first.inner_text() for one in said), first.inner_text()
    assert say("Left eye: %(word)s", word=Phrases(LANGUAGES[language]).pgettext("sight", "sharp")) not in said
    expect(first).not_to_contain_text(Phrases(LANGUAGES[language]).pgettext("sight", "sharp"))


def test_what_is_out_of_range_is_asked_about_on_the_phone(
    site: Site,
    lived_in: Cast,  # noqa: F811
    window: Open,
) -> None:
    family = window(script=True)
    page = installed(family, "Gwen")
    page.goto(site.url(f"/w/{lived_in.wearers['Nola']}/sight"))
    page.locator("summary").first.click()
    for typed, said in (("many", "Write a number here."), ("9", "Write a number from -0.5 to 2.")):
        family.fill(logmar_right=typed)
        page.locator("form button.great").click()
        expect(page.locator(".problems")).to_contain_text(said)
    assert rows(page) == []


def test_a_form_of_the_servers_page_is_kept_here_when_the_network_goes(
    site: Site,
    lived_in: Cast,  # noqa: F811
    window: Open,
) -> None:
    nola = lived_in.wearers["Nola"]
    family = window(script=True)
    page = installed(family, "Gwen")
    page.context.set_offline(False)
    page.goto(site.url(f"/w/{nola}/sight"))
    expect(page.locator("input[name=csrf_token]")).to_have_count(1)  # the server's own
    family.choose("word_left", "sharp")
    page.locator("form button.great").click()
    page.wait_for_url(f"**/w/{nola}/tonight*")
    expect(page.locator(".strip li")).to_have_count(0)
    assert sights(site, nola)[-1] == {"eye": "left", "word": "sharp"}
    page.goto(site.url(f"/w/{nola}/sight"))
    page.context.set_offline(True)
    family.choose("word_right", "blurred")
    page.locator("form button.great").click()
    expect(page).to_have_url(site.url(f"/w/{nola}/tonight"))
    expect(page.locator(".strip")).to_contain_text("Sight")
    here = [row["raw"]["payload"] for row in rows(page) if row["state"] == "here"]
    assert here == [{"eye": "right", "word": "blurred"}]


def test_days_that_matter_stand_as_the_server_said_them(
    site: Site,
    lived_in: Cast,  # noqa: F811
    window: Open,
) -> None:
    nola = lived_in.wearers["Nola"]
    with site.store.writing() as session:
        gwen = actor_of(session, session.get_one(Person, lived_in.people["Gwen"]), "")
        form = {"label": "Swimming", "day": "2026-11-07", "starts": "09:00", "ends": "17:00", "driving": "no"}
        add_day(session, gwen, nola, form, site.clock())
    site.work()
    family = window(script=True)
    page = installed(family, "Gwen")
    page.goto(site.url(f"/w/{nola}/days"))
    expect(page.locator("#shell h1")).to_have_text("Days that matter")
    card = page.locator(".card", has_text="Swimming")
    expect(card).to_contain_text("Sat 7 Nov, 09:00 to 17:00")
    expect(card.locator(".lead")).to_contain_text("Wear the lenses on the night of")
    expect(page.locator("#shell")).to_contain_text("To add a day or to take one off needs a network.")
    assert_well(family, (*NAMES, "Swimming"))
    offline = card.locator(".lead").inner_text()
    page.context.set_offline(False)
    page.goto(site.url(f"/w/{nola}/days"))
    expect(page.locator(".card", has_text="Swimming").locator(".lead")).to_have_text(offline)
