"""What the phone makes of each answer to a sync, and whether what waits is sent again.

sync.js and queue.js themselves run in a page, and the test plays the server.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from fake_channels import FakeBrowser
from handsets import Phone
from people import Cast
from playwright.sync_api import Page
from telling import actor_named, report, tell
from test_alerts_on_a_device import deliver, own, switch_on  # noqa: F401
from test_screens import lived_in  # noqa: F401
from test_tonight_painted import REPLY
from windows import Open, Site

MODULES = """async (root) => {
    for (const name of ["db", "queue", "sync", "pace"]) window[name] = await import(`${root}/${name}.js`);
    const at = new Date().toISOString();
    const more = { at, zone: "Europe/London", made_at: at, payload: {} };
    window.raw = (id, kind = "symptom_report") => ({ id, kind, ...more });
    window.added = (state, raws) => raws.reduce((kept, one) => queue.add(kept, "child", one), state);
    window.keep = (...raws) => db.changeQueue((state) => added(state, raws));
    window.states = async () => Object.fromEntries(
        (await db.reading(({ entries }) => entries.all())).map(({ id, state }) => [id, state]));
    // `answers` are [status, body] of each request to come, the last one for all that follow; a text is no JSON.
    window.serve = (...answers) => {
        window.posts = [];
        window.fetch = async (_, { headers, body }) => {
            const asked = JSON.parse(body);
            posts.push({
                key: headers.Authorization ?? null,
                ids: Object.values(asked.wearers).flatMap((one) => one.entries.map(({ id }) => id)),
            });
            if (posts.length > 30) throw new Error("without end");
            await window.onPost?.();
            const [status, said] = answers.length > 1 ? answers.shift() : answers[0];
            return new Response(typeof said === "string" ? said : JSON.stringify(said), { status });
        };
    };
    await db.settleIn("me");
    await db.keepFact("device_key", { account: "me", key: "one.secret" });
}"""
HEAD = {"version": 1, "now": "2026-11-22T20:30:00+00:00", "skew_s": 0, "build": "b", "gone": []}
OVER = [401, {"error": "signed_out"}]
PROXY = "<h1>no</h1>"


@pytest.fixture
def page(site: Site, window: Open) -> Page:
    """A page with the phone's modules in it, at which somebody is at home whose key the phone has."""
    opened = window(script=True).page
    opened.clock.install(time=site.clock())
    opened.goto(site.url("/style"))
    version = site.app.extensions["companion_build"].version
    opened.evaluate(MODULES, f"/static/{version}/js")
    return opened


def synced(page: Page, before: str, *answers: Any) -> dict[str, Any]:
    """What a sync comes to after ``before`` was done on the phone, and what it posted."""
    script = """async ([before, answers]) => {
        serve(...answers);
        await eval(`(async () => { ${before} })()`);
        const told = await pace.carry();
        return { ...told, posts, states: await states() };
    }"""
    return page.evaluate(script, [before, list(answers)])  # type: ignore[no-any-return]


@pytest.mark.parametrize("status", [500, 502, 429, 404, 400, 200])
def test_H3_a_report_by_key_that_cannot_be_taken_now_is_sent_again(page: Page, status: int) -> None:
    """The sign-in is over, and something in front of the server is in trouble."""
    told = synced(page, "await keep(raw('bad'))", OVER, [status, PROXY], OVER, [status, PROXY])
    assert (told["outcome"], told["states"]) == ("trouble", {"bad": "here"})
    assert [one["key"] for one in told["posts"]] == [None, "Device one.secret"]
    page.clock.run_for(10_000)
    page.wait_for_function("() => posts.length > 2")


@pytest.mark.parametrize("status", [401, 403])
def test_a_key_that_is_no_good_asks_for_a_sign_in(page: Page, status: int) -> None:
    told = synced(page, "await keep(raw('bad'))", OVER, [status, {"error": "signed_out"}])
    assert (told["outcome"], len(told["posts"])) == ("signed_out", 2)


def test_H3_a_report_left_behind_at_signing_out_is_sent_again_too(page: Page) -> None:
    told = synced(page, "await keep(raw('bad')); await db.putAway()", [502, PROXY])
    assert (told["outcome"], told["states"]) == ("trouble", {"bad": "here"})
    page.clock.run_for(10_000)
    page.wait_for_function("() => posts.length > 1")
    assert page.evaluate("sync.owed().then((rows) => rows.map((one) => one.id))") == ["bad"], "for the worker"
    assert page.evaluate("sync.unsent().then((rows) => rows.length)") == 0, "nobody's to be shown"


def test_H3_one_report_that_the_server_cannot_read_holds_up_no_other(page: Page) -> None:
    """By key as well: smaller batches find it, and all the rest is sent."""
    script = """async () => {
        await keep(...["a", "b", "odd", "c"].map((id) => raw(id)));
        serve();
        const plain = window.fetch;
        window.fetch = async (url, { headers, body }) => {
            if (!headers.Authorization) return new Response('{"error": "signed_out"}', { status: 401 });
            const { entries } = JSON.parse(body).wearers.child;
            const ids = entries.map(({ id }) => id);
            if (ids.includes("odd")) return new Response('{"error": "shape"}', { status: 400 });
            const wearers = [{ id: "child", accepted: ids, rejected: [] }];
            return new Response(JSON.stringify({ ...window.head, wearers }), { status: 200 });
        };
        await pace.carry();
        return states();
    }"""
    page.evaluate("(head) => { window.head = head; }", HEAD)
    assert page.evaluate(script) == {"a": "sent", "b": "sent", "c": "sent", "odd": "rejected"}


def test_H3_a_report_kept_while_a_flight_is_under_way_goes_right_after_it(page: Page) -> None:
    late = """window.onPost = async () => {
        window.onPost = null;
        await keep(raw("late"));
        sync.sync();
    }"""
    by_key = [200, {**HEAD, "wearers": [{"id": "child", "accepted": ["late"], "rejected": []}]}]
    told = synced(page, late, OVER, OVER, by_key)
    assert told["states"] == {"late": "sent"}
    assert told["posts"][-1] == {"key": "Device one.secret", "ids": ["late"]}


def test_H3_whoever_has_still_to_agree_is_not_asked_without_end(page: Page) -> None:
    """What waits for that only is neither sent nor refused."""
    refused = [{"id": "tap", "code": "consent_first", "field": "kind", "said": "Agree first."}]
    child = {"id": "child", "accepted": [], "rejected": refused, "cursor": 0, "entries": [], "more": False}
    reply = {**HEAD, "account": {"id": "me"}, "consent_due": True, "wearers": [child]}
    told = synced(page, "await keep(raw('tap', 'lenses_in'))", [200, reply])
    assert (told["outcome"], told["states"], len(told["posts"])) == ("consent_due", {"tap": "here"}, 1)


@pytest.mark.parametrize("status", [400, 413])
@pytest.mark.parametrize(
    ("said", "becomes"), [(PROXY, "here"), ({"message": "no"}, "here"), ({"error": "too_large"}, "rejected")]
)
def test_H3_only_the_server_itself_refuses_a_report(page: Page, status: int, said: Any, becomes: str) -> None:
    """Whatever stands in front of it may say so too: then the report waits."""
    well = [200, {**HEAD, "account": {"id": "me"}, "consent_due": False, "wearers": []}]
    told = synced(page, "await keep(raw('bad'))", [status, said], well)
    assert told["states"] == {"bad": becomes}
    assert told["outcome"] == ("trouble" if becomes == "here" else "done")


def test_H3_a_report_that_a_request_did_not_carry_is_not_refused_with_its_wearer(page: Page) -> None:
    script = """(head) => {
        const rows = [raw("heard"), raw("late"), raw("tap", "lenses_in")];
        const state = added(queue.blank("me"), rows);
        const asked = { child: { cursor: 0, entries: [rows[0]] } };
        const reply = { ...head, account: { id: "me" }, consent_due: false, wearers: [], gone: ["child"] };
        const { entries } = queue.settle(state, asked, reply).state;
        return Object.values(entries).map(({ id, state }) => [id, state]);
    }"""
    assert page.evaluate(script, HEAD) == [["heard", "rejected"], ["late", "here"], ["tap", "rejected"]]


LOOK = {"report_id": "r", "at": "2026-11-22T21:30:00+00:00", "now": "2026-11-22T20:30:00+00:00", "due": False}
TONIGHT: dict[str, Any] = {
    "now": "2026-11-22T20:30:00+00:00",
    "night": "2026-11-22",
    "hour": "evening",
    "answer": {"wearer": "wear", "reasons": [], "holds_until": None},
    "holds": [],
    "alert": None,
    "look": LOOK,
    "forecast": {"as_of": "2026-11-22T20:29:00+00:00"},
}
MOMENT = "2026-11-22T20:35:00+00:00"


@pytest.mark.parametrize(
    ("change", "is_news"),
    [
        ({}, False),
        ({"now": MOMENT, "look": {**LOOK, "now": MOMENT}, "forecast": {"as_of": MOMENT}}, False),
        ({"alert": {"report_id": "r", "level": 4}}, True),
        ({"alert": None, "holds": [{"eye": "right"}]}, True),
        ({"answer": {"wearer": "do_not_wear", "reasons": [], "holds_until": None}}, True),
        ({"look": {**LOOK, "due": True}}, True),
        ({"hour": "night"}, True),
    ],
)
def test_H2_another_answer_for_tonight_is_news_to_every_window_and_the_time_alone_is_not(
    page: Page, change: dict[str, Any], is_news: bool
) -> None:
    def reply(tonight: dict[str, Any]) -> list[Any]:
        one = {"id": "child", "accepted": [], "rejected": [], "cursor": 0, "entries": [], "more": False}
        head = {**HEAD, "now": tonight["now"], "account": {"id": "me"}, "consent_due": False}
        return [200, {**head, "wearers": [{**one, "tonight": tonight}]}]

    listen = "window.heard = []; new BroadcastChannel('companion').onmessage = ({ data }) => heard.push(data)"
    assert synced(page, listen, reply(TONIGHT))["news"] == 1, "somebody whom the phone did not know"
    page.wait_for_function("() => heard.length === 1")
    told = synced(page, "", reply({**TONIGHT, **change}))
    assert told["news"] == int(is_news)
    page.evaluate("new BroadcastChannel('companion').postMessage('end')")
    page.wait_for_function("() => heard.at(-1) === 'end'")
    assert len(page.evaluate("heard")) == 2 + is_news


def test_time_alone_makes_no_news_of_what_the_server_itself_tells(
    site: Site,
    lived_in: Cast,  # noqa: F811
    window: Open,
) -> None:
    """Whatever in the view differs from minute to minute must be known to queue.js."""
    stuck = report(site.clock(), right={"redness": "pink", "course": "under_1h"})
    gwen = actor_named(site.store, lived_in.people["Gwen"])
    tell(site.store, gwen, lived_in.wearers["Nola"], site.clock(), stuck)
    family = window(script=True)
    family.sign_in("Gwen")
    first = family.page.evaluate(REPLY)
    assert first["wearers"][0]["tonight"]["look"] and first["wearers"][0]["tonight"]["curve"]
    site.clock.advance(minutes=1)
    second = family.page.evaluate(REPLY)
    script = """async ([url, first, second]) => {
        const { blank, settle } = await import(url);
        const state = settle(blank(first.account.id), {}, first).state;
        return [settle(state, {}, first).retold, settle(state, {}, second).retold];
    }"""
    version = site.app.extensions["companion_build"].version
    assert family.page.evaluate(script, [f"/static/{version}/js/queue.js", first, second]) == [[], []]


def test_H2_a_push_lets_an_open_window_hear_what_it_is_about(
    site: Site,
    cast: Cast,
    own: Callable[..., tuple[Phone, FakeBrowser]],  # noqa: F811
) -> None:
    """A message that nobody can read is shown, and fetches all the same."""
    phone, _ = own("Gwen")
    switch_on(phone)
    phone.page.wait_for_load_state("networkidle")
    listen = "window.heard = []; new BroadcastChannel('companion').onmessage = ({ data }) => heard.push(data)"
    phone.page.evaluate(f"() => {{ {listen} }}")
    gus = actor_named(site.store, cast.people["Gus"])
    tell(site.store, gus, cast.wearers["Nola"], site.clock(), report(site.clock(), right={"pain": "severe"}))
    deliver(phone, "not what we send")
    phone.page.wait_for_function("() => heard.some(({ news }) => news > 0)")
    alerts = [row["tonight"]["alert"] for row in phone.kept()["wearers"] if row["id"] == cast.wearers["Nola"]]
    assert alerts[0]["level"] >= 4


def test_two_who_wait_for_one_flight_make_one_pause_of_it(page: Page) -> None:
    """Else a tap during the first sync would wait three times as long as it has to."""
    told = """async () => {
        serve([502, "no"]);
        await keep(raw("bad"));
        await Promise.all([pace.carry(), pace.carry()]);
        return posts.length;
    }"""
    assert page.evaluate(told) == 1
    page.clock.run_for(6_300)
    page.wait_for_function("() => posts.length === 2")
