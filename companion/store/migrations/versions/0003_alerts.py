"""Alerts, what carries them, the audit and the jobs."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    op.create_table(
        "job_runs",
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("lease_until", sa.DateTime(timezone=True), nullable=True),
        sa.Column("started_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("finished_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("last_error", sa.String(), nullable=True),
        sa.PrimaryKeyConstraint("name", name="pk_job_runs"),
    )
    op.create_table(
        "audit_events",
        sa.Column("id", sa.String(), nullable=False),
        sa.Column("practice_id", sa.String(), nullable=True),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("actor_id", sa.String(), nullable=True),
        sa.Column("verb", sa.String(), nullable=False),
        sa.Column("object_kind", sa.String(), nullable=False),
        sa.Column("object_id", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(["actor_id"], ["people.id"], name="fk_audit_events_actor_id"),
        sa.ForeignKeyConstraint(["practice_id"], ["practices.id"], name="fk_audit_events_practice_id"),
        sa.PrimaryKeyConstraint("id", name="pk_audit_events"),
    )
    with op.batch_alter_table("audit_events", schema=None) as batch_op:
        batch_op.create_index("ix_audit_events_practice_at", ["practice_id", "at"], unique=False)

    op.create_table(
        "alerts",
        sa.Column("id", sa.String(), nullable=False),
        sa.Column("practice_id", sa.String(), nullable=False),
        sa.Column("wearer_id", sa.String(), nullable=False),
        sa.Column("entry_id", sa.String(), nullable=False),
        sa.Column("level", sa.Integer(), nullable=False),
        sa.Column("raised_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("taken_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("taken_by", sa.String(), nullable=True),
        sa.Column("contact_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("contact_by", sa.String(), nullable=True),
        sa.Column("contact_note", sa.String(), nullable=True),
        sa.Column("closed_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("closed_by", sa.String(), nullable=True),
        sa.Column("outcome", sa.String(), nullable=True),
        sa.Column("outcome_note", sa.String(), nullable=True),
        sa.Column("lenses_out_until", sa.Date(), nullable=True),
        sa.ForeignKeyConstraint(["closed_by"], ["people.id"], name="fk_alerts_closed_by"),
        sa.ForeignKeyConstraint(["contact_by"], ["people.id"], name="fk_alerts_contact_by"),
        sa.ForeignKeyConstraint(["entry_id"], ["entries.id"], name="fk_alerts_entry_id"),
        sa.ForeignKeyConstraint(
            ["practice_id", "wearer_id"],
            ["wearers.practice_id", "wearers.id"],
            name="fk_alerts_practice_id_wearer_id",
        ),
        sa.ForeignKeyConstraint(["taken_by"], ["people.id"], name="fk_alerts_taken_by"),
        sa.PrimaryKeyConstraint("id", name="pk_alerts"),
        sa.UniqueConstraint("entry_id", name="uq_alerts_entry_id"),
        sa.UniqueConstraint("practice_id", "id", name="uq_alerts_practice_id_id"),
    )
    with op.batch_alter_table("alerts", schema=None) as batch_op:
        batch_op.create_index("ix_alerts_open", ["practice_id", "closed_at", "level"], unique=False)

    op.create_table(
        "deliveries",
        sa.Column("id", sa.String(), nullable=False),
        sa.Column("practice_id", sa.String(), nullable=False),
        sa.Column("alert_id", sa.String(), nullable=False),
        sa.Column("step", sa.Integer(), nullable=False),
        sa.Column("person_id", sa.String(), nullable=False),
        sa.Column("channel", sa.String(), nullable=False),
        sa.Column("queued_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("handed_over_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("delivered_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("failed_at", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name="fk_deliveries_person_id"),
        sa.ForeignKeyConstraint(
            ["practice_id", "alert_id"],
            ["alerts.practice_id", "alerts.id"],
            name="fk_deliveries_practice_id_alert_id",
        ),
        sa.PrimaryKeyConstraint("id", name="pk_deliveries"),
        sa.UniqueConstraint(
            "alert_id", "step", "person_id", "channel", name="uq_deliveries_alert_id_step_person_id_channel"
        ),
    )
    op.create_table(
        "outbox",
        sa.Column("id", sa.String(), nullable=False),
        sa.Column("practice_id", sa.String(), nullable=False),
        sa.Column("delivery_id", sa.String(), nullable=True),
        sa.Column("channel", sa.String(), nullable=False),
        sa.Column("address", sa.String(), nullable=False),
        sa.Column("message", sa.JSON(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("due_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("attempts", sa.Integer(), nullable=False),
        sa.Column("lease_until", sa.DateTime(timezone=True), nullable=True),
        sa.Column("lease_by", sa.String(), nullable=True),
        sa.Column("sent_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("given_up_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("last_error", sa.String(), nullable=True),
        sa.ForeignKeyConstraint(["delivery_id"], ["deliveries.id"], name="fk_outbox_delivery_id"),
        sa.ForeignKeyConstraint(["practice_id"], ["practices.id"], name="fk_outbox_practice_id"),
        sa.PrimaryKeyConstraint("id", name="pk_outbox"),
    )
    with op.batch_alter_table("outbox", schema=None) as batch_op:
        batch_op.create_index("ix_outbox_delivery_id", ["delivery_id"], unique=False)
        batch_op.create_index(
            "ix_outbox_due",
            ["due_at"],
            unique=False,
            sqlite_where=sa.text("sent_at IS NULL AND given_up_at IS NULL"),
            postgresql_where=sa.text("sent_at IS NULL AND given_up_at IS NULL"),
        )


def downgrade() -> None:
    with op.batch_alter_table("outbox", schema=None) as batch_op:
        batch_op.drop_index(
            "ix_outbox_due",
            sqlite_where=sa.text("sent_at IS NULL AND given_up_at IS NULL"),
            postgresql_where=sa.text("sent_at IS NULL AND given_up_at IS NULL"),
        )
        batch_op.drop_index("ix_outbox_delivery_id")

    op.drop_table("outbox")
    op.drop_table("deliveries")
    with op.batch_alter_table("alerts", schema=None) as batch_op:
        batch_op.drop_index("ix_alerts_open")

    op.drop_table("alerts")
    with op.batch_alter_table("audit_events", schema=None) as batch_op:
        batch_op.drop_index("ix_audit_events_practice_at")

    op.drop_table("audit_events")
    op.drop_table("job_runs")
