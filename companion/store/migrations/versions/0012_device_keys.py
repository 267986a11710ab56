"""Device keys: what a phone keeps of a sign-in."""

import sqlalchemy as sa
from alembic import op

revision = "0012"
down_revision = "0011"


def upgrade() -> None:
    op.create_table(
        "device_keys",
        sa.Column("id", sa.String(), nullable=False),
        sa.Column("secret_hash", sa.String(), nullable=False),
        sa.Column("person_id", sa.String(), nullable=False),
        sa.Column("sign_in_id", sa.String(), nullable=False),
        sa.Column("device", sa.String(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("ended_at", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name="fk_device_keys_person_id"),
        sa.ForeignKeyConstraint(["sign_in_id"], ["sign_ins.id"], name="fk_device_keys_sign_in_id"),
        sa.PrimaryKeyConstraint("id", name="pk_device_keys"),
    )
    with op.batch_alter_table("device_keys", schema=None) as batch_op:
        batch_op.create_index("ix_device_keys_person_id", ["person_id"], unique=False)
        batch_op.create_index("ix_device_keys_sign_in_id", ["sign_in_id"], unique=False)


def downgrade() -> None:
    with op.batch_alter_table("device_keys", schema=None) as batch_op:
        batch_op.drop_index("ix_device_keys_sign_in_id")
        batch_op.drop_index("ix_device_keys_person_id")
    op.drop_table("device_keys")
