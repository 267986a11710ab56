"""The tables that the first release stands on."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


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
        "people",
        sa.Column("id", sa.String(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("language", sa.String(), nullable=False),
        sa.Column("theme", sa.String(), nullable=False),
        sa.Column("phone", sa.String(), nullable=True),
        sa.Column("short_name", sa.String(), nullable=True),
        sa.Column("email", sa.String(), nullable=True),
        sa.Column("password_hash", sa.String(), nullable=True),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_people"),
        sa.UniqueConstraint("email", name="uq_people_email"),
        sa.UniqueConstraint("phone", name="uq_people_phone"),
        sa.UniqueConstraint("short_name", name="uq_people_short_name"),
    )
    op.create_table(
        "practices",
        sa.Column("id", sa.String(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("zone", sa.String(), nullable=False),
        sa.Column("country", sa.String(), nullable=False),
        sa.Column("phone", sa.String(), nullable=False),
        sa.Column("opening_hours", sa.JSON(), nullable=False),
        sa.Column("closed_days", sa.JSON(), nullable=False),
        sa.Column("one_eye_holds_both", sa.Boolean(), nullable=False),
        sa.Column("illness_holds", sa.Boolean(), nullable=False),
        sa.Column("alert_plan", sa.JSON(), nullable=False),
        sa.Column("contact_minutes", sa.Integer(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_practices"),
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
        "consents",
        sa.Column("id", sa.String(), nullable=False),
        sa.Column("person_id", sa.String(), nullable=False),
        sa.Column("text_version", sa.String(), nullable=False),
        sa.Column("language", sa.String(), nullable=False),
        sa.Column("given_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name="fk_consents_person_id"),
        sa.PrimaryKeyConstraint("id", name="pk_consents"),
        sa.UniqueConstraint("person_id", "text_version", name="uq_consents_person_id_text_version"),
    )
    op.create_table(
        "memberships",
        sa.Column("practice_id", sa.String(), nullable=False),
        sa.Column("person_id", sa.String(), nullable=False),
        sa.Column("role", sa.String(), nullable=False),
        sa.Column("since", sa.DateTime(timezone=True), nullable=False),
        sa.Column("ended_at", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name="fk_memberships_person_id"),
        sa.ForeignKeyConstraint(["practice_id"], ["practices.id"], name="fk_memberships_practice_id"),
        sa.PrimaryKeyConstraint("practice_id", "person_id", "role", name="pk_memberships"),
    )
    with op.batch_alter_table("memberships", schema=None) as batch_op:
        batch_op.create_index("ix_memberships_person_id", ["person_id"], unique=False)

    op.create_table(
        "sign_ins",
        sa.Column("id", sa.String(), nullable=False),
        sa.Column("token_hash", sa.String(), nullable=False),
        sa.Column("person_id", sa.String(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("last_seen_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("ended_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("agent", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name="fk_sign_ins_person_id"),
        sa.PrimaryKeyConstraint("id", name="pk_sign_ins"),
        sa.UniqueConstraint("token_hash", name="uq_sign_ins_token_hash"),
    )
    with op.batch_alter_table("sign_ins", schema=None) as batch_op:
        batch_op.create_index("ix_sign_ins_person_id", ["person_id"], unique=False)

    op.create_table(
        "wearers",
        sa.Column("id", sa.String(), nullable=False),
        sa.Column("practice_id", sa.String(), nullable=False),
        sa.Column("person_id", sa.String(), nullable=True),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("mark", sa.String(), nullable=False),
        sa.Column("birth_date", sa.Date(), nullable=False),
        sa.Column("zone", sa.String(), nullable=False),
        sa.Column("split_hour", sa.Time(), nullable=False),
        sa.Column("usual_in", sa.Time(), nullable=False),
        sa.Column("usual_out", sa.Time(), nullable=False),
        sa.Column("first_night", sa.Date(), nullable=True),
        sa.Column("settled_nights_per_week", sa.Double(), nullable=True),
        sa.Column("diary_since", sa.Date(), nullable=False),
        sa.Column("last_seq", sa.Integer(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("ended_at", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name="fk_wearers_person_id"),
        sa.ForeignKeyConstraint(["practice_id"], ["practices.id"], name="fk_wearers_practice_id"),
        sa.PrimaryKeyConstraint("id", name="pk_wearers"),
        sa.UniqueConstraint("practice_id", "id", name="uq_wearers_practice_id_id"),
    )
    with op.batch_alter_table("wearers", schema=None) as batch_op:
        batch_op.create_index("ix_wearers_person_id", ["person_id"], unique=False)
        batch_op.create_index("ix_wearers_practice_id", ["practice_id"], unique=False)

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
        "guardianships",
        sa.Column("practice_id", sa.String(), nullable=False),
        sa.Column("wearer_id", sa.String(), nullable=False),
        sa.Column("person_id", sa.String(), nullable=False),
        sa.Column("since", sa.DateTime(timezone=True), nullable=False),
        sa.Column("ended_at", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name="fk_guardianships_person_id"),
        sa.ForeignKeyConstraint(
            ["practice_id", "wearer_id"],
            ["wearers.practice_id", "wearers.id"],
            name="fk_guardianships_practice_id_wearer_id",
        ),
        sa.PrimaryKeyConstraint("practice_id", "wearer_id", "person_id", name="pk_guardianships"),
    )
    with op.batch_alter_table("guardianships", schema=None) as batch_op:
        batch_op.create_index("ix_guardianships_person_id", ["person_id"], unique=False)

    op.create_table(
        "invitations",
        sa.Column("id", sa.String(), nullable=False),
        sa.Column("practice_id", sa.String(), nullable=False),
        sa.Column("token_hash", sa.String(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("wearer_id", sa.String(), nullable=True),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("language", sa.String(), nullable=False),
        sa.Column("invited_by", sa.String(), nullable=True),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("expires_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("used_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("used_by", sa.String(), nullable=True),
        sa.Column("revoked_at", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(["invited_by"], ["people.id"], name="fk_invitations_invited_by"),
        sa.ForeignKeyConstraint(
            ["practice_id", "wearer_id"],
            ["wearers.practice_id", "wearers.id"],
            name="fk_invitations_practice_id_wearer_id",
        ),
        sa.ForeignKeyConstraint(["practice_id"], ["practices.id"], name="fk_invitations_practice_id"),
        sa.ForeignKeyConstraint(["used_by"], ["people.id"], name="fk_invitations_used_by"),
        sa.PrimaryKeyConstraint("id", name="pk_invitations"),
        sa.UniqueConstraint("token_hash", name="uq_invitations_token_hash"),
    )
    with op.batch_alter_table("invitations", schema=None) as batch_op:
        batch_op.create_index("ix_invitations_wearer", ["practice_id", "wearer_id"], unique=False)

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
    with op.batch_alter_table("reports", schema=None) as batch_op:
        batch_op.drop_index("ix_reports_wearer")

    op.drop_table("reports")
    with op.batch_alter_table("holds", schema=None) as batch_op:
        batch_op.drop_index("ix_holds_open")

    op.drop_table("holds")
    with op.batch_alter_table("alerts", schema=None) as batch_op:
        batch_op.drop_index("ix_alerts_open")

    op.drop_table("alerts")
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
    with op.batch_alter_table("invitations", schema=None) as batch_op:
        batch_op.drop_index("ix_invitations_wearer")

    op.drop_table("invitations")
    with op.batch_alter_table("guardianships", schema=None) as batch_op:
        batch_op.drop_index("ix_guardianships_person_id")

    op.drop_table("guardianships")
    with op.batch_alter_table("entries", schema=None) as batch_op:
        batch_op.drop_index("ix_entries_wearer_at")

    op.drop_table("entries")
    with op.batch_alter_table("clearances", schema=None) as batch_op:
        batch_op.drop_index("ix_clearances_wearer")

    op.drop_table("clearances")
    with op.batch_alter_table("wearers", schema=None) as batch_op:
        batch_op.drop_index("ix_wearers_practice_id")
        batch_op.drop_index("ix_wearers_person_id")

    op.drop_table("wearers")
    with op.batch_alter_table("sign_ins", schema=None) as batch_op:
        batch_op.drop_index("ix_sign_ins_person_id")

    op.drop_table("sign_ins")
    with op.batch_alter_table("memberships", schema=None) as batch_op:
        batch_op.drop_index("ix_memberships_person_id")

    op.drop_table("memberships")
    op.drop_table("consents")
    with op.batch_alter_table("audit_events", schema=None) as batch_op:
        batch_op.drop_index("ix_audit_events_practice_at")

    op.drop_table("audit_events")
    op.drop_table("practices")
    op.drop_table("people")
    op.drop_table("job_runs")
