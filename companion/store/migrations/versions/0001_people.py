"""People, practices, wearers, and how they join."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
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


def downgrade() -> None:
    with op.batch_alter_table("invitations", schema=None) as batch_op:
        batch_op.drop_index("ix_invitations_wearer")

    op.drop_table("invitations")
    with op.batch_alter_table("guardianships", schema=None) as batch_op:
        batch_op.drop_index("ix_guardianships_person_id")

    op.drop_table("guardianships")
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
    op.drop_table("practices")
    op.drop_table("people")
