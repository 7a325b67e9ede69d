"""Which of a squad's shots tell about the drive's constants, session by session.

Only shots whose club was read tell: attack, loft, club speed and the strike both ways. A shot that
lacks one may lack it for what it was (a device loses the steep ones), and its session's average
would stand in for a value that it is not. Path and face may be missing; so may, for everybody, a
trait that the squad has never read: there is nothing else to go by, and it stands at what the fit
knows of it, with its spread.

Each shot's delivery is its posterior mean given its readings, its session and the player's
scatter, all traits together, so that method biases are out and a misread strike does not flatten a
slope; what is left open of it is a small cloud. Ball readings that disagree grossly with their own
shot are misreads and left out.
"""

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.arrays import Floats, Indices
from models.calibration.data import IMPACT_TRAITS
from models.drive.air import air_at
from models.drive.flight import fly
from models.drive.heads import STANDARD
from models.drive.impact import BallLaunch, Delivery, impact
from models.drive.missed_readings import SIDEWAYS_SD
from models.drive.parameters import DriveParameters, default_parameters
from models.traits import DELIVERY, TRAITS
from tracker.decisions.distance.cloud import shot_normals
from tracker.posterior import Fit
from tracker.readings.session_summary import methods_of

POINTS = 8
"""Places at which each shot's open true delivery is looked at; in opposite pairs."""
LEAST_SHOTS = 3
"""Shots with ball speed, launch and spin that a session needs to count."""
LEAST_SESSIONS = 4
"""Sessions with ball data that the squad needs before the physics is adapted."""
GROSS = 5.0
"""Robust SDs beyond which a reading counts as a misread."""
MAD_TO_SD = 1.4826022185056018
NEEDED = tuple(trait for trait in DELIVERY if trait not in SIDEWAYS_SD)
"""What must have been read of a shot, unless the squad has never read it."""
NOT_READ = 1e8
"""Variance of a reading that is not there, in any trait's unit squared."""


@dataclass(frozen=True, eq=False)
class BallRows:
    """Sessions with ball data (R) and their shots with a launch (T).

    ``row`` (T,) says which session a shot is of; ``delivery`` (T, 7) its posterior mean delivery,
    ``left_open`` (T, 7, 7) the covariance of what is left open of it; ``ball`` (T, 3) its
    ``IMPACT_TRAITS``, with ``kept`` False for misreads; ``club_variance`` (R, 7) what is left open
    of the session's mean delivery; ``carry`` (R,), NaN where it was not read, with its variance;
    ``launches`` the shots behind the carry. ``bias_trait``, ``bias_sd`` (B,) are method biases
    known to that SD, and ``bias_share`` (R, B) the share of a session's shots that each acts on.
    """

    player: Indices
    session: Indices
    temperature_c: Floats
    altitude_m: Floats
    club_variance: Floats
    carry: Floats
    carry_variance: Floats
    launches: tuple["Launches", ...]
    row: Indices
    delivery: Floats
    left_open: Floats
    ball: Floats
    kept: NDArray[np.bool_]
    bias_trait: Indices
    bias_sd: Floats
    bias_share: Floats

    @property
    def cloud(self) -> Floats:
        """Return places where each shot's true delivery may lie, (T, point, 7)."""
        factor = np.linalg.cholesky(self.left_open)
        spread = np.einsum("tij,pj->tpi", factor, shot_normals(POINTS, 1))
        return np.asarray(self.delivery[:, None, :] + spread)

    def means(self, values: Floats) -> Floats:
        """Return the session means over shots that are no misreads, (R, 3) of (T, 3)."""
        found = np.empty((len(self.player), values.shape[1]))
        for i in range(values.shape[1]):
            weight = self.kept[:, i].astype(np.float64)
            total = np.bincount(self.row, weight * values[:, i], len(self.player))
            found[:, i] = total / np.bincount(self.row, weight, len(self.player))
        return found


@dataclass(frozen=True, eq=False)
class Launches:
    """Shots of one session with a launch and a carry, (shot,)."""

    ball: BallLaunch
    carry_m: Floats


def ball_rows(fit: Fit, shots: pd.DataFrame) -> BallRows | None:
    """Return the sessions with ball data, or None where there are too few to learn from."""
    needed = [trait for trait in NEEDED if shots[trait].notna().any()]
    used = shots[shots[[*IMPACT_TRAITS, *needed]].notna().all(axis=1)]
    places = {
        (player.name, start): (p, s)
        for p, player in enumerate(fit.players)
        for s, start in enumerate(fit.sessions(player.name))
    }
    groups = []
    for (name, _), group in used.groupby(["player", "session"], sort=True):
        place = places.get((str(name), group["session"].iloc[0].to_pydatetime()))
        if place is not None and len(group) >= LEAST_SHOTS:
            groups.append((*place, group))
    if len(groups) < LEAST_SESSIONS:
        return None
    row = np.repeat(np.arange(len(groups)), [len(g) for _, _, g in groups])
    told = _told(fit, pd.concat([group for _, _, group in groups]))
    scatter = {p: fit.mean_shot_covariance(fit.players[p].name, DELIVERY) for p, _, _ in groups}
    clubs = [
        _club(fit, fit.players[p].name, s, scatter[p], told.of(row == r))
        for r, (p, s, _) in enumerate(groups)
    ]
    carries = [_launches(group) for _, _, group in groups]
    carry_sd = TRAITS["carry_m"].reading_sd
    counts = np.array([len(found.carry_m) for found in carries])
    ball = np.concatenate([g[list(IMPACT_TRAITS)].to_numpy(np.float64) for _, _, g in groups])
    bias_trait, bias_sd, bias_share = _method_biases(fit, told, row)
    rows = BallRows(
        player=np.array([p for p, _, _ in groups]),
        session=np.array([s for _, s, _ in groups]),
        temperature_c=np.array([_mean_or(g["air_temperature_c"], 20.0) for _, _, g in groups]),
        altitude_m=np.array([_mean_or(g["altitude_m"], 0.0) for _, _, g in groups]),
        club_variance=np.array([club.mean_variance for club in clubs]),
        carry=np.array([f.carry_m.mean() if f.carry_m.size else np.nan for f in carries]),
        carry_variance=carry_sd**2 / np.maximum(counts, 1),
        launches=tuple(carries),
        row=row,
        delivery=np.concatenate([club.delivery for club in clubs]),
        left_open=np.concatenate([club.left_open for club in clubs]),
        ball=ball,
        kept=np.ones_like(ball, dtype=np.bool_),
        bias_trait=bias_trait,
        bias_sd=bias_sd,
        bias_share=bias_share,
    )
    read = np.concatenate([club.read for club in clubs])
    whole = read[:, [DELIVERY.index(trait) for trait in needed]].all(axis=1)
    return replace(rows, kept=_not_misread(rows, whole))


@dataclass(frozen=True, eq=False)
class _Told:
    """What was read of shots' deliveries, all (shot, 7) in the order of ``DELIVERY``."""

    value: Floats
    """Readings with method biases out, NaN where there is none."""
    reading2: Floats
    """Their variances."""
    method: Indices
    """Which of the trait's methods read them."""

    def of(self, chosen: NDArray[np.bool_]) -> "_Told":
        return _Told(self.value[chosen], self.reading2[chosen], self.method[chosen])


def _told(fit: Fit, shots: pd.DataFrame) -> _Told:
    """Return what was read of shots' deliveries."""
    shape = len(shots), len(DELIVERY)
    value, reading2 = np.empty(shape), np.empty(shape)
    methods = np.empty(shape, dtype=np.int64)
    for i, trait in enumerate(DELIVERY):
        squad = fit.squad(trait)
        place = {name: m for m, name in enumerate(squad.methods)}
        method = methods_of(shots, trait).map(place).fillna(0).to_numpy(np.int64)
        biases = squad.bias.mean(axis=0)
        value[:, i] = shots[trait].to_numpy(dtype=np.float64) - biases[method]
        reading2[:, i] = squad.reading_sd[method] ** 2
        methods[:, i] = method
    return _Told(value, reading2, methods)


def _method_biases(fit: Fit, told: _Told, row: Indices) -> tuple[Indices, Floats, Floats]:
    """Return the uncertain method biases and where they act, as ``BallRows`` names them."""
    traits, sds, shares = [], [], []
    shots = np.bincount(row)
    for i, trait in enumerate(DELIVERY):
        squad = fit.squad(trait)
        for m in range(len(squad.methods)):
            sd = float(squad.bias[:, m].std())
            if sd > 0:
                by_it = (told.method[:, i] == m) & np.isfinite(told.value[:, i])
                traits.append(i)
                sds.append(sd)
                shares.append(np.bincount(row, by_it) / shots)
    share = np.array(shares, dtype=np.float64).reshape(len(traits), shots.size).T
    return np.array(traits, dtype=np.int64), np.array(sds, dtype=np.float64), share


def _not_misread(rows: BallRows, whole: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return which ball readings of shots with a whole club the published impact explains."""
    predicted = impact_traits(ball_of(rows.cloud, default_parameters()))
    apart = rows.ball - predicted
    apart -= np.median(apart, axis=0)
    kept = np.abs(apart) <= GROSS * MAD_TO_SD * np.median(np.abs(apart), axis=0)
    kept &= whole[:, None]
    for row in range(len(rows.player)):  # never leave a session without a shot
        mine = rows.row == row
        kept[mine] |= ~kept[mine].any(axis=0)
    return np.asarray(kept)


@dataclass(frozen=True, eq=False)
class _Club:
    """A session's deliveries (T, 7), their open covariance, what was read, and the mean's variance.

    A gross misread counts as not read.
    """

    delivery: Floats
    left_open: Floats
    read: NDArray[np.bool_]
    mean_variance: Floats


def _club(fit: Fit, player: str, s: int, scatter: Floats, told: _Told) -> _Club:
    """Return what is known of a session's deliveries.

    A shot's values lie around the session's with the player's scatter, their readings around them:
    both are weighed, and a reading tells of the traits that move with its own.
    """
    value, reading2, size = told.value.copy(), told.reading2, len(told.value)
    read = np.empty(value.shape, dtype=np.bool_)
    centre, precision = np.empty(len(DELIVERY)), np.empty(len(DELIVERY))
    for i, trait in enumerate(DELIVERY):
        one = fit.of(player, trait)
        spread2 = scatter[i, i] + reading2[:, i]
        level = one.level[:, s].astype(np.float64)
        some = np.isfinite(value[:, i])
        middle = float(np.median(value[some, i])) if some.any() else float(level.mean())
        value[:, i] = np.where(some, value[:, i], middle)
        read[:, i] = some & (np.abs(value[:, i] - middle) <= GROSS * np.sqrt(spread2))
        prior = float(level.var() + (one.session_sd**2).mean())
        weight = np.where(read[:, i], 1 / spread2, 0.0)
        precision[i] = 1 / prior + weight.sum()
        centre[i] = (float(level.mean()) / prior + weight @ value[:, i]) / precision[i]
    noise = np.where(read, reading2, NOT_READ)
    pull = scatter @ np.linalg.inv(scatter + noise[:, :, None] * np.eye(len(DELIVERY)))
    away = np.where(read, value - centre, 0.0)
    left = scatter - pull @ scatter
    left = (left + left.transpose(0, 2, 1)) / 2
    unread = (1 - np.einsum("tii->ti", pull)).mean(axis=0)
    return _Club(
        delivery=centre + np.einsum("tij,tj->ti", pull, away),
        left_open=left + 1e-9 * np.eye(len(DELIVERY)),
        read=read,
        mean_variance=np.einsum("tii->ti", left).mean(axis=0) / size + unread**2 / precision,
    )


def _mean_or(values: pd.Series, default: float) -> float:
    return default if values.isna().all() else float(values.mean())


def _launches(group: pd.DataFrame) -> Launches:
    """Return the shots with a carry that their own launch can explain."""
    some = group[group["carry_m"].notna()]
    carry = some["carry_m"].to_numpy(dtype=np.float64)
    ball = BallLaunch(
        ball_speed_mps=some["ball_speed_mps"].to_numpy(dtype=np.float64),
        launch_deg=some["launch_deg"].to_numpy(dtype=np.float64),
        side_deg=0.0,
        spin_rpm=some["spin_rpm"].to_numpy(dtype=np.float64),
        axis_deg=some["axis_deg"].fillna(0.0).to_numpy(dtype=np.float64),
    )
    if not carry.size:
        return Launches(ball, carry)
    default = default_parameters()
    flown = fly(ball, air_at(), default.flight_shape(), default.flight_constants())
    apart = carry / np.maximum(flown.carry_m, 1.0) - 1.0
    scale = max(MAD_TO_SD * float(np.median(np.abs(apart - np.median(apart)))), 0.01)
    kept = np.abs(apart - np.median(apart)) <= GROSS * scale
    chosen = BallLaunch(
        ball_speed_mps=ball.ball_speed_mps[kept],
        launch_deg=ball.launch_deg[kept],
        side_deg=0.0,
        spin_rpm=ball.spin_rpm[kept],
        axis_deg=ball.axis_deg[kept],
    )
    return Launches(chosen, carry[kept])


def ball_of(cloud: Floats, parameters: DriveParameters) -> BallLaunch:
    """Return the launch of deliveries whose last axis is ``DELIVERY``."""
    delivery = Delivery(**{name: cloud[..., i] for i, name in enumerate(DELIVERY)})
    return impact(delivery, parameters, STANDARD)


def impact_traits(ball: BallLaunch) -> Floats:
    """Return ``IMPACT_TRAITS`` of a cloud's launches averaged over its points, (shot, 3)."""
    return np.stack([getattr(ball, name).mean(axis=1) for name in IMPACT_TRAITS], axis=1)
