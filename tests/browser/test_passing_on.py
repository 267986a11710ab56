"""A result for somebody without this app, and its first line: the phone's words are the server's."""

from __future__ import annotations

from urllib.parse import unquote

import pytest
from looks import assert_well
from people import Cast
from test_wrong_offline import LANGUAGES, NAMES, RED, SORE, sign_for
from windows import Open, Site, Window
from wrong_walk import cut, family_phone, on_the_phone, on_the_server, phone, start_over

from companion.store.models import Practice

LINKS = "a[href^='sms:']"
PINK = {"left": {"redness": "pink", "course": "over_1h"}}
STUCK = {"right": {"lens": "stuck_now", "pain": "mild"}}
SPLASH = {"right": {"chemical": "other_chem"}}


def passed_on(window: Window) -> tuple[list[str], str]:
    """Where the text messages go, and what a helper reads."""
    page = window.page
    page.locator("#helper summary").click()
    page.locator("#helper .helper p").first.wait_for()
    pairs = page.locator("#helper .helper p").evaluate_all(
        "all => all.map(one => `${one.lang} ${one.dir} ${one.textContent}`)"
    )
    links = page.locator(LINKS).evaluate_all("all => all.map(one => one.getAttribute('href'))")
    return links, "\n".join(pairs)


@pytest.mark.parametrize("language", LANGUAGES)
def test_H3_a_strangers_message_and_a_helpers_page_are_the_servers(window: Open, language: str) -> None:
    server, offline = window(language=language), phone(window, language)
    offline.go("/app#wrong")
    for said in (RED, PINK, STUCK, SPLASH):
        start_over(offline)
        on_the_phone(offline, said)
        on_the_server(server, "/wrong/questions", said)
        here, there = passed_on(offline), passed_on(server)
        assert here == there
        assert len(here[0]) == 1 and here[0][0].startswith("sms:?&body=")
        assert ("en ltr This person sleeps in hard contact lenses." in here[1]) is True
        assert_well(offline, NAMES)
        assert_well(server, NAMES)


@pytest.mark.parametrize("language", LANGUAGES)
def test_H4_where_a_translation_is_signed_a_helper_reads_english_beside_it(
    site: Site, cast: Cast, window: Open, language: str
) -> None:
    if language != "en":
        sign_for(site, cast, language)
    mine = cut(family_phone(window, site, cast, "Gwen", language))
    mine.page.locator("a.something-wrong").click()
    on_the_phone(mine, RED)
    links, shown = passed_on(mine)
    assert [one.partition("?")[0] for one in links] == ["sms:+441632960000"] * 2
    assert "Nola" not in links[0] and "Nola" in links[1]
    assert len(unquote(links[0]).split("\n")) == (1 if language == "en" else 2)
    assert "en ltr This person sleeps in hard contact lenses." in shown
    cut(mine, off=False)
    mine.page.locator("#told li.done").wait_for()
    mine.press("#told a.act")
    assert passed_on(mine) == (links, shown)


@pytest.mark.parametrize("language", LANGUAGES)
def test_H3_the_first_line_of_what_was_sent_is_the_servers(
    site: Site, cast: Cast, window: Open, language: str
) -> None:
    """Open, shut until an hour, shut with no hour known, alerts off: on the phone as on the server."""
    if language != "en":
        sign_for(site, cast, language)
    mine = family_phone(window, site, cast, "Gwen", language)
    mine.page.context.clock.set_system_time(site.clock())
    lines = set()
    rounds = [("open", SORE), ("shut", SORE), ("shut", RED), ("shut", PINK), ("none", SORE), ("none", SPLASH)]
    rounds += [("untold", SORE)]
    for hours, said in rounds:
        keep_hours(site, cast, hours)
        cut(mine)
        mine.page.locator("a.something-wrong").click()
        on_the_phone(mine, said)
        cut(mine, off=False)
        mine.page.locator("#told li.done").wait_for()
        here = head_of(mine)
        mine.press("#told a.act")
        assert head_of(mine) == here
        lines.add(here)
    assert len(lines) == len(rounds), "\n".join(sorted(lines))


def head_of(window: Window) -> str:
    """The first section of a result: how urgent, the first line, where to go, whom to call; how it stands out."""
    head = window.page.locator("section.alarm, section.card").first
    return f"{head.get_attribute('class')}: {' '.join(head.inner_text().split())}"


def keep_hours(site: Site, cast: Cast, which: str) -> None:
    every_day = {day: [["00:00", "23:59"]] for day in ("mon", "tue", "wed", "thu", "fri", "sat", "sun")}
    morning = {day: [["08:30", "09:00"]] for day in every_day}
    with site.store.writing() as session:
        practice = session.get_one(Practice, cast.practices["mill"])
        practice.opening_hours = {"open": every_day, "shut": morning}.get(which, {})
        practice.on_call_hours = {}
        practice.alerts_on = which != "untold"
        practice.closed_days = []
        session.commit()
