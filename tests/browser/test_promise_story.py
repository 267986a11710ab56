"""A child's red, painful eye at night, told on a phone without a network, until lenses go in again on Thursday.

The pages are read by their structure, or by sentences of the phrasebook in the reader's language.
"""

from __future__ import annotations

import re
from datetime import UTC, datetime

import pytest
from fakes import Clock
from looks import assert_well
from people import Cast
from playwright.sync_api import expect
from sqlalchemy import select, update
from test_screens import NAMES, lived_in  # noqa: F401
from test_wrong_offline import sign_for
from windows import DESK, OWN_NAMES, Open, Site, Window
from wrong_walk import cut, family_phone, on_the_phone, start_over

from companion.phrasebook import result_words
from companion.phrasebook.languages import LANGUAGES
from companion.phrasebook.phrases import Phrases
from companion.store.models import Alert, Hold, Person, Practice

LANGUAGES_SEEN = ["en", "zh-Hans", "ar"]
RED_AND_PAINFUL = {"right": {"redness": "red", "pain": "moderate"}}
THURSDAY = "2026-11-05"
OPEN_ALL_HOURS = {day: [["00:00", "24:00"]] for day in ("mon", "tue", "wed", "thu", "fri", "sat", "sun")}
FIRST, SECOND = "Asta", "Pavel"
"""Whom the practice tells first, and next."""


def settled(site: Site, cast: Cast, language: str, **practice: object) -> None:
    """Everybody reads one language, for which the manager has signed; one sore eye does not hold the other."""
    with site.store.writing() as session:
        session.execute(update(Person).values(language=language))
        people = {one.name: one.id for one in session.scalars(select(Person))}
        plan = [{"person_id": people[name], "channel": "mail"} for name in (FIRST, SECOND)]
        session.execute(update(Practice).values(alert_plan=plan, one_eye_holds_both=False, **practice))
        session.commit()
    if language != "en":
        sign_for(site, cast, language)


def told_on_the_phone(family: Window) -> None:
    """One tap on *Something is wrong* shows advice before any question; then the questions, without a network."""
    family.page.context.clock.install(time=family.site.clock())
    family.go("/app")
    cut(family)
    start_over(family)
    expect(family.page.locator("section.alarm:visible").first).to_be_visible()
    assert family.page.locator("main input[type=radio]").count() == 0, "advice comes before the first question"
    on_the_phone(family, RED_AND_PAINFUL)


def alert_of(site: Site) -> Alert:
    with site.store.reading() as session:
        return session.scalars(select(Alert)).one()


def letters_to(site: Site, name: str) -> list[str]:
    address = f"{name.lower()}@example.org"
    letters = [one for one in site.postbox.letters if one["To"] == address]
    return [one.get_content() for one in letters if "/desk/" in one.get_content()]


def shown(text: str) -> re.Pattern[str]:
    """A sentence without the marks that keep directions apart, which a page may place otherwise."""
    return re.compile(r"[\u2066-\u2069]*".join(map(re.escape, re.sub(r"[\u2066-\u2069]", "", text))))


@pytest.mark.parametrize("language", LANGUAGES_SEEN)
def test_H2_a_red_eye_at_night_from_the_offline_phone_to_the_next_lens(
    site: Site,
    clock: Clock,
    lived_in: Cast,  # noqa: F811
    window: Open,
    language: str,
) -> None:
    settled(site, lived_in, language, opening_hours=OPEN_ALL_HOURS)
    phrases = Phrases(LANGUAGES[language])
    nola = lived_in.wearers["Nola"]
    family = family_phone(window, site, lived_in, "Gwen", language)
    told_on_the_phone(family)

    expect(family.page.locator("main section.alarm").first).to_be_visible()
    expect(family.page.locator("main")).to_contain_text(shown(phrases.say(result_words.NOT_TOLD[4])))
    expect(family.page.locator("main a[href^='tel:']").first).to_be_visible()
    assert_well(family, NAMES)
    site.work()
    assert not site.postbox.letters, "nobody was told: there is no network"

    # The network returns: the report leaves by itself, and the first person is told.
    with family.page.expect_response("**/sync"):
        cut(family, off=False)
    expect(family.page.locator(".strip [role=status], [role=status]").first).not_to_be_empty()
    site.work()
    assert alert_of(site).level == 4
    assert len(letters_to(site, FIRST)) == 1 and not letters_to(site, SECOND)

    # Nobody takes it: a quarter of an hour later the second person is told too.
    clock.advance(minutes=15)
    for _ in range(2):  # one round climbs, the next carries what it wrote
        site.work()
    assert letters_to(site, SECOND)
    practice = window(DESK, language)
    practice.sign_in(SECOND)
    link = re.search(rf"{site.address}/\S+", letters_to(site, SECOND)[0])
    assert link and "Nola" not in letters_to(site, SECOND)[0]
    practice.page.goto(link[0])
    assert alert_of(site).taken_at is None, "looking takes nothing"
    practice.press("main form button.great")
    assert_well(practice, NAMES + OWN_NAMES)
    family.go(f"/w/{nola}/reports/{alert_of(site).entry_id}")
    assert SECOND in family.says("#told")
    assert_well(family, NAMES)

    clock.advance(minutes=5)
    practice.press("button[name=reached][value=yes]")
    assert alert_of(site).contact_at is not None
    practice.choose("outcome", "seen_here")
    practice.page.locator("input[name=confirmed]").check()
    practice.fill(lenses_out_until=THURSDAY)
    practice.press("#close form button.act")
    assert alert_of(site).closed_at is not None
    with site.store.reading() as session:
        assert [hold.eye for hold in session.scalars(select(Hold))] == ["right"], "the left eye is not held"

    # Tonight: the right eye rests, the left goes on. On Thursday evening both.
    family.go(f"/w/{nola}/tonight")
    assert_well(family, NAMES)
    lens_in = family.page.locator("form:has(input[name=kind][value=lenses_in])").first
    expect(lens_in.locator("input[name=eyes]")).to_have_value("left")
    clock.now = clock.now.replace(day=5, hour=20, minute=30)
    site.work()
    family.page.context.clock.set_system_time(clock.now)
    family.go(f"/w/{nola}/tonight")
    expect(family.page.locator("main h1").first).to_have_text(phrases.gettext("Lenses in tonight."))
    assert_well(family, NAMES)
    cut(family)
    family.go("/app")
    expect(family.page.locator("#shell h1").first).to_have_text(phrases.gettext("Lenses in tonight."))


@pytest.mark.parametrize("language", LANGUAGES_SEEN)
def test_H2_with_nobody_on_duty_the_first_line_sends_them_at_once(
    site: Site,
    clock: Clock,
    lived_in: Cast,  # noqa: F811
    window: Open,
    language: str,
) -> None:
    """At half past eight in the evening the practice is shut, and nobody is on call."""
    settled(site, lived_in, language)
    phrases = Phrases(LANGUAGES[language])
    family = family_phone(window, site, lived_in, "Gwen", language)
    told_on_the_phone(family)
    not_told = phrases.say(result_words.NOT_TOLD[4])
    expect(family.page.locator("main section.alarm h1").first).to_have_text(shown(not_told))
    with family.page.expect_response("**/sync"):
        cut(family, off=False)
    site.work()
    assert len(letters_to(site, FIRST)) == 1, "an alert leaves at every hour"
    family.go(f"/w/{lived_in.wearers['Nola']}/reports/{alert_of(site).entry_id}")
    opens = datetime(2026, 11, 3, 8, 30, tzinfo=UTC)
    when = phrases.gettext("tomorrow at %(time)s", time=phrases.time(opens, UTC))
    wanted = phrases.say(result_words.OFF_DUTY[4], practice="Practice by the mill", time=when)
    first_line = family.page.locator("main section.alarm h1").first
    expect(first_line).to_have_text(shown(wanted))
    assert_well(family, NAMES)
