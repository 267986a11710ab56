"""The last fit of each eye, and what a page needs of a forecast beside its document."""

import sqlalchemy as sa
from alembic import op

revision = "0010"
down_revision = "0009"


def upgrade() -> None:
    op.create_table(
        "fits",
        sa.Column("practice_id", sa.String(), nullable=False),
        sa.Column("wearer_id", sa.String(), nullable=False),
        sa.Column("eye", sa.String(), nullable=False),
        sa.Column("model", sa.String(), nullable=False),
        sa.Column("cut_off", sa.DateTime(timezone=True), nullable=False),
        sa.Column("seq", sa.Integer(), nullable=False),
        sa.Column("mean", sa.JSON(), nullable=False),
        sa.Column("covariance", sa.JSON(), nullable=False),
        sa.Column("effective", sa.Double(), nullable=False),
        sa.Column("learned", sa.Double(), nullable=False),
        sa.Column("fell_back", sa.String(), nullable=True),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["practice_id", "wearer_id"],
            ["wearers.practice_id", "wearers.id"],
            name="fk_fits_practice_id_wearer_id",
        ),
        sa.PrimaryKeyConstraint("practice_id", "wearer_id", "eye", name="pk_fits"),
    )
    with op.batch_alter_table("wearers", schema=None) as batch_op:
        batch_op.add_column(sa.Column("signed_seq", sa.Integer(), server_default="0", nullable=False))
    with op.batch_alter_table("wearer_states", schema=None) as batch_op:
        batch_op.add_column(sa.Column("forecast_signed", sa.Integer(), nullable=True))
        batch_op.add_column(sa.Column("forecast_failed_at", sa.DateTime(timezone=True), nullable=True))
        batch_op.add_column(sa.Column("about", sa.JSON(), nullable=True))
        batch_op.add_column(sa.Column("curve", sa.JSON(), nullable=True))


def downgrade() -> None:
    with op.batch_alter_table("wearer_states", schema=None) as batch_op:
        batch_op.drop_column("curve")
        batch_op.drop_column("about")
        batch_op.drop_column("forecast_failed_at")
        batch_op.drop_column("forecast_signed")
    with op.batch_alter_table("wearers", schema=None) as batch_op:
        batch_op.drop_column("signed_seq")
    op.drop_table("fits")
