"""Reports that joined an open alert instead of raising one of their own."""

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"


def upgrade() -> None:
    with op.batch_alter_table("reports", schema=None) as batch_op:
        batch_op.add_column(sa.Column("joins_alert_id", sa.String(), nullable=True))
        batch_op.create_index("ix_reports_joins_alert", ["joins_alert_id"], unique=False)
        batch_op.create_foreign_key(
            "fk_reports_practice_id_joins_alert_id",
            "alerts",
            ["practice_id", "joins_alert_id"],
            ["practice_id", "id"],
        )


def downgrade() -> None:
    with op.batch_alter_table("reports", schema=None) as batch_op:
        batch_op.drop_constraint("fk_reports_practice_id_joins_alert_id", type_="foreignkey")
        batch_op.drop_index("ix_reports_joins_alert")
        batch_op.drop_column("joins_alert_id")
