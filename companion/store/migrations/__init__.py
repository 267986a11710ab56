"""Numbered steps from an empty database to today's tables: expand, move, contract.

``HEAD`` holds the newest number, so that two branches that each add one collide in git and not in production.
"""

from __future__ import annotations

from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from sqlalchemy import Engine

HERE = Path(__file__).resolve().parent


def head() -> str:
    """Return the newest migration's number."""
    return (HERE / "HEAD").read_text(encoding="ascii").strip()


def version(engine: Engine) -> str | None:
    """Return the number of the migration that the database stands at."""
    with engine.connect() as connection:
        return MigrationContext.configure(connection).get_current_revision()


def upgrade(engine: Engine, to: str = "head") -> None:
    """Bring the database up to ``to``, in one transaction a step."""
    command.upgrade(_config(engine), to)


def downgrade(engine: Engine, to: str = "base") -> None:
    """Take the database back to ``to``: for tests, and for a mishap on the day of a release."""
    command.downgrade(_config(engine), to)


def _config(engine: Engine) -> Config:
    config = Config()
    config.set_main_option("script_location", str(HERE))
    config.attributes["engine"] = engine
    return config
