"""*Something is wrong* with the network off: complete, in the server's words, and honest about who knows of it."""

from __future__ import annotations

import json
import time
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import triage_verdicts as sets
from looks import assert_well
from people import Cast
from playwright.sync_api import expect
from sqlalchemy import select
from telling import actor_named, report, tell
from windows import PHONE, Open, Site
from wrong_walk import (
    cut,
    family_phone,
    on_the_phone,
    on_the_server,
    part_of,
    phone,
    start_over,
)

from companion.phrasebook.languages import ARABIC, CHINESE, ENGLISH
from companion.phrasebook.phrases import Phrases
from companion.phrasebook.safety_text import text_version
from companion.store.models import Alert, EntryRow, Person, Report
from companion.usecases.actor import actor_of
from companion.usecases.languages import sign

CASES = json.loads((Path(__file__).parents[1] / "vectors" / "triage_cases.json").read_text("utf-8"))["cases"]
LANGUAGES = [one.tag for one in (ENGLISH, CHINESE, ARABIC)]
NAMES = ("Nola", "Practice by the mill")
LONGER_THAN_THE_SHELL_WAITS = 3.5
"""Seconds."""
RED = {"right": {"pain": "severe", "redness": "red", "light": "marked", "course": "over_1h"}}
SORE = {"left": {"pain": "moderate", "redness": "pink"}}
SPLASH = {"right": {"chemical": "other_chem"}}
CUT_AND_SPLASH = {"left": {"injury": "cut_pierce_stuck", "chemical": "lens_chem"}}
STUCK = {"left": {"lens": "stuck_now"}}
WELL = {"general": {"recurrent": "no"}, "right": {"pain": "none"}}
UNWELL = {"general": {"very_unwell": "yes"}, "right": {"pain": "none"}}
EVERY_LEVEL = [RED, SORE, SPLASH, CUT_AND_SPLASH, STUCK, WELL, UNWELL, {"right": {"fb": "still"}}]


def drawn() -> list[dict[str, dict[str, str]]]:
    """Some answer sets that nobody thought of, from nearly well to very ill."""
    rows = sets.draw(np.random.default_rng(20_261_127), 400)
    levels = sets.judge(rows)[:, 0]
    return [sets.document(rows[np.flatnonzero(levels == level)[n]]) for level in range(1, 6) for n in range(3)]


TABLES = [
    pytest.param("en", [case["answers"] for case in CASES], id="en-public"),
    pytest.param("en", EVERY_LEVEL + drawn(), id="en", marks=pytest.mark.slow),
    pytest.param("ar", EVERY_LEVEL, id="ar"),
    pytest.param("zh-Hans", EVERY_LEVEL, id="zh-Hans"),
]


@pytest.mark.parametrize(("language", "table"), TABLES)
def test_H3_the_phone_says_what_the_server_says(window: Open, language: str, table: list) -> None:
    """All visible text of each page of questions and of the result, to a stranger."""
    server, offline = window(language=language), phone(window, language)
    offline.go("/app#wrong")
    for said in table:
        start_over(offline)
        pages: dict[str, list[str]] = {"server": [], "phone": []}
        there = on_the_server(server, "/wrong/questions", said, pages["server"].append)
        here = on_the_phone(offline, said, pages["phone"].append)
        assert pages["phone"] == pages["server"], said
        assert here == there, said
        assert offline.page.title() == server.page.title()
        drawing = ".level svg > *"
        assert offline.page.locator(drawing).evaluate_all("all => all.map(one => one.outerHTML)") == (
            server.page.locator(drawing).evaluate_all("all => all.map(one => one.outerHTML)")
        )


@pytest.mark.parametrize("language", LANGUAGES)
def test_H3_the_first_advice_is_the_servers(window: Open, language: str) -> None:
    server, offline = window(language=language), phone(window, language)
    server.go("/wrong")
    offline.go("/app#wrong")
    offline.page.locator("[data-eyes]").first.wait_for()
    for selector in ("section.alarm", "section.card h2", ".card .row > *", "details.more summary", "p.quiet"):
        assert part_of(offline.page, f"#main #wrong {selector}, #main > {selector}") == part_of(
            server.page, f"main {selector}"
        )


def test_advice_stands_there_before_any_script(window: Open) -> None:
    offline = phone(window)
    offline.page.route("**/js/*.js", lambda route: route.abort())
    offline.go("/app#wrong")
    assert "Do not rinse. Go now." in offline.says("section.alarm")


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_screen_is_fit_for_all(window: Open, language: str) -> None:
    offline = phone(window, language)
    offline.go("/app#wrong")
    offline.page.locator("[data-eyes=both]").click()
    offline.page.locator("main form button.great").click()
    assert offline.page.evaluate("document.activeElement.matches('.problems')")
    assert_well(offline, NAMES)
    for said in (RED, STUCK, WELL):
        start_over(offline)
        assert_well(offline, NAMES)
        on_the_phone(offline, said)
        assert_well(offline, NAMES)


def test_the_keyboard_alone_leads_to_a_result(window: Open) -> None:
    offline = phone(window)
    offline.go("/app#wrong")
    offline.page.locator("[data-eyes=right]").focus()
    press = offline.page.keyboard.press
    press("Enter")
    assert offline.page.evaluate("document.activeElement.tagName") == "H1"
    for _ in range(6):
        for _ in range(offline.page.locator("main form fieldset").count()):
            press("Tab")
            press("Space")
        press("Tab")
        press("Enter")
        assert offline.page.evaluate("document.activeElement.tagName") == "H1"
    assert offline.page.locator("ol.steps li").count() > 0
    assert "does not look urgent" in offline.says("h1")


def test_an_emergency_ends_the_questions_and_danger_cannot_be_skipped(window: Open) -> None:
    offline = phone(window)
    offline.go("/wrong/questions?eyes=right&right.lens=stuck_now")
    offline.page.locator("main form button.great").click()
    assert offline.page.locator(".wrong-here").count() == 3
    offline.page.locator("input[name='right.chemical'][value=unsure]").check()
    offline.page.locator("main form button.great").click()
    assert offline.page.locator(".wrong-here").count() == 2
    offline.page.locator("input[name='right.injury'][value=no]").check()
    offline.page.locator("input[name='general.very_unwell'][value=no]").check()
    offline.page.locator("main form button.great").click()
    assert "Rinse the eye now" in offline.says("h1")
    assert "rinse first" in offline.says(".lens-steps li >> nth=0").lower()


def test_H15_answers_are_asked_afresh_and_kept_on_the_way_back(window: Open) -> None:
    offline = phone(window)
    offline.go("/app#wrong")
    on_the_phone(offline, SORE)
    start_over(offline)
    offline.page.locator("[data-eyes=left]").click()
    assert offline.page.locator("main input:checked").count() == 0
    for name in ("general.very_unwell", "left.chemical", "left.injury"):
        offline.page.locator(f"input[name='{name}'][value=no]").check()
    offline.page.locator("main form button.great").click()
    offline.page.locator("input[name='left.pain'][value=mild]").check()
    offline.page.locator("main form button:not(.great)").click()
    assert offline.page.locator("main input:checked").count() == 3
    offline.page.locator("main form button.great").click()
    assert offline.page.locator("input[name='left.pain'][value=mild]").is_checked()


def test_H10_a_number_is_shown_where_it_is_verified_and_the_place_is_remembered(window: Open) -> None:
    offline = phone(window)
    offline.go("/app#wrong")
    assert "Call your local emergency number" in offline.says("section.alarm")
    offline.page.locator("summary").click()
    offline.page.get_by_role("button", name="Japan").click()
    assert "Call your local emergency number" in offline.says("section.alarm")
    offline.page.get_by_role("button", name="Singapore").click()
    assert offline.page.locator("section.alarm a").get_attribute("href") == "tel:995"
    offline.page.reload()
    assert on_the_phone(offline, RED).count("Call 995") == 1
    assert offline.page.locator("section.alarm a").get_attribute("href") == "tel:995"


# -- somebody who is signed in ------------------------------------------------------------------------------------
def test_H3_a_report_waits_on_the_phone_says_so_and_leaves_when_the_network_returns(
    site: Site, cast: Cast, window: Open
) -> None:
    mine = cut(family_phone(window, site, cast, "Gwen"))
    mine.page.locator("a.something-wrong").click()
    mine.page.locator("[data-eyes]").first.wait_for()
    assert "Nola" in mine.says()
    result = on_the_phone(mine, RED)
    assert_well(mine, NAMES)
    assert "Your practice has NOT been told. Go now." in result
    assert "Saved on this phone. Not sent yet: phone them now." in result
    assert mine.page.locator("section.alarm a[href^='tel:']").get_attribute("href") == "tel:+441632960000"
    cut(mine, off=False)
    mine.page.locator("#told li.done").wait_for()
    assert "NOT been told" not in mine.says()
    assert_well(mine, NAMES)
    with site.store.reading() as session:
        entry = session.scalars(select(EntryRow).where(EntryRow.kind == "symptom_report")).one()
        report = session.get_one(Report, entry.id)
        assert session.scalars(select(Alert)).one().level == 5
    assert (report.level, entry.payload["judged_level"], entry.payload["rules_version"]) == (
        5,
        5,
        report.rules_version,
    )
    assert set(entry.payload) == {"answers", "language", "judged_level", "rules_version"}
    assert entry.payload["answers"]["right"]["pain"] == "severe"
    assert "left" not in entry.payload["answers"] or not entry.payload["answers"]["left"]
    mine.press("#told a.act")
    assert mine.path == f"/w/{cast.wearers['Nola']}/reports/{entry.id}"


def test_H1_phone_and_server_judge_a_report_alike(site: Site, cast: Cast, window: Open) -> None:
    mine = family_phone(window, site, cast, "Gwen")
    for said in EVERY_LEVEL:
        cut(mine)
        mine.page.locator("a.something-wrong").click()
        on_the_phone(mine, said)
        told = [part_of(mine.page, one) for one in (".lens-steps li", "ol.steps li", ".card ul:not(.told) li")]
        cut(mine, off=False)
        mine.page.locator("#told li.done").wait_for()
        mine.press("#told a.act")
        assert [
            part_of(mine.page, one) for one in (".lens-steps li", "ol.steps li", ".card ul:not(.told) li")
        ] == told


def test_H1_where_the_servers_rules_are_graver_than_the_phones_the_family_reads_the_graver(
    site: Site, cast: Cast, window: Open, monkeypatch: pytest.MonkeyPatch
) -> None:
    build = site.app.extensions["companion_build"]
    rules = json.loads(build.files["triage/rules.json"])
    rules["rules"] = [one for one in rules["rules"] if one["id"] != "R402"]  # as if pain alone had been no reason
    monkeypatch.setitem(build.files, "triage/rules.json", json.dumps(rules).encode())
    mine = family_phone(window, site, cast, "Gwen")
    cut(mine)
    mine.page.locator("a.something-wrong").click()
    on_the_phone(mine, {"right": {"pain": "moderate"}})
    at_first = part_of(mine.page, ".level")
    cut(mine, off=False)
    mine.page.locator("#told li.done").wait_for()
    mine.page.get_by_text("This is more urgent than this phone said at first.").wait_for()
    parts = (".lens-steps li", "ol.steps li")
    told = [part_of(mine.page, one) for one in (*parts, ".level")]
    assert told[-1] != at_first
    assert "Because the phone and the practice do not judge this alike." in mine.says()
    assert_well(mine, NAMES)
    mine.press("#told a.act")
    assert [part_of(mine.page, one) for one in (*parts, ".level")] == told


def test_H4_a_family_whose_practice_answers_for_no_translation_reads_english_and_numbers_first(
    site: Site, cast: Cast, window: Open
) -> None:
    mine = family_phone(window, site, cast, "Gwen", "zh-Hans")
    server = window(language="zh-Hans")
    server.sign_in("Gwen")
    server.go("/wrong")
    cut(mine)
    mine.go("/wrong")
    mine.page.locator("[data-eyes]").first.wait_for()
    assert mine.page.locator("[data-safety-text=held]").count() == 1
    assert mine.page.locator(".beside").count() == 0
    assert part_of(mine.page, "section.alarm li") == part_of(server.page, "section.alarm li")
    assert mine.says("#wrong > *:nth-child(2)") == Phrases(CHINESE).gettext("Call %(practice)s", practice=NAMES[1])
    on_the_phone(mine, RED)
    assert mine.page.locator("ol.steps .in-english").count() == mine.page.locator("ol.steps li").count()
    assert_well(mine, NAMES)


def test_H4_what_a_practice_signed_is_read_alone(site: Site, cast: Cast, window: Open) -> None:
    sign_for(site, cast, "zh-Hans")
    mine = cut(family_phone(window, site, cast, "Gwen", "zh-Hans"))
    mine.page.locator("a.something-wrong").click()
    on_the_phone(mine, RED)
    assert mine.page.locator(".beside, .in-english, [data-safety-text]").count() == 0


def sign_for(site: Site, cast: Cast, language: str) -> None:
    """The mill's manager answers for a text."""
    form = {
        "language": language, "reviewer": "Reader", "reviewer_role": "eye clinician", "confirmed": "yes",
        "text_version": text_version(),
    }  # fmt: skip
    with site.store.writing() as session:
        mina = actor_of(session, session.get_one(Person, cast.people["Mina"]), "")
        sign(session, mina, form, site.clock())


def test_the_network_goes_in_the_midst_of_the_servers_questions(site: Site, cast: Cast, window: Open) -> None:
    mine = family_phone(window, site, cast, "Gwen")
    mine.go(f"/w/{cast.wearers['Nola']}/wrong?eyes=right")
    for name in ("general.very_unwell", "right.chemical", "right.injury"):
        mine.page.locator(f"input[name='{name}'][value=no]").check()
    mine.press("main form button.great")
    cut(mine)
    mine.page.locator("input[name='right.pain'][value=severe]").check()
    mine.page.locator("main form button.great").click()
    mine.page.locator("ol.steps").wait_for()
    assert "Saved on this phone" in mine.says("#told")
    assert_well(mine, NAMES)


def test_a_phone_that_cannot_keep_says_so(site: Site, cast: Cast, window: Open) -> None:
    mine = family_phone(window, site, cast, "Gwen")
    mine.go("/app#wrong")
    mine.page.locator("[data-eyes=right]").click()
    mine.page.evaluate("() => { IDBObjectStore.prototype.put = () => { throw new Error('full'); }; }")
    mine.page.evaluate(
        "() => { for (const one of document.querySelectorAll('input[value=no]')) one.checked = true; }"
    )
    mine.page.locator("input[name='right.injury'][value=cut_pierce_stuck]").check()
    mine.page.locator("main form button.great").click()
    assert "could not keep the report" in mine.says("#told")
    assert "NOT been told" in mine.says()


def test_a_narrow_screen_and_large_text_hold_it_all(window: Open) -> None:
    offline = phone(window, "ar", size={"width": 320, "height": PHONE["height"]})
    offline.go("/app#wrong")
    on_the_phone(offline, CUT_AND_SPLASH)
    assert_well(offline, NAMES)
    assert offline.page.locator(".level .number").text_content() == "٥", "digits are Egypt's"


def slow_down(site: Site, monkeypatch: pytest.MonkeyPatch, *paths: str) -> None:
    """From now on these pages come after the shell would have stood in for them, and nothing is taken."""
    quick = site.app.wsgi_app

    def slow(environ: dict[str, Any], answer: Any) -> Any:
        if environ["PATH_INFO"] == "/sync":
            answer("503 Service Unavailable", [])
            return [b"Later."]
        if environ["PATH_INFO"] in paths:
            time.sleep(LONGER_THAN_THE_SHELL_WAITS)
        return quick(environ, answer)

    monkeypatch.setattr(site.app, "wsgi_app", slow)


def test_H3_the_page_of_a_sent_report_is_waited_for_on_a_slow_network(
    site: Site, cast: Cast, window: Open, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The phone has it no more: what stands in for other pages could only say that there is no network."""
    mine = family_phone(window, site, cast, "Gwen")
    nola = cast.wearers["Nola"]
    gwen = actor_named(site.store, cast.people["Gwen"])
    (id_,) = tell(site.store, gwen, nola, site.clock(), report(site.clock(), **RED)).reports
    slow_down(site, monkeypatch, f"/w/{nola}/reports/{id_}")
    mine.go(f"/w/{nola}/reports/{id_}")
    assert mine.page.locator("#shell").count() == 0
    assert mine.page.locator("main .level-5").count() == 1
    cut(mine)
    mine.go(f"/w/{nola}/reports/{id_}")
    expect(mine.page.locator("#shell h1").first).to_have_text("This page needs a network.")


def test_H3_a_report_that_only_the_phone_has_waits_for_no_slow_network(
    site: Site, cast: Cast, window: Open, monkeypatch: pytest.MonkeyPatch
) -> None:
    mine = cut(family_phone(window, site, cast, "Gwen"))
    mine.page.locator("a.something-wrong").click()
    on_the_phone(mine, RED)
    mine.go(f"/w/{cast.wearers['Nola']}/tonight")
    path = mine.page.locator("#shell a[href*='/reports/']").get_attribute("href")
    assert path
    slow_down(site, monkeypatch, path)
    cut(mine, off=False)
    mine.go(path)
    expect(mine.page.locator("main", has_text="Your practice has NOT been told.")).to_be_visible()
    assert mine.page.locator(".level-5:visible").count() == 1
