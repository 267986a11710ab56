"""What time does to an alert: when it was raised again, as what it counts, since when no word has come."""

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"


def upgrade() -> None:
    with op.batch_alter_table("alerts", schema=None) as batch_op:
        batch_op.add_column(sa.Column("raised_again_at", sa.DateTime(timezone=True), nullable=True))
        batch_op.add_column(sa.Column("raised_as", sa.JSON(), nullable=True))
        batch_op.add_column(sa.Column("no_word_at", sa.DateTime(timezone=True), nullable=True))


def downgrade() -> None:
    with op.batch_alter_table("alerts", schema=None) as batch_op:
        batch_op.drop_column("no_word_at")
        batch_op.drop_column("raised_as")
        batch_op.drop_column("raised_again_at")
