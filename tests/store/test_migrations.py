"""The numbered steps: up, down and up again; equal to the models; the head named in one file."""

from __future__ import annotations

from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import inspect

import companion.store.models  # noqa: F401 - the tables
from companion.store import migrations
from companion.store.base import Base
from companion.store.engine import Store


@pytest.fixture
def empty(tmp_path: Path) -> Store:
    return Store(f"sqlite:///{tmp_path / 'empty.sqlite'}")


def test_up_down_and_up_again(empty: Store) -> None:
    migrations.upgrade(empty.engine)
    assert migrations.version(empty.engine) == migrations.head()
    migrations.downgrade(empty.engine)
    assert set(inspect(empty.engine).get_table_names()) == {"alembic_version"}
    migrations.upgrade(empty.engine)
    assert migrations.version(empty.engine) == migrations.head()


def test_the_steps_lead_to_the_models(empty: Store) -> None:
    migrations.upgrade(empty.engine)
    with empty.engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, Base.metadata) == []


def test_there_is_one_line_of_steps_and_its_end_is_named() -> None:
    scripts = ScriptDirectory(str(migrations.HERE))
    assert scripts.get_heads() == [migrations.head()]
    steps = [step.revision for step in scripts.walk_revisions()][::-1]
    assert steps == [f"{number:04}" for number in range(1, len(steps) + 1)]


def test_every_row_of_a_wearer_is_tied_to_the_practice() -> None:
    """A table with a wearer's id carries the practice's beside it, in one foreign key."""
    for table in Base.metadata.tables.values():
        if "wearer_id" not in table.columns:
            continue
        ties = {tuple(key.column_keys) for key in table.foreign_key_constraints}
        assert ("practice_id", "wearer_id") in ties, table.name
