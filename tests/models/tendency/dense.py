"""One player's part of the tendency model by dense normal algebra, written apart from ``models``.

Everything hidden and every session mean is one normal vector for each way in which logged changes
and the unlogged change can have turned out; a player's log shot SD is a number given.
"""

import itertools
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.special import logsumexp
from scipy.stats import t as student

from models.arrays import Floats

EFFECT_VARIANCES = (0.12, 0.6, 2.3)
JUMP_VARIANCES = (1.0, 2.0, 4.0)


@dataclass(frozen=True)
class Values:
    """Parameters, as the model states them; ``jump_rate`` is per week."""

    mu: float = 1.0
    spread: float = 6.0
    drift: float = 1.3
    session_sd: float = 3.0
    day_alike: float = 0.35
    log_shot_mean: float = float(np.log(8))
    log_shot_spread: float = 0.3
    effect_sd: float = 4.0
    jump_sd: float = 7.0
    jump_rate: float = 0.01
    bias: tuple[float, ...] = (0.0, 0.7)
    drills: tuple[float, ...] = (2.0, -3.0)

    def vector(self) -> Floats:
        """Return them in the order of the compiled likelihood."""
        return np.array(
            [
                self.mu, self.spread, self.drift, self.session_sd, self.day_alike,
                self.log_shot_mean, self.log_shot_spread, self.effect_sd, self.jump_sd,
                self.jump_rate, *self.bias, *self.drills,
            ]
        )  # fmt: skip


@dataclass(frozen=True)
class Season:
    """One player's summaries of one trait; (session, method) where not said otherwise."""

    gap: Floats
    count: Floats
    mean: Floats
    scatter: Floats
    scatter_df: Floats
    reading2: Floats
    change_at: tuple[int, ...] = ()
    change_drill: tuple[int, ...] = ()
    missed: float = 0.0
    centre: float = 0.0
    half: float = 50.0
    other_inside: float = 1.0
    weeks: Floats = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "weeks", np.cumsum(self.gap) - self.gap[0])


@dataclass(frozen=True)
class Ways:
    """Every way in which a season can have turned out, given a log shot SD.

    ``log_weight`` (way,): log chance times density of the session means; ``mean`` (way, hidden) and
    ``cov`` of levels, effects and the jump (or slope a week) given the session means; ``at``
    (way,): the session before which the jump came, 0 for a steady change, -1 for none.
    """

    log_weight: Floats
    mean: Floats
    cov: Floats
    at: NDArray[np.int64]


def ways(v: Values, season: Season, x: float) -> Ways:
    """Return the ways with their weights, all by dense matrices."""
    weeks, sessions, changes = season.weeks, season.gap.size, len(season.change_at)
    span = weeks[-1]
    none = np.exp(-v.jump_rate * span)
    unlogged = [(none, -1, 0.0)]
    for part in JUMP_VARIANCES:
        if span > 0 and v.jump_rate > 0:
            unlogged.append(((1 - none) / 3 / 3, 0, part * v.jump_sd**2 / 64))
            for r in range(1, sessions):
                chance = (1 - none) * (2 / 3) * season.gap[r] / span / 3
                unlogged.append((chance, r, part * v.jump_sd**2))
    unlogged = [u for u in unlogged if u[0] > 0]
    mixed = min(changes, 3)
    early = [float(np.mean(EFFECT_VARIANCES))] * (changes - mixed)
    parts = [[*early, *p] for p in itertools.product(EFFECT_VARIANCES, repeat=mixed)]

    # hidden: levels, effects, jump; built from baseline and walk, effects, jump
    walk = v.spread**2 + v.drift**2 * np.minimum.outer(weeks, weeks)
    started = np.array([[s >= a for a in season.change_at] for s in range(sessions)], float)
    started = started.reshape(sessions, changes)
    s, m = np.nonzero(season.count > 0)
    read = np.unique(s)
    order = np.searchsorted(read, s)
    days = v.session_sd**2 * np.power(v.day_alike, np.abs(np.subtract.outer(order, order)))
    noise = (np.exp(2 * x) + season.reading2[m]) / season.count[s, m]
    drill = np.array([v.drills[d] for d in season.change_drill])
    centre = np.concatenate([v.mu + started @ drill, drill, [0.0]])
    y = season.mean[s, m] - np.array(v.bias)[m]

    weight, means, covs, at = [], [], [], []
    for part in parts:
        for chance, r, variance in unlogged:
            shape = {-1: np.zeros(sessions), 0: weeks}.get(r, (np.arange(sessions) >= r) * 1.0)
            loading = np.block(
                [
                    [np.eye(sessions), started, shape[:, None]],
                    [np.zeros((changes, sessions)), np.eye(changes), np.zeros((changes, 1))],
                    [np.zeros((1, sessions + changes)), np.ones((1, 1))],
                ]
            )
            core = np.zeros((loading.shape[1],) * 2)
            core[:sessions, :sessions] = walk
            spot = np.arange(sessions, sessions + changes)
            core[spot, spot] = np.array(part) * v.effect_sd**2
            core[-1, -1] = variance
            hidden = loading @ core @ loading.T
            seen = hidden[np.ix_(s, s)] + days + np.diag(noise)
            log = np.log(chance) - mixed * np.log(3)
            gain = np.zeros((len(hidden), s.size))
            away = y - centre[s]
            if s.size:
                gain = np.linalg.solve(seen, hidden[s]).T
                log -= 0.5 * (np.linalg.slogdet(2 * np.pi * seen)[1])
                log -= 0.5 * away @ np.linalg.solve(seen, away)
            weight.append(log)
            means.append(centre + gain @ away)
            covs.append(hidden - gain @ hidden[s])
            at.append(r)
    return Ways(np.array(weight), np.array(means), np.array(covs), np.array(at))


def scatter_logp(v: Values, season: Season, x: float) -> float:
    """Return what prior, scatter and missed faces say of a log shot SD."""
    away = (x - v.log_shot_mean) / v.log_shot_spread
    total = -0.5 * away**2 - np.log(v.log_shot_spread) - 0.5 * np.log(2 * np.pi)
    var = np.exp(2 * x) + season.reading2
    total -= 0.5 * (season.scatter_df * np.log(var) + season.scatter / var).sum()
    if season.missed:
        face = student(5, loc=season.centre, scale=np.exp(x) * np.sqrt(0.6))
        inside = (face.cdf(season.half) - face.cdf(-season.half)) * season.other_inside
        total += season.missed * np.log(1 - inside + 1e-6)
    return float(total)


def season_logp(v: Values, season: Season, x: float) -> float:
    """Return the log of a season's density and a log shot SD's prior."""
    return scatter_logp(v, season, x) + float(logsumexp(ways(v, season, x).log_weight))


def known_constant(season: Season) -> float:
    """Return what the compiled likelihood adds to the log density, whatever the parameters."""
    several = np.maximum((season.count > 0).sum(axis=1) - 1, 0).sum()
    return 0.5 * (np.log(np.pi) + several * np.log(2 * np.pi))


def integrated(v: Values, season: Season, points: int = 25) -> float:
    """Return the log of the integral over the log shot SD, by the trapezium rule."""
    grid = shot_grid(v, season, points)
    values = np.array([season_logp(v, season, x) for x in grid])
    return float(logsumexp(values) + np.log(grid[1] - grid[0]))


def shot_grid(v: Values, season: Season, points: int) -> Floats:
    """Return a grid of log shot SDs that spans what prior and scatter leave open."""
    wide = v.log_shot_mean + 8 * v.log_shot_spread * np.linspace(-1, 1, 401)
    values = np.array([scatter_logp(v, season, x) for x in wide])
    inside = wide[values > values.max() - 18]
    return np.linspace(inside[0], inside[-1], points)
