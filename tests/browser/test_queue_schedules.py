"""The phone's own queue on a bad network: 200 seeded schedules of drop, delay, double, reorder and kill.

queue.js itself runs in a page; its requests go to the real house through Flask's test client, and schedule.js
plays the network. At every step each tap stands on its phone exactly once, and in the end the house and both
phones agree.
"""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any
from uuid import uuid4

import people
import pytest
from flask.testing import FlaskClient
from people import Cast
from sqlalchemy import delete, select
from windows import Open, Site

from companion.store.models import EntryRow, Person, Practice, Refraction
from companion.usecases import consents, signing, syncing
from companion.usecases.actor import actor_of

SCHEDULES, SHARE, QUICK = 200, 40, 40
STEPS = 18
SHARES = [
    pytest.param(first, id=str(first), marks=[pytest.mark.slow] if first >= QUICK else [])
    for first in range(0, SCHEDULES, SHARE)
]
MODULES = """async ([queue, schedule]) => {
    window.queue = await import(queue);
    window.schedule = await import(schedule);
}"""
HERE = {"Origin": "http://localhost", "X-Companion": "sync"}


def family(site: Site, cast: Cast, seed: int) -> tuple[str, dict[str, FlaskClient]]:
    """A child of whom nothing was measured, so that a sync is quick, and two guardians, signed in."""
    now = site.clock()
    with site.store.writing() as session:
        practice = session.get_one(Practice, cast.practices["mill"])
        pavel = session.get_one(Person, cast.people["Pavel"])
        child = people.add_wearer(session, practice, f"Child {seed}", date(2016, 1, 1), now, pavel, nights_ago=1)
        session.execute(delete(Refraction).where(Refraction.wearer_id == child.id))
        guardians = [people.add_person(session, f"{name}{seed}", now) for name in ("Ann", "Bob")]
        for person in guardians:
            people.add_guardian(session, child, person, now)
        session.commit()
        ids, child_id = [person.id for person in guardians], child.id
    clients = {}
    for person_id in ids:
        with site.store.writing() as session:
            token = signing.open_sign_in(session, person_id, now, "tests")
            person = session.get_one(Person, person_id)
            consents.give(session, actor_of(session, person, ""), consents.TEXT_VERSION, "en", now)
        clients[person_id] = site.app.test_client()
        with clients[person_id].session_transaction() as browser:
            browser["_user_id"], browser["_fresh"] = token, True
    return child_id, clients


@pytest.mark.parametrize("first", SHARES)
def test_H15_whatever_the_network_does_each_tap_counts_once(
    first: int, site: Site, cast: Cast, window: Open, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(syncing, "MOST_SHOWN", 4)  # so that a diary comes in pages
    page = window(script=True).page
    clients: dict[str, FlaskClient] = {}
    device = str(uuid4())

    def post(account: str, wearers: dict[str, Any]) -> Any:
        body = {"version": 1, "device": device, "sent_at": site.clock().isoformat(), "account": account}
        answer = clients[account].post("/sync", json={**body, "wearers": wearers}, headers=HERE)
        assert answer.status_code == 200
        return answer.get_json()

    page.expose_function("post", post)
    page.route("**/schedule.js", lambda route: route.fulfill(path=Path(__file__).with_name("schedule.js")))
    page.goto(site.url("/style"))
    version = site.app.extensions["companion_build"].version
    page.evaluate(MODULES, [f"/static/{version}/js/queue.js", "/schedule.js"])
    for seed in range(first, first + SHARE):
        child, clients = family(site, cast, seed)
        asked = {"seed": seed, "wearer": child, "accounts": list(clients), "steps": STEPS}
        asked["now"] = int(site.clock().timestamp() * 1000)
        held = page.evaluate("(asked) => schedule.run(queue, asked, post)", asked)
        with site.store.reading() as session:
            rows = session.scalars(
                select(EntryRow.id).where(EntryRow.wearer_id == child).order_by(EntryRow.seq)
            ).all()
        for phone in held:
            assert phone["left"] == [], f"seed {seed}"
            assert phone["seen"] == rows, f"seed {seed}"
            assert phone["cursor"] == len(rows), f"seed {seed}"
        taps = [one for phone in held for one in phone["taps"]]
        assert sorted(taps) == sorted(rows), f"seed {seed}"
