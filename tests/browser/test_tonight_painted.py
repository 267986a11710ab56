"""*Tonight* has two painters, the server and the phone's script. From the same view they say the same words.

The real page is asked for at every hour, and the use case's view is then bent into each of the other answers. What
the phone works out again by itself (the hour, the deed, where the lenses are) must come out the same too.
"""

from __future__ import annotations

import copy
import difflib
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

import pytest
from people import Cast
from sqlalchemy import update
from telling import RED_PAIN, actor_named, report, tell
from test_screens import lived_in  # noqa: F401  (two weeks of Nola's nights)
from windows import Open, Site, Window

from companion.store.models import Person
from companion.usecases import tonight

View = dict[str, Any]
EYES = ("right", "left")
LANGUAGES = ("en", "zh-Hans", "ar", "en-x-mirror")
REPLY = """async () => (await fetch("/sync", {
    method: "POST",
    headers: {"Content-Type": "application/json", "X-Companion": "sync"},
    body: JSON.stringify({version: 1, device: crypto.randomUUID(), sent_at: new Date().toISOString(),
                          zone: "Europe/London", wearers: {}}),
})).json()"""
# The words of an element in the order of reading, what is said to ears alone, and where links lead.
WORDS = """(root) => {
    const words = [], walk = document.createTreeWalker(root, NodeFilter.SHOW_TEXT | NodeFilter.SHOW_ELEMENT);
    while (walk.nextNode()) {
        const node = walk.currentNode;
        if (node.nodeType === 3) words.push(node.data);
        else words.push(node.getAttribute("aria-label") ?? "", node.getAttribute("href") ?? "");
    }
    return words.join(" ").split(/\\s+/).filter(Boolean);
}"""
# What counts until the next look is neither painter's. Only the server moves an entry to another child, and tells
# of the days to come (parts/ahead.html).
SERVER = f"""() => {{
    const main = document.getElementById("main").cloneNode(true);
    for (const one of main.querySelectorAll("[action$='/move'], [data-left]")) one.remove();
    return ({WORDS})(main);
}}"""
PAINTED = f"""async ({{reply, now}}) => {{
    const {{load}} = await import(new URL("./app.js", document.querySelector("script[src]").src));
    const [{{pageOf}}, {{viewNow}}, {{speaker, loadWords}}, {{calendar}}] =
        await Promise.all(["tonight", "now", "speaker", "dates"].map(load));
    const words = await loadWords(), one = reply.wearers[0], {{digits, hour_cycle}} = reply.account;
    const voice = {{...speaker(words, digits), ...calendar(words.locale, digits, hour_cycle)}};
    const view = viewNow({{...one, fetched_at: reply.now}}, [], {{}}, Date.parse(now));
    const page = pageOf(voice, view, reply.wearers.length > 1), root = document.createElement("div");
    root.append(...page.nodes);
    return {{words: ({WORDS})(root), title: page.title, hour: view.hour, action: view.action, lens: view.lens}};
}}"""
AT = ((20, 30), (23, 45), (2, 0), (6, 45), (11, 0), (14, 0))


def assert_same(window: Window, wearer_id: str, at: str) -> View:
    """Both painters' pages say the same. Returns the server's view."""
    window.go(f"/w/{wearer_id}/tonight")
    server = window.page.evaluate(SERVER)
    reply = window.page.evaluate(REPLY)
    painted = window.page.evaluate(PAINTED, {"reply": reply, "now": at})
    view: View = reply["wearers"][0]["tonight"]
    parts = ("hour", "action", "lens")
    assert {part: painted[part] for part in parts} == {part: view[part] for part in parts}
    assert painted["words"] == server, "\n".join(difflib.unified_diff(server, painted["words"], lineterm="", n=3))
    assert window.page.title().startswith(painted["title"])
    return view


def speak(site: Site, **customs: str) -> None:
    with site.store.writing() as session:
        session.execute(update(Person).values(**customs))
        session.commit()


def until(site: Site, hour: int, minute: int = 0) -> None:
    """Wait for this time of day."""
    then = site.clock().replace(hour=hour, minute=minute)
    site.clock.now = then if then >= site.clock() else then + timedelta(days=1)


@pytest.mark.parametrize("language", LANGUAGES)
def test_at_every_hour_both_painters_say_the_same(
    site: Site,
    lived_in: Cast,  # noqa: F811
    window: Open,
    language: str,
) -> None:
    speak(site, language=language)
    family = window(language=language, script=True)
    family.sign_in("Gwen")
    hours = set()
    for hour, minute in AT:
        until(site, hour, minute)
        hours.add(assert_same(family, lived_in.wearers["Nola"], site.clock().isoformat())["hour"])
    assert hours == {"evening", "night", "morning", "day"}


def test_H12_under_a_hold_both_painters_keep_to_it_at_every_hour(
    site: Site,
    lived_in: Cast,  # noqa: F811
    window: Open,
) -> None:
    nola = lived_in.wearers["Nola"]
    family = window(script=True)
    family.sign_in("Gwen")
    gwen = actor_named(site.store, lived_in.people["Gwen"])
    tell(site.store, gwen, nola, site.clock(), report(site.clock(), right=RED_PAIN, left=RED_PAIN))
    until(site, 12)  # what went in the evening before is no longer thought to be in
    for hour, minute in AT:
        until(site, hour, minute)
        assert_same(family, nola, site.clock().isoformat())
        assert "No lenses for now." in family.says("main .columns h1")


@pytest.mark.parametrize(
    "customs", [{"digits": "latin"}, {"digits": "native", "hour_cycle": "h23"}, {"hour_cycle": "h12"}]
)
def test_the_readers_own_digits_and_hours(
    site: Site,
    lived_in: Cast,  # noqa: F811
    window: Open,
    customs: dict[str, str],
) -> None:
    for language in ("en", "ar"):
        speak(site, language=language, **customs)
        family = window(language=language, script=True)
        family.sign_in("Gwen")
        assert_same(family, lived_in.wearers["Nola"], site.clock().isoformat())


# -- every other answer ----------------------------------------------------------------------------------------
def answered(view: View, action: str = "none", **eyes: tuple[str, list[View]]) -> None:
    """Bend the answer: for both eyes, or one by one."""
    if "both" in eyes:
        eyes = dict.fromkeys(EYES, eyes["both"])
    for eye, (answer, reasons) in eyes.items():
        view["answer"]["eyes"][eye] |= {"answer": answer, "reasons": reasons}
    answers = {eyes[eye][0] for eye in EYES}
    worn = [eye for eye in EYES if eyes[eye][0] not in tonight.NO_LENS]
    view["answer"]["wearer"] = answers.pop() if len(answers) == 1 else "per_eye"
    view["answer"]["reasons"] = [reason for eye in EYES for reason in eyes[eye][1]]
    view["action"] = {"kind": action, "eyes": worn}


def because(key: str, **values: Any) -> list[View]:
    return [{"key": key, "values": values}]


def may_skip(view: View) -> None:
    answered(view, "lenses_in", both=("may_skip", because("target_holds")))
    view["answer"] |= {"meets_target": 0.96}


def rests(view: View) -> None:
    answered(view, "lenses_in", both=("rest_by_plan", because("plan_rests") + because("below_target")))


def gap_too_long(view: View) -> None:
    answered(view, "lenses_in", both=("wear", because("gap_too_long", nights=12, longest=1)))


def long_break(view: View) -> None:
    answered(view, both=("ask_clinic", because("long_break", nights=9)))


def held(view: View) -> None:
    answered(view, both=("do_not_wear", because("open_hold", level=4)))
    view["holds"] = [hold(view, eye, "report") for eye in EYES]
    view["alert"] = alert(view)


def ill(view: View) -> None:
    answered(view, both=("do_not_wear", because("open_hold", level=2)))
    view["holds"] = [hold(view, eye, "illness") for eye in EYES]


def one_eye_held(view: View) -> None:
    answered(
        view,
        "lenses_in",
        right=("do_not_wear", because("open_hold", level=3)),
        left=("wear", because("not_cleared")),
    )
    view["holds"] = [hold(view, "right", "report")]
    view["alert"] = alert(view) | {"taken_by": "Asta", "taken_at": view["now"], "contact_at": view["now"]}


def nobody_answers(view: View) -> None:
    view["alert"] = alert(view) | {"news": "nobody_took_it", "word": "asked"}


def look_soon(view: View, moment: str | None = None, *, due: bool = False) -> None:
    at = (datetime.fromisoformat(view["now"]) + timedelta(minutes=-1 if due else 38)).isoformat()
    view["look"] = {"report_id": "2", "level": 2, "at": at, "now": view["now"], "due": due, "moment": moment}
    view["look"]["eyes"] = "both"


def look_at_bedtime(view: View) -> None:
    look_soon(view, "bedtime")


def look_now(view: View) -> None:
    look_soon(view, "waking", due=True)


def closed(view: View) -> None:
    view["alert"] = alert(view) | {"closed_at": view["now"], "outcome": "advice_given", "steps": []}


def nothing_measured(view: View) -> None:
    answered(view, "lenses_in", both=("wear", because("too_little_data")))
    view |= {"curve": None, "forecast": None}
    view["answer"] |= {"meets_target": None, "holds_until": None}


def kept(view: View) -> None:
    view["forecast"]["warnings"] = [
        {"key": "forecast_kept", "values": {"hours": 30}},
        {"key": "mostly_population", "values": {"eye": "left"}},
    ]
    view["forecast"] |= {"fell_back": {"right": "stale"}, "used": {"checks": 3, "refractions": 2}}


def no_forecast(view: View) -> None:
    view["forecast"]["warnings"] = because("no_forecast")
    view["curve"] = None


def surprising(view: View) -> None:
    view["surprises"] = [{"eye": eye, "perhaps_swapped": eye == "left", "lines": 2} for eye in EYES]


def tapped(view: View) -> None:
    view["undo"] = {"entry_id": "5", "kind": "lenses_out", "eyes": "left", "at": view["now"]}
    view["handover"] = True
    view["check"] = {"when": "this_evening", "why": "lasting"}


def silent_week(view: View) -> None:
    view["week"] = {"since": "2026-10-26", "until": "2026-11-01", "nights": 7}


def carer(view: View) -> None:
    view |= tonight._NOT_FOR_CARERS | {"may": ["see_care"]}


def hold(view: View, eye: str, reason: str) -> View:
    return {"id": eye, "eye": eye, "since": view["now"], "reason": reason, "ends_at": None}


def alert(view: View) -> View:
    step = {"person": "Asta", "channel": "mail", "at": view["now"]}
    facts = dict.fromkeys(("taken_by", "taken_at", "contact_at", "closed_at", "outcome", "news", "word"))
    steps = [{**step, "state": one} for one in ("delivered", "failed", "queued")]
    return {**facts, "id": "1", "report_id": "2", "level": 4, "state": "queued", "steps": steps}


BENT: tuple[Callable[[View], None], ...] = (
    may_skip, rests, gap_too_long, long_break, held, ill, one_eye_held, nobody_answers, look_soon, look_at_bedtime,
    look_now, closed, nothing_measured,
    kept, no_forecast, surprising, tapped, silent_week, carer,
)  # fmt: skip


@pytest.mark.parametrize("language", LANGUAGES[:3])
def test_whatever_the_answer_both_painters_say_the_same(
    site: Site,
    lived_in: Cast,  # noqa: F811
    window: Open,
    language: str,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    speak(site, language=language)
    family = window(language=language, script=True)
    family.sign_in("Gwen")
    real = tonight.tonight
    for bend in BENT:

        def bent(*args: Any, bend: Callable[[View], None] = bend) -> View:
            view = copy.deepcopy(real(*args))
            bend(view)
            return view

        monkeypatch.setattr(tonight, "tonight", bent)
        assert_same(family, lived_in.wearers["Nola"], site.clock().isoformat())
