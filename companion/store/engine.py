"""Opening the store: SQLite as the design's decisions say, or PostgreSQL by its address.

SQLite: write-ahead log, foreign keys, full synchronisation. A writing session opens with BEGIN IMMEDIATE under one
lock of this process (its busy handler sleeps, the lock does not) and waits up to 10 s for other processes; the
driver's own BEGIN is off so that savepoints work.
"""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from sqlalchemy import Engine, create_engine, event
from sqlalchemy.orm import Session, sessionmaker

BUSY_SECONDS = 10


class Store:
    """One open store. ``reading()`` and ``writing()`` hand out sessions; only a use case commits."""

    def __init__(self, url: str) -> None:
        self.engine: Engine = _sqlite(url) if url.startswith("sqlite") else create_engine(url, pool_pre_ping=True)
        self._is_sqlite = self.engine.dialect.name == "sqlite"
        self._sessions = sessionmaker(self.engine, expire_on_commit=False)
        self._writer = threading.RLock()

    @contextmanager
    def reading(self) -> Iterator[Session]:
        """A session for reading. It is closed without a commit, so what it wrote by mistake is gone."""
        with self._sessions() as session:
            yield session

    @contextmanager
    def writing(self) -> Iterator[Session]:
        """A session for one use case that commits; anything uncommitted is rolled back."""
        if not self._is_sqlite:
            with self._sessions() as session:
                yield session
            return
        with self._writer, self._sessions() as session:
            session.connection(execution_options={"writes": True})
            yield session

    def close(self) -> None:
        self.engine.dispose()


def _sqlite(url: str) -> Engine:
    engine = create_engine(url, connect_args={"timeout": BUSY_SECONDS, "check_same_thread": False})

    @event.listens_for(engine, "connect")
    def set_up(connection: Any, _record: Any) -> None:
        connection.isolation_level = None
        for pragma in ("journal_mode=WAL", "foreign_keys=ON", "synchronous=FULL"):
            connection.execute(f"PRAGMA {pragma}")

    @event.listens_for(engine, "begin")
    def begin(connection: Any) -> None:
        writes = connection.get_execution_options().get("writes", False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    return engine
