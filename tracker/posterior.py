"""The only module that knows the inside of a stored fit: draws by domain name.

Every ``*_draws`` function returns draws of shape ``(sample,)`` in the trait's stored unit; draw
``i`` of one quantity belongs with draw ``i`` of every other quantity of the same fit.
"""

import io
import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, replace
from datetime import date, datetime, time, timedelta

import numpy as np
from numpy.typing import NDArray

from models.sampling.report import SamplerReport
from models.traits import TRAITS
from tracker.errors import NoFit, NotEnoughData, UnknownPlayer
from tracker.interval import INTERVAL_PROB
from tracker.records import DEFAULT_CLUB, Change, Player

Floats = NDArray[np.float64]

WEEK = np.timedelta64(7 * 24 * 3600, "s")
DAYS_PER_MONTH = 365.25 / 12

_ARRAYS = (
    "session_start",
    "counts",
    "raw_mean",
    "raw_se",
    "level",
    "mu",
    "spread",
    "drift",
    "session_sd",
    "day_alike",
    "jump_sd",
    "jump_chance",
    "effect_sd",
    "drill_scale",
    "jump_at",
    "jump",
    "shot_sd",
    "corr",
    "bias",
    "reading_sd",
    "change_effect",
    "drill_effect",
    "affects",
)
PHYSICS = "physics"
"""Name of the calibration among the parts of a fit's report."""
_PHYSICS, _BALL = "physics.", "ball."
"""Prefixes of the optional arrays in the archive."""
FACT = "fact."
"""Prefix of what a calibration knows of the impact as a whole, beside the constants."""


def part_label(part: str) -> str:
    """Return how a part of a fit is named: a trait by its label, or ``Physics``."""
    return TRAITS[part].label.capitalize() if part in TRAITS else "Physics"


@dataclass(frozen=True, slots=True)
class FitInfo:
    """What identifies a fit and says whether it may be trusted."""

    fit_id: int
    created_at: datetime
    data_digest: str
    seed: int
    seconds: float
    report: SamplerReport
    """The worst of all parts."""
    versions: Mapping[str, str]
    club: str = DEFAULT_CLUB
    reports: Mapping[str, SamplerReport] = field(default_factory=dict)
    """By part: each trait that was sampled, and ``PHYSICS``."""


@dataclass(frozen=True, slots=True)
class SessionMean:
    """The raw mean of one session as read (no shrinkage), its standard error and count."""

    start: datetime
    mean: float
    standard_error: float
    shots: int


@dataclass(frozen=True, slots=True)
class Window:
    """Days from ``start`` to ``end``, both included."""

    start: date
    end: date

    def __post_init__(self) -> None:
        if self.end < self.start:
            msg = f"a window ends before it starts: {self.start}:{self.end}"
            raise ValueError(msg)


@dataclass(frozen=True, slots=True)
class BallCheck:
    """One session's mean of one ball trait, read and predicted from the club, in its unit.

    ``predicted`` uses the calibrated physics, ``uncalibrated`` the published one.
    """

    trait: str
    player: str
    start: datetime
    observed: float
    predicted: float
    uncalibrated: float
    standard_error: float


@dataclass(frozen=True, eq=False)
class Fit:
    """Posterior draws and the session summaries they came from.

    Dimensions: sample N, player P, session S (a player's own order, padded at the end), trait K,
    reading method M, logged change C, drill name G.

    session_start (P, S) datetime64[s], NaT where padded
    counts (M, P, S, K) readings; raw_mean, raw_se (P, S, K) NaN where nothing was read
    level (N, P, S, K); mu, spread, drift (per sqrt week), session_sd (N, K)
    day_alike (N, K) correlation of neighbouring sessions' effects
    jump_sd, jump_chance (N, K) size of changes that nobody logged, and their chance in half a year
    jump_at (N, P, K) session before which one came, 0 for a steady one, -1 for none; jump its size,
        a week where it is steady
    shot_sd (N, P, K); corr (N, P, K, K) of one shot's traits
    bias (N, M, K), 0 for the reference method; reading_sd (M, K)
    change_effect (N, C, K); drill_effect (N, G, K) mean over players; effect_sd (N, K) how far
        players differ about it; drill_scale (N, K) how far drills' means differ about 0
    affects (C, K) whether a logged change acts on a trait
    physics: constants of the drive calibrated to the squad's own balls, by the field name of
        ``models.drive.parameters.DriveParameters``, (N,) or by player (N, P); and behind the prefix
        ``FACT`` the numbers of ``models.drive.impact_facts`` at the squad's mean delivery, (N,),
        which the balls tell far better than the constants one by one; empty without balls
    ball_check: table of session means read and predicted, see ``ball_checks``; empty likewise
    """

    info: FitInfo
    players: tuple[Player, ...]
    traits: tuple[str, ...]
    methods: tuple[tuple[str, ...], ...]
    """Method names by trait; entry ``m`` of trait ``k`` names ``counts[m, :, :, k]``."""
    changes: tuple[Change, ...]
    drills: tuple[str, ...]
    session_start: NDArray[np.datetime64]
    counts: NDArray[np.int64]
    raw_mean: Floats
    raw_se: Floats
    level: NDArray[np.float32]
    mu: Floats
    spread: Floats
    drift: Floats
    session_sd: Floats
    shot_sd: Floats
    corr: NDArray[np.float32]
    bias: Floats
    reading_sd: Floats
    change_effect: Floats
    drill_effect: Floats
    affects: NDArray[np.bool_]
    day_alike: Floats
    jump_sd: Floats
    jump_chance: Floats
    effect_sd: Floats
    drill_scale: Floats
    jump_at: NDArray[np.int16]
    jump: NDArray[np.float32]
    physics: Mapping[str, NDArray[np.floating]] = field(default_factory=dict)
    ball_check: Mapping[str, NDArray[np.generic]] = field(default_factory=dict)

    @property
    def samples(self) -> int:
        """Return the number of kept draws."""
        return int(self.level.shape[0])

    @property
    def problems(self) -> tuple[str, ...]:
        """Return what is wrong with any part of the fit, to be shown before any number."""
        if not self.info.reports:
            return self.info.report.problems
        return self.problems_of(*self.info.reports)

    def problems_of(self, *parts: str) -> tuple[str, ...]:
        """Return what is wrong with some traits, or with ``PHYSICS``.

        Traits are separate posteriors: a doubt about one says nothing of another. A part that was
        not sampled has no problems.
        """
        if not self.info.reports:
            return self.info.report.problems
        return tuple(
            f"{part_label(part)}: {problem}"
            for part, report in self.info.reports.items()
            if part in parts
            for problem in report.problems
        )

    def problems_elsewhere(self, *parts: str) -> tuple[str, ...]:
        """Return what is wrong with the parts that an answer does not rest on."""
        return self.problems_of(*(set(self.info.reports) - set(parts))) if self.info.reports else ()

    def player_index(self, name: str) -> int:
        """Return a player's place in the arrays; an unknown name is refused."""
        for index, player in enumerate(self.players):
            if player.name == name:
                return index
        known = ", ".join(p.name for p in self.players)
        raise UnknownPlayer(f"player {name!r} is not in the fit; it holds {known}")

    def trait_index(self, trait: str) -> int:
        """Return a trait's place in the arrays; an unmodelled trait is refused."""
        if trait not in self.traits:
            known = ", ".join(self.traits)
            raise NotEnoughData(f"trait {trait!r} is not in the fit; it holds {known}")
        return self.traits.index(trait)


def session_starts(fit: Fit, player: str) -> tuple[datetime, ...]:
    """Return a player's session starts, oldest first."""
    starts = fit.session_start[fit.player_index(player)]
    return tuple(t.item() for t in starts[~np.isnat(starts)])


def sessions_in(fit: Fit, player: str, trait: str, window: Window) -> NDArray[np.int64]:
    """Return the places of a player's sessions in a window with at least one reading."""
    p, k = fit.player_index(player), fit.trait_index(trait)
    starts = fit.session_start[p]
    days = starts.astype("datetime64[D]")
    inside = (days >= np.datetime64(window.start)) & (days <= np.datetime64(window.end))
    return np.flatnonzero(inside & (fit.counts[:, p, :, k].sum(axis=0) > 0))


def session_means(fit: Fit, player: str, trait: str) -> tuple[SessionMean, ...]:
    """Return the raw session means of a trait, oldest first, sessions without readings left out."""
    p, k = fit.player_index(player), fit.trait_index(trait)
    found = []
    for s, start in enumerate(fit.session_start[p]):
        count = int(fit.counts[:, p, s, k].sum())
        if count and not np.isnat(start):
            mean, error = float(fit.raw_mean[p, s, k]), float(fit.raw_se[p, s, k])
            found.append(SessionMean(start.item(), mean, error, count))
    return tuple(found)


def reading_count(fit: Fit, player: str, trait: str) -> tuple[int, int]:
    """Return how many readings of a trait a player has, and in how many sessions."""
    p, k = fit.player_index(player), fit.trait_index(trait)
    by_session = fit.counts[:, p, :, k].sum(axis=0)
    return int(by_session.sum()), int((by_session > 0).sum())


def usual_shots(fit: Fit, player: str) -> float:
    """Return the median number of shots read in a player's sessions; one where none was."""
    most = fit.counts[:, fit.player_index(player)].sum(axis=0).max(axis=1)
    return float(np.median(most[most > 0])) if most.any() else 1.0


def reading_sd(fit: Fit, player: str, trait: str) -> float:
    """Return the SD of one reading of a trait: of the player's methods, else of all methods."""
    k, p = fit.trait_index(trait), fit.player_index(player)
    used = fit.counts[:, p, :, k].sum(axis=1)
    variance = np.average(fit.reading_sd[:, k] ** 2, weights=used if used.sum() else None)
    return float(np.sqrt(variance))


def squad_reads(fit: Fit, trait: str) -> bool:
    """Return whether anybody in the fit has a reading of a trait; if not, its prior speaks."""
    return bool(fit.counts[..., fit.trait_index(trait)].any())


def methods_used(fit: Fit, player: str, trait: str, places: NDArray[np.int64]) -> frozenset[str]:
    """Return the names of the reading methods used in some of a player's sessions."""
    p, k = fit.player_index(player), fit.trait_index(trait)
    used = fit.counts[:, p, :, k][:, places].sum(axis=1) > 0
    return frozenset(name for name, yes in zip(fit.methods[k], used, strict=False) if yes)


def level_path_draws(fit: Fit, player: str, trait: str) -> tuple[tuple[datetime, ...], Floats]:
    """Return session starts and draws of the level there, shape ``(sample, session)``."""
    starts = session_starts(fit, player)
    p, k = fit.player_index(player), fit.trait_index(trait)
    return starts, fit.level[:, p, : len(starts), k].astype(np.float64)


def level_draws(fit: Fit, player: str, trait: str, at: datetime | None = None) -> Floats:
    """Return draws of the level at a moment (default: the player's last session).

    A midnight stands for its day: a session of that day is meant, the last if there are several.
    Between sessions the random walk is bridged; outside them it walks on, so the draws widen with
    the distance from the nearest session. The same moment always gives the same draws.
    """
    starts, path = level_path_draws(fit, player, trait)
    if at is None:
        return path[:, -1]
    p, k = fit.player_index(player), fit.trait_index(trait)
    times = np.array([np.datetime64(s, "s") for s in starts])
    if at.time() == time.min:
        at = max((s for s in starts if s.date() == at.date()), default=at)
    now = np.datetime64(at, "s")
    walk = path - np.stack([_steps(fit, p, k, t) for t in times], axis=1)
    after = int(np.searchsorted(times, now))
    if after < len(times) and times[after] == now:
        return path[:, after]
    seed = (fit.info.seed, p, k, int(now.astype(np.int64)))
    noise = np.random.default_rng([abs(part) for part in seed]).standard_normal(fit.samples)
    drift = fit.drift[:, k]
    if after == 0 or after == len(times):
        near = 0 if after == 0 else -1
        weeks = abs(float((now - times[near]) / WEEK))
        value = walk[:, near] + drift * np.sqrt(weeks) * noise
    else:
        before, whole = times[after - 1], float((times[after] - times[after - 1]) / WEEK)
        part = float((now - before) / WEEK)
        value = walk[:, after - 1] + (walk[:, after] - walk[:, after - 1]) * part / whole
        value += drift * np.sqrt(part * (whole - part) / whole) * noise
    return np.asarray(value + _steps(fit, p, k, now), dtype=np.float64)


def _steps(fit: Fit, p: int, k: int, now: np.datetime64) -> Floats:
    """Return the summed effects of the player's logged changes that had started by ``now``."""
    total = _unlogged(fit, p, k, now)
    for c, change in enumerate(fit.changes):
        mine = change.player == fit.players[p].name and fit.affects[c, k]
        if mine and np.datetime64(change.start) <= now:
            total += fit.change_effect[:, c, k]
    return total


def _unlogged(fit: Fit, p: int, k: int, now: np.datetime64) -> Floats:
    """Return what an unlogged change had added by ``now``; outside the season it stands still."""
    starts = fit.session_start[p][~np.isnat(fit.session_start[p])]
    at = fit.jump_at[:, p, k].astype(np.int64)
    size = fit.jump[:, p, k].astype(np.float64)
    steady = float((np.clip(now, starts[0], starts[-1]) - starts[0]) / WEEK)
    begun = starts[np.clip(at, 0, len(starts) - 1)] <= now
    return np.where(at == 0, size * steady, np.where((at > 0) & begun, size, 0.0))


@dataclass(frozen=True, slots=True)
class UnloggedChange:
    """What the model itself holds of a sudden change that nobody logged."""

    chance: float
    """Chance that there was one, 0 to 1."""
    between: tuple[date, date]
    """Days of the last session before it and the first after it: the shortest run of sessions
    that holds it with 90 % (given that there was one)."""
    size: Floats
    """Draws of its size where there was one, in the trait's unit."""


def unlogged_change(fit: Fit, player: str, trait: str) -> UnloggedChange | None:
    """Return when and how large an unlogged jump was; None where no draw holds one."""
    p, k = fit.player_index(player), fit.trait_index(trait)
    at = fit.jump_at[:, p, k].astype(np.int64)
    some = at > 0
    if not some.any():
        return None
    starts = session_starts(fit, player)
    share = np.bincount(at[some], minlength=len(starts)) / some.sum()
    ladder = np.concatenate([[0.0], np.cumsum(share)])
    runs = [
        (last - first, -(ladder[last + 1] - ladder[first]), first, last)
        for first in range(1, len(starts))
        for last in range(first, len(starts))
        if ladder[last + 1] - ladder[first] >= INTERVAL_PROB - 1e-9
    ]
    _, _, first, last = min(runs)
    return UnloggedChange(
        chance=float(some.mean()),
        between=(starts[first - 1].date(), starts[last].date()),
        size=fit.jump[some, p, k].astype(np.float64),
    )


def window_draws(fit: Fit, player: str, trait: str, window: Window) -> Floats:
    """Return draws of the tendency in a window: the level averaged over its session dates."""
    places = sessions_in(fit, player, trait, window)
    if not places.size:
        raise NotEnoughData(
            f"{player} has no session with {TRAITS[trait].label} readings from "
            f"{window.start} to {window.end}; pick dates that hold at least one session"
        )
    p, k = fit.player_index(player), fit.trait_index(trait)
    return fit.level[:, p, places, k].astype(np.float64).mean(axis=1)


def trend_draws(fit: Fit, player: str, trait: str) -> Floats:
    """Return draws of the least-squares slope of the level over the sessions, per month."""
    starts, path = level_path_draws(fit, player, trait)
    months = np.array([(s - starts[0]) / timedelta(days=DAYS_PER_MONTH) for s in starts])
    centred = months - months.mean()
    spread = float(centred @ centred)
    if spread == 0:
        raise NotEnoughData(f"{player} has one session; a trend needs at least two dates")
    return np.asarray(path @ centred / spread, dtype=np.float64)


def shot_sd_draws(fit: Fit, player: str, trait: str) -> Floats:
    """Return draws of a player's shot-to-shot SD, reading error taken out."""
    return fit.shot_sd[:, fit.player_index(player), fit.trait_index(trait)]


def session_sd_draws(fit: Fit, trait: str) -> Floats:
    """Return draws of the day-to-day SD of a trait, shared by the squad."""
    return fit.session_sd[:, fit.trait_index(trait)]


def day_alike_draws(fit: Fit, trait: str) -> Floats:
    """Return draws of the correlation of neighbouring sessions' effects."""
    return fit.day_alike[:, fit.trait_index(trait)]


def drift_draws(fit: Fit, trait: str) -> Floats:
    """Return draws of the SD of a level's random walk per square root of a week."""
    return fit.drift[:, fit.trait_index(trait)]


def squad_mean_draws(fit: Fit, trait: str) -> Floats:
    """Return draws of the mean of players' baselines."""
    return fit.mu[:, fit.trait_index(trait)]


def effect_sd_draws(fit: Fit, trait: str) -> Floats:
    """Return draws of how far players differ in what one drill does to them (SD)."""
    return fit.effect_sd[:, fit.trait_index(trait)]


def drill_scale_draws(fit: Fit, trait: str) -> Floats:
    """Return draws of how far the drills' mean effects differ about 0 (SD)."""
    return fit.drill_scale[:, fit.trait_index(trait)]


def changes_on(fit: Fit, trait: str) -> tuple[int, ...]:
    """Return the places of the logged changes that act on a trait."""
    return tuple(int(c) for c in np.flatnonzero(fit.affects[:, fit.trait_index(trait)]))


def between_sd_draws(fit: Fit, trait: str) -> Floats:
    """Return draws of the SD of baselines between players."""
    return fit.spread[:, fit.trait_index(trait)]


def shot_covariance_draws(fit: Fit, player: str, traits: tuple[str, ...]) -> Floats:
    """Return draws of the covariance of one shot's traits, shape ``(sample, trait, trait)``."""
    p = fit.player_index(player)
    k = np.array([fit.trait_index(t) for t in traits])
    sd = fit.shot_sd[:, p, :][:, k]
    corr = fit.corr[:, p][:, k][:, :, k].astype(np.float64)
    return corr * sd[:, :, None] * sd[:, None, :]


def change_effect_draws(fit: Fit, change: int, trait: str) -> Floats:
    """Return draws of what one logged change did to a trait, drift taken out."""
    return fit.change_effect[:, change, fit.trait_index(trait)]


def drill_effect_draws(fit: Fit, drill: str, trait: str) -> Floats:
    """Return draws of the mean effect over players of a drill (or other change) by name."""
    return fit.drill_effect[:, fit.drills.index(drill), fit.trait_index(trait)]


def method_bias_draws(fit: Fit, trait: str) -> Mapping[str, Floats]:
    """Return draws of each reading method's bias against the reference method, by name."""
    k = fit.trait_index(trait)
    return {name: fit.bias[:, m, k] for m, name in enumerate(fit.methods[k])}


def is_calibrated(fit: Fit) -> bool:
    """Return whether the squad's own ball data went into the physics."""
    return bool(fit.physics)


def physics_draws(fit: Fit, player: str) -> Mapping[str, Floats]:
    """Return draws of the calibrated constants of a player's drives; empty when not calibrated."""
    p = fit.player_index(player)
    return {
        name: np.asarray(values if values.ndim == 1 else values[:, p], dtype=np.float64)
        for name, values in fit.physics.items()
        if not name.startswith(FACT)
    }


def impact_fact_draws(fit: Fit) -> Mapping[str, Floats]:
    """Return draws of what the balls tell of the impact, by the names of ``impact_facts.FACTS``."""
    return {
        name.removeprefix(FACT): np.asarray(values, dtype=np.float64)
        for name, values in fit.physics.items()
        if name.startswith(FACT)
    }


def ball_checks(fit: Fit) -> tuple[BallCheck, ...]:
    """Return every session mean of ball speed, launch, spin and carry, read and predicted."""
    if not fit.ball_check:
        return ()
    table = fit.ball_check
    names = ("observed", "predicted", "uncalibrated", "standard_error")
    return tuple(
        BallCheck(
            str(table["trait"][i]),
            fit.players[int(table["player"][i])].name,
            fit.session_start[int(table["player"][i]), int(table["session"][i])].item(),
            *(float(table[name][i]) for name in names),
        )
        for i in range(len(table["trait"]))
    )


def encode(fit: Fit) -> bytes:
    """Return the fit as bytes of a compressed NumPy archive; see ``decode``."""
    head = {
        "players": [asdict(p) for p in fit.players],
        "traits": fit.traits,
        "methods": fit.methods,
        "changes": [{**asdict(c), "start": c.start.isoformat()} for c in fit.changes],
        "drills": fit.drills,
    }
    arrays = {name: getattr(fit, name) for name in _ARRAYS}
    arrays["session_start"] = fit.session_start.astype("datetime64[s]").astype(np.int64)
    arrays |= {_PHYSICS + name: values for name, values in fit.physics.items()}
    arrays |= {_BALL + name: values for name, values in fit.ball_check.items()}
    buffer = io.BytesIO()
    np.savez_compressed(buffer, allow_pickle=False, head=np.array(json.dumps(head)), **arrays)
    return buffer.getvalue()


def decode(content: bytes, info: FitInfo) -> Fit:
    """Return the fit that ``encode`` wrote."""
    with np.load(io.BytesIO(content), allow_pickle=False) as archive:
        head = json.loads(str(archive["head"]))
        missing = [name for name in _ARRAYS if name not in archive]
        if missing:
            raise NoFit(
                f"fit {info.fit_id} was made by an earlier version (it has no {missing[0]}): "
                "run drive-progress fit"
            )
        arrays = {name: archive[name] for name in _ARRAYS}
        physics, ball = (
            {name.removeprefix(mark): archive[name] for name in archive if name.startswith(mark)}
            for mark in (_PHYSICS, _BALL)
        )
    arrays["session_start"] = arrays["session_start"].astype("datetime64[s]")
    return Fit(
        info=info,
        players=tuple(Player(**p) for p in head["players"]),
        traits=tuple(head["traits"]),
        methods=tuple(tuple(names) for names in head["methods"]),
        changes=tuple(
            Change(**{**c, "start": date.fromisoformat(c["start"])}) for c in head["changes"]
        ),
        drills=tuple(head["drills"]),
        physics=physics,
        ball_check=ball,
        **arrays,
    )


def with_info(fit: Fit, info: FitInfo) -> Fit:
    """Return the same draws under another identity."""
    return replace(fit, info=info)
