"""The promise: a practice's on-call hours and minutes, its switches, test alerts, and what the family was told."""

import sqlalchemy as sa
from alembic import op

revision = "0014"
down_revision = "0013"


def upgrade() -> None:
    with op.batch_alter_table("practices", schema=None) as batch_op:
        batch_op.add_column(sa.Column("on_call_hours", sa.JSON(), server_default="{}", nullable=False))
        batch_op.add_column(sa.Column("climb_minutes", sa.JSON(), server_default="{}", nullable=False))
        batch_op.add_column(sa.Column("alerts_on", sa.Boolean(), server_default=sa.true(), nullable=False))
        batch_op.add_column(sa.Column("triage_on", sa.Boolean(), server_default=sa.true(), nullable=False))
    with op.batch_alter_table("alerts", schema=None) as batch_op:
        batch_op.add_column(sa.Column("family_told", sa.JSON(), server_default="{}", nullable=False))
        batch_op.add_column(sa.Column("called_said", sa.String(), nullable=True))
        batch_op.add_column(sa.Column("called_said_at", sa.DateTime(timezone=True), nullable=True))
    with op.batch_alter_table("outbox", schema=None) as batch_op:
        batch_op.add_column(sa.Column("alert_test_id", sa.String(), nullable=True))
    op.create_table(
        "alert_tests",
        sa.Column("id", sa.String(), nullable=False),
        sa.Column("practice_id", sa.String(), nullable=False),
        sa.Column("person_id", sa.String(), nullable=False),
        sa.Column("channel", sa.String(), nullable=False),
        sa.Column("sent_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("accepted_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("failed_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("answered_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("answered_by", sa.String(), nullable=True),
        sa.ForeignKeyConstraint(["practice_id"], ["practices.id"], name="fk_alert_tests_practice_id"),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name="fk_alert_tests_person_id"),
        sa.ForeignKeyConstraint(["answered_by"], ["people.id"], name="fk_alert_tests_answered_by"),
        sa.PrimaryKeyConstraint("id", name="pk_alert_tests"),
    )
    with op.batch_alter_table("alert_tests", schema=None) as batch_op:
        batch_op.create_index("ix_alert_tests_practice", ["practice_id", "sent_at"], unique=False)


def downgrade() -> None:
    with op.batch_alter_table("alert_tests", schema=None) as batch_op:
        batch_op.drop_index("ix_alert_tests_practice")
    op.drop_table("alert_tests")
    with op.batch_alter_table("outbox", schema=None) as batch_op:
        batch_op.drop_column("alert_test_id")
    with op.batch_alter_table("alerts", schema=None) as batch_op:
        for column in ("called_said_at", "called_said", "family_told"):
            batch_op.drop_column(column)
    with op.batch_alter_table("practices", schema=None) as batch_op:
        for column in ("triage_on", "alerts_on", "climb_minutes", "on_call_hours"):
            batch_op.drop_column(column)
