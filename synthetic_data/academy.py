"""One invented academy with known truth, put together from a seed and a specification."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from synthetic_data.arrays import Indices
from synthetic_data.ball import AcademyPhysics, drive
from synthetic_data.devices import DeviceReadings, read_shots, reading_error
from synthetic_data.practice import PlantedChange, drilled, give_drills, practise
from synthetic_data.roster import PlayerTruth, make_roster
from synthetic_data.season import Timetable, make_season
from synthetic_data.spec import (
    BALL_TRAITS,
    DELIVERY_METHODS,
    STRIKE_METHODS,
    TRAITS,
    AcademySpec,
)


@dataclass(frozen=True, slots=True, eq=False)
class Academy:
    """The logs of an academy and the truth behind them, all in SI trait units.

    ``shots``: one row a shot as read, NaN where missing, with the log's context columns.
    ``true_shots``: the same rows as they truly were. ``tendencies`` and ``session_effects``: one
    row a session, player by player and by date, a column a trait; tendency is the level with
    drift and drills but without the session effect. ``misreads``: the gross errors in ``shots``.
    """

    seed: int
    spec: AcademySpec
    players: tuple[PlayerTruth, ...]
    season: Timetable
    changes: tuple[PlantedChange, ...]
    drive_parameters: AcademyPhysics
    shots: pd.DataFrame
    true_shots: pd.DataFrame
    tendencies: pd.DataFrame
    session_effects: pd.DataFrame
    misreads: pd.DataFrame


def make_academy(
    seed: int,
    spec: AcademySpec | None = None,
    parameters: AcademyPhysics | None = None,
) -> Academy:
    """Return the academy of a seed; the same seed and specification give the same academy.

    Each concern draws from its own stream, so that leaving the ball out, for one, leaves the
    club readings as they were.
    """
    spec = AcademySpec() if spec is None else spec
    parameters = AcademyPhysics() if parameters is None else parameters
    people, calendar, swings, errors, drills, club, ball = (
        np.random.default_rng(s) for s in np.random.SeedSequence(seed).spawn(7)
    )
    players = make_roster(spec, people)
    season = make_season(spec, calendar)
    before = practise(players, season, spec, swings)
    session_idx = before.session_idx
    error = reading_error(season, session_idx, errors)
    seen = before.delivered() + error
    begins = np.r_[0, np.cumsum(season.shots)[:-1]]
    session_means = np.add.reduceat(seen, begins, axis=0) / season.shots[:, None]
    changes = give_drills(players, season, session_means, spec.drills, drills)
    practice = drilled(before, players, season, changes, spec.kappa)

    delivered = practice.delivered()
    flown = None
    if spec.ball_data:
        player_idx = season.player_idx[session_idx]
        flown = drive(
            delivered,
            season.temperature_c[session_idx],
            np.full(len(session_idx), spec.altitude_m),
            parameters,
            np.array([p.e0_offset for p in players])[player_idx],
            np.array([p.cg_height_offset_mm for p in players])[player_idx],
        )
    readings = read_shots(delivered, error, flown, season, session_idx, spec, club, ball)

    shots = _context(players, season, changes, readings, session_idx, spec)
    columns = TRAITS if flown is None else TRAITS + BALL_TRAITS
    true = delivered if flown is None else np.concatenate([delivered, flown], axis=1)
    keys = shots[["player", "session", "shot"]]
    sessions = pd.DataFrame(
        {"player": [players[i].name for i in season.player_idx], "session": season.dates}
    )
    row, column = np.nonzero(readings.misread)
    misreads = keys.iloc[row].reset_index(drop=True)
    misreads["trait"] = [columns[c] for c in column]
    return Academy(
        seed,
        spec,
        players,
        season,
        changes,
        parameters,
        pd.concat([shots, pd.DataFrame(readings.values, columns=list(columns))], axis=1),
        pd.concat([keys, pd.DataFrame(true, columns=list(columns))], axis=1),
        pd.concat([sessions, pd.DataFrame(practice.tendency, columns=list(TRAITS))], axis=1),
        pd.concat([sessions, pd.DataFrame(practice.session_effect, columns=list(TRAITS))], axis=1),
        misreads,
    )


def _context(
    players: tuple[PlayerTruth, ...],
    season: Timetable,
    changes: tuple[PlantedChange, ...],
    readings: DeviceReadings,
    session_idx: Indices,
    spec: AcademySpec,
) -> pd.DataFrame:
    """Return the columns of the log that are not traits."""
    names = [players[i].name for i in season.player_idx]
    tee = np.array([players[i].tee_height_mm for i in season.player_idx])
    note = [""] * len(names)
    for change in changes:
        for i, (name, day) in enumerate(zip(names, season.dates, strict=True)):
            if name != change.player or day < change.start:
                continue
            if change.name == "tee-height ladder":
                tee[i] += 6.0
            if day == change.start:
                note[i] = f"{note[i]}; " if note[i] else ""
                note[i] += f"started {change.name}"
    sessions = pd.DataFrame(
        {
            "player": names,
            "session": season.dates,
            "handed": [players[i].handed for i in season.player_idx],
            "strike_method": [
                STRIKE_METHODS[m].name if has else ""
                for m, has in zip(season.strike_method, season.has_strike, strict=True)
            ],
            "delivery_method": [DELIVERY_METHODS[m].name for m in season.delivery_method],
            "tee_height_mm": tee,
            "air_temperature_c": season.temperature_c,
            "note": note,
        }
    )
    shots = sessions.iloc[session_idx].reset_index(drop=True)
    shots["shot"] = np.concatenate([np.arange(1, n + 1) for n in season.shots])
    shots["club"] = "driver"
    shots["ball"] = "academy"
    shots["altitude_m"] = spec.altitude_m
    shots["missed_face"] = readings.missed_face
    shots.loc[shots["shot"] != 1, "note"] = ""
    return shots
