"""What an open desk costs: one poll of a practice with 500 wearers, on SQLite, through the whole app.

    .venv/bin/python tests/benchmarks/bench_desk.py

Medians of 9 after a first one: a poll without news, one with news (the page's list painted anew), and the same for
another page of the practice, which asks for alerts alone. 20 alerts are open, each with three messages. Reported,
never asserted.
"""

from __future__ import annotations

import sys
from datetime import date, timedelta
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory
from time import perf_counter

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from fakes import Clock
from flask.testing import FlaskClient
from people import EVENING, add_guardian, add_wearer, settle
from sqlalchemy import select
from telling import RED_PAIN, actor_named, report, tell, worn_nights

from companion.app import create_app
from companion.config import Settings
from companion.store import migrations
from companion.store.engine import Store
from companion.store.models import Alert, Delivery, Person, Practice
from companion.usecases import signing

TIMES = 9
WEARERS, TROUBLED, STEPS = 500, 20, 3


def main() -> None:
    with TemporaryDirectory() as folder:
        store = Store(f"sqlite:///{folder}/desk.sqlite")
        migrations.upgrade(store.engine)
        clock = Clock(EVENING)
        token, practice_id = fill(store)
        app = create_app(Settings(database_url="", secret_key="only here", languages=("en",)), store, clock)
        client = app.test_client()
        with client.session_transaction() as browser:
            browser["_user_id"], browser["_fresh"] = token, True
        address = f"/desk/news?practice={practice_id}&"
        for what, query in (("the desk", ""), ("another page", "brief&")):
            cursor = client.get(f"{address}{query}").json["cursor"]
            quiet, small = timed(client, f"{address}{query}cursor={cursor}")
            news, large = timed(client, f"{address}{query}cursor=")
            print(f"{what}: without news {quiet:.1f} ms, {small} bytes; with news {news:.1f} ms, {large} bytes")
        store.close()


def fill(store: Store) -> tuple[str, str]:
    with store.writing() as session:
        cast = settle(session, EVENING)
        mill = session.get_one(Practice, cast.practices["mill"])
        pavel, gwen = (session.get_one(Person, cast.people[name]) for name in ("Pavel", "Gwen"))
        names = (f"Wearer {n:03}" for n in range(WEARERS))
        wearers = [add_wearer(session, mill, name, date(2015, 1, 1), EVENING, pavel) for name in names]
        for one in wearers:
            add_guardian(session, one, gwen, EVENING)
        token = signing.open_sign_in(session, pavel.id, EVENING, "benchmark")
        ids = [one.id for one in wearers]
        session.commit()
    guardian = actor_named(store, gwen.id)
    for n, wearer_id in enumerate(ids):
        entries = [*worn_nights(EVENING, 1)]
        if n < TROUBLED:
            entries.append(report(EVENING, right=RED_PAIN))
        tell(store, guardian, wearer_id, EVENING, *entries)
    with store.writing() as session:
        for alert in session.scalars(select(Alert)):
            mine = {"practice_id": alert.practice_id, "alert_id": alert.id, "person_id": pavel.id}
            for step in range(10, 10 + STEPS):
                at = EVENING + timedelta(minutes=step)
                session.add(Delivery(**mine, channel="mail", step=step, queued_at=at))
        session.commit()
    return token, cast.practices["mill"]


def timed(client: FlaskClient, address: str) -> tuple[float, int]:
    """The middle of the times of one request [ms], and how much it answered."""
    answer = client.get(address)
    assert answer.status_code == 200
    times = []
    for _ in range(TIMES):
        start = perf_counter()
        client.get(address)
        times.append((perf_counter() - start) * 1000)
    return median(times), len(answer.data)


if __name__ == "__main__":
    main()
