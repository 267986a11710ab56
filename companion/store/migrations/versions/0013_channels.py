"""Channels beside mail: browsers that take a push, and a practice's gateway."""

import sqlalchemy as sa
from alembic import op

revision = "0013"
down_revision = "0012"


def upgrade() -> None:
    op.create_table(
        "push_subscriptions",
        sa.Column("id", sa.String(), nullable=False),
        sa.Column("person_id", sa.String(), nullable=False),
        sa.Column("sign_in_id", sa.String(), nullable=False),
        sa.Column("endpoint", sa.String(), nullable=False),
        sa.Column("endpoint_hash", sa.String(), nullable=False),
        sa.Column("p256dh", sa.String(), nullable=False),
        sa.Column("auth", sa.String(), nullable=False),
        sa.Column("device_name", sa.String(), server_default="", nullable=False),
        sa.Column("says_more", sa.Boolean(), server_default="0", nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("last_accepted_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("failing_since", sa.DateTime(timezone=True), nullable=True),
        sa.Column("ended_at", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name="fk_push_subscriptions_person_id"),
        sa.ForeignKeyConstraint(["sign_in_id"], ["sign_ins.id"], name="fk_push_subscriptions_sign_in_id"),
        sa.PrimaryKeyConstraint("id", name="pk_push_subscriptions"),
        sa.UniqueConstraint("person_id", "endpoint_hash", name="uq_push_subscriptions_person_id_endpoint_hash"),
    )
    with op.batch_alter_table("push_subscriptions", schema=None) as batch_op:
        for column in ("person_id", "sign_in_id", "endpoint_hash"):
            batch_op.create_index(f"ix_push_subscriptions_{column}", [column], unique=False)
    op.create_table(
        "webhooks",
        sa.Column("id", sa.String(), nullable=False),
        sa.Column("practice_id", sa.String(), nullable=False),
        sa.Column("url", sa.String(), nullable=False),
        sa.Column("secret", sa.String(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("last_accepted_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("failing_since", sa.DateTime(timezone=True), nullable=True),
        sa.Column("ended_at", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(["practice_id"], ["practices.id"], name="fk_webhooks_practice_id"),
        sa.PrimaryKeyConstraint("id", name="pk_webhooks"),
        sa.UniqueConstraint("practice_id", name="uq_webhooks_practice_id"),
    )


def downgrade() -> None:
    op.drop_table("webhooks")
    with op.batch_alter_table("push_subscriptions", schema=None) as batch_op:
        for column in ("endpoint_hash", "sign_in_id", "person_id"):
            batch_op.drop_index(f"ix_push_subscriptions_{column}")
    op.drop_table("push_subscriptions")
