"""How long an alert takes from its commit until a channel has taken it: medians of 9, on loopback.

    .venv/bin/python tests/benchmarks/bench_alert.py

A real `companion worker` beside the process that stores the report, on SQLite; mail, web push and webhook are
fakes on loopback that note when they had a message whole. Level 5, one person with a mailbox, a browser and a
phone. The aim is under 2 s for the first channel. Reported, never asserted.
"""

from __future__ import annotations

import os
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory
from time import perf_counter, sleep
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "faults"))

import people
from fakes import Clock
from processes import Process
from world import World, said

from companion.store import migrations
from companion.store.engine import Store
from companion.store.queries.jobs import all_jobs

ROOT = Path(__file__).resolve().parents[2]
TIMES = 9
COMPANION = (sys.executable, "-c", "import sys; from companion.cli import main; sys.exit(main())")
BETWEEN_S = 1.37
"""Between one report and the next, so that they fall on different moments of a worker's second [s]."""


class Watch:
    """When each channel had its first message."""

    def __init__(self) -> None:
        self.at: dict[str, float] = {}
        self.changed = threading.Condition()

    def note(self, channel: str, _: Any) -> None:
        with self.changed:
            self.at.setdefault(channel, perf_counter())
            self.changed.notify_all()

    def wait(self, channels: int) -> dict[str, float]:
        with self.changed:
            self.changed.wait_for(lambda: len(self.at) == channels, 60)
            return dict(self.at)


@contextmanager
def worker(world: World, folder: Path) -> Iterator[None]:
    own = {name: value for name, value in os.environ.items() if not name.startswith("COMPANION_")}
    home = own | {
        "PYTHONPATH": str(ROOT),
        "COMPANION_INSTANCE": str(folder),
        "COMPANION_DATABASE_URL": world.url,
        "COMPANION_SMTP_HOST": world.postbox.host,
        "COMPANION_SMTP_PORT": str(world.postbox.port),
        "COMPANION_SMTP_SENDER": "companion@example.org",
        "COMPANION_SMTP_ENCRYPTION": "none",
        "COMPANION_OUTGOING_LOOPBACK": "yes",
    }
    process = subprocess.Popen([*COMPANION, "worker"], env=home)
    try:
        while not beats(world):
            sleep(0.1)
        yield
    finally:
        process.terminate()
        process.wait(60)


def beats(world: World) -> bool:
    with world.store.reading() as session:
        return "send" in all_jobs(session)


def main() -> None:
    with TemporaryDirectory() as made:
        url = f"sqlite:///{Path(made) / 'store.sqlite'}"
        store, clock = Store(url), Clock(datetime.now(UTC))
        migrations.upgrade(store.engine)
        with store.writing() as session:
            cast = people.settle(session, clock())
            session.commit()
        store.close()
        world = World(url, cast, clock).open()
        took: dict[str, list[float]] = {"first": [], **{channel: [] for channel in world.ways}}
        with worker(world, Path(made)):
            for _ in range(TIMES):
                watch = Watch()
                world.note = watch.note  # type: ignore[method-assign]
                clock.now = datetime.now(UTC)
                web = Process(world, "web")
                web.report(said(5, clock()))
                committed = perf_counter()
                web.close()
                at = watch.wait(len(world.ways))
                took["first"].append(min(at.values()) - committed)
                for channel, moment in at.items():
                    took[channel].append(moment - committed)
                sleep(BETWEEN_S)
        world.close()
    for name, times in took.items():
        aim = " (aim under 2)" if name == "first" else ""
        words = f"{name} channel has it{aim}" if name == "first" else f"{name} has it"
        print(f"{words:40}{median(times):7.2f} s   ({min(times):.2f} to {max(times):.2f})")


if __name__ == "__main__":
    main()
