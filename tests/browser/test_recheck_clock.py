"""Looking again: the clock on the screen, what time makes of a report on a phone, asking for more."""

from __future__ import annotations

from datetime import UTC, datetime, time, timedelta
from types import SimpleNamespace
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pytest
import triage_verdicts as sets
from looks import assert_well
from people import Cast, add_person
from sqlalchemy import select
from telling import actor_named, report, tell
from windows import PHONE, Open, Site, Window
from wrong_walk import cut, family_phone, on_the_phone, phone, start_over

from companion.common.eyes import EYES
from companion.store.models import Alert, EntryRow, Hold, Person, Practice, Wearer
from companion.triage.answers import Answers, answers_from_file
from companion.triage.evaluate import evaluate
from companion.triage.timers import DayHours, looks, raise_by_time
from companion.usecases.looks import SEEN_FROM, by_now, full_minute

NAMES = ("Nola", "Practice by the mill")
LANGUAGES = ("en", "zh-Hans", "ar")
PINK = {"right": {"redness": "pink", "course": "under_1h"}}
STUCK = {"right": {"lens": "stuck_now"}}
LOAD = """async () => {
    const root = new URL(".", document.querySelector("script[src*='/js/']").src);
    const load = (name) => import(new URL(`${name}.js`, root));
    const [triage, timers] = await Promise.all(["triage", "timers"].map(load));
    const rules = triage.readRules(await (await fetch(document.documentElement.dataset.rules)).json());
    window.proof = (given, elapsed, givenAt, hours, zone, askedLevel) => {
        const answers = timers.raiseByTime(given, elapsed, rules);
        const verdict = triage.evaluate(answers, rules, {askedLevel});
        const due = timers.looks(verdict, givenAt, hours, zone);
        return [answers, verdict.level, verdict.deciding, verdict.wear_hold, verdict.advice, due];
    };
    window.told = (raw, kept, now) => {
        const { verdict, level, look } = timers.byNow(raw, rules, kept, now);
        const { level: same, lens, wear_hold, advice, deciding } = verdict;
        return { level, same, lens, wear_hold, advice, deciding, look: look && [look.at, look.moment] };
    };
}"""


def judged(answers: Answers, elapsed: timedelta, given_at: datetime, hours: DayHours, asked: int) -> list[Any]:
    answers = raise_by_time(answers, elapsed)
    verdict = evaluate(answers, asked_level=asked)
    due = [
        {"at": one.at.timestamp() * 1000, "moment": one.moment} for one in looks(verdict, given_at, hours)
    ]
    held = {eye.value: verdict.wear_hold[eye] for eye in verdict.wear_hold}
    advice = [{"key": one.key, "eyes": list(one.eyes)} for one in verdict.advice]
    return [answers.document(), verdict.level, list(verdict.deciding), held, advice, due]


def test_H1_time_makes_of_a_report_on_the_phone_what_it_makes_on_the_server(window: Open) -> None:
    """Drawn answers, at and around each limit, through nights in which clocks change, asked for more or not."""
    opened = window(script=True)
    opened.go("/sign-in")
    page = opened.page
    page.evaluate(LOAD)
    rng = np.random.default_rng(20_261_125)
    rows = sets.draw(rng, 3000)
    levels = sets.judge(rows)[:, 0]
    rows = np.concatenate([rows[np.flatnonzero(levels == level)[:60]] for level in range(1, 6)])
    starts = [datetime(2026, 3, 28, 18, tzinfo=UTC), datetime(2026, 10, 24, 18, tzinfo=UTC)]
    zones = ("Europe/London", "America/Santiago", "Asia/Kolkata")
    for n, row in enumerate(rows):
        said = answers_from_file(sets.document(row))
        given_at = starts[n % 2] + timedelta(minutes=int(rng.integers(0, 1440)))
        hours = DayHours(ZoneInfo(zones[n % 3]), time(21, 30), time(1 + n % 6, 30))
        asked = int(rng.integers(1, 6)) if n % 4 == 0 else 1
        clock = {"bedtime": 21 * 60 + 30, "waking": (1 + n % 6) * 60 + 30}
        for minutes in (0, 29, 30, 59, 60, 1439, 1440):
            elapsed = timedelta(minutes=minutes)
            came = page.evaluate(
                "sent => proof(...sent)",
                [said.document(), minutes * 60_000, given_at.timestamp() * 1000, clock, zones[n % 3], asked],
            )
            assert came == judged(said, elapsed, given_at, hours, asked), (said.document(), minutes, given_at)


def stands(row: np.ndarray, asked: int, told: int, minutes: int, now: datetime) -> tuple[Any, Any]:
    """A report that has waited on a phone, as the phone has it and as it counts on the server by now."""
    given_at = now - timedelta(minutes=minutes)
    payload = {"answers": sets.document(row), "asked_level": asked, "judged_level": told}
    practice: Any = SimpleNamespace(illness_holds=True, one_eye_holds_both=True, triage_on=True)
    wearer: Any = SimpleNamespace(zone="Europe/London", usual_in=time(21, 30), usual_out=time(6, 30))
    entry: Any = SimpleNamespace(payload=payload, at=given_at, received_at=now)
    came = by_now(practice, wearer, entry, now)
    verdict = came.verdict
    shown = came.look if verdict.level < SEEN_FROM else None
    raw = {"at": given_at.isoformat(), "zone": "Europe/London", "payload": payload}
    return raw, {
        "level": verdict.level,
        "same": verdict.level,
        "lens": {eye.value: verdict.lens[eye] for eye in EYES},
        "wear_hold": {eye.value: verdict.wear_hold[eye] for eye in EYES},
        "advice": [{"key": one.key, "eyes": list(one.eyes)} for one in verdict.advice],
        "deciding": list(verdict.deciding),
        "look": shown and [full_minute(shown.at).timestamp() * 1000, shown.moment or None],
    }


def test_H1_what_the_family_was_told_stands_on_the_phone_with_all_that_follows_from_it(window: Open) -> None:
    """By rules of another day a phone may have said something more urgent: holds, lens and advice follow it."""
    opened = window(script=True)
    opened.go("/sign-in")
    opened.page.evaluate(LOAD)
    rng = np.random.default_rng(20_261_126)
    rows = sets.draw(rng, 2000)
    levels = sets.judge(rows)[:, 0]
    now = datetime(2026, 11, 22, 20, 30, tzinfo=UTC)
    kept = {"hours": {"in": "2026-11-22T21:30:00+00:00", "out": "2026-11-23T06:30:00+00:00"}}
    for row in np.concatenate([rows[np.flatnonzero(levels == level)[:6]] for level in range(1, 6)]):
        for told in range(1, 6):
            asked, minutes = int(rng.integers(1, told + 1)), int(rng.choice([0, 31, 61]))
            raw, wanted = stands(row, asked, told, minutes, now)
            came = opened.page.evaluate("sent => told(...sent)", [raw, kept, now.timestamp() * 1000])
            assert came == wanted, (raw, minutes)


# -- the server's page --------------------------------------------------------------------------------------------
def stuck_report(site: Site, cast: Cast, answers: dict[str, dict[str, str]] = PINK) -> str:
    gwen = actor_named(site.store, cast.people["Gwen"])
    (one,) = tell(site.store, gwen, cast.wearers["Nola"], site.clock(), report(site.clock(), **answers)).reports
    return one


def look(window: Window) -> str:
    return " ".join(window.says(".look:visible").split())


@pytest.mark.parametrize("place", ["report", "tonight"])
@pytest.mark.parametrize("off", [timedelta(0), timedelta(hours=3), timedelta(hours=-3)])
def test_H13_the_clock_counts_and_is_never_early_whatever_the_phone_thinks_it_is(
    site: Site, cast: Cast, window: Open, place: str, off: timedelta
) -> None:
    id_ = stuck_report(site, cast)
    family = family_phone(window, site, cast, "Gwen")
    path = {"report": f"reports/{id_}", "tonight": "tonight"}[place]
    family.page.clock.install(time=site.clock() + off - timedelta(hours=1))
    family.page.clock.pause_at(site.clock() + off)
    family.go(f"/w/{cast.wearers['Nola']}/{path}")
    family.page.locator(".look [data-left]:visible").wait_for()
    assert "Look at the eye again: 21:30." in look(family)
    assert "That is in 60 minutes." in look(family)
    family.page.clock.run_for(22 * 60_000)
    assert "That is in 38 minutes." in look(family)
    family.page.clock.run_for(37 * 60_000 + 59_999)
    assert "That is in 1 minute." in look(family) and "again now" not in look(family)
    family.page.clock.run_for(1)
    assert "Look at the eye again now." in look(family) and "21:30" not in look(family)
    assert "alarm" not in look(family)


@pytest.mark.parametrize("language", LANGUAGES)
def test_without_script_the_time_stands(site: Site, cast: Cast, window: Open, language: str) -> None:
    stuck_report(site, cast)
    plain = window(language=language)
    plain.sign_in("Gwen")
    if plain.path == "/consent":
        family_phone(window, site, cast, "Gwen", language)
    plain.go(f"/w/{cast.wearers['Nola']}/tonight")
    assert plain.page.locator(".look:visible").count() == 1
    assert_well(plain, NAMES)
    plain.press(".look:visible .thirds a >> nth=2")
    assert "right.course=over_24h_or_worse" in plain.page.url


# -- the phone, offline -------------------------------------------------------------------------------------------
def offline_report(
    site: Site, cast: Cast, window: Open, answers: dict[str, dict[str, str]], tag: str = "en"
) -> Window:
    """Gwen's phone without a network, after a report of Nola's right eye."""
    mine = family_phone(window, site, cast, "Gwen", tag)
    mine.page.clock.install(time=site.clock() - timedelta(hours=1))
    mine.page.clock.pause_at(site.clock())  # from here on time passes when it is told to
    mine.go("/app")
    mine.page.locator("main .columns").wait_for()
    cut(mine)
    start_over(mine)
    on_the_phone(mine, answers)
    return mine


def test_H1_a_report_that_waits_on_the_phone_grows_more_urgent_by_itself(
    site: Site, cast: Cast, window: Open
) -> None:
    mine = offline_report(site, cast, window, PINK)
    assert "Be seen in a few days" in mine.says(".level:visible")
    assert "That is in 60 minutes." in look(mine)
    mine.page.clock.fast_forward(59 * 60_000)
    assert "Be seen in a few days" in mine.says(".level:visible")
    assert "again now" not in look(mine)
    mine.page.clock.fast_forward(2 * 60_000)
    mine.page.locator(".level-3:visible").wait_for()
    assert "it is more urgent now" in mine.says("section.card:visible")
    assert "Look at the eye again now." in look(mine)
    # Tonight says the same, and leads back to it.
    mine.go(f"/w/{cast.wearers['Nola']}/tonight")
    mine.page.locator("main .columns").wait_for()
    assert "Look at the eye again now." in look(mine)
    assert "Saved on this phone. Not sent yet: phone them now." in mine.says()
    mine.page.locator("a[href*='/reports/']").click()
    mine.page.locator(".level-3:visible").wait_for()
    assert "Not sent yet: phone them now." in mine.says("#told")
    mine.page.clock.fast_forward(23 * 3_600_000)
    mine.page.locator(".level-4:visible").wait_for()
    assert mine.page.locator(".look:visible").count() == 0, "nobody is told to wait and look any more"


def test_a_stuck_lens_on_the_phone_is_urgent_after_half_an_hour(site: Site, cast: Cast, window: Open) -> None:
    mine = offline_report(site, cast, window, STUCK)
    assert "That is in 15 minutes." in look(mine)
    mine.page.clock.fast_forward(31 * 60_000)
    mine.page.locator(".level-4:visible").wait_for()


def test_one_tap_leads_into_the_questions_again(site: Site, cast: Cast, window: Open) -> None:
    mine = offline_report(site, cast, window, PINK)
    mine.page.locator(".look:visible .thirds button", has_text="Worse").click()
    mine.page.locator("main form input[type=radio]").first.wait_for()
    assert mine.page.locator("main input:checked").count() == 0, "answers are asked afresh"
    mine.go(f"/w/{cast.wearers['Nola']}/tonight")
    mine.page.locator(".look:visible .thirds a", has_text="The same").click()
    mine.page.locator("main form input").first.wait_for()
    assert "right" in mine.page.url


def test_H1_on_the_phone_too_somebody_may_ask_for_more_and_the_alert_follows(
    site: Site, cast: Cast, window: Open
) -> None:
    mine = offline_report(site, cast, window, {"right": {"itch": "mild"}})
    assert "Watch at home" in mine.says(".level:visible")
    mine.page.locator("#ask summary").click()
    assert [one.get_attribute("value") for one in mine.page.locator("#ask button").all()] == ["2", "5"]
    mine.page.locator("#ask button[value='5']").click()
    mine.page.locator(".level-5:visible").wait_for()
    assert "take the lens out" in mine.says(".lens-steps li >> nth=0")
    assert "Because somebody who sees the eye thinks that it is worse." in mine.says()
    assert mine.page.locator("#ask").count() == 0
    assert "NOT been told" in mine.says()
    cut(mine, off=False)
    mine.page.clock.fast_forward(60_000)
    mine.page.locator("#told li.done").wait_for()
    with site.store.reading() as session:
        rows = session.scalars(select(EntryRow).where(EntryRow.kind == "symptom_report")).all()
        assert sorted(one.payload.get("asked_level", 0) for one in rows) == [0, 5]
        assert len({one.at for one in rows}) == 1
        assert session.scalars(select(Alert)).one().level == 5
        assert sorted(session.scalars(select(Hold.eye))) == ["left", "right"]


def test_a_stranger_may_ask_for_more_without_a_network(window: Open) -> None:
    offline = phone(window, size=PHONE)
    offline.go("/app#wrong")
    on_the_phone(offline, {"right": {"itch": "mild"}})
    offline.page.locator("#ask summary").click()
    offline.page.locator("#ask button[value='2']").click()
    offline.page.locator(".level-2:visible").wait_for()
    offline.page.locator("#ask summary").click()
    assert [one.get_attribute("value") for one in offline.page.locator("#ask button").all()] == ["3", "5"]


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_screen_of_looking_again_is_fit_for_all(
    site: Site, cast: Cast, window: Open, language: str
) -> None:
    mine = offline_report(site, cast, window, PINK, language)
    mine.page.locator("#ask summary").click()
    assert_well(mine, NAMES)
    mine.go(f"/w/{cast.wearers['Nola']}/tonight")
    mine.page.locator(".look:visible").wait_for()
    assert_well(mine, NAMES)


# -- a young wearer alone, and a practice without triage ----------------------------------------------------------
def make_timo_sign_in(site: Site, cast: Cast) -> None:
    """Timo is 12 and signs in alone; Hedda can be called."""
    with site.store.writing() as session:
        person = add_person(session, "Timo", site.clock())
        cast.people["Timo"] = person.id
        session.get_one(Wearer, cast.wearers["Timo"]).person_id = person.id
        session.get_one(Person, cast.people["Hedda"]).phone = "+441632960017"
        session.commit()


def words_of(window: Window) -> list[str]:
    """What the page of questions or the result says, without what stands around."""
    return window.page.locator("main legend, main .hint, main .choice span, main h1, #adult").all_inner_texts()


@pytest.mark.parametrize("language", LANGUAGES)
def test_H17_a_young_wearer_alone_is_spoken_to_on_the_phone_too(
    site: Site, cast: Cast, window: Open, language: str
) -> None:
    make_timo_sign_in(site, cast)
    mine = family_phone(window, site, cast, "Timo", language)
    path = f"/w/{cast.wearers['Timo']}/wrong"
    mine.go(f"{path}?eyes=both")
    server = words_of(mine)
    assert_well(mine, ("Timo", "Hedda", NAMES[1]))
    cut(mine)
    mine.go(f"{path}?eyes=both")
    mine.page.locator("#wrong form input").first.wait_for()
    assert words_of(mine) == server
    start_over(mine)
    assert mine.page.locator("#adult a").get_attribute("href") == "tel:+441632960017"
    on_the_phone(mine, {"right": {"pain": "moderate"}})
    assert mine.page.locator("#told p b").count() == 1
    assert_well(mine, ("Timo", "Hedda", NAMES[1]))


@pytest.mark.parametrize("language", LANGUAGES)
def test_H3_without_triage_the_phone_shows_fixed_signs_and_asks_nothing(
    site: Site, cast: Cast, window: Open, language: str
) -> None:
    with site.store.writing() as session:
        session.get_one(Practice, cast.practices["mill"]).triage_on = False
        session.commit()
    mine = family_phone(window, site, cast, "Gwen", language)
    mine.page.clock.install(time=site.clock())
    path = f"/w/{cast.wearers['Nola']}/wrong"
    mine.go(path)
    server = mine.page.locator("section.card li, section.card h2, section.card > p").all_inner_texts()
    assert_well(mine, NAMES)
    cut(mine)
    for address in ("/app#wrong", f"{path}?eyes=right"):
        mine.go(address)
        mine.page.locator("#wrong section.card li").first.wait_for()
        phone_says = mine.page.locator(
            "#wrong section.card li, #wrong section.card h2, #wrong section.card > p"
        ).all_inner_texts()
        assert phone_says == server
        assert mine.page.locator("[data-eyes], #wrong input").count() == 0
    assert_well(mine, NAMES)
