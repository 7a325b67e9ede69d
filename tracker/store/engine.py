"""How a database is reached, prepared and brought to the tables of this version."""

import os
import re
import sqlite3
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import platformdirs
from sqlalchemy import (
    Column,
    Connection,
    Engine,
    create_engine,
    event,
    inspect,
    select,
    table,
    text,
)
from sqlalchemy import column as sql_column
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import ArgumentError, DBAPIError, NoSuchModuleError, SQLAlchemyError

from tracker.errors import StoreUnavailable
from tracker.store.private_files import make_private, private_folder, tighten_file
from tracker.store.tables import DATA_STATE, METADATA, SCHEMA_REVISION, SHOT, VERSION_TABLE

DB_VARIABLE = "DRIVE_PROGRESS_DB"
WAIT_SECONDS = 30
"""How long one process waits for another that is writing."""

_MIGRATION_LOCK = 7_231_904
"""Any number of our own, so that two programs opening one PostgreSQL database take turns."""

_EXAMPLE = "such as sqlite:///shots.db or postgresql+psycopg://name@host/database"


def default_url() -> str:
    """Return the database of ``DRIVE_PROGRESS_DB``, else the file in the user's data folder."""
    given = os.environ.get(DB_VARIABLE, "").strip()
    if given:
        return as_url(given)
    return user_database("drive-progress.db")


def user_database(name: str) -> str:
    """Return the address of an SQLite file in the user's data folder."""
    return URL.create("sqlite", database=str(_user_folder() / name)).render_as_string()


def _user_folder() -> Path:
    return platformdirs.user_data_path("drive-progress", appauthor=False)


def as_url(text: str) -> str:
    """Return an address as it is, and a plain file name as the address of an SQLite file."""
    if "://" in text:
        return text
    return URL.create("sqlite", database=str(Path(text).expanduser().resolve())).render_as_string()


def is_new_file(url: str) -> bool:
    """Return whether an address is that of an SQLite file that is not there yet."""
    try:
        address = make_url(url)
    except (ArgumentError, ValueError):
        return False
    file_name = address.database
    return address.get_backend_name() == "sqlite" and not Path(file_name or ".").exists()


def shown_url(url: str) -> str:
    """Return a database address with its password covered."""
    try:
        return make_url(url).render_as_string(hide_password=True)
    except (ArgumentError, ValueError):
        return re.sub(r"(//[^/@:]*):[^/]*@", r"\1:***@", url)


def open_engine(url: str) -> Engine:
    """Return an engine on a database that holds this version's tables.

    Raises StoreUnavailable for an address that cannot be used, a database that cannot be reached
    or written, and one that a newer version has changed.
    """
    address = _address(url)
    try:
        engine = create_engine(address, **_engine_options(address))
    except NoSuchModuleError:
        msg = f"database {shown_url(url)}: no such kind of database, wanted an address {_EXAMPLE}"
        raise StoreUnavailable(msg) from None
    except ModuleNotFoundError as error:
        msg = (
            f"database {shown_url(url)}: the package {error.name!r} that speaks to it is not "
            f"installed; add it to this environment, or use an SQLite file"
        )
        raise StoreUnavailable(msg) from None
    if address.get_backend_name() == "sqlite":
        event.listen(engine, "connect", _prepare_sqlite)
        event.listen(engine, "begin", _begin_sqlite)
    try:
        with store_errors(engine):
            _migrate(engine)
    except BaseException:
        engine.dispose()
        raise
    return engine


@contextmanager
def store_errors(engine: Engine) -> Iterator[None]:
    """Turn a database that fails while in use into StoreUnavailable, its password kept back."""
    try:
        yield
    except DBAPIError as error:
        password = engine.url.password
        reason = " ".join(str(error.orig).split())
        if password:
            reason = reason.replace(str(password), "***")
        address = engine.url.render_as_string(hide_password=True)
        msg = f"database {address} cannot be used: {reason}; {_remedy(reason)}"
        raise StoreUnavailable(msg) from None


def _remedy(reason: str) -> str:
    known = {
        "locked": "another program is writing to it: try again when that has ended",
        "malformed": "the file is damaged: put the last backup into a new file with restore",
        "not a database": "the file is something else: choose another file name",
        "readonly": "allow writing to the file and its folder, or choose another place",
        "unable to open": "check that its folder exists and may be written to",
        "full": "free some space on the disk",
    }
    for word, remedy in known.items():
        if word in reason:
            return remedy
    return "check the address, and that the database is running and may be written to"


def _address(url: str) -> URL:
    try:
        address = make_url(url)
    except (ArgumentError, ValueError):
        msg = f"database {shown_url(url)!r}: not an address, wanted one {_EXAMPLE}"
        raise StoreUnavailable(msg) from None
    file_name = address.database
    if address.get_backend_name() != "sqlite" or file_name in (None, "", ":memory:"):
        return address
    path = Path(str(file_name))
    if str(file_name).startswith("file:"):
        return address
    if path.parent == _user_folder():
        try:
            private_folder(path.parent)
        except OSError as error:
            msg = (
                f"database {path}: its folder cannot be made ({error.strerror}); set {DB_VARIABLE}"
            )
            raise StoreUnavailable(msg) from None
    if not path.parent.is_dir():
        msg = f"database {path}: there is no folder {path.parent}; make it, or choose another place"
        raise StoreUnavailable(msg)
    if path.is_dir():
        msg = f"database {path}: this is a folder, wanted the name of a file in it"
        raise StoreUnavailable(msg)
    _keep_to_the_owner(path)
    return address


def _keep_to_the_owner(path: Path) -> None:
    """See that nobody else can read a database file; what SQLite puts beside it takes after it."""
    try:
        make_private(path)
        for ending in ("-wal", "-shm", "-journal"):
            tighten_file(path.with_name(path.name + ending))
    except OSError:  # SQLite says better why the file cannot be made
        return


def _engine_options(address: URL) -> dict[str, Any]:
    if address.get_backend_name() == "sqlite":
        return {"connect_args": {"timeout": WAIT_SECONDS}}
    return {"pool_pre_ping": True}


def _prepare_sqlite(connection: Any, _record: Any) -> None:
    # the driver must not open transactions by itself: _begin_sqlite does
    connection.isolation_level = None
    cursor = connection.cursor()
    try:
        cursor.execute(f"PRAGMA busy_timeout = {WAIT_SECONDS * 1000}")
        cursor.execute("PRAGMA foreign_keys = ON")
        cursor.execute("PRAGMA synchronous = NORMAL")
        # what is removed is written over: these are people's data
        cursor.execute("PRAGMA secure_delete = ON")
        _use_write_ahead_log(cursor)
    finally:
        cursor.close()


def _use_write_ahead_log(cursor: Any) -> None:
    """Let readers go on while another process writes.

    The switch itself needs the file for a moment and does not wait for it, so it is tried again.
    """
    deadline = time.monotonic() + WAIT_SECONDS
    while cursor.execute("PRAGMA journal_mode").fetchone()[0] == "delete":
        try:
            cursor.execute("PRAGMA journal_mode = WAL")
        except sqlite3.OperationalError as error:
            if "locked" not in str(error) or time.monotonic() > deadline:
                raise
            time.sleep(0.02)
        else:
            return


def _begin_sqlite(connection: Connection) -> None:
    connection.exec_driver_sql("BEGIN")


def _revision(connection: Connection) -> str | None:
    if not inspect(connection).has_table(VERSION_TABLE):
        return None
    return connection.scalar(select(sql_column("version_num")).select_from(table(VERSION_TABLE)))


def _migrate(engine: Engine) -> None:
    with engine.connect() as connection:
        ready = _revision(connection) == SCHEMA_REVISION and not _new_traits(connection)
    if ready:
        return
    with engine.connect() as connection:
        _lock(connection)
        found = _revision(connection)
        if found != SCHEMA_REVISION:
            _upgrade(connection, found)
        _add_traits(connection)
        connection.commit()


def _lock(connection: Connection) -> None:
    """Take the right to change tables, so that two programs opening one database take turns."""
    if connection.dialect.name == "sqlite":
        connection.exec_driver_sql("COMMIT")
        connection.exec_driver_sql("BEGIN IMMEDIATE")
    elif connection.dialect.name == "postgresql":
        connection.execute(text(f"SELECT pg_advisory_xact_lock({_MIGRATION_LOCK})"))


def _new_traits(connection: Connection) -> list[str]:
    """Return traits that were added to the trait table since the database was made."""
    inspector = inspect(connection)
    if not inspector.has_table(SHOT.name):
        return []
    stored = {column["name"] for column in inspector.get_columns(SHOT.name)}
    return [column.name for column in SHOT.columns if column.name not in stored]


def _add_traits(connection: Connection) -> None:
    """Give the shots a column for every new row of the trait table: no migration is written."""
    new = _new_traits(connection)
    if new:
        # loaded only here: an up-to-date database opens without it
        from alembic.migration import MigrationContext
        from alembic.operations import Operations

        operations = Operations(MigrationContext.configure(connection))
        for name in new:
            operations.add_column(SHOT.name, Column(name, SHOT.c[name].type))


def _upgrade(connection: Connection, found: str | None) -> None:
    # loaded only here: an up-to-date database opens without it
    from alembic import command
    from alembic.config import Config
    from alembic.script import ScriptDirectory

    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations"))
    config.set_main_option("path_separator", "os")
    config.attributes["connection"] = connection
    script = ScriptDirectory.from_config(config)
    known = {step.revision for step in script.walk_revisions()}
    address = connection.engine.url.render_as_string(hide_password=True)
    if found is not None and found not in known:
        msg = (
            f"database {address} was written by a newer version of this program (tables "
            f"{found}, this version knows up to {SCHEMA_REVISION}); update the program"
        )
        raise StoreUnavailable(msg)
    foreign = set(METADATA.tables) & set(inspect(connection).get_table_names())
    if found is None and foreign:
        msg = (
            f"database {address} belongs to another program: it has a table "
            f"{sorted(foreign)[0]!r} that is not ours; choose another database"
        )
        raise StoreUnavailable(msg)
    try:
        command.upgrade(config, "head")
    except DBAPIError:
        raise
    except SQLAlchemyError as error:
        msg = f"database {address} could not be brought up to date: {error}"
        raise StoreUnavailable(msg) from None


def compact(engine: Engine) -> bool:
    """Write a database anew without what was removed; return whether its log is empty too."""
    raw = engine.raw_connection()
    try:
        if engine.dialect.name != "sqlite":
            raw.dbapi_connection.autocommit = True  # type: ignore[union-attr]
            raw.cursor().execute("VACUUM FULL")
            raw.dbapi_connection.autocommit = False  # type: ignore[union-attr]
            return True
        cursor = raw.cursor()
        cursor.execute("VACUUM")
        # what was removed may stand in the write-ahead log too: it is emptied
        busy, _, _ = cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
        return not busy
    except engine.dialect.loaded_dbapi.Error as error:
        raise DBAPIError("VACUUM", None, error) from error
    finally:
        raw.close()


@contextmanager
def connected(engine: Engine, *, write: bool, data: bool) -> Iterator[Connection]:
    """Give a connection in a transaction: kept when the block ends well, else undone.

    With ``data`` the data are marked as changed, which as the first statement of a write also makes
    writers take turns.
    """
    with store_errors(engine):
        if not write:
            with engine.connect() as connection:
                yield connection
        else:
            with engine.begin() as connection:
                if data:
                    connection.execute(DATA_STATE.update().values(version=DATA_STATE.c.version + 1))
                yield connection
