"""What is signed for a wearer, and the diary with its judgements."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    op.create_table(
        "clearances",
        sa.Column("may_skip", sa.Boolean(), nullable=False),
        sa.Column("longest_gap_nights", sa.Integer(), nullable=False),
        sa.Column("until", sa.Date(), nullable=True),
        sa.Column("id", sa.String(), nullable=False),
        sa.Column("practice_id", sa.String(), nullable=False),
        sa.Column("wearer_id", sa.String(), nullable=False),
        sa.Column("signed_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("signed_by", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(
            ["practice_id", "wearer_id"],
            ["wearers.practice_id", "wearers.id"],
            name="fk_clearances_practice_id_wearer_id",
        ),
        sa.ForeignKeyConstraint(["signed_by"], ["people.id"], name="fk_clearances_signed_by"),
        sa.PrimaryKeyConstraint("id", name="pk_clearances"),
    )
    with op.batch_alter_table("clearances", schema=None) as batch_op:
        batch_op.create_index("ix_clearances_wearer", ["practice_id", "wearer_id"], unique=False)

    op.create_table(
        "entries",
        sa.Column("id", sa.String(), nullable=False),
        sa.Column("practice_id", sa.String(), nullable=False),
        sa.Column("wearer_id", sa.String(), nullable=False),
        sa.Column("seq", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("author_id", sa.String(), nullable=True),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("zone", sa.String(), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("received_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("payload", sa.JSON(), nullable=False),
        sa.Column("verified", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(["author_id"], ["people.id"], name="fk_entries_author_id"),
        sa.ForeignKeyConstraint(
            ["practice_id", "wearer_id"],
            ["wearers.practice_id", "wearers.id"],
            name="fk_entries_practice_id_wearer_id",
        ),
        sa.PrimaryKeyConstraint("id", name="pk_entries"),
        sa.UniqueConstraint("wearer_id", "seq", name="uq_entries_wearer_id_seq"),
    )
    with op.batch_alter_table("entries", schema=None) as batch_op:
        batch_op.create_index("ix_entries_wearer_at", ["practice_id", "wearer_id", "at"], unique=False)

    op.create_table(
        "lenses",
        sa.Column("eye", sa.String(), nullable=False),
        sa.Column("since", sa.Date(), nullable=False),
        sa.Column("marked_as", sa.String(), nullable=False),
        sa.Column("base_curve_mm", sa.Double(), nullable=True),
        sa.Column("diameter_mm", sa.Double(), nullable=True),
        sa.Column("aim_d", sa.Double(), nullable=False),
        sa.Column("id", sa.String(), nullable=False),
        sa.Column("practice_id", sa.String(), nullable=False),
        sa.Column("wearer_id", sa.String(), nullable=False),
        sa.Column("signed_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("signed_by", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(
            ["practice_id", "wearer_id"],
            ["wearers.practice_id", "wearers.id"],
            name="fk_lenses_practice_id_wearer_id",
        ),
        sa.ForeignKeyConstraint(["signed_by"], ["people.id"], name="fk_lenses_signed_by"),
        sa.PrimaryKeyConstraint("id", name="pk_lenses"),
    )
    with op.batch_alter_table("lenses", schema=None) as batch_op:
        batch_op.create_index("ix_lenses_wearer", ["practice_id", "wearer_id"], unique=False)

    op.create_table(
        "plans",
        sa.Column("since", sa.Date(), nullable=False),
        sa.Column("every", sa.Integer(), nullable=True),
        sa.Column("weekdays", sa.JSON(), nullable=True),
        sa.Column("target_acuity_logmar", sa.Double(), nullable=False),
        sa.Column("target_until", sa.Time(), nullable=False),
        sa.Column("target_eyes", sa.String(), nullable=False),
        sa.Column("id", sa.String(), nullable=False),
        sa.Column("practice_id", sa.String(), nullable=False),
        sa.Column("wearer_id", sa.String(), nullable=False),
        sa.Column("signed_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("signed_by", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(
            ["practice_id", "wearer_id"],
            ["wearers.practice_id", "wearers.id"],
            name="fk_plans_practice_id_wearer_id",
        ),
        sa.ForeignKeyConstraint(["signed_by"], ["people.id"], name="fk_plans_signed_by"),
        sa.PrimaryKeyConstraint("id", name="pk_plans"),
    )
    with op.batch_alter_table("plans", schema=None) as batch_op:
        batch_op.create_index("ix_plans_wearer", ["practice_id", "wearer_id"], unique=False)

    op.create_table(
        "refractions",
        sa.Column("eye", sa.String(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("measured_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("sphere_d", sa.Double(), nullable=False),
        sa.Column("cylinder_d", sa.Double(), nullable=False),
        sa.Column("axis_deg", sa.Integer(), nullable=True),
        sa.Column("best_acuity_logmar", sa.Double(), nullable=True),
        sa.Column("id", sa.String(), nullable=False),
        sa.Column("practice_id", sa.String(), nullable=False),
        sa.Column("wearer_id", sa.String(), nullable=False),
        sa.Column("signed_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("signed_by", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(
            ["practice_id", "wearer_id"],
            ["wearers.practice_id", "wearers.id"],
            name="fk_refractions_practice_id_wearer_id",
        ),
        sa.ForeignKeyConstraint(["signed_by"], ["people.id"], name="fk_refractions_signed_by"),
        sa.PrimaryKeyConstraint("id", name="pk_refractions"),
    )
    with op.batch_alter_table("refractions", schema=None) as batch_op:
        batch_op.create_index("ix_refractions_wearer", ["practice_id", "wearer_id"], unique=False)

    op.create_table(
        "visits",
        sa.Column("due_on", sa.Date(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("done_on", sa.Date(), nullable=True),
        sa.Column("id", sa.String(), nullable=False),
        sa.Column("practice_id", sa.String(), nullable=False),
        sa.Column("wearer_id", sa.String(), nullable=False),
        sa.Column("signed_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("signed_by", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(
            ["practice_id", "wearer_id"],
            ["wearers.practice_id", "wearers.id"],
            name="fk_visits_practice_id_wearer_id",
        ),
        sa.ForeignKeyConstraint(["signed_by"], ["people.id"], name="fk_visits_signed_by"),
        sa.PrimaryKeyConstraint("id", name="pk_visits"),
    )
    with op.batch_alter_table("visits", schema=None) as batch_op:
        batch_op.create_index("ix_visits_wearer", ["practice_id", "wearer_id"], unique=False)

    op.create_table(
        "wearer_states",
        sa.Column("practice_id", sa.String(), nullable=False),
        sa.Column("wearer_id", sa.String(), nullable=False),
        sa.Column("seq", sa.Integer(), nullable=False),
        sa.Column("worn", sa.Integer(), nullable=False),
        sa.Column("not_worn", sa.Integer(), nullable=False),
        sa.Column("unknown", sa.Integer(), nullable=False),
        sa.Column("planned", sa.Integer(), nullable=False),
        sa.Column("last_entry_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("forecast", sa.JSON(), nullable=True),
        sa.Column("forecast_seq", sa.Integer(), nullable=True),
        sa.Column("forecast_holds", sa.String(), nullable=True),
        sa.Column("forecast_at", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(
            ["practice_id", "wearer_id"],
            ["wearers.practice_id", "wearers.id"],
            name="fk_wearer_states_practice_id_wearer_id",
        ),
        sa.PrimaryKeyConstraint("practice_id", "wearer_id", name="pk_wearer_states"),
    )
    op.create_table(
        "holds",
        sa.Column("id", sa.String(), nullable=False),
        sa.Column("practice_id", sa.String(), nullable=False),
        sa.Column("wearer_id", sa.String(), nullable=False),
        sa.Column("eye", sa.String(), nullable=False),
        sa.Column("reason", sa.String(), nullable=False),
        sa.Column("entry_id", sa.String(), nullable=True),
        sa.Column("placed_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("well_since", sa.DateTime(timezone=True), nullable=True),
        sa.Column("ends_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("lifted_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("lifted_by", sa.String(), nullable=True),
        sa.Column("lift_reason", sa.String(), nullable=True),
        sa.Column("note", sa.String(), nullable=True),
        sa.ForeignKeyConstraint(["entry_id"], ["entries.id"], name="fk_holds_entry_id"),
        sa.ForeignKeyConstraint(["lifted_by"], ["people.id"], name="fk_holds_lifted_by"),
        sa.ForeignKeyConstraint(
            ["practice_id", "wearer_id"],
            ["wearers.practice_id", "wearers.id"],
            name="fk_holds_practice_id_wearer_id",
        ),
        sa.PrimaryKeyConstraint("id", name="pk_holds"),
    )
    with op.batch_alter_table("holds", schema=None) as batch_op:
        batch_op.create_index("ix_holds_open", ["practice_id", "wearer_id", "lifted_at"], unique=False)

    op.create_table(
        "reports",
        sa.Column("entry_id", sa.String(), nullable=False),
        sa.Column("practice_id", sa.String(), nullable=False),
        sa.Column("wearer_id", sa.String(), nullable=False),
        sa.Column("level", sa.Integer(), nullable=False),
        sa.Column("right_level", sa.Integer(), nullable=False),
        sa.Column("left_level", sa.Integer(), nullable=False),
        sa.Column("rules", sa.JSON(), nullable=False),
        sa.Column("deciding", sa.JSON(), nullable=False),
        sa.Column("lens", sa.JSON(), nullable=False),
        sa.Column("wear_hold", sa.JSON(), nullable=False),
        sa.Column("advice", sa.JSON(), nullable=False),
        sa.Column("rules_version", sa.String(), nullable=False),
        sa.Column("judged_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("on_duty", sa.Boolean(), nullable=False),
        sa.Column("opens_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("language", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(["entry_id"], ["entries.id"], name="fk_reports_entry_id"),
        sa.ForeignKeyConstraint(
            ["practice_id", "wearer_id"],
            ["wearers.practice_id", "wearers.id"],
            name="fk_reports_practice_id_wearer_id",
        ),
        sa.PrimaryKeyConstraint("entry_id", name="pk_reports"),
    )
    with op.batch_alter_table("reports", schema=None) as batch_op:
        batch_op.create_index("ix_reports_wearer", ["practice_id", "wearer_id", "judged_at"], unique=False)


def downgrade() -> None:
    with op.batch_alter_table("reports", schema=None) as batch_op:
        batch_op.drop_index("ix_reports_wearer")

    op.drop_table("reports")
    with op.batch_alter_table("holds", schema=None) as batch_op:
        batch_op.drop_index("ix_holds_open")

    op.drop_table("holds")
    op.drop_table("wearer_states")
    with op.batch_alter_table("visits", schema=None) as batch_op:
        batch_op.drop_index("ix_visits_wearer")

    op.drop_table("visits")
    with op.batch_alter_table("refractions", schema=None) as batch_op:
        batch_op.drop_index("ix_refractions_wearer")

    op.drop_table("refractions")
    with op.batch_alter_table("plans", schema=None) as batch_op:
        batch_op.drop_index("ix_plans_wearer")

    op.drop_table("plans")
    with op.batch_alter_table("lenses", schema=None) as batch_op:
        batch_op.drop_index("ix_lenses_wearer")

    op.drop_table("lenses")
    with op.batch_alter_table("entries", schema=None) as batch_op:
        batch_op.drop_index("ix_entries_wearer_at")

    op.drop_table("entries")
    with op.batch_alter_table("clearances", schema=None) as batch_op:
        batch_op.drop_index("ix_clearances_wearer")

    op.drop_table("clearances")
