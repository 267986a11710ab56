"""A real web process, really killed at the moment a report is stored; the family presses the button again."""

from __future__ import annotations

import http.client
import re
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.parse
import urllib.request
from datetime import UTC, datetime
from html import unescape
from http.cookiejar import CookieJar
from pathlib import Path

import people
import pytest
from test_real_kills import DOOMED, PATIENCE_S, environment
from world import Count, World

from companion.store.models import Person
from companion.usecases import consents
from companion.usecases.actor import actor_of

POINTS = ("a report is written and not committed", "a report is committed")
SERVE = (sys.executable, "-c", "import sys; from companion.cli import main; sys.exit(main())")
CUT = (urllib.error.URLError, http.client.HTTPException, ConnectionError)


class Family:
    """A browser that keeps its cookies and the form it was shown last."""

    def __init__(self, origin: str) -> None:
        self.origin, self.page = origin, ""
        self._opener = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(CookieJar()))

    def get(self, path: str) -> None:
        until = time.monotonic() + PATIENCE_S
        while True:  # the process may still be coming up
            try:
                with self._opener.open(self.origin + path, timeout=PATIENCE_S) as answer:
                    self.page = answer.read().decode()
                    return
            except urllib.error.HTTPError:
                raise
            except CUT:
                if time.monotonic() > until:
                    raise

    def form(self, **fields: str) -> bytes:
        hidden = re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)">', self.page)
        return urllib.parse.urlencode({name: unescape(value) for name, value in hidden} | fields).encode()

    def post(self, path: str, form: bytes) -> None:
        with self._opener.open(self.origin + path, form, timeout=PATIENCE_S) as answer:
            self.page = answer.read().decode()

    def worst_of_pain(self) -> dict[str, str]:
        """Answer what the page asks: severe pain in the right eye, and of all else the first option, the best."""
        best: dict[str, str] = {}
        for name, value in re.findall(r'type="radio" name="([^"]+)" value="([^"]+)"', self.page):
            best.setdefault(name, value)
        return best | ({"right.pain": "severe"} if "right.pain" in best else {})


@pytest.mark.slow
@pytest.mark.parametrize("point", POINTS)
def test_H15_a_report_whose_process_was_killed_and_that_is_sent_again_is_one_alert(
    world: World, tmp_path: Path, point: str, record_property: Count
) -> None:
    world.fresh(5)
    world.clock.now = datetime.now(UTC)
    with world.store.writing() as session:
        gwen = actor_of(session, session.get_one(Person, world.cast.people["Gwen"]), "")
        consents.give(session, gwen, consents.TEXT_VERSION, "en", world.clock())
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = str(probe.getsockname()[1])
    family, home = Family(f"http://127.0.0.1:{port}"), environment(world, tmp_path)
    path = f"/w/{world.cast.wearers['Nola']}/wrong"
    options = ["serve", "--no-ticks", "--port", port]
    doomed = subprocess.Popen([*DOOMED, point, *options], env=home)
    form = b""
    try:
        family.get("/sign-in")
        family.post("/sign-in", family.form(login="gwen", password=people.PASSWORD))
        family.get(f"{path}?eyes=right")
        with pytest.raises(CUT):
            for _ in range(20):
                form = family.form(**family.worst_of_pain())
                family.post(path, form)
        assert doomed.wait(PATIENCE_S) == -signal.SIGKILL
    finally:
        doomed.kill()
    assert len(world.alerts()) == (point == "a report is committed")
    second = subprocess.Popen([*SERVE, *options], env=home, stdout=subprocess.DEVNULL)
    try:
        family.get("/sign-in")
        for _ in range(2):  # twice: nobody knows whether the first press was heard
            family.post(path, form)
        second.terminate()
        assert second.wait(PATIENCE_S) == 0
    finally:
        second.kill()
    (alert,) = world.alerts()
    assert alert.level == 5
    world.clock.now = datetime.now(UTC)
    world.round()
    first = [row for row, step in world.rows() if step.step == 0]
    assert len(first) == len(world.ways)
    assert all(world.tally()[row.id] == 1 for row in first)
    record_property("real kills", 1)
