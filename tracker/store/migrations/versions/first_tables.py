"""The first tables: players, sessions, shots, changes, fits, jobs and settings."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

# Written out, not taken from the trait table, so that this step stays the same for ever; a trait
# added later gets its column by a step of its own.
_FIRST_TRAITS = (
    "strike_toe_mm",
    "strike_up_mm",
    "attack_deg",
    "club_speed_mps",
    "loft_deg",
    "path_deg",
    "face_deg",
    "ball_speed_mps",
    "launch_deg",
    "side_deg",
    "spin_rpm",
    "axis_deg",
    "carry_m",
    "total_m",
)


def upgrade() -> None:
    """Create every table."""
    op.create_table(
        "player",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("handed", sa.String(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_player"),
        sa.UniqueConstraint("name", name="uq_player_name"),
    )
    op.create_table(
        "import_batch",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("source", sa.String(), nullable=False),
        sa.Column("source_digest", sa.String()),
        sa.Column("loaded_at", sa.DateTime(), nullable=False),
        sa.Column("stored", sa.Integer(), nullable=False),
        sa.Column("already_stored", sa.Integer(), nullable=False),
        sa.Column("replaced", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_import_batch"),
    )
    op.create_table(
        "practice_session",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("player_id", sa.Integer(), nullable=False),
        sa.Column("start", sa.DateTime(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_practice_session"),
        sa.ForeignKeyConstraint(
            ["player_id"],
            ["player.id"],
            name="fk_practice_session_player_id",
            ondelete="CASCADE",
        ),
        sa.UniqueConstraint("player_id", "start", name="uq_practice_session_player_id"),
    )
    op.create_table(
        "shot",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("session_id", sa.Integer(), nullable=False),
        sa.Column("club", sa.String(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("batch_id", sa.Integer(), nullable=False),
        *(sa.Column(name, sa.Double()) for name in _FIRST_TRAITS),
        sa.Column("strike_method", sa.String(), nullable=False),
        sa.Column("delivery_method", sa.String(), nullable=False),
        sa.Column("missed_face", sa.Boolean(), nullable=False),
        sa.Column("tee_height_mm", sa.Double()),
        sa.Column("ball", sa.String()),
        sa.Column("air_temperature_c", sa.Double()),
        sa.Column("altitude_m", sa.Double()),
        sa.Column("note", sa.Text()),
        sa.PrimaryKeyConstraint("id", name="pk_shot"),
        sa.ForeignKeyConstraint(
            ["session_id"],
            ["practice_session.id"],
            name="fk_shot_session_id",
            ondelete="CASCADE",
        ),
        sa.ForeignKeyConstraint(["batch_id"], ["import_batch.id"], name="fk_shot_batch_id"),
        sa.UniqueConstraint("session_id", "club", "number", name="uq_shot_session_id"),
    )
    op.create_index("ix_shot_batch_id", "shot", ["batch_id"])
    op.create_table(
        "logged_change",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("player_id", sa.Integer(), nullable=False),
        sa.Column("start", sa.Date(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("trait", sa.String()),
        sa.Column("effort_sessions", sa.Double()),
        sa.Column("note", sa.Text()),
        sa.PrimaryKeyConstraint("id", name="pk_logged_change"),
        sa.ForeignKeyConstraint(
            ["player_id"], ["player.id"], name="fk_logged_change_player_id", ondelete="CASCADE"
        ),
    )
    op.create_index("ix_logged_change_player_id", "logged_change", ["player_id"])
    op.create_table(
        "fit",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("created_at", sa.DateTime(), nullable=False),
        sa.Column("data_digest", sa.String(), nullable=False),
        sa.Column("seed", sa.BigInteger(), nullable=False),
        sa.Column("versions", sa.JSON(), nullable=False),
        sa.Column("report", sa.JSON(), nullable=False),
        sa.Column("meta", sa.JSON(), nullable=False),
        sa.Column("draws", sa.LargeBinary(), nullable=False),
        sa.Column("seconds", sa.Double(), nullable=False),
        sa.Column("players", sa.Integer(), nullable=False),
        sa.Column("sessions", sa.Integer(), nullable=False),
        sa.Column("shots", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_fit"),
    )
    op.create_table(
        "fit_job",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("state", sa.String(), nullable=False),
        sa.Column("done", sa.Integer(), nullable=False),
        sa.Column("total", sa.Integer(), nullable=False),
        sa.Column("phase", sa.String(), nullable=False),
        sa.Column("message", sa.Text(), nullable=False),
        sa.Column("started_at", sa.DateTime(), nullable=False),
        sa.Column("updated_at", sa.DateTime(), nullable=False),
        sa.Column("pid", sa.Integer()),
        sa.PrimaryKeyConstraint("id", name="pk_fit_job"),
    )
    op.create_table(
        "setting",
        sa.Column("key", sa.String(), nullable=False),
        sa.Column("value", sa.JSON(), nullable=False),
        sa.PrimaryKeyConstraint("key", name="pk_setting"),
    )
    state = op.create_table(
        "data_state",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_data_state"),
    )
    op.bulk_insert(state, [{"id": 1, "version": 0}])


def downgrade() -> None:
    """Remove every table."""
    for name in (
        "data_state",
        "setting",
        "fit_job",
        "fit",
        "logged_change",
        "shot",
        "practice_session",
        "import_batch",
        "player",
    ):
        op.drop_table(name)
