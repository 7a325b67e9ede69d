"""Promises: what was said of a change on the day it was logged."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Create the table of promises; changes logged before have none."""
    op.create_table(
        "promise",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("change_id", sa.Integer(), nullable=False),
        sa.Column("lever", sa.String(), nullable=False),
        sa.Column("move", sa.JSON(), nullable=False),
        sa.Column("target", sa.Double(), nullable=False),
        sa.Column("gains", sa.JSON(), nullable=False),
        sa.Column("mean_gain_m", sa.Double(), nullable=False),
        sa.Column("effort_sessions", sa.Double(), nullable=False),
        sa.Column("fit_id", sa.Integer(), nullable=False),
        sa.Column("stored_at", sa.DateTime(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_promise"),
        sa.ForeignKeyConstraint(
            ["change_id"], ["logged_change.id"], name="fk_promise_change_id", ondelete="CASCADE"
        ),
        sa.UniqueConstraint("change_id", name="uq_promise_change_id"),
    )


def downgrade() -> None:
    """Remove the table."""
    op.drop_table("promise")
