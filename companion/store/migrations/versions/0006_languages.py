"""A practice's word on the safety text in one language."""

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"


def upgrade() -> None:
    op.create_table(
        "practice_languages",
        sa.Column("id", sa.String(), nullable=False),
        sa.Column("practice_id", sa.String(), nullable=False),
        sa.Column("language", sa.String(), nullable=False),
        sa.Column("text_version", sa.String(), nullable=False),
        sa.Column("open", sa.Boolean(), nullable=False),
        sa.Column("reviewer", sa.String(), nullable=False),
        sa.Column("reviewer_role", sa.String(), nullable=False),
        sa.Column("signed_by", sa.String(), nullable=False),
        sa.Column("signed_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["practice_id"], ["practices.id"], name="fk_practice_languages_practice_id"),
        sa.ForeignKeyConstraint(["signed_by"], ["people.id"], name="fk_practice_languages_signed_by"),
        sa.PrimaryKeyConstraint("id", name="pk_practice_languages"),
    )
    with op.batch_alter_table("practice_languages", schema=None) as batch_op:
        batch_op.create_index(
            "ix_practice_languages_practice", ["practice_id", "language", "signed_at"], unique=False
        )


def downgrade() -> None:
    op.drop_table("practice_languages")
