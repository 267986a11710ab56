"""The house to break, with the standing people, on both databases: made once a run, and reset for each test."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import people
import pytest
from fakes import Clock
from postgres import Cluster
from world import World

from companion.store.engine import Store


@pytest.fixture(scope="session")
def worlds() -> Iterator[dict[str, World]]:
    made: dict[str, World] = {}
    yield made
    for one in made.values():
        one.close()


@pytest.fixture
def world(
    database: str, worlds: dict[str, World], migrated_file: Path, request: pytest.FixtureRequest
) -> Iterator[World]:
    if database not in worlds:
        if database == "postgresql":
            cluster: Cluster = request.getfixturevalue("cluster")
            url = cluster.copy("migrated")
        else:
            folder = request.getfixturevalue("tmp_path_factory").mktemp("world")
            url = f"sqlite:///{shutil.copy(migrated_file, folder / 'store.sqlite')}"
        store, clock = Store(url), Clock(people.EVENING)
        with store.writing() as session:
            cast = people.settle(session, clock())
            session.commit()
        store.close()
        worlds[database] = World(url, cast, clock).open()
    yield worlds[database]
    worlds[database].mend()
