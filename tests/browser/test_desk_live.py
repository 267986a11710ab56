"""The desk while it is open: it renews itself, tells what is new, says when it stands still, sounds on request.

Time in the window is the test's own: a poll comes when the test lets five seconds pass.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import pytest
from looks import assert_well
from people import Cast
from playwright.sync_api import expect
from sqlalchemy import select, update
from telling import RED_PAIN, actor_named, report, tell
from test_screens import NAMES, speak
from windows import DESK, PHONE, Open, Site, Window

from companion.store.models import Alert, Membership, SignIn
from companion.usecases import alerts

POLL = 5_000
Opened = Callable[..., Window]
LEVEL_3 = {"redness": "red"}


@pytest.fixture
def opened(site: Site, cast: Cast, window: Open) -> Iterator[Opened]:
    """A signed-in window whose timers wait for the test."""

    def make(path: str = "/desk", name: str = "Pavel", size: dict[str, int] = DESK, **more: Any) -> Window:
        one = window(size, script=True, **more)
        one.page.clock.install(time=site.clock())
        one.page.add_init_script(
            "window.heard = []; document.addEventListener('sounded', (e) => heard.push(e.detail));"
        )
        one.sign_in(name)
        open_again(one, path)
        return one

    yield make


def open_again(one: Window, path: str) -> None:
    """Open a page, and wait for its first answer. Axe takes a page's timers away: it is opened anew after that."""
    one.go(path)
    expect(one.page.locator("#watch[data-live]")).to_have_count(1)


def poll(one: Window, ms: int = POLL) -> None:
    with one.page.expect_response(lambda answer: "/desk/news" in answer.url):
        one.page.clock.run_for(ms)


def go_on(one: Window) -> None:
    """Let half a minute pass, each poll answered before the next: longer than two sounds lie apart."""
    for _ in range(6):
        poll(one)


def go_offline(one: Window) -> None:
    """The first lost answer is a hiccup, and comes at once; the second, at the next poll, is told."""
    with one.page.expect_event("requestfailed"):
        one.page.context.set_offline(True)
    assert one.says("#watch-trouble") == ""
    with one.page.expect_event("requestfailed"):
        one.page.clock.run_for(POLL)


def trouble(site: Site, cast: Cast, name: str, guardian: str, said: dict[str, str]) -> str:
    now = site.clock.advance(seconds=1)
    author, wearer_id = actor_named(site.store, cast.people[guardian]), cast.wearers[name]
    tell(site.store, author, wearer_id, now, report(now, right=said))
    with site.store.reading() as session:
        newest = select(Alert.id).where(Alert.wearer_id == wearer_id).order_by(Alert.raised_at.desc()).limit(1)
        return session.scalars(newest).one()


def take(site: Site, cast: Cast, alert_id: str, name: str = "Asta") -> None:
    with site.store.writing() as session:
        alerts.take(session, actor_named(site.store, cast.people[name]), alert_id, site.clock.advance(seconds=1))


def test_H2_an_alert_appears_within_a_poll(site: Site, cast: Cast, opened: Opened) -> None:
    desk = opened()
    expect(desk.page).to_have_title("Who needs us now · The companion")
    trouble(site, cast, "Nola", "Gwen", RED_PAIN)
    poll(desk)
    row = desk.page.locator("ol.alerts > li")
    expect(row).to_have_count(1)
    expect(row).to_contain_text("Nola")
    expect(desk.page).to_have_title("(1) Who needs us now · The companion")
    cried = desk.page.locator("#watch-cried[role=alert]")
    expect(cried).to_have_text("New: Level 4: Be seen today. Nola, right eye")
    trouble(site, cast, "Timo", "Hedda", LEVEL_3)
    poll(desk)
    expect(row).to_have_count(2)
    expect(desk.page.locator("#watch-said[role=status]")).to_contain_text("New: Level 3")
    assert_well(desk, NAMES)


def test_H2_what_a_colleague_has_taken_says_so_and_counts_no_more(site: Site, cast: Cast, opened: Opened) -> None:
    alert_id = trouble(site, cast, "Nola", "Gwen", RED_PAIN)
    desk = opened()
    expect(desk.page).to_have_title("(1) Who needs us now · The companion")
    take(site, cast, alert_id)
    poll(desk)
    expect(desk.page.locator("ol.alerts > li")).to_contain_text("Taken by Asta")
    expect(desk.page).to_have_title("Who needs us now · The companion")


def test_H2_an_alert_is_told_once_on_whichever_page_of_the_practice_is_open(
    site: Site, cast: Cast, opened: Opened
) -> None:
    other = opened("/desk/wearers")
    alert_id = trouble(site, cast, "Nola", "Gwen", RED_PAIN)
    poll(other)
    line = other.page.locator("#watch-cried a")
    expect(line).to_have_attribute("href", f"/desk/alerts/{alert_id}")
    assert_well(other, NAMES)
    other.go("/desk/wearers")
    poll(other)
    expect(other.page).to_have_title("(1) Wearers · The companion")
    expect(line).to_have_count(0)
    take(site, cast, alert_id)
    poll(other)
    expect(other.page).to_have_title("Wearers · The companion")


def test_a_quiet_poll_is_a_few_bytes_and_a_new_minute_is_not(site: Site, opened: Opened) -> None:
    desk = opened()
    with desk.page.expect_response(lambda answer: "/desk/news" in answer.url) as first:
        desk.page.clock.run_for(POLL)
    assert len(first.value.body()) < 100
    site.clock.advance(minutes=1)
    poll(desk)
    expect(desk.page.locator("#desk-list time").first).to_have_text("Mon 2 Nov 20:31")


def test_renewing_the_list_leaves_the_focus_and_what_is_looked_at(site: Site, cast: Cast, opened: Opened) -> None:
    trouble(site, cast, "Timo", "Hedda", LEVEL_3)
    desk = opened(size=PHONE)
    mine = desk.page.locator("ol.alerts > li", has_text="Timo")
    button = mine.locator("button")
    button.focus()
    desk.page.evaluate("document.activeElement.marked = true; scrollBy(0, 40)")
    before = mine.bounding_box()
    assert before is not None
    trouble(site, cast, "Nola", "Gwen", RED_PAIN)
    poll(desk)
    expect(desk.page.locator("ol.alerts > li")).to_have_count(2)
    assert desk.page.evaluate("document.activeElement.marked"), "the same button, and it still has the focus"
    after = mine.bounding_box()
    assert after is not None and abs(after["y"] - before["y"]) <= 1, "the row stays where the eye is"


def test_a_row_whose_button_went_keeps_the_focus_in_it(site: Site, cast: Cast, opened: Opened) -> None:
    alert_id = trouble(site, cast, "Nola", "Gwen", RED_PAIN)
    desk = opened()
    desk.page.locator("ol.alerts button").focus()
    take(site, cast, alert_id)
    poll(desk)
    expect(desk.page.locator("ol.alerts .is-deed a")).to_be_focused()


def test_nothing_is_painted_under_a_pressed_finger(site: Site, cast: Cast, opened: Opened) -> None:
    trouble(site, cast, "Timo", "Hedda", LEVEL_3)
    desk = opened()
    row = desk.page.locator("ol.alerts > li")
    row.locator(".is-since").hover()
    desk.page.mouse.down()
    trouble(site, cast, "Nola", "Gwen", RED_PAIN)
    poll(desk)
    expect(desk.page.locator("#watch-cried a")).to_have_count(1)
    assert row.count() == 1
    desk.page.mouse.up()
    desk.page.clock.run_for(100)
    expect(row).to_have_count(2)


def test_H2_a_desk_that_gets_no_answer_says_since_when(site: Site, cast: Cast, opened: Opened) -> None:
    desk = opened()
    box = desk.page.locator("#watch-trouble[role=alert]")
    expect(desk.page.locator("#desk-list h1")).to_have_count(1)
    go_offline(desk)
    expect(box).to_contain_text("Not live since 20:30.")
    assert_well(desk, NAMES)
    trouble(site, cast, "Nola", "Gwen", RED_PAIN)
    desk.page.context.set_offline(False)
    poll(desk)
    expect(box).to_have_text("Live again.")
    expect(desk.page.locator("ol.alerts > li")).to_have_count(1)


def test_H2_a_server_that_breaks_or_hangs_counts_as_no_answer(site: Site, opened: Opened) -> None:
    desk = opened()
    box = desk.page.locator("#watch-trouble")
    desk.page.route("**/desk/news*", lambda route: route.fulfill(status=500, body="broken"))
    poll(desk)
    desk.page.unroute("**/desk/news*")
    desk.page.route("**/desk/news*", lambda route: None)
    with desk.page.expect_request(lambda asked: "/desk/news" in asked.url):
        desk.page.clock.run_for(POLL)
    with desk.page.expect_event("requestfailed"):
        desk.page.clock.run_for(10_000)
    expect(box).to_contain_text("Not live since 20:30.")


@pytest.mark.parametrize("how", ["signed out", "no longer of the practice"])
def test_a_desk_whose_sign_in_is_over_shows_nobody_and_says_so(
    site: Site, cast: Cast, opened: Opened, how: str
) -> None:
    trouble(site, cast, "Nola", "Gwen", RED_PAIN)
    desk = opened()
    expect(desk.page.locator("ol.alerts > li")).to_have_count(1)
    with site.store.writing() as session:
        over = SignIn if how == "signed out" else Membership
        mine = update(over).where(over.person_id == cast.people["Pavel"])
        session.execute(mine.values(ended_at=site.clock()))
        session.commit()
    poll(desk)
    expect(desk.page.locator("#watch-trouble")).to_contain_text("You are signed out.")
    assert "Nola" not in desk.says("body")
    expect(desk.page).to_have_title("You are signed out.")
    assert desk.page.locator("#watch-trouble a").get_attribute("href") == "/sign-in?next=/desk"
    asked: list[str] = []
    desk.page.on("request", lambda request: asked.append(request.url))
    desk.page.clock.run_for(60_000)
    assert not asked


def test_somebody_else_who_signs_in_gets_a_page_of_their_own(site: Site, cast: Cast, opened: Opened) -> None:
    desk = opened()
    with desk.page.context.expect_page() as coming:
        desk.page.evaluate("window.open('/sign-in')")
    other = Window(site, coming.value)
    other.page.context.clear_cookies(name="companion")
    other.sign_in("Asta")
    with desk.page.expect_navigation():
        desk.page.clock.run_for(POLL)
    expect(desk.page.locator(".me")).to_have_text("Asta")


def test_H14_the_desk_sounds_on_request_until_the_report_is_taken(
    site: Site, cast: Cast, opened: Opened
) -> None:
    desk = opened()
    button = desk.page.locator("#sound")
    assert button.inner_text() == "Switch sound on"
    alert_id = trouble(site, cast, "Nola", "Gwen", RED_PAIN)
    poll(desk)
    expect(desk.page.locator("ol.alerts > li")).to_have_count(1)
    assert heard(desk) == [], "no sound that nobody asked for"
    button.click()
    assert button.inner_text() == "Switch sound off"
    wait_for(desk, ["urgent"])
    for times in (2, 3):
        desk.page.clock.run_for(6_000)
        wait_for(desk, ["urgent"] * times)
    take(site, cast, alert_id)
    poll(desk)
    expect(desk.page.locator("ol.alerts > li")).to_contain_text("Taken by Asta")
    count = len(heard(desk))
    go_on(desk)
    assert len(heard(desk)) == count
    trouble(site, cast, "Timo", "Hedda", LEVEL_3)
    poll(desk)
    wait_for(desk, [*["urgent"] * count, "once"])
    go_on(desk)
    assert len(heard(desk)) == count + 1, "level 3 sounds once"
    button.click()
    trouble(site, cast, "Nola", "Gus", {"pain": "severe"})
    poll(desk)
    expect(desk.page.locator("ol.alerts > li")).to_have_count(3)
    go_on(desk)
    assert len(heard(desk)) == count + 1, "switched off"


def test_H14_a_desk_with_sound_that_stands_still_sounds_too(site: Site, opened: Opened) -> None:
    desk = opened()
    desk.page.locator("#sound").click()
    wait_for(desk, ["once"])
    go_offline(desk)
    wait_for(desk, ["once", "lost"])


def test_H14_this_browser_remembers_the_sound_and_says_when_it_holds_it_back(
    site: Site, cast: Cast, opened: Opened
) -> None:
    desk = opened()
    desk.page.locator("#sound").click()
    wait_for(desk, ["once"])
    trouble(site, cast, "Nola", "Gwen", RED_PAIN)
    # A browser that wants a touch first: its sound is not ready until then.
    desk.page.add_init_script(
        """let touched; const touch = new Promise((resolve) => { touched = resolve; });
        addEventListener("pointerdown", () => touched(), true);
        const { resume } = AudioContext.prototype;
        AudioContext.prototype.resume = async function () { await touch; return resume.call(this); };"""
    )
    desk.go("/desk")
    assert desk.page.locator("#sound").inner_text() == "Switch sound off"
    expect(desk.page.locator("ol.alerts > li")).to_have_count(1)
    mute = desk.page.locator("#watch-trouble", has_text="This browser holds the sound back.")
    desk.page.wait_for_function("document.getElementById('desk-tools').hidden === false")
    desk.page.clock.run_for(POLL)
    expect(mute).to_have_count(1)
    assert heard(desk) == []
    assert_well(desk, NAMES)
    desk.page.locator("h1").click()
    expect(mute).to_have_count(0)
    desk.page.clock.run_for(6_000)
    desk.page.wait_for_function("heard.includes('urgent')")


@pytest.mark.parametrize(("kind", "pitches"), [("urgent", {660, 880}), ("once", {660, 880}), ("lost", {440, 660})])
def test_H14_each_sound_is_there_and_of_its_own_pitch(opened: Opened, kind: str, pitches: set[int]) -> None:
    """Played into memory: how loud it is, and how much of it there is at each pitch (a sum of sines, by hand)."""
    desk = opened()
    loudest, found = desk.page.evaluate(
        """async ([kind, pitches]) => {
            const { src } = document.querySelector('script[src$="/desk.js"]');
            const { notes } = await import(src.replace("desk.js", "desk_sound.js"));
            const memory = new OfflineAudioContext(1, 2 * 8000, 8000);
            notes(memory, kind, 0);
            const samples = (await memory.startRendering()).getChannelData(0);
            const at = (hertz) => {
                let sine = 0, cosine = 0;
                samples.forEach((value, i) => {
                    sine += value * Math.sin(2 * Math.PI * hertz * i / 8000);
                    cosine += value * Math.cos(2 * Math.PI * hertz * i / 8000);
                });
                return Math.hypot(sine, cosine);
            };
            return [Math.max(...samples.map(Math.abs)), Object.fromEntries(pitches.map((one) => [one, at(one)]))];
        }""",
        [kind, [440, 550, 660, 770, 880]],
    )
    assert 0.1 < loudest <= 0.5
    strongest = sorted(found, key=lambda one: -found[one])[:2]
    assert {int(one) for one in strongest} == pitches


def heard(one: Window) -> list[str]:
    return list(one.page.evaluate("heard"))


def wait_for(one: Window, sounds: list[str]) -> None:
    one.page.wait_for_function("wanted => JSON.stringify(heard) === wanted", arg=_json(sounds))


def _json(sounds: list[str]) -> str:
    return "[" + ",".join(f'"{one}"' for one in sounds) + "]"


@pytest.mark.parametrize(
    ("size", "language"),
    [
        pytest.param(PHONE, "ar", id="phone-ar"),
        pytest.param(DESK, "zh-Hans", id="desk-zh-Hans"),
        pytest.param(DESK, "en-x-mirror", id="desk-en-x-mirror"),
    ],
)
@pytest.mark.parametrize("dark", [False, True], ids=["day", "lamp"])
def test_what_the_open_desk_tells_is_well_in_every_language(
    site: Site, cast: Cast, opened: Opened, size: dict[str, int], language: str, dark: bool
) -> None:
    speak(site, language)
    desk = opened(size=size, language=language, dark=dark)
    trouble(site, cast, "Nola", "Gwen", RED_PAIN)
    poll(desk)
    expect(desk.page.locator("#watch-cried a")).to_have_count(1)
    assert_well(desk, NAMES)
    open_again(desk, "/desk")
    go_offline(desk)
    expect(desk.page.locator("#watch-trouble .alarm")).to_have_count(1)
    assert_well(desk, NAMES)
