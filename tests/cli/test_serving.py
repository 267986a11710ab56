"""`companion demo` and `companion worker` as processes: they say where they are, work, and stop when told."""

from __future__ import annotations

import os
import re
import signal
import socket
import subprocess
import sys
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest

from companion.cli import main
from companion.store.engine import Store
from companion.store.models import JobRun
from companion.usecases.heartbeats import JOBS

COMPANION = (sys.executable, "-c", "import sys; from companion.cli import main; sys.exit(main())")


@pytest.fixture
def environment(tmp_path: Path) -> dict[str, str]:
    own = {name: value for name, value in os.environ.items() if not name.startswith("COMPANION_")}
    return own | {"COMPANION_INSTANCE": str(tmp_path)}


@pytest.fixture
def demo(environment: dict[str, str]) -> Iterator[tuple[subprocess.Popen[str], str]]:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    process = subprocess.Popen(
        [*COMPANION, "demo", "--port", str(port)],
        env=environment,
        text=True,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )
    yield process, f"http://127.0.0.1:{port}"
    if process.poll() is None:
        process.kill()
    process.communicate()


def read(address: str) -> str:
    with urllib.request.urlopen(address, timeout=20) as answer:
        return str(answer.read().decode())


def test_the_demo_prints_where_it_is_and_who_signs_in(demo: tuple[subprocess.Popen[str], str]) -> None:
    process, address = demo
    assert process.stdout and process.stderr
    said = []
    for line in process.stdout:
        said.append(line)
        if "signed out" in line:
            break
    text = "".join(said)
    assert text.startswith(f"The demo is at {address} ")
    assert re.search(r"^  jonas +Jonas +guardian of Mina$", text, re.M)
    (link,) = re.findall(rf"{address}/join/\S+", text)
    assert "Practice by the Canal" in read(link)
    assert "<form" in read(f"{address}/sign-in")
    process.send_signal(signal.SIGTERM)
    rest, complaint = process.communicate(timeout=30)
    assert (process.returncode, rest, complaint) == (0, "", "")


def test_a_worker_beats_and_stops_when_told(
    environment: dict[str, str], tmp_path: Path, store_url: str, store: Store
) -> None:
    process = subprocess.Popen(
        [*COMPANION, "worker"],
        env=environment | {"COMPANION_DATABASE_URL": store_url},
        text=True,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )
    try:
        beating: set[str] = set()
        while beating < set(JOBS) and process.poll() is None:
            with store.reading() as session:
                beating = {name for name in JOBS if (row := session.get(JobRun, name)) and row.finished_at}
        process.send_signal(signal.SIGTERM)
        said = process.communicate(timeout=30)
    finally:
        process.kill()
    assert (process.returncode, *said) == (0, "", "")
    assert beating == set(JOBS)


@pytest.mark.parametrize("port", ["0", "65536", "eighty", "-1", "80.5", ""])
def test_a_port_that_is_none(port: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["demo", f"--port={port}"]) == 2
    assert capsys.readouterr().err == "companion: --port: must be a number from 1 to 65535\n"


def test_a_port_that_is_taken(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("COMPANION_INSTANCE", str(tmp_path))
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        assert main(["serve", "--port", str(port)]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.startswith(f"companion: --port: the companion cannot listen at 127.0.0.1:{port}")
