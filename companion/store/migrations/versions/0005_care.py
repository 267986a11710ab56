"""The care system and the schedule that a practice signs."""

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"


def upgrade() -> None:
    op.create_table(
        "care_regimens",
        sa.Column("id", sa.String(), nullable=False),
        sa.Column("practice_id", sa.String(), nullable=False),
        sa.Column("system", sa.String(), nullable=False),
        sa.Column("numbers", sa.JSON(), nullable=False),
        sa.Column("signed_by", sa.String(), nullable=False),
        sa.Column("signed_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["practice_id"], ["practices.id"], name="fk_care_regimens_practice_id"),
        sa.ForeignKeyConstraint(["signed_by"], ["people.id"], name="fk_care_regimens_signed_by"),
        sa.PrimaryKeyConstraint("id", name="pk_care_regimens"),
    )
    with op.batch_alter_table("care_regimens", schema=None) as batch_op:
        batch_op.create_index("ix_care_regimens_practice", ["practice_id", "signed_at"], unique=False)


def downgrade() -> None:
    op.drop_table("care_regimens")
