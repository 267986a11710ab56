"""Passes, recoveries, hand-over, and what people prefer."""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"


def upgrade() -> None:
    op.create_table(
        "recoveries",
        sa.Column("id", sa.String(), nullable=False),
        sa.Column("practice_id", sa.String(), nullable=False),
        sa.Column("person_id", sa.String(), nullable=False),
        sa.Column("token_hash", sa.String(), nullable=False),
        sa.Column("started_by", sa.String(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("expires_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("confirmed_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("confirmed_by", sa.String(), nullable=True),
        sa.Column("used_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("revoked_at", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(["confirmed_by"], ["people.id"], name="fk_recoveries_confirmed_by"),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name="fk_recoveries_person_id"),
        sa.ForeignKeyConstraint(["practice_id"], ["practices.id"], name="fk_recoveries_practice_id"),
        sa.ForeignKeyConstraint(["started_by"], ["people.id"], name="fk_recoveries_started_by"),
        sa.PrimaryKeyConstraint("id", name="pk_recoveries"),
        sa.UniqueConstraint("token_hash", name="uq_recoveries_token_hash"),
    )
    with op.batch_alter_table("recoveries", schema=None) as batch_op:
        batch_op.create_index("ix_recoveries_person_id", ["person_id"], unique=False)
        batch_op.create_index("ix_recoveries_practice_id", ["practice_id"], unique=False)

    op.create_table(
        "carer_passes",
        sa.Column("id", sa.String(), nullable=False),
        sa.Column("practice_id", sa.String(), nullable=False),
        sa.Column("wearer_id", sa.String(), nullable=False),
        sa.Column("person_id", sa.String(), nullable=False),
        sa.Column("token_hash", sa.String(), nullable=False),
        sa.Column("issued_by", sa.String(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("expires_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("revoked_at", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(["issued_by"], ["people.id"], name="fk_carer_passes_issued_by"),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name="fk_carer_passes_person_id"),
        sa.ForeignKeyConstraint(
            ["practice_id", "wearer_id"],
            ["wearers.practice_id", "wearers.id"],
            name="fk_carer_passes_practice_id_wearer_id",
        ),
        sa.PrimaryKeyConstraint("id", name="pk_carer_passes"),
        sa.UniqueConstraint("token_hash", name="uq_carer_passes_token_hash"),
    )
    with op.batch_alter_table("carer_passes", schema=None) as batch_op:
        batch_op.create_index("ix_carer_passes_wearer", ["practice_id", "wearer_id"], unique=False)

    op.create_table(
        "handovers",
        sa.Column("practice_id", sa.String(), nullable=False),
        sa.Column("wearer_id", sa.String(), nullable=False),
        sa.Column("offered_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("offered_by", sa.String(), nullable=False),
        sa.Column("guardian_read_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("guardian_id", sa.String(), nullable=True),
        sa.Column("wearer_read_at", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(["guardian_id"], ["people.id"], name="fk_handovers_guardian_id"),
        sa.ForeignKeyConstraint(["offered_by"], ["people.id"], name="fk_handovers_offered_by"),
        sa.ForeignKeyConstraint(
            ["practice_id", "wearer_id"],
            ["wearers.practice_id", "wearers.id"],
            name="fk_handovers_practice_id_wearer_id",
        ),
        sa.PrimaryKeyConstraint("practice_id", "wearer_id", name="pk_handovers"),
    )
    with op.batch_alter_table("consents", schema=None) as batch_op:
        batch_op.add_column(sa.Column("withdrawn_at", sa.DateTime(timezone=True), nullable=True))

    with op.batch_alter_table("people", schema=None) as batch_op:
        batch_op.add_column(sa.Column("hour_cycle", sa.String(), server_default="usual", nullable=False))
        batch_op.add_column(sa.Column("digits", sa.String(), server_default="usual", nullable=False))
        batch_op.add_column(sa.Column("text_size", sa.String(), server_default="usual", nullable=False))

    with op.batch_alter_table("practices", schema=None) as batch_op:
        batch_op.add_column(sa.Column("handover_age", sa.Integer(), server_default="16", nullable=False))

    with op.batch_alter_table("sign_ins", schema=None) as batch_op:
        batch_op.add_column(sa.Column("pass_id", sa.String(), nullable=True))
        batch_op.create_foreign_key("fk_sign_ins_pass_id", "carer_passes", ["pass_id"], ["id"])

    with op.batch_alter_table("wearers", schema=None) as batch_op:
        batch_op.add_column(sa.Column("handed_over_at", sa.DateTime(timezone=True), nullable=True))


def downgrade() -> None:
    # Plain statements, not batches: a batch would copy tables that others point at.
    op.drop_column("wearers", "handed_over_at")
    with op.batch_alter_table("sign_ins", schema=None) as batch_op:
        batch_op.drop_constraint("fk_sign_ins_pass_id", type_="foreignkey")
        batch_op.drop_column("pass_id")
    op.drop_column("practices", "handover_age")
    op.drop_column("people", "text_size")
    op.drop_column("people", "digits")
    op.drop_column("people", "hour_cycle")
    op.drop_column("consents", "withdrawn_at")
    op.drop_table("handovers")
    op.drop_table("carer_passes")
    op.drop_table("recoveries")
