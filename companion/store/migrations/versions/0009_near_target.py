"""At which distance the target counts: far, or near for those who read by their lens."""

import sqlalchemy as sa
from alembic import op

revision = "0009"
down_revision = "0008"


def upgrade() -> None:
    with op.batch_alter_table("plans", schema=None) as batch_op:
        batch_op.add_column(sa.Column("target_distance_m", sa.Double(), nullable=True))


def downgrade() -> None:
    with op.batch_alter_table("plans", schema=None) as batch_op:
        batch_op.drop_column("target_distance_m")
