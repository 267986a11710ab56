"""The store as decided: aware moments only, foreign keys across practices, writers that wait."""

from __future__ import annotations

import threading
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import pytest
from fakes import Clock
from people import Cast
from sqlalchemy import select
from sqlalchemy.exc import IntegrityError, StatementError

from companion.store.engine import Store
from companion.store.models import Guardianship, Hold, Person, Visit


def test_the_pragmas_hold(migrated_file: Path) -> None:
    store = Store(f"sqlite:///{migrated_file}")
    with store.reading() as session:
        values = {
            name: session.connection().exec_driver_sql(f"PRAGMA {name}").scalar()
            for name in ("journal_mode", "foreign_keys", "synchronous", "busy_timeout")
        }
    store.close()
    assert values == {"journal_mode": "wal", "foreign_keys": 1, "synchronous": 2, "busy_timeout": 10_000}


def test_a_moment_comes_back_as_the_same_instant_in_utc(store: Store) -> None:
    there = datetime(2026, 3, 29, 2, 30, 0, 123456, tzinfo=timezone(timedelta(hours=8)))
    with store.writing() as session:
        session.add(Person(id="p", name="P", created_at=there))
        session.commit()
    with store.reading() as session:
        back = session.get_one(Person, "p").created_at
    assert (back, back.tzinfo) == (there, UTC)


def test_H13_a_naive_time_is_refused(store: Store) -> None:
    with store.writing() as session, pytest.raises(StatementError, match="naive"):
        session.add(Person(name="P", created_at=datetime(2026, 1, 1)))  # noqa: DTZ001 - that is the point
        session.flush()


@pytest.mark.parametrize("model", [Guardianship, Hold, Visit])
def test_a_row_cannot_cross_practices(store: Store, cast: Cast, clock: Clock, model: type) -> None:
    """Lea belongs to the other practice: a row of ours that names her breaks its foreign key."""
    facts = {"practice_id": cast.practices["mill"], "wearer_id": cast.wearers["Lea"]}
    more = {
        Guardianship: {"person_id": cast.people["Gwen"], "since": clock()},
        Hold: {"eye": "right", "reason": "practice", "placed_at": clock()},
        Visit: {"due_on": clock().date(), "kind": "week", "signed_by": cast.people["Pavel"], "signed_at": clock()},
    }[model]
    with store.writing() as session, pytest.raises(IntegrityError):
        session.add(model(**facts, **more))
        session.flush()


def test_a_session_that_only_reads_keeps_nothing(store: Store) -> None:
    with store.reading() as session:
        session.add(Person(id="p", name="P", created_at=datetime.now(UTC)))
        session.flush()
    with store.reading() as session:
        assert session.get(Person, "p") is None


def test_writers_wait_for_each_other_and_none_is_lost(store: Store, store_url: str) -> None:
    """Two stores on one file, as two processes have: their locks are not shared, only the file's is."""
    other, start = Store(store_url), threading.Barrier(4)

    def write(mine: Store, name: str) -> None:
        start.wait()
        for number in range(10):
            with mine.writing() as session:
                session.add(Person(name=f"{name}{number}", created_at=datetime.now(UTC)))
                session.commit()

    threads = [threading.Thread(target=write, args=(one, name)) for one in (store, other) for name in "ab"]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    with store.reading() as session:
        assert len(session.scalars(select(Person)).all()) == 40
    other.close()
