"""The closed form of the tendency model for one player and trait, its scales known.

Given the scales, the parts of the logged changes and what nobody logged, all is normal:

    level   ~ Normal(mean + started' change_mean, C)
    C       = between + drift min(weeks) + started' diag(open + part change) started
    reading = level + bias + AR(1) days over the sessions read + noise

With z the whitened readings, X the regressors of what nobody logged (weeks since the first session
for a steady change, a step from session s for a jump), r = X'R^-1(y - m) and N = diag(X'R^-1 X), a
size of variance v has log likelihood ratio -1/2 log(1 + vN) + 1/2 r^2 v / (1 + vN). The difference
of two windows a'level is then normal too,

    mean = base + h v r / (1 + vN),  variance = base + h^2 v / (1 + vN),
    h    = a'x less what the base mean makes of readings x,

so that a posterior chance is a weighted sum of normal distribution functions: over the components
of ``models.tendency.jump_filter``, the parts of ``models.tendency.likelihood`` and draws of the
scales, each weighed by what it makes of the readings. Leading blocks of the Cholesky factor belong
to the first sessions alone, so one factor serves every look of a season.
"""

from collections.abc import Sequence
from dataclasses import dataclass, fields
from itertools import product

import numpy as np

from models.arrays import Bools, Floats, Indices
from models.tendency.jump_filter import JUMP_VARIANCES, STEADY, STEADY_WEEKS
from models.tendency.likelihood import EFFECT_VARIANCES, MIXED
from models.tendency.surrogate_sweep import judge_looks

type Look = tuple[int, Floats]
"""How many sessions have been read, and the contrast of levels that is asked about."""

HALF_YEAR_WEEKS = 26.0
"""That of ``models.tendency.density``, which loads the sampler; a test holds them together."""
_SIZES = np.array(JUMP_VARIANCES)


@dataclass(frozen=True, slots=True, eq=False)
class Scales:
    """What is taken as known, one row a draw; variances in the trait's unit squared.

    Shape ``(draw,)``, by logged change ``(draw, change)``.
    """

    mean: Floats
    between: Floats
    """Variance of players' baselines."""
    drift: Floats
    """Variance of the random walk, per week."""
    session: Floats
    """Variance from day to day."""
    alike: Floats
    """Correlation of neighbouring days."""
    rate: Floats
    """Unlogged changes a week."""
    jump: Floats
    """Variance of an unlogged change."""
    change_mean: Floats
    """Mean effect by logged change."""
    change: Floats
    """Variance by logged change, of which a part acts on one player."""
    change_open: Floats
    """What its whole mean is uncertain by."""

    def take(self, draws: Indices) -> "Scales":
        """Return some of the draws."""
        return Scales(*(getattr(self, f.name)[draws] for f in fields(self)))


@dataclass(frozen=True, slots=True, eq=False)
class Season:
    """A player's sessions seen through the surrogate; build it with ``season``.

    C combinations of parts, J draws, S sessions. Regressors come last: steady first, then a jump
    before each session.
    """

    weeks: Floats
    """Since the first session, (S,)."""
    rate: Floats
    jump: Floats
    level_mean: Floats
    """(J, S)."""
    read_mean: Floats
    """The same of readings, their bias included, (J, S)."""
    level_cov: Floats
    """(C, J, S, S)."""
    whiten: Floats
    """Inverse Cholesky factor of the readings' covariance, 0 where none, (C, J, S, S)."""
    turned: Floats
    """Whitened regressors, (C, J, S, S)."""
    told: Floats
    """Their information up to each session, (C, J, S, S)."""
    log_size: Floats
    """Log scale of each whitened reading in the likelihood, (C, J, S)."""
    regressor: Floats
    """(S, S)."""


@dataclass(frozen=True, slots=True, eq=False)
class Posterior:
    """What seasons say at each look, Y seasons and L looks."""

    above: Floats
    """P(contrast > edge), (Y, L, edge)."""
    mean: Floats
    """Mean of the contrast, (Y, L)."""
    variance: Floats
    """Its variance, (Y, L)."""
    unlogged: Floats
    """Chance of an unlogged jump before each session, a steady change first, (Y, L, S)."""
    evidence: Floats
    """Log likelihood of what was read so far, (Y, L, C, J)."""

    @property
    def jump(self) -> Floats:
        """Return the chance that there was an unlogged jump at all, (Y, L)."""
        return np.asarray(self.unlogged[:, :, 1:].sum(axis=2))


def part_combinations(changes: int) -> Floats:
    """Return the parts of some changes in every combination, ``(combination, change)``."""
    return np.array([*product(EFFECT_VARIANCES, repeat=changes)], dtype=np.float64)


def season(
    scales: Scales,
    weeks: Floats,
    noise: Floats,
    started: Bools,
    bias: Floats | None = None,
    mixed: int = MIXED,
) -> Season:
    """Return the surrogate of a season.

    ``weeks`` (session,) since any origin, rising; ``noise`` (draw, session) is the variance of a
    session's mean from shots and readings, infinite where nothing was read; ``started`` (change,
    session), oldest change first, the last ``mixed`` of which have parts told apart; ``bias``
    (draw, session) of the readings.
    """
    sessions = weeks.size
    since = weeks - weeks[0]
    begun = started.any(axis=1)
    on = started[begun].astype(np.float64)
    effect, open_ = scales.change[:, begun], scales.change_open[:, begun]
    mixed = min(len(on), mixed)
    plain = open_.copy()
    plain[:, : len(on) - mixed] += np.mean(EFFECT_VARIANCES) * effect[:, : len(on) - mixed]
    cov = (
        scales.between[:, None, None]
        + scales.drift[:, None, None] * np.minimum(since[:, None], since)
        + np.einsum("jc,cs,ct->jst", plain, on, on)
    )
    parts = part_combinations(mixed)
    late, late_effect = on[len(on) - mixed :], effect[:, len(on) - mixed :]
    level_cov = cov + np.einsum("pc,jc,cs,ct->pjst", parts, late_effect, late, late)

    read = np.flatnonzero(np.isfinite(noise[0]))
    apart = np.abs(np.subtract.outer(np.arange(read.size), np.arange(read.size)))
    days = scales.session[:, None, None] * scales.alike[:, None, None] ** apart
    own = level_cov[:, :, read[:, None], read] + days + noise[:, read, None] * np.eye(read.size)
    whiten = np.zeros_like(level_cov)
    log_size = np.zeros(level_cov.shape[:3])
    if read.size:
        inverse = np.linalg.inv(np.linalg.cholesky(own))
        whiten[:, :, read[:, None], read] = inverse
        log_size[:, :, read] = np.log(np.diagonal(inverse, axis1=2, axis2=3))
        log_size[:, :, read] -= 0.5 * np.log(2 * np.pi)
    regressor = np.tril(np.ones((sessions, sessions)))
    regressor[:, 0] = since
    turned = whiten @ regressor
    level_mean = scales.mean[:, None] + scales.change_mean[:, begun] @ on
    return Season(
        weeks=since,
        rate=scales.rate,
        jump=scales.jump,
        level_mean=level_mean,
        read_mean=level_mean if bias is None else level_mean + bias,
        level_cov=level_cov,
        whiten=whiten,
        turned=turned,
        told=np.cumsum(turned**2, axis=2),
        log_size=log_size,
        regressor=regressor,
    )


def judged(
    known: Season,
    means: Floats,
    looks: Sequence[Look],
    edges: Sequence[float] = (0.0,),
    given: int = 0,
) -> Posterior:
    """Return what session means (season, session) say at each look, draws mixed.

    Looks come in the order of their sessions. The draws of the scales count by what they make of
    the readings after the first ``given`` sessions: 0 for draws that have not seen this player,
    else as many as they have seen. A mean that was not read may be anything finite.
    """
    uptos = np.array([upto for upto, _ in looks], dtype=np.int64)
    moments = [_contrast(known, upto, contrast) for upto, contrast in looks]
    base, base_var, pull, reach = (np.stack(part) for part in zip(*moments, strict=True))
    chances = [_prior_and_shrinkage(known, int(upto)) for upto in (*uptos, given)]
    none, front, shrink = (np.stack(part) for part in zip(*chances, strict=True))
    return Posterior(
        *judge_looks(
            np.ascontiguousarray(means), known.read_mean, known.whiten, known.turned,
            known.log_size, uptos, given, base, base_var, pull, reach, none, front, shrink,
            np.asarray(edges, dtype=np.float64),
        )
    )  # fmt: skip


def _contrast(known: Season, upto: int, contrast: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Return mean, variance, response to whitened readings and to regressors, none unlogged."""
    covariance = known.level_cov @ contrast
    pull = np.zeros_like(covariance)
    block = known.whiten[:, :, :upto, :upto]
    pull[:, :, :upto] = np.einsum("cjst,cjt->cjs", block, covariance[:, :, :upto])
    variance = covariance @ contrast - np.sum(pull**2, axis=2)
    reach = contrast @ known.regressor - np.einsum("cjs,cjsx->cjx", pull, known.turned)
    return known.level_mean @ contrast, np.maximum(variance, 1e-12), pull, reach


def _prior_and_shrinkage(known: Season, upto: int) -> tuple[Floats, Floats, Floats]:
    """Return the chance of no unlogged change, and by (C, J, regressor, size) two factors.

    ``front`` times exp(r^2 shrink / 2) is a component's weight, ``shrink`` r the size's mean.
    """
    combinations, draws, sessions = known.log_size.shape
    front = np.zeros((combinations, draws, sessions, _SIZES.size))
    shrink = np.zeros_like(front)
    weeks = known.weeks[upto - 1] if upto else 0.0
    if not weeks > 0.0:
        return np.ones(draws), front, shrink
    none = np.exp(-known.rate * weeks)
    share = np.zeros(sessions)
    share[1:upto] = np.diff(known.weeks[:upto]) / weeks * (1 - STEADY)
    share[0] = STEADY
    size = known.jump[:, None, None] * _SIZES * np.ones((sessions, 1))
    size[:, 0] /= STEADY_WEEKS**2
    grown = 1 + size * known.told[:, :, upto - 1, :, None]
    shrink[:] = size / grown
    front[:] = (1 - none)[:, None, None] * (share / _SIZES.size)[:, None] / np.sqrt(grown)
    return none, front, shrink


def window_contrast(before: Indices, after: Indices, sessions: int) -> Floats:
    """Return the weights that turn levels into the tendency after less the tendency before."""
    weights = np.zeros(sessions)
    weights[before] -= 1 / before.size
    weights[after] += 1 / after.size
    return weights


@dataclass(frozen=True, slots=True, eq=False)
class Chances:
    """Chances of a change by season and look; ``sign`` is the likelier direction."""

    sign: Floats
    direction: Floats
    worthwhile: Floats
    no_worthwhile: Floats


def chance_edges(worthwhile: float) -> tuple[float, float, float]:
    """Return the edges that ``chances`` needs."""
    return 0.0, worthwhile, -worthwhile


def chances(above: Floats) -> Chances:
    """Return what a verdict asks for from the chances above ``chance_edges``, edges last."""
    up, large, small = np.moveaxis(above, -1, 0)
    rises = up >= 0.5
    return Chances(
        sign=np.where(rises, 1.0, -1.0),
        direction=np.where(rises, up, 1 - up),
        worthwhile=np.where(rises, large, 1 - small),
        no_worthwhile=small - large,
    )


def neighbouring_days(correlation: Floats, sessions: int, rng: np.random.Generator) -> Floats:
    """Return days' effects of SD 1, ``(season, session)``, one correlation a season."""
    day = rng.standard_normal((correlation.size, sessions))
    fresh = np.sqrt(1 - correlation**2)
    for s in range(1, sessions):
        day[:, s] = correlation * day[:, s - 1] + fresh * day[:, s]
    return day
