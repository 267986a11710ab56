"""Real processes, really killed (SIGKILL) at a named point of an alert's way; another worker then goes on."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import people
import pytest
from doomed import POINTS
from sqlalchemy import select
from telling import report as written
from world import Count, Process, World, said

from companion.store.models import Outbox, Report
from companion.usecases.sending import LEASE

DOOMED = (sys.executable, str(Path(__file__).with_name("doomed.py")))
PATIENCE_S = 120
"""How long a process may take to reach the point where it dies [s]."""
LEVEL = 4
SECOND = timedelta(seconds=1)


def environment(world: World, folder: Path) -> dict[str, str]:
    own = {name: value for name, value in os.environ.items() if not name.startswith("COMPANION_")}
    return own | {
        "PYTHONPATH": str(Path(__file__).resolve().parents[2]),
        "COMPANION_INSTANCE": str(folder),
        "COMPANION_DATABASE_URL": world.url,
        "COMPANION_SMTP_HOST": world.postbox.host,
        "COMPANION_SMTP_PORT": str(world.postbox.port),
        "COMPANION_SMTP_SENDER": "companion@example.org",
        "COMPANION_SMTP_ENCRYPTION": "none",
        "COMPANION_OUTGOING_LOOPBACK": "yes",
    }


def killed_worker(world: World, folder: Path, point: str) -> None:
    """Start a worker that dies at ``point``, and wait for its end."""
    world.strangers = True
    process = subprocess.Popen([*DOOMED, point, "worker"], env=environment(world, folder))
    try:
        assert process.wait(timeout=PATIENCE_S) == -signal.SIGKILL
    finally:
        process.kill()
        world.strangers = False


def kept(world: World) -> int:
    return len(world.postbox.letters) + len(world.service.pushes) + len(world.gateway.requests)


def told(world: World, minutes: int, answers: Callable[[], dict[str, object]] | None = None) -> None:
    """A report that came so many minutes ago by the real clock."""
    world.fresh(LEVEL)
    with world.store.writing() as session:
        people.leave_out_daily_tests(session)
        session.commit()
    for one in (world.postbox.letters, world.service.pushes, world.gateway.requests):
        one.clear()
    world.clock.now = datetime.now(UTC) - timedelta(minutes=minutes)
    web = Process(world, "web")
    web.report(answers() if answers else said(LEVEL, world.clock()))
    web.close()


QUICK = "a letter is kept and not marked"


@pytest.mark.parametrize(
    "point",
    [
        pytest.param(one, marks=[pytest.mark.slow] if one != QUICK else [])
        for one in POINTS
        if not one.startswith(("a report", "a raise"))
    ],
)
def test_H2_a_worker_killed_while_it_sends_or_climbs(
    world: World, tmp_path: Path, point: str, record_property: Count
) -> None:
    """The report is 16 minutes old: its first step is to be sent, its second written (safety guidance 6.2)."""
    told(world, minutes=16)
    killed_worker(world, tmp_path, point)
    with world.store.reading() as session:
        leased = list(session.scalars(select(Outbox).where(Outbox.lease_until.is_not(None))))
    after = max([row.lease_until for row in leased if row.lease_until], default=datetime.now(UTC) + LEASE)
    held, before = {row.id for row in leased}, kept(world)
    world.clock.now = after - LEASE + 30 * SECOND
    world.round()  # whatever nobody had claimed goes now
    for row, _ in world.rows():
        assert (world.tally()[row.id] <= 1) and (row.id not in held or row.sent_at is None)
    twins = {one.reference for one in world.accepted} & held
    world.clock.now = max(after, datetime.now(UTC) + LEASE) + 2 * SECOND
    world.round()
    world.round()
    rows = world.rows()
    assert {step.step for _, step in rows} == {0, 1}, "the second person is told once"
    assert all(row.sent_at and step.handed_over_at for row, step in rows)
    assert kept(world) >= len(rows) >= 6
    assert kept(world) <= len(rows) + len(held), "a twin only of what was under way"
    assert before <= kept(world)
    assert len(twins) <= len(held)
    record_property("real kills", 1)


@pytest.mark.slow
@pytest.mark.parametrize("point", [one for one in POINTS if one.startswith("a raise")])
def test_H2_a_worker_killed_while_time_raises_a_report(
    world: World, tmp_path: Path, point: str, record_property: Count
) -> None:
    """A stuck lens counts as stuck for long after half an hour: level 2 becomes 4 (safety guidance 8.4, T2)."""
    told(world, minutes=31, answers=lambda: written(world.clock(), right={"lens": "stuck_now"}))
    killed_worker(world, tmp_path, point)
    world.clock.now = datetime.now(UTC) + LEASE
    world.round()
    world.round()
    (alert,) = world.alerts()
    rows = world.rows()
    assert alert.level == 4
    assert len({step.step for _, step in rows}) >= 1
    assert all(row.sent_at for row, _ in rows)
    with world.store.reading() as session:
        assert session.scalars(select(Report.level)).all() == [2], "the report stays as it was judged"
    record_property("real kills", 1)


@pytest.mark.slow
def test_H2_two_real_workers_send_a_crowd_of_messages_once_each(
    world: World, tmp_path: Path, record_property: Count
) -> None:
    told(world, minutes=0)
    addresses = [f"p{number}@example.org" for number in range(60)]
    with world.store.writing() as session:
        for one in addresses:
            now, message = (
                world.clock(),
                {"key": "alert", "language": "en", "values": {"alert_id": "a", "level": 3}},
            )
            mill = world.cast.practices["mill"]
            session.add(
                Outbox(practice_id=mill, channel="mail", address=one, message=message, created_at=now, due_at=now)
            )
        session.commit()
    world.strangers = True
    command = [sys.executable, "-c", "import sys; from companion.cli import main; sys.exit(main())", "worker"]
    workers = [subprocess.Popen(command, env=environment(world, tmp_path)) for _ in range(2)]
    try:
        deadline = datetime.now(UTC) + PATIENCE_S * SECOND
        while datetime.now(UTC) < deadline:
            with world.store.reading() as session:
                if not session.scalars(select(Outbox.id).where(Outbox.sent_at.is_(None)).limit(1)).first():
                    break
        for one in workers:
            one.terminate()
        assert [one.wait(PATIENCE_S) for one in workers] == [0, 0]
    finally:
        for one in workers:
            one.kill()
        world.strangers = False
    got = [str(one["To"]) for one in world.postbox.letters]
    assert sorted(set(got) & set(addresses)) == sorted(one for one in got if one in addresses) == sorted(addresses)
    record_property("races", len(addresses))
