"""*Tonight* without a network: from a cold start, for the right child, and never freer than what is certain."""

from __future__ import annotations

import copy
from datetime import datetime, timedelta
from typing import Any

import pytest
from looks import assert_well
from people import Cast, add_guardian
from playwright.sync_api import Page, expect
from test_screens import (
    NAMES,
    lived_in,  # noqa: F401
)
from test_tonight_painted import REPLY, View, may_skip, speak
from windows import DESK, PHONE, Open, Site, Window

from companion.store.models import EntryRow, Person, Wearer
from companion.usecases import tonight

CONTROLLED = "() => navigator.serviceWorker.controller !== null"
ROWS = """async () => {
    const {load} = await import(new URL("./app.js", document.querySelector("script[src]").src));
    const {reading} = await load("db");
    return reading(({entries}) => entries.all());
}"""
ANSWER = """async ({kept, rows, verdicts, now}) => {
    const {load} = await import(new URL("./app.js", document.querySelector("script[src]").src));
    const {viewNow} = await load("now");
    const {answer, action, lens, leave, unsent, look} = viewNow(kept, rows, verdicts, Date.parse(now));
    return {answer, action, lens, leave, unsent, look};
}"""


def installed(window: Window, name: str) -> Page:
    """Sign in on a phone and let the worker and the first sync do their part; then the network goes. Returns the
    page of a cold start."""
    context = window.page.context
    context.clock.install(time=window.site.clock())
    with window.page.expect_response("**/sync"):
        window.sign_in(name)
    window.page.wait_for_function(CONTROLLED)
    window.page.wait_for_load_state("networkidle")
    window.page.close()
    context.set_offline(True)
    window.page = context.new_page()
    window.page.goto(window.site.url("/app"))
    return window.page


def rows(page: Page) -> list[dict[str, Any]]:
    return page.evaluate(ROWS)  # type: ignore[no-any-return]


def test_a_night_is_logged_with_one_tap_from_a_cold_start_without_a_network(
    site: Site,
    lived_in: Cast,  # noqa: F811
    window: Open,
) -> None:
    page = installed(window(script=True), "Gwen")
    expect(page.locator("h1").first).to_have_text("Lenses in tonight.")
    expect(page.get_by_text("No network.")).to_be_visible()
    page.locator("button.great").click()
    expect(page.locator("h1").first).to_have_text("Lenses are in. Sleep well.")
    expect(page.locator(".strip")).to_contain_text("Saved on this phone.")
    tapped = rows(page)
    assert [(row["wearer"], row["raw"]["kind"]) for row in tapped] == [(lived_in.wearers["Nola"], "lenses_in")]
    page.get_by_role("button", name="Undo").click()
    expect(page.locator("h1").first).to_have_text("Lenses in tonight.")
    page.locator("button.great").click()
    expect(page.locator("h1").first).to_have_text("Lenses are in. Sleep well.")
    kinds = ["lenses_in", "withdrawal", "lenses_in"]  # the first tap was on its way already: it may have arrived
    assert sorted(row["raw"]["kind"] for row in rows(page)) == sorted(kinds)
    page.context.set_offline(False)
    expect(page.locator(".strip")).to_contain_text("Sent.")
    with site.store.reading() as session:
        sent = session.query(EntryRow).order_by(EntryRow.seq.desc()).limit(3)
        assert [one.kind for one in sent][::-1] == kinds
    expect(page.locator("h1").first).to_have_text("Lenses are in. Sleep well.")


def test_two_children_on_one_phone_and_the_tap_goes_to_the_one_on_the_page(
    site: Site,
    lived_in: Cast,  # noqa: F811
    window: Open,
) -> None:
    with site.store.writing() as session:
        timo, gwen = (session.get_one(kind, lived_in_id) for kind, lived_in_id in (
            (Wearer, lived_in.wearers["Timo"]), (Person, lived_in.people["Gwen"])
        ))  # fmt: skip
        timo.mark = "boat"
        add_guardian(session, timo, gwen, site.clock())
        session.commit()
    page = installed(window(script=True), "Gwen")
    expect(page.locator("h1").first).to_have_text("Whose lenses?")
    assert page.locator("button.great").count() == 0
    assert page.locator(".whose .sign use").get_attribute("href") == "#mark-boat"
    for name in ("Timo", "Nola"):
        page.locator(".whose", has_text=name).click()
        expect(page.locator("button.great")).to_be_visible()
        expect(page.locator(".who b")).to_have_text(name)
        page.locator("button.great").click()
        expect(page.locator("h1").first).to_have_text("Lenses are in. Sleep well.")
        assert rows(page)[-1 if name == "Timo" else 0]["raw"]["kind"] == "lenses_in"
        assert {row["wearer"] for row in rows(page)} >= {lived_in.wearers[name]}
        page.locator(".others").click()
        expect(page.locator("h1").first).to_have_text("Whose lenses?")
    assert sorted(row["wearer"] for row in rows(page)) == sorted(
        lived_in.wearers[name] for name in ("Timo", "Nola")
    )


def test_a_silent_week_is_told_with_one_tap_without_a_network(
    site: Site,
    lived_in: Cast,  # noqa: F811
    window: Open,
) -> None:
    site.clock.now += timedelta(days=6)
    site.work()
    page = installed(window(script=True), "Gwen")
    expect(page.get_by_text("Did they go as planned?")).to_be_visible()
    page.get_by_role("button", name="All as planned").click()
    expect(page.get_by_text("Did they go as planned?")).to_have_count(0)
    expect(page.locator(".strip")).to_contain_text("All as planned")
    page.get_by_role("button", name="Undo").click()
    expect(page.get_by_text("Did they go as planned?")).to_be_visible()
    page.get_by_role("button", name="All as planned").click()
    expect(page.get_by_text("Did they go as planned?")).to_have_count(0)
    page.context.set_offline(False)
    expect(page.locator(".strip")).to_contain_text("Sent.")
    expect(page.get_by_text("Did they go as planned?")).to_have_count(0)
    page.goto(site.url(f"/w/{lived_in.wearers['Nola']}/tonight"))
    expect(page.get_by_role("button", name="Lenses in now")).to_be_visible()
    expect(page.get_by_text("Did they go as planned?")).to_have_count(0)


def test_H1_after_a_tap_one_question_whose_doubt_leads_to_the_report_of_trouble(
    site: Site,
    lived_in: Cast,  # noqa: F811
    window: Open,
) -> None:
    opened = window(script=True)
    page = installed(opened, "Gwen")
    asked = page.locator(".strip .asked")
    page.locator("button.great").click()
    expect(asked).to_contain_text("Do the lenses feel comfortable?")
    expect(page.locator(".strip > .undo + .asking > .asked")).to_be_visible()
    assert_well(opened, NAMES)
    page.get_by_role("button", name="Undo").click()
    expect(asked).to_have_count(0)
    page.locator("button.great").click()
    asked.get_by_role("button", name="Yes").click()
    expect(asked).to_have_count(0)
    assert {row["raw"]["kind"] for row in rows(page)} <= {"lenses_in", "withdrawal"}, "a yes is kept nowhere"
    page.get_by_role("button", name="Lenses out now").click()
    expect(asked).to_contain_text("Are the eyes white and comfortable?")
    asked.get_by_role("link", name="No, or not sure").click()
    expect(page.locator("#main [data-eyes]:visible").first).to_be_visible()
    expect(page.locator("#main")).to_contain_text("Nola")


@pytest.fixture
def freed(site: Site, lived_in: Cast, window: Open, monkeypatch: pytest.MonkeyPatch) -> tuple[Window, View]:  # noqa: F811
    """A window, and what a phone keeps of an evening on which both lenses may stay out."""
    real = tonight.tonight

    def bent(*args: Any) -> View:
        view = copy.deepcopy(real(*args))
        may_skip(view)
        return view

    monkeypatch.setattr(tonight, "tonight", bent)
    family = window(script=True)
    family.sign_in("Gwen")
    reply = family.page.evaluate(REPLY)
    return family, {**reply["wearers"][0], "fetched_at": reply["now"]}


def row(kind: str, at: str, state: str = "here", **payload: Any) -> dict[str, Any]:
    raw = {"id": kind, "kind": kind, "at": at, "zone": "Europe/London", "made_at": at, "payload": payload}
    return {"id": kind, "state": state, "raw": raw}


def test_H3_a_freed_night_lapses_with_time_and_with_what_was_logged_since(
    site: Site, freed: tuple[Window, View]
) -> None:
    window, kept = freed
    start = site.clock()
    now = start.isoformat()

    def answers(later: timedelta = timedelta(0), *local: dict[str, Any], **bend: Any) -> tuple[str, str]:
        at = (start + later).isoformat()
        given = {"kept": {**kept, **bend}, "rows": list(local), "verdicts": {}, "now": at}
        said = window.page.evaluate(ANSWER, given)["answer"]
        return said["wearer"], said["reasons"][0]["key"]

    free, old, changed = ("may_skip", "target_holds"), ("wear", "answer_old"), ("wear", "answer_changed")
    night = kept["tonight"]["night"]
    assert answers() == answers(timedelta(hours=6)) == free
    assert answers(timedelta(hours=23)) == answers(timedelta(days=5)) == old
    assert answers(timedelta(hours=-1)) == old, "a clock that was put back frees nothing"
    target = {**kept["tonight"], "answer": {**kept["tonight"]["answer"], "target_at": now}}
    assert answers(tonight=target) == old
    assert answers(fetched_at=(start - timedelta(hours=36, minutes=1)).isoformat()) == old
    assert answers(timedelta(0), row("sight", now, eye="right", word="soft")) == changed
    assert answers(timedelta(0), row("no_lenses", now, eyes="both", night="2026-11-01")) == changed
    assert answers(timedelta(0), row("withdrawal", now, withdraws="elsewhere")) == changed
    # What says no more than was known, and what the server would not have.
    assert (
        answers(timedelta(0), row("note", now, text="x"), row("no_lenses", now, eyes="both", night=night)) == free
    )
    assert answers(timedelta(0), row("sight", now, "rejected", eye="right", word="soft")) == free


def test_H1_a_report_that_only_this_phone_has_holds_its_eye(site: Site, freed: tuple[Window, View]) -> None:
    window, kept = freed
    now = site.clock().isoformat()
    verdict = {"wear_hold": {"right": True, "left": False}, "lens": {"right": "leave_in", "left": "none"}}
    local = [row("symptom_report", now, answers={})]
    given = {"kept": kept, "rows": local, "verdicts": {"symptom_report": verdict}, "now": now}
    said = window.page.evaluate(ANSWER, given)
    assert {eye: one["answer"] for eye, one in said["answer"]["eyes"].items()} == {
        "right": "do_not_wear",
        "left": "may_skip",
    }
    assert (said["answer"]["wearer"], said["leave"]) == ("per_eye", ["right"])
    assert said["action"] == {"kind": "lenses_in", "eyes": ["left"]}
    local.append(row("lenses_in", now, eyes="both"))
    morning = (site.clock() + timedelta(hours=10)).isoformat()
    said = window.page.evaluate(ANSWER, {**given, "rows": local, "now": morning})
    assert said["action"] == {"kind": "lenses_out", "eyes": ["left"]}, (
        "nobody is asked to pull the lens of that eye"
    )


def spoken(id_: str, level: int, at: str, look: str | None = None, **eyes: Any) -> tuple[dict, dict]:
    """A report that only this phone has, and what the phone makes of it."""
    said = row("symptom_report", at, answers=eyes)
    due = datetime.fromisoformat(look).timestamp() * 1000 if look else 0
    clock = {"at": due, "due": False, "moment": None, "eyes": "both" if len(eyes) != 1 else next(iter(eyes))}
    kept = {"level": level, "wear_hold": {}, "lens": {}, "look": clock if look else None}
    return {**said, "id": id_, "order": 1, "raw": {**said["raw"], "id": id_}}, {id_: kept}


def test_H1_a_later_milder_report_hides_no_worse_one(site: Site, freed: tuple[Window, View]) -> None:
    window, kept = freed
    now = site.clock()
    early, late, later = ((now + timedelta(minutes=after)).isoformat() for after in (0, 5, 10))
    soon, then = ((now + timedelta(minutes=after)).isoformat() for after in (30, 60))
    pain, itch = {"pain": "severe"}, {"itch": "mild"}

    def view(*reports: tuple[dict, dict], server: dict[str, Any] | None = None) -> dict[str, Any]:
        rows = [one for one, _ in reports]
        verdicts = {id_: verdict for _, each in reports for id_, verdict in each.items()}
        known = {**kept, "tonight": {**kept["tonight"], "look": server}}
        return window.page.evaluate(ANSWER, {"kept": known, "rows": rows, "verdicts": verdicts, "now": later})  # type: ignore[no-any-return]

    worst = spoken("worst", 5, early, right=pain)
    mild = spoken("mild", 2, late, then, left=itch)
    for both in ((worst, mild), (mild, worst)):
        said = view(*both)
        assert said["unsent"] == {"id": "worst", "level": 5}
        assert said["look"]["report_id"] == "mild", "the other eye's clock goes on"
    assert view(mild, spoken("again", 2, later, then, left=itch))["unsent"] == {"id": "again", "level": 2}
    # Of each eye the last word has the clock, and the sooner one is shown.
    other = spoken("other", 2, early, soon, right=itch)
    assert view(mild, other)["look"]["report_id"] == "other"
    assert view(mild, other, spoken("same", 4, later, right=pain))["look"]["report_id"] == "mild"
    assert view(other, spoken("whole", 4, later, right=pain, left=pain))["look"] is None
    # So with a clock of the server's: what was said here of one eye says nothing of the other.
    clock = {"report_id": "server", "level": 2, "at": soon, "now": early, "due": False, "moment": None}
    assert view(mild, server={**clock, "eyes": "right"})["look"]["report_id"] == "server"
    assert view(mild, server={**clock, "eyes": "left"})["look"]["report_id"] == "mild"
    assert view(mild, server={**clock, "eyes": "both"})["look"]["report_id"] == "server"
    assert view(mild, other, server={**clock, "eyes": "both"})["look"]["report_id"] == "other"


@pytest.mark.parametrize(("hour", "dark"), [(21, False), (14, False), (14, True)], ids=["lamp", "paper", "dark"])
@pytest.mark.parametrize(
    ("size", "language"), [(PHONE, "en"), (PHONE, "ar"), (DESK, "en-x-mirror"), (PHONE, "zh-Hans")]
)
def test_the_painted_page_is_for_everybody(
    site: Site,
    lived_in: Cast,  # noqa: F811
    window: Open,
    size: dict[str, int],
    language: str,
    hour: int,
    dark: bool,
) -> None:
    speak(site, language=language)
    site.clock.now = site.clock().replace(hour=hour) + timedelta(days=1)
    opened = window(size, language, script=True, dark=dark)
    page = installed(opened, "Gwen")
    expect(page.locator(".columns h1")).to_be_visible()
    assert page.evaluate("document.documentElement.dataset.light") == ("lamp" if hour == 21 else "device")
    page.evaluate("document.querySelectorAll('details').forEach(one => one.open = true)")
    assert_well(opened, NAMES)


def test_trouble_opened_from_the_home_screen_lights_up_no_bedroom(
    site: Site,
    lived_in: Cast,  # noqa: F811
    window: Open,
) -> None:
    """Whatever the device prefers, the evening is by lamp: before Tonight was ever painted on this page too."""
    page = installed(window(script=True), "Gwen")
    context = page.context
    page.close()
    page = context.new_page()
    page.goto(site.url("/app#wrong"))
    expect(page.locator("[data-eyes]").first).to_be_visible()
    assert page.evaluate("document.documentElement.dataset.light") == "lamp"
