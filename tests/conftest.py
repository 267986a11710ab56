"""What all tests may ask for: a clock, a mail server, a fresh store, the standing people in it."""

from __future__ import annotations

import shutil
import subprocess
import sys
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import people
import postgres
import pytest
from argon2 import PasswordHasher
from cryptography.hazmat.primitives.asymmetric import ec
from fake_channels import LOOPBACK, FakeGateway, PushService
from fakes import PATIENCE_S, Clock, Postbox
from flask import Flask
from jinja2.bccache import Bucket, BytecodeCache
from postgres import Cluster
from xdist.scheduler import LoadScopeScheduling

from companion.store import migrations
from companion.store.engine import Store
from companion.usecases import passwords

if TYPE_CHECKING:
    from companion.config import Settings

TOGETHER = ("tests/browser/", "tests/fade/test_calibration.py")
"""Kept to one of the parallel runners: two browsers on two cores slow each other, people are simulated once."""
ROOT = Path(__file__).resolve().parents[1]
DATABASES = ("sqlite", "postgresql")
ON_BOTH = ("store", "usecases", "clockwork", "faults")
SLOW_ON_BOTH = ("usecases", "faults")
"""A quick run takes these on SQLite alone."""


class _Scheduling(LoadScopeScheduling):
    def _split_scope(self, nodeid: str) -> str:
        return next((one for one in TOGETHER if nodeid.startswith(one)), nodeid)


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> LoadScopeScheduling:
    """Hand out tests one by one, but for those that keep together; in their order, not the largest first."""
    config.option.loadscopereorder = False
    return _Scheduling(config, log)


def pytest_configure() -> None:
    """Build the catalogues as set-up does: a translator who runs a test has just written in one."""
    subprocess.run([sys.executable, ROOT / "translations" / "build.py"], check=True)


def pytest_terminal_summary(terminalreporter: Any) -> None:
    """Say how many faults the tests of faults have injected, by kind."""
    faults: Counter[str] = Counter()
    for reports in terminalreporter.stats.values():
        for one in reports:
            if "tests/faults/" in getattr(one, "nodeid", "") and getattr(one, "when", "") == "call":
                for kind, number in one.user_properties:
                    faults[kind] += number
    if faults:
        kinds = ", ".join(f"{kind} {number}" for kind, number in sorted(faults.items()))
        terminalreporter.write_line(f"faults injected: {faults.total()} ({kinds})")


@pytest.fixture(scope="session", autouse=True)
def cheap_passwords() -> None:
    """Hash as real sign-ins do, at a thousandth of the price: what is under test is never the hash's strength."""
    passwords.HASHER = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)


class _Compiled(BytecodeCache):
    """Templates of this process, so that not each of a thousand apps compiles them for itself."""

    def __init__(self) -> None:
        self._made: dict[str, bytes] = {}

    def load_bytecode(self, bucket: Bucket) -> None:
        if bucket.key in self._made:
            bucket.bytecode_from_string(self._made[bucket.key])

    def dump_bytecode(self, bucket: Bucket) -> None:
        self._made[bucket.key] = bucket.bytecode_to_string()


@pytest.fixture(scope="session", autouse=True)
def compiled_templates() -> None:
    Flask.jinja_options = {"bytecode_cache": _Compiled()}


@pytest.fixture(scope="session")
def migrated_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An empty database at today's migration, made once and copied for each test."""
    path = tmp_path_factory.mktemp("store") / "migrated.sqlite"
    store = Store(f"sqlite:///{path}")
    migrations.upgrade(store.engine)
    with store.engine.connect() as connection:
        connection.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)")
    store.close()
    return path


@pytest.fixture
def clock() -> Clock:
    return Clock(people.EVENING)


@pytest.fixture
def postbox() -> Iterator[Postbox]:
    with Postbox() as box:
        yield box


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    """Run what leans on the store's own habits on both databases, the rest on SQLite alone."""
    if "database" in metafunc.fixturenames:
        room = metafunc.definition.path.parent.name
        marks = {"postgresql": pytest.mark.slow} if room in SLOW_ON_BOTH else {}
        databases = DATABASES if room in ON_BOTH else DATABASES[:1]
        params = [pytest.param(one, marks=marks.get(one, ())) for one in databases]
        metafunc.parametrize("database", params, indirect=True)


@pytest.fixture
def database(request: pytest.FixtureRequest) -> str:
    return str(request.param)


@pytest.fixture(scope="session")
def cluster() -> Iterator[Cluster]:
    """A PostgreSQL of this process's own, with a database at today's migration to copy from."""
    with postgres.cluster() as started:
        started.run("CREATE DATABASE migrated")
        store = Store(started.url("migrated"))
        migrations.upgrade(store.engine)
        store.close()
        yield started


@pytest.fixture
def store_url(database: str, migrated_file: Path, tmp_path: Path, request: pytest.FixtureRequest) -> str:
    """The address of an empty database at today's migration."""
    if database == "postgresql":
        cluster: Cluster = request.getfixturevalue("cluster")
        return cluster.emptied("migrated")
    shutil.copy(migrated_file, tmp_path / "store.sqlite")
    return f"sqlite:///{tmp_path / 'store.sqlite'}"


@pytest.fixture
def store(store_url: str) -> Iterator[Store]:
    opened = Store(store_url)
    yield opened
    opened.close()


@pytest.fixture
def cast(store: Store, clock: Clock) -> people.Cast:
    """The standing people, by name."""
    with store.writing() as session:
        settled = people.settle(session, clock())
        session.commit()
    return settled


@pytest.fixture
def push_service() -> Iterator[PushService]:
    with PushService() as service:
        yield service


@pytest.fixture
def gateway() -> Iterator[FakeGateway]:
    with FakeGateway() as listener:
        yield listener


@pytest.fixture
def settings(store_url: str, postbox: Postbox) -> Settings:
    """A house with every language switched on, that hands its mail to the fake postbox, and may speak to the fake
    push service and gateway."""
    from companion.config import Settings
    from companion.delivery.mail import MailServer
    from companion.delivery.push import PushSender
    from companion.phrasebook.languages import LANGUAGES

    return Settings(
        database_url=store_url,
        secret_key="only for tests",
        languages=tuple(LANGUAGES),
        mail=MailServer(postbox.host, postbox.port, sender="companion@example.org", patience_s=PATIENCE_S),
        push=PushSender(ec.generate_private_key(ec.SECP256R1()), "mailto:companion@example.org"),
        outgoing=LOOPBACK,
        sign_in_tries="1000 per minute",
    )


@pytest.fixture
def app(settings: Settings, store: Store, clock: Clock) -> Flask:
    from companion.app import create_app

    made = create_app(settings, store=store, clock=clock)
    made.testing = True
    return made
