"""Days that matter: when sight must hold, as the family names them."""

import sqlalchemy as sa
from alembic import op

revision = "0011"
down_revision = "0010"


def upgrade() -> None:
    op.create_table(
        "days_that_matter",
        sa.Column("id", sa.String(), nullable=False),
        sa.Column("practice_id", sa.String(), nullable=False),
        sa.Column("wearer_id", sa.String(), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("starts", sa.Time(), nullable=False),
        sa.Column("ends", sa.Time(), nullable=False),
        sa.Column("zone", sa.String(), nullable=False),
        sa.Column("label", sa.String(), nullable=False),
        sa.Column("driving", sa.Boolean(), nullable=False),
        sa.Column("added_by", sa.String(), nullable=False),
        sa.Column("added_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("removed_by", sa.String(), nullable=True),
        sa.Column("removed_at", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(["added_by"], ["people.id"], name="fk_days_that_matter_added_by"),
        sa.ForeignKeyConstraint(
            ["practice_id", "wearer_id"],
            ["wearers.practice_id", "wearers.id"],
            name="fk_days_that_matter_practice_id_wearer_id",
        ),
        sa.ForeignKeyConstraint(["removed_by"], ["people.id"], name="fk_days_that_matter_removed_by"),
        sa.PrimaryKeyConstraint("id", name="pk_days_that_matter"),
    )
    with op.batch_alter_table("days_that_matter", schema=None) as batch_op:
        batch_op.create_index("ix_days_that_matter_wearer", ["practice_id", "wearer_id", "day"], unique=False)


def downgrade() -> None:
    with op.batch_alter_table("days_that_matter", schema=None) as batch_op:
        batch_op.drop_index("ix_days_that_matter_wearer")
    op.drop_table("days_that_matter")
