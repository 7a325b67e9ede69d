"""Groups and coaches: of each shot, and as said of a player by hand."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add both columns to the shots, and the table of what was said by hand."""
    with op.batch_alter_table("shot") as shot:
        shot.add_column(sa.Column("group", sa.String()))
        shot.add_column(sa.Column("coach", sa.String()))
    op.create_table(
        "player_label",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("player_id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("value", sa.String()),
        sa.Column("since", sa.DateTime(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_player_label"),
        sa.ForeignKeyConstraint(
            ["player_id"], ["player.id"], name="fk_player_label_player_id", ondelete="CASCADE"
        ),
    )
    op.create_index("ix_player_label_player_id", "player_label", ["player_id"])


def downgrade() -> None:
    """Remove them."""
    op.drop_table("player_label")
    with op.batch_alter_table("shot") as shot:
        shot.drop_column("coach")
        shot.drop_column("group")
