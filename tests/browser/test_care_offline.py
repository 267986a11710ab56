"""Lens care without a network: the steps, help with a lens, and two clocks that run on this phone."""

from __future__ import annotations

from datetime import timedelta

import pytest
from looks import assert_well
from people import Cast
from playwright.sync_api import expect
from sqlalchemy import select
from test_care_screens import NAMES, agreed  # noqa: F401
from test_tonight_offline import installed, rows
from test_tonight_painted import speak
from windows import Open, Site
from wrong_walk import on_the_phone

from companion.phrasebook.languages import ENGLISH, LANGUAGES
from companion.phrasebook.phrases import Phrases
from companion.store.models import EntryRow


@pytest.mark.parametrize("language", ["en", "zh-Hans", "ar"])
def test_the_steps_and_the_clock_of_the_peroxide(
    site: Site,
    agreed: Cast,  # noqa: F811
    window: Open,
    language: str,
) -> None:
    speak(site, language=language)
    say = Phrases(LANGUAGES[language]).gettext
    family = window(language=language, script=True)
    page = installed(family, "Gwen")
    page.goto(site.url("/care"))
    expect(page.locator("#shell h1")).to_have_text(say("Lenses in, step by step."))
    expect(page.locator(".steps").first).to_contain_text(say("Peroxide that has not had its time burns the eye."))
    expect(page.locator("#soak h2")).to_have_text(say("Peroxide: no time written down"))
    assert_well(family, NAMES)
    page.locator("#soak form > button").click()
    expect(page.locator("#soak h2")).not_to_have_text(say("Peroxide: no time written down"))
    assert [row["raw"]["payload"] for row in rows(page)] == [{"item": "soak"}]
    waits = page.locator("#soak h2").inner_text()
    page.context.clock.set_system_time(site.clock() + timedelta(hours=5, minutes=59))
    page.reload()
    waiting = Phrases(LANGUAGES[language]).sentence(
        "In peroxide since %(time)s. Do not wear a lens before its time: it would burn the eye."
    )
    expect(page.locator("#soak p").first).to_contain_text(waiting.rpartition("%(time)s")[2].strip(" .。，"))
    page.context.set_offline(False)
    expect(page.get_by_role("status")).to_have_text(say("Sent."))
    page.goto(site.url(page.url.removeprefix(site.address)))
    page.wait_for_url("**/care")
    expect(page.locator("#soak h2")).to_have_text(waits)


@pytest.mark.parametrize("language", ["en", "zh-Hans", "ar"])
def test_H9_a_stuck_lens_is_helped_and_timed_without_a_network(
    site: Site,
    agreed: Cast,  # noqa: F811
    window: Open,
    language: str,
) -> None:
    """Nothing pulls at it; after 15 minutes the practice is to be called, after 30 it is a report."""
    speak(site, language=language)
    phrases, english = Phrases(LANGUAGES[language]), Phrases(ENGLISH).gettext
    say = phrases.gettext  # nobody has reviewed the safety text in other languages: it stands in English
    nola = agreed.wearers["Nola"]
    family = window(language=language, script=True)
    page = installed(family, "Gwen")
    page.goto(site.url(f"/w/{nola}/care"))
    page.get_by_role("link", name=say("It is stuck")).click()
    expect(page.locator("#shell h1")).to_contain_text(english("Do not pull. Loosen it first."))
    assert_well(family, NAMES)
    page.get_by_role("button", name=phrases.pgettext("stuck", "Right lens")).click()
    expect(page.locator("#shell .card h2").first).to_have_text(say("Right lens stuck"))
    stages = ((15, "Call the practice now. Do not pull."), (30, "Do not pull. This needs help today."))
    for minutes, heading in stages:
        page.context.clock.set_system_time(site.clock() + timedelta(minutes=minutes))
        page.get_by_role("link", name=say("Look at the time again")).click()
        expect(page.locator("#shell h1")).to_contain_text(english(heading))
    assert_well(family, NAMES)
    page.locator(".alarm a.great").click()
    expect(page.locator("#wrong fieldset, #shell fieldset, #main fieldset").first).to_be_visible()
    page.goto(site.url(f"/w/{nola}/care/help/stuck"))
    page.get_by_role("button", name=say("It is free now")).click()
    expect(page.locator("#shell h1")).to_have_text(say("It is free. Look at the eye now."))
    page.context.set_offline(False)
    expect(page.get_by_role("status")).to_have_text(say("Sent."))
    with site.store.reading() as session:
        asked = select(EntryRow.payload).where(EntryRow.kind == "stuck_lens").order_by(EntryRow.seq)
        said = list(session.scalars(asked))
    assert said == [{"eyes": "right", "said": "stuck"}, {"eyes": "right", "said": "free"}]


@pytest.mark.parametrize("topic", ["stings", "broken", "swapped", "off_centre"])
def test_help_with_a_lens_leads_on_without_a_network(
    site: Site,
    agreed: Cast,  # noqa: F811
    window: Open,
    topic: str,
) -> None:
    nola = agreed.wearers["Nola"]
    family = window(script=True)
    page = installed(family, "Gwen")
    page.goto(site.url(f"/w/{nola}/care/help/{topic}"))
    expect(page.locator("ol.steps li").first).to_be_visible()
    assert_well(family, NAMES)
    page.get_by_role("link", name="Left eye").first.click()
    expect(page.locator("fieldset:visible").first).to_be_visible()


def test_H12_lens_care_says_that_a_held_eye_takes_no_lens(
    site: Site,
    agreed: Cast,  # noqa: F811
    window: Open,
) -> None:
    """A report that only this phone has holds the eye here too."""
    nola = agreed.wearers["Nola"]
    family = window(script=True)
    page = installed(family, "Gwen")
    page.goto(site.url("/wrong"))
    on_the_phone(family, {"right": {"redness": "red"}})
    expect(page.locator("#told")).to_be_visible()
    page.goto(site.url(f"/w/{nola}/care"))
    expect(page.locator("#shell")).to_contain_text("Right eye: no lens for now")
