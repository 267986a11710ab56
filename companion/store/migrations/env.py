"""Alembic's way in: runs the numbered steps on the engine it was given."""

from alembic import context

import companion.store.models  # noqa: F401 - the tables
from companion.store.base import Base, Moment


def render_item(kind, item, _autogen):  # type: ignore[no-untyped-def]
    """Write our moments as plain columns: a migration must not lean on code that may change."""
    return "sa.DateTime(timezone=True)" if kind == "type" and isinstance(item, Moment) else False


with context.config.attributes["engine"].connect() as connection:
    connection = connection.execution_options(writes=True)
    context.configure(
        connection=connection,
        target_metadata=Base.metadata,
        render_as_batch=connection.dialect.name == "sqlite",
        transaction_per_migration=True,
        compare_type=True,
        render_item=render_item,
    )
    with context.begin_transaction():
        context.run_migrations()
    connection.commit()
