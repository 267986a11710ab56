"""What the commands that run the house share: settings, a store at today's migration, signals."""

from __future__ import annotations

import logging
import os
import signal
import sys
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from pkgutil import resolve_name
from threading import Event
from typing import Any

from companion.config import INSTANCE, Settings, from_environment
from companion.store import migrations
from companion.store.engine import Store


def clock() -> datetime:
    """The one clock of a running house."""
    return datetime.now(UTC)


def instance_folder() -> Path:
    """Return where this house keeps its files."""
    return Path(os.environ.get("COMPANION_INSTANCE", INSTANCE))


def fresh_store(file: Path) -> Store:
    """Make an empty store at today's migration in ``file``, in place of what was there."""
    for one in (file, *(file.with_name(file.name + end) for end in ("-wal", "-shm"))):
        one.unlink(missing_ok=True)
    store = Store(f"sqlite:///{file}")
    migrations.upgrade(store.engine)
    return store


def open_house() -> tuple[Settings, Store]:
    """Read the settings and open the store, moved on to today's migration."""
    settings = from_environment()
    store = Store(settings.database_url)
    if migrations.version(store.engine) != migrations.head():
        migrations.upgrade(store.engine)
    return settings, store


def make_app(settings: Settings, store: Store) -> Any:
    """Make the app by its name, as any WSGI server does: the wiring stands a floor above the command line."""
    create_app: Callable[..., Any] = resolve_name("companion.app:create_app")
    return create_app(settings, store, clock)


def log_to_standard_error() -> None:
    logging.basicConfig(stream=sys.stderr, level=logging.WARNING, format="%(asctime)s %(levelname)s %(message)s")


def until_told_to_stop() -> Event:
    """Return an event that SIGTERM and SIGINT set, so that runs under way are finished first."""
    stop = Event()
    for one in (signal.SIGTERM, signal.SIGINT):
        signal.signal(one, lambda *_: stop.set())
    return stop
