"""A practice group's house on PostgreSQL: two web processes and two workers beside them, as real processes."""

from __future__ import annotations

import os
import re
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.parse
import urllib.request
from collections.abc import Iterator
from datetime import UTC, datetime
from html import unescape
from http.cookiejar import CookieJar
from pathlib import Path

import people
import pytest
from fakes import Postbox
from postgres import Cluster
from sqlalchemy import select

from companion.store.engine import Store
from companion.store.models import Alert, Delivery, Outbox, Person
from companion.usecases import consents
from companion.usecases.actor import actor_of

COMPANION = (sys.executable, "-c", "import sys; from companion.cli import main; sys.exit(main())")
PATIENCE_S = 60
"""How long a process may take to come up or a message to arrive before the test calls it lost [s]."""


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@pytest.fixture
def group(cluster: Cluster, postbox: Postbox, tmp_path: Path) -> Iterator[tuple[Store, people.Cast, list[str]]]:
    """The standing people on PostgreSQL, and the addresses of two web processes that share it with two workers."""
    url = cluster.copy("migrated")
    store = Store(url)
    with store.writing() as session:
        cast = people.settle(session, datetime.now(UTC))
        people.leave_out_daily_tests(session)
        session.commit()
    with store.writing() as session:
        gwen = actor_of(session, session.get_one(Person, cast.people["Gwen"]), "")
        consents.give(session, gwen, consents.TEXT_VERSION, "en", datetime.now(UTC))
    environment = {name: value for name, value in os.environ.items() if not name.startswith("COMPANION_")} | {
        "COMPANION_INSTANCE": str(tmp_path),
        "COMPANION_DATABASE_URL": url,
        "COMPANION_SMTP_HOST": postbox.host,
        "COMPANION_SMTP_PORT": str(postbox.port),
        "COMPANION_SMTP_SENDER": "companion@example.org",
        "COMPANION_SMTP_ENCRYPTION": "none",
    }
    ports = [free_port(), free_port()]
    commands = [["serve", "--no-ticks", "--port", str(port)] for port in ports] + [["worker"], ["worker"]]
    processes = [subprocess.Popen([*COMPANION, *words], env=environment) for words in commands]
    try:
        yield store, cast, [f"http://127.0.0.1:{port}" for port in ports]
    finally:
        for process in processes:
            process.send_signal(signal.SIGTERM)
        codes = [process.wait(timeout=PATIENCE_S) for process in processes]
        store.close()
    assert codes == [0, 0, 0, 0]


class Browser:
    """Just enough of a browser: cookies, and the hidden fields of the form that was painted last."""

    def __init__(self) -> None:
        self._opener = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(CookieJar()))
        self.page = ""

    def get(self, address: str) -> str:
        """Open a page; wait for a process that is still coming up."""
        deadline = time.monotonic() + PATIENCE_S
        while True:
            try:
                with self._opener.open(address, timeout=PATIENCE_S) as answer:
                    self.page = answer.read().decode()
                    return self.page
            except urllib.error.URLError as error:
                if isinstance(error, urllib.error.HTTPError) or time.monotonic() > deadline:
                    raise

    def post(self, address: str, **fields: str) -> str:
        found = re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)">', self.page)
        form = {name: unescape(value) for name, value in found} | fields
        with self._opener.open(address, urllib.parse.urlencode(form).encode(), timeout=PATIENCE_S) as answer:
            self.page = answer.read().decode()
        return self.page


def test_H2_a_report_to_one_process_is_sent_once_and_taken_at_the_other(
    group: tuple[Store, people.Cast, list[str]], postbox: Postbox
) -> None:
    store, cast, (first, second) = group
    family, staff = Browser(), Browser()
    family.get(f"{first}/sign-in")
    family.post(f"{first}/sign-in", login="gwen", password=people.PASSWORD)
    nola = cast.wearers["Nola"]
    family.get(f"{second}/w/{nola}/wrong?eyes=right")
    said = {"right.pain": "severe"}
    for _ in range(20):
        if "/reports/" in family.page or "Nobody at the practice has taken it" in family.page:
            break
        names = sorted(set(re.findall(r'type="radio" name="([^"]+)"', family.page)))
        worst = {name: said.get(name) or first_option(family.page, name) for name in names}
        family.post(f"{second}/w/{nola}/wrong", **worst)
    with store.reading() as session:
        alert = session.scalars(select(Alert)).one()
    assert alert.level == 5

    deadline = time.monotonic() + PATIENCE_S
    while time.monotonic() < deadline:
        with store.reading() as session:
            if session.scalars(select(Outbox.sent_at).where(Outbox.delivery_id.is_not(None))).first():
                break
    staff.get(f"{first}/sign-in")
    staff.post(f"{first}/sign-in", login="asta", password=people.PASSWORD)
    staff.get(f"{second}/desk/alerts/{alert.id}/take")
    staff.post(f"{second}/desk/alerts/{alert.id}/take")
    with store.reading() as session:
        taken = session.get_one(Alert, alert.id)
        steps = session.scalars(select(Delivery).where(Delivery.alert_id == alert.id)).all()
    assert taken.taken_by == cast.people["Asta"]
    to_staff = [one for one in postbox.letters if str(one["To"]).startswith(("asta", "pavel", "mina"))]
    assert len(to_staff) == len(steps) == 1, "two workers, one message"


def first_option(page: str, name: str) -> str:
    """The first value that a group of radio buttons offers: questions run from best to worst."""
    found = re.search(rf'type="radio" name="{re.escape(name)}" value="([^"]+)"', page)
    assert found, name
    return found[1]
