"""Photos that follow a report."""

import sqlalchemy as sa
from alembic import op

revision = "0015"
down_revision = "0014"


def upgrade() -> None:
    op.create_table(
        "photos",
        sa.Column("id", sa.String(), nullable=False),
        sa.Column("practice_id", sa.String(), nullable=False),
        sa.Column("wearer_id", sa.String(), nullable=False),
        sa.Column("entry_id", sa.String(), nullable=False),
        sa.Column("author_id", sa.String(), nullable=False),
        sa.Column("eye", sa.String(), nullable=False),
        sa.Column("received_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("width", sa.Integer(), nullable=False),
        sa.Column("height", sa.Integer(), nullable=False),
        sa.Column("jpeg", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(
            ["practice_id", "wearer_id"],
            ["wearers.practice_id", "wearers.id"],
            name="fk_photos_practice_id_wearer_id",
        ),
        sa.ForeignKeyConstraint(["entry_id"], ["entries.id"], name="fk_photos_entry_id"),
        sa.ForeignKeyConstraint(["author_id"], ["people.id"], name="fk_photos_author_id"),
        sa.PrimaryKeyConstraint("id", name="pk_photos"),
    )
    with op.batch_alter_table("photos", schema=None) as batch_op:
        batch_op.create_index("ix_photos_entry", ["practice_id", "entry_id"], unique=False)
        batch_op.create_index("ix_photos_wearer", ["practice_id", "wearer_id"], unique=False)


def downgrade() -> None:
    with op.batch_alter_table("photos", schema=None) as batch_op:
        batch_op.drop_index("ix_photos_wearer")
        batch_op.drop_index("ix_photos_entry")
    op.drop_table("photos")
