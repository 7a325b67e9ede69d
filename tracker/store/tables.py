"""The tables of the database as this version of the program knows them."""

from datetime import UTC, datetime
from typing import Any

from sqlalchemy import (
    JSON,
    BigInteger,
    Boolean,
    Column,
    Connection,
    Date,
    DateTime,
    Double,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    Row,
    String,
    Table,
    Text,
    UniqueConstraint,
    insert,
)

from models.traits import TRAITS

SCHEMA_REVISION = "0003"
"""Revision of the newest migration this program ships."""

VERSION_TABLE = "drive_progress_schema"

METADATA = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_name)s",
        "uq": "uq_%(table_name)s_%(column_0_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s",
        "pk": "pk_%(table_name)s",
    }
)

PLAYER = Table(
    "player",
    METADATA,
    Column("id", Integer, primary_key=True),
    Column("name", String, nullable=False, unique=True),
    Column("handed", String, nullable=False),
)

PLAYER_LABEL = Table(
    "player_label",
    METADATA,
    Column("id", Integer, primary_key=True),
    Column("player_id", ForeignKey("player.id", ondelete="CASCADE"), nullable=False),
    Column("kind", String, nullable=False),
    Column("value", String),
    Column("since", DateTime, nullable=False),
    Index(None, "player_id"),
)
"""A group or coach said of a player by hand, ``since`` in local time as sessions are. No value:
the player has none from then on."""

IMPORT_BATCH = Table(
    "import_batch",
    METADATA,
    Column("id", Integer, primary_key=True),
    Column("source", String, nullable=False),
    Column("source_digest", String),
    Column("loaded_at", DateTime, nullable=False),
    Column("stored", Integer, nullable=False),
    Column("already_stored", Integer, nullable=False),
    Column("replaced", Integer, nullable=False),
)

PRACTICE_SESSION = Table(
    "practice_session",
    METADATA,
    Column("id", Integer, primary_key=True),
    Column("player_id", ForeignKey("player.id", ondelete="CASCADE"), nullable=False),
    Column("start", DateTime, nullable=False),
    UniqueConstraint("player_id", "start"),
)

SHOT = Table(
    "shot",
    METADATA,
    Column("id", Integer, primary_key=True),
    Column("session_id", ForeignKey("practice_session.id", ondelete="CASCADE"), nullable=False),
    Column("club", String, nullable=False),
    Column("number", Integer, nullable=False),
    Column("batch_id", ForeignKey("import_batch.id"), nullable=False),
    *(Column(name, Double) for name in TRAITS),
    Column("strike_method", String, nullable=False),
    Column("delivery_method", String, nullable=False),
    Column("missed_face", Boolean, nullable=False),
    Column("tee_height_mm", Double),
    Column("ball", String),
    Column("air_temperature_c", Double),
    Column("altitude_m", Double),
    Column("group", String),
    Column("coach", String),
    Column("note", Text),
    UniqueConstraint("session_id", "club", "number"),
    Index(None, "batch_id"),
)

LOGGED_CHANGE = Table(
    "logged_change",
    METADATA,
    Column("id", Integer, primary_key=True),
    Column("player_id", ForeignKey("player.id", ondelete="CASCADE"), nullable=False),
    Column("start", Date, nullable=False),
    Column("kind", String, nullable=False),
    Column("name", String, nullable=False),
    Column("trait", String),
    Column("effort_sessions", Double),
    Column("note", Text),
    Index(None, "player_id"),
)

PROMISE = Table(
    "promise",
    METADATA,
    Column("id", Integer, primary_key=True),
    Column(
        "change_id", ForeignKey("logged_change.id", ondelete="CASCADE"), nullable=False, unique=True
    ),
    Column("lever", String, nullable=False),
    Column("move", JSON, nullable=False),
    Column("target", Double, nullable=False),
    Column("gains", JSON, nullable=False),
    Column("mean_gain_m", Double, nullable=False),
    Column("effort_sessions", Double, nullable=False),
    Column("fit_id", Integer, nullable=False),
    Column("stored_at", DateTime, nullable=False),
)
"""What was said of a change when it was logged; the fit's number outlives the fit."""

FIT = Table(
    "fit",
    METADATA,
    Column("id", Integer, primary_key=True),
    Column("created_at", DateTime, nullable=False),
    Column("data_digest", String, nullable=False),
    Column("seed", BigInteger, nullable=False),
    Column("versions", JSON, nullable=False),
    Column("report", JSON, nullable=False),
    Column("meta", JSON, nullable=False),
    Column("draws", LargeBinary, nullable=False),
    Column("seconds", Double, nullable=False),
    Column("players", Integer, nullable=False),
    Column("sessions", Integer, nullable=False),
    Column("shots", Integer, nullable=False),
)

FIT_JOB = Table(
    "fit_job",
    METADATA,
    Column("id", Integer, primary_key=True),
    Column("state", String, nullable=False),
    Column("done", Integer, nullable=False),
    Column("total", Integer, nullable=False),
    Column("phase", String, nullable=False),
    Column("message", Text, nullable=False),
    Column("started_at", DateTime, nullable=False),
    Column("updated_at", DateTime, nullable=False),
    Column("pid", Integer),
)

SETTING = Table(
    "setting",
    METADATA,
    Column("key", String, primary_key=True),
    Column("value", JSON, nullable=False),
)

DATA_STATE = Table(
    "data_state",
    METADATA,
    Column("id", Integer, primary_key=True),
    Column("version", Integer, nullable=False),
)
"""One row; its version rises with every write of shots or changes, which also queues writers."""


def new_id(connection: Connection, table: Table, **values: Any) -> int:
    """Add one row and return its number."""
    made = connection.execute(insert(table).values(**values)).inserted_primary_key
    if made is None:
        msg = f"table {table.name} gave no number for its new row"
        raise ValueError(msg)
    return int(made[0])


def utc_now() -> datetime:
    """Return the time as the tables keep it: UTC without a zone."""
    return datetime.now(UTC).replace(tzinfo=None)


def with_utc(row: Row[Any], *times: str) -> dict[str, Any]:
    """Return a row's values by column, the named times with their zone put back."""
    values = dict(row._mapping)
    for name in times:
        values[name] = values[name].replace(tzinfo=UTC)
    return values
