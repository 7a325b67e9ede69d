"""The one door to the database: records in, records and tables out."""

from collections.abc import Iterable, Mapping, Sequence
from contextlib import AbstractContextManager
from datetime import date, datetime
from types import TracebackType
from typing import Any, Self

import pandas as pd
from sqlalchemy import Connection, Engine, delete, func, insert, select

from tracker.errors import BadRequest
from tracker.promise import Promise
from tracker.readings.shot_frame import frame_of, has_control_character, sorted_shots, tidy
from tracker.records import DEFAULT_CLUB, Change, Label, Labels, Player, Shot
from tracker.store.changes import add_changes, logged_changes
from tracker.store.digest import data_digest
from tracker.store.engine import (
    compact,
    connected,
    default_url,
    open_engine,
    shown_url,
    store_errors,
)
from tracker.store.fits import (
    find_job,
    fit_summaries,
    load_fit,
    prune_fits,
    save_fit,
    start_job,
    update_job,
)
from tracker.store.integrity import refuse_damaged
from tracker.store.labels import player_labels, set_labels
from tracker.store.loads import add_load, refuse_given_twice, remove_load, stored_loads
from tracker.store.promises import add_promises, stored_promises
from tracker.store.roster import player_id, players_on, stored_players
from tracker.store.rows import (
    Added,
    FitJob,
    FitSummary,
    ImportBatch,
    JobState,
    LoggedChange,
    OnConflict,
    StoredFitRow,
)
from tracker.store.shots import SHOTS_WITH_KEYS, frame_from_rows, remove_shot
from tracker.store.tables import DATA_STATE, LOGGED_CHANGE, METADATA, PLAYER, SETTING, SHOT

BY_HAND = "by hand"


class Store:
    """An open database; use it in a ``with`` block.

    Any number of processes may hold the same database open: readers go on while one writes, and
    writers take turns. Every method raises StoreUnavailable when the database fails.
    """

    def __init__(self, engine: Engine) -> None:
        self._engine = engine

    @classmethod
    def open(cls, url: str | None = None) -> Self:
        """Open a database (default ``default_url()``), making or updating its tables."""
        return cls(open_engine(url or default_url()))

    def close(self) -> None:
        """Let go of the database."""
        self._engine.dispose()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        self.close()

    def __repr__(self) -> str:
        return f"Store({self.address!r})"

    @property
    def address(self) -> str:
        """Return the database's address, its password covered."""
        return shown_url(self._engine.url.render_as_string(hide_password=True))

    # --- shots ---

    def add_shots(
        self,
        shots: Iterable[Shot] | pd.DataFrame,
        *,
        on_conflict: OnConflict = "refuse",
        source: str = BY_HAND,
        source_digest: str | None = None,
        lines: Sequence[int] | None = None,
    ) -> Added:
        """Store shots in one transaction: all of them or, on an error, none.

        ``shots`` are records or a ``shot_frame`` table. A shot stored already with the same values
        is passed over. With other values it is refused (ConflictingShots), or with ``replace``
        takes the stored one's place, or with ``append`` is numbered after those of its session and
        club. ``source_digest`` names the content of a file, so that appending one file twice stores
        it once. ``lines`` are the file's line numbers, for messages.
        """
        frame = shots if isinstance(shots, pd.DataFrame) else frame_of(shots)
        if frame.empty:
            return Added(0, 0, 0)
        refuse_given_twice(frame)
        with self.writing() as connection:
            return add_load(
                connection,
                frame,
                on_conflict=on_conflict,
                source=source,
                source_digest=source_digest,
                lines=lines,
            )

    def shots_frame(self, player: str | None = None, club: str | None = None) -> pd.DataFrame:
        """Return shots sorted by player, session, number: the columns of ``shot_frame``.

        Raises UnknownPlayer for a player who is not stored.
        """
        query = SHOTS_WITH_KEYS
        if player is not None:
            query = query.where(PLAYER.c.name == player)
        if club is not None:
            query = query.where(SHOT.c.club == club)
        with self.reading() as connection:
            if player is not None:
                player_id(connection, player)
            return sorted_shots(frame_from_rows(connection.execute(query).all()))

    def players(self) -> tuple[Player, ...]:
        """Return every player, by name."""
        with self.reading() as connection:
            return tuple(sorted(stored_players(connection), key=lambda player: player.name))

    def players_as_they_came(self) -> tuple[str, ...]:
        """Return the names of all players, those stored first at the front."""
        with self.reading() as connection:
            return tuple(player.name for player in stored_players(connection))

    def players_on(self, day: date) -> tuple[str, ...]:
        """Return who has a session on a day, by name."""
        with self.reading() as connection:
            return players_on(connection, day)

    def labels(self, player: str | None = None) -> Mapping[str, Labels]:
        """Return the group and coach that players were last known to have, by name.

        With ``player`` that one's alone; raises UnknownPlayer for one who is not stored.
        """
        with self.reading() as connection:
            if player is not None:
                player_id(connection, player)
            found = player_labels(connection)
        return found if player is None else {player: found[player]}

    def set_labels(
        self, player: str, said: Mapping[Label, str | None], *, since: datetime | None = None
    ) -> None:
        """Say a player's group or coach from a moment on (default: now); None for no longer any.

        A later session whose shots have one takes its place. Raises UnknownPlayer and, for a name
        that no log could hold, BadRequest.
        """
        names = {kind: value if value is None else tidy(value) for kind, value in said.items()}
        for kind, name in names.items():
            if name is not None and (not name or has_control_character(name)):
                raise BadRequest(f"{kind}: found {name!r}, wanted a name in plain words")
        with self.writing() as connection:
            owner = player_id(connection, player)
            set_labels(connection, owner, names, since or datetime.now())

    def loads(self) -> tuple[ImportBatch, ...]:
        """Return the loads that stored or replaced shots, the latest first."""
        with self.reading() as connection:
            return stored_loads(connection)

    def undo_last_load(self) -> ImportBatch | None:
        """Remove the shots that the last load added, and sessions and players left empty by it.

        What that load replaced stays replaced. Returns the load undone, None when there is none.
        Raises DamagedDatabase.
        """
        self.refuse_damaged()
        with self.writing() as connection:
            last = next(iter(stored_loads(connection)), None)
            if last is not None:
                remove_load(connection, last.id)
        return last

    def remove_shot(self, shot: Shot) -> bool:
        """Remove the stored shot that is this one in everything; return whether there was one.

        Another shot stored under its number since stays.
        """
        with self.writing() as connection:
            return remove_shot(connection, shot)

    # --- changes ---

    def add_changes(
        self,
        changes: Iterable[Change],
        *,
        replace: bool = False,
        lines: Sequence[int] | None = None,
    ) -> Added:
        """Store changes in one transaction; one stored already is passed over.

        A change is the same when player, start, kind, name and trait are. With another effort or
        note it is refused (ConflictingShots) unless ``replace``. Raises UnknownPlayer.
        """
        given = list(changes)
        places = list(lines) if lines is not None else [0] * len(given)
        with self.writing() as connection:
            return add_changes(connection, given, places, replace=replace)

    def changes(self, player: str | None = None) -> tuple[Change, ...]:
        """Return logged changes by player and start."""
        return tuple(logged.change for logged in self.logged_changes(player))

    def logged_changes(self, player: str | None = None) -> tuple[LoggedChange, ...]:
        """Return logged changes by player and start, each with its number."""
        with self.reading() as connection:
            found = logged_changes(connection)
        return tuple(c for c in found if player is None or c.change.player == player)

    def delete_change(self, change_id: int) -> bool:
        """Remove one logged change; return whether there was one of that number."""
        with self.writing() as connection:
            gone = connection.execute(delete(LOGGED_CHANGE).where(LOGGED_CHANGE.c.id == change_id))
        return gone.rowcount > 0

    # --- promises ---

    def add_promises(self, promises: Iterable[tuple[LoggedChange, Promise]]) -> tuple[Promise, ...]:
        """Keep what was promised of logged changes; one that has a promise keeps its first.

        Returns those that were kept. A removed change takes its promise along.
        """
        with self.writing(data=False) as connection:
            return add_promises(connection, promises)

    def promises(self, player: str | None = None) -> Mapping[int, Promise]:
        """Return the promises by the number of their change, by player and start."""
        with self.reading() as connection:
            found = stored_promises(connection)
        return {n: p for n, p in found if player is None or p.change.player == player}

    # --- what a fit depends on ---

    def data_version(self) -> int:
        """Return a number that rises with every write of shots or changes: cheap to ask for."""
        with self.reading() as connection:
            return int(connection.scalar(select(DATA_STATE.c.version)) or 0)

    def data_digest(self, club: str = DEFAULT_CLUB) -> str:
        """Return a digest of what a fit depends on: the club's shots, and the changes."""
        return data_digest(self.shots_frame(club=club), self.changes())

    # --- fits ---

    def save_fit(self, fit: StoredFitRow) -> int:
        """Keep a fit beside those of before and return its number."""
        with self.writing(data=False) as connection:
            return save_fit(connection, fit)

    def load_fit(self, fit_id: int | None = None) -> StoredFitRow:
        """Return a stored fit, the latest by default; raise NoFit when there is none."""
        with self.reading() as connection:
            return load_fit(connection, fit_id)

    def fits(self) -> tuple[FitSummary, ...]:
        """Return the stored fits without their draws, the latest first."""
        with self.reading() as connection:
            return fit_summaries(connection)

    def prune_fits(self, keep: int) -> tuple[int, ...]:
        """Remove all but the newest ``keep`` fits of each club; return the numbers removed.

        Raises BadRequest for less than one: the latest fit answers every page.
        """
        if keep < 1:
            raise BadRequest(f"found {keep} fits to keep, wanted at least 1")
        with self.writing(data=False) as connection:
            return prune_fits(connection, keep)

    # --- progress of a fit ---

    def start_job(self, *, total: int = 0, pid: int | None = None, phase: str = "") -> int:
        """Queue a fit and return the number under which its progress is kept."""
        with self.writing(data=False) as connection:
            return start_job(connection, total=total, pid=pid, phase=phase)

    def update_job(
        self,
        job_id: int,
        *,
        state: JobState | None = None,
        done: int | None = None,
        total: int | None = None,
        phase: str | None = None,
        message: str | None = None,
        pid: int | None = None,
    ) -> None:
        """Set what is given and note the time; raise BadRequest for an unknown number."""
        said = {"state": state, "done": done, "total": total, "phase": phase}
        with self.writing(data=False) as connection:
            known = update_job(connection, job_id, {**said, "message": message, "pid": pid})
        if not known:
            raise BadRequest(f"job {job_id} is not stored")

    def job(self, job_id: int | None = None) -> FitJob | None:
        """Return how far a fit has come, the latest by default; None when there is none."""
        with self.reading() as connection:
            return find_job(connection, job_id)

    # --- settings and counts ---

    def setting(self, key: str, default: Any = None) -> Any:
        """Return a setting (any JSON value), or ``default``."""
        with self.reading() as connection:
            row = connection.execute(select(SETTING.c.value).where(SETTING.c.key == key)).first()
        return default if row is None else row.value

    def set_setting(self, key: str, value: Any) -> None:
        """Keep a setting: any JSON value but null."""
        with self.writing(data=False) as connection:
            connection.execute(delete(SETTING).where(SETTING.c.key == key))
            connection.execute(insert(SETTING).values(key=key, value=value))

    def rows_by_table(self) -> Mapping[str, int]:
        """Return how many rows each table holds."""
        with self.reading() as connection:
            return {
                table.name: int(connection.scalar(select(func.count()).select_from(table)) or 0)
                for table in METADATA.sorted_tables
                if table is not DATA_STATE
            }

    # --- for the other modules of this room, and those that keep whole players ---

    def reading(self) -> AbstractContextManager[Connection]:
        """Give a connection to read with."""
        return connected(self._engine, write=False, data=False)

    def writing(self, *, data: bool = True) -> AbstractContextManager[Connection]:
        """Give a connection whose writes are kept together when the block ends well.

        ``data`` says that what answers rest on changes, so that pages look again.
        """
        return connected(self._engine, write=True, data=data)

    def refuse_damaged(self) -> None:
        """Raise DamagedDatabase when the file must not be written into."""
        with self.reading() as connection:
            refuse_damaged(connection, self.address)

    def compact(self) -> bool:
        """Write the database anew, without what was removed.

        Returns whether nothing removed can be left in its files; another program that is reading
        an SQLite file at this moment keeps it from being so.
        """
        with store_errors(self._engine):
            return compact(self._engine)
