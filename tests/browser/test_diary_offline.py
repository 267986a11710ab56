"""The diary without a network: what the server last told, and beside it what only this phone knows."""

from __future__ import annotations

from datetime import timedelta

from looks import assert_well
from people import Cast
from playwright.sync_api import expect
from sqlalchemy import select
from test_screens import NAMES, lived_in  # noqa: F401
from test_tonight_offline import installed, rows
from windows import Open, Site

from companion.store.models import EntryRow

SILENT, WITHOUT = "2026-10-25", "2026-10-23"  # nights of Nola's: nothing was said; no lenses


def test_a_night_is_told_afterwards_without_a_network(
    site: Site,
    lived_in: Cast,  # noqa: F811
    window: Open,
) -> None:
    nola = lived_in.wearers["Nola"]
    family = window(script=True)
    page = installed(family, "Gwen")
    page.goto(site.url("/diary"))
    expect(page.locator("#shell h1")).to_have_text("Diary")
    expect(page.locator(".nights li")).to_have_count(28)
    expect(page.locator(".around [aria-current=page]")).to_have_text("Diary")
    assert_well(family, NAMES)

    page.locator(f".nights a[href$='{SILENT}']").click()
    expect(page.locator("#shell h1")).to_have_text("Night of Sun 25 Oct")
    expect(page.locator("#shell")).to_contain_text("Nothing was said of this night.")
    assert_well(family, NAMES)
    page.locator("form[data-told=of_night] button.act").click()  # no time yet
    expect(page.locator(".problems")).to_contain_text("Write a time here, such as 21:30.")
    family.fill(clock="22:10")
    page.locator("form[data-told=of_night] button.act").click()
    said = page.locator("section.card", has_text="Both lenses in")
    expect(said).to_contain_text("On this phone only")
    expect(said).to_contain_text("22:10")
    page.locator("summary", has_text="Add to this night").click()
    family.choose("kind", "lenses_out")
    family.fill(clock="06:20")
    page.locator("form[data-told=of_night] button.act").click()
    expect(page.locator("section.card", has_text="Both lenses out")).to_contain_text("Mon 26 Oct")
    expect(page.locator(".night-eyes").first).to_contain_text("Right eye: Worn")
    assert_well(family, NAMES)

    page.get_by_role("link", name="All nights").click()
    night = page.locator(".nights li", has_text="Sun 25 Oct")
    expect(night).to_contain_text("On this phone only: Both lenses in")
    expect(night).to_contain_text("Worn")
    told = sorted(row["raw"]["at"] for row in rows(page))
    assert told == ["2026-10-25T22:10:00.000Z", "2026-10-26T06:20:00.000Z"]

    page.context.set_offline(False)
    expect(page.get_by_role("status")).to_have_text("Sent.")
    expect(page.locator(".nights")).not_to_contain_text("On this phone only")
    expect(night).to_contain_text("8.2 h")
    page.goto(site.url(f"/w/{nola}/diary"))
    expect(page.locator(".nights li", has_text="Sun 25 Oct")).to_contain_text("8.2 h")


def test_what_was_said_is_changed_and_taken_back_without_a_network(
    site: Site,
    lived_in: Cast,  # noqa: F811
    window: Open,
) -> None:
    nola = lived_in.wearers["Nola"]
    family = window(script=True)
    page = installed(family, "Gwen")
    page.goto(site.url(f"/w/{nola}/diary/{WITHOUT}"))
    card = page.locator("section.card", has_text="No lenses on the night of Fri 23 Oct")
    card.locator("summary").click()
    card.get_by_text("Right eye").click()
    card.get_by_role("button", name="It was like this").click()
    changed = page.locator("section.card", has_text="No right lens on the night of Fri 23 Oct")
    expect(changed).to_contain_text("Changed. So far only this phone knows.")
    page.goto(site.url(f"/w/{nola}/diary/2026-10-31"))
    card = page.locator("section.card", has_text="Both lenses in")
    card.locator("summary").click()
    card.get_by_role("button", name="Take it back").click()
    expect(page.locator("section.card", has_text="Both lenses in")).to_contain_text("Taken back.")
    expect(page.locator(".night-eyes").first).to_contain_text("Right eye: Not known")
    page.goto(site.url(f"/w/{nola}/diary"))
    expect(page.locator(".nights li", has_text="Sat 31 Oct")).to_contain_text(
        "On this phone only: Taken back: Both lenses in"
    )
    page.context.set_offline(False)
    expect(page.get_by_role("status")).to_have_text("Sent.")
    with site.store.reading() as session:
        last = session.scalars(select(EntryRow).order_by(EntryRow.seq.desc()).limit(2)).all()
    assert [one.kind for one in last] == ["withdrawal", "correction"]
    assert last[1].payload["payload"] == {"eyes": "right", "night": WITHOUT}
    page.goto(site.url(f"/w/{nola}/diary/{WITHOUT}"))
    expect(page.locator("#main")).to_contain_text("No right lens on the night of Fri 23 Oct")


def test_a_note_waits_here_and_nights_go_on_after_the_last_word(
    site: Site,
    lived_in: Cast,  # noqa: F811
    window: Open,
) -> None:
    nola = lived_in.wearers["Nola"]
    family = window(script=True)
    page = installed(family, "Gwen")
    page.context.clock.set_system_time(site.clock() + timedelta(days=2))
    page.goto(site.url(f"/w/{nola}/note"))
    assert_well(family, NAMES)
    family.fill(text="Two drops were enough.")
    page.locator("form button.great").click()
    expect(page.locator("#shell h1")).to_have_text("Diary")
    newest = page.locator(".nights li").first
    expect(page.locator(".nights li")).to_have_count(30)
    expect(newest).to_contain_text("Wed 4 Nov")
    expect(newest).to_contain_text("On this phone only: Note")
    newest.locator("a").click()
    expect(page.locator("section.card")).to_contain_text("Two drops were enough.")
    page.goto(site.url(f"/w/{nola}/planned"))
    expect(page.locator("#shell h1")).to_have_text("This page needs a network.")


def test_a_phone_that_synced_before_there_were_such_pages_still_opens_tonight(
    site: Site,
    lived_in: Cast,  # noqa: F811
    window: Open,
) -> None:
    family = window(script=True)
    page = installed(family, "Gwen")
    expect(page.locator("#shell h1").first).to_have_text("Lenses in tonight.")
    page.evaluate(
        """async () => {
            const {load} = await import(document.querySelector("script[src*='js/app.js']").src);
            const {writing} = await load("db");
            await writing(async ({wearers}) => {
                for (const one of await wearers.all()) {
                    const {pages, ...before} = one;
                    await wearers.put(before);
                }
            });
        }"""
    )
    page.goto(site.url("/app"))
    expect(page.locator("#shell h1").first).to_have_text("Lenses in tonight.")
    page.goto(site.url("/diary"))
    expect(page.locator("#shell h1")).to_have_text("This page needs a network.")
