"""Each player's true tendency in one trait: what is assumed, and the same in PyMC.

``build_tendency_model`` writes the model out plainly, with dense normal distributions. Fits are
sampled from ``models.tendency.density``, the same posterior compiled by hand, because it needs
neither PyMC nor a matrix; tests hold the two together. Every trait is a posterior of its own: given
their parameters traits share nothing here, and how one shot's traits go together is
``models.tendency.correlation``, fitted on its own.

Levels. Player p has sessions s = 0 .. S - 1 at weeks t_s, T = t_{S-1} - t_0. The level is

    level[p,s] = baseline[p] + walk[p,s] + logged changes begun by s + unlogged change
    baseline[p]               ~ Normal(mu, spread^2)
    walk[p,s] - walk[p,s-1]   ~ Normal(0, drift^2 (t_s - t_{s-1})),   walk[p,0] = 0

Logged changes. Change c of player p, an instance of drill g (drill, equipment or set-up by name),
moves the level from the player's first session on or after its start, for good:

    effect[c] ~ Normal(D[g], effect_sd^2 v),   v one of EFFECT_VARIANCES, equally likely
    D[g]      ~ Normal(0, drill_scale^2)

``drill_scale`` is shared by the drills of the trait, so that a drill that nobody has tried has a
predictive effect. Of more than MIXED changes of one player the earlier ones are normal with the
mean of the variances. Changes after a player's last session are not in the likelihood.

Unlogged change. Each player has at most one that nobody logged:

    none with probability exp(-rate T),   rate = -log(1 - jump_chance) / 26 weeks; else
    steady, probability STEADY:   level[p,s] += b (t_s - t_0),   b ~ Normal(0, J^2 / STEADY_WEEKS^2)
    a jump, the rest:   level[p,s] += h for all s >= r,   h ~ Normal(0, J^2)
        before session r = 1 .. S - 1 with probability (t_r - t_{r-1}) / T
    J^2 = jump_sd^2 v,   v one of JUMP_VARIANCES, equally likely

``jump_chance`` is thus the chance of such a change within half a year.

Sessions. Every day has an effect that more shots do not average out (warm-up, fatigue, set-up of a
device). Over the sessions i = 0, 1, .. in which the trait was read it is a stationary first-order
autoregression:

    day[p,0] ~ Normal(0, session_sd^2)
    day[p,i] ~ Normal(day_alike day[p,i-1], session_sd^2 (1 - day_alike^2))

Shots and readings. Shot j of session s, read by method m:

    shot    ~ Normal(level[p,s] + day[p,s], shot_sd[p]^2)
    reading ~ Normal(shot + bias[m], reading_sd[m]^2)
    log shot_sd[p] ~ Normal(log_shot_mean, log_shot_spread^2)

The first method has no bias: levels are in its terms. ``reading_sd`` is given, not learned, and
contains the rounding of the device. Readings are summarised beforehand (robustly: gross misreads
weigh little): per session and method an effective ``count`` n and a ``mean``, per player and method
the sum of squares within sessions ``scatter`` with ``scatter_df`` degrees of freedom, so that

    mean[s,m]    ~ Normal(level + day + bias[m], (shot_sd^2 + reading_sd[m]^2) / n)
    scatter[p,m] ~ (shot_sd^2 + reading_sd[m]^2) chi^2(scatter_df)

Readings of one shot by two methods count as two shots. Missing readings are absent and tell
nothing. A shot that missed the readable face is censored: for the two traits of strike each one of
``missed`` shots multiplies the likelihood by

    1 - F((half - centre) / shot_sd, (-half - centre) / shot_sd) other_inside + LEAST_CHANCE

where F is the probability between two points of a Student t of 5 degrees of freedom scaled to SD 1,
``centre`` is where the player's readable strikes lie, and ``other_inside`` is the same probability
in the other direction at its own scatter: the one thing that two traits share, taken as known.

Priors. Scales come from the trait's row of ``models.traits`` (sources there; the model takes them
as weak), the rest from named constants, each an estimate with no source unless its own docstring
names one:

    mu               Normal(prior.mean, prior.mean_sd^2)
    spread           HalfNormal(prior.between_scale)
    drift            HalfNormal(prior.drift_scale), per root of a week: .03 of the shot SD
    session_sd       HalfNormal(prior.session_scale): .4 of the shot SD
    day_alike        Beta(ALIKE_PRIOR)
    log_shot_mean    Normal(log prior.shot_sd, LOG_SHOT_SD_MEAN_SD^2)
    log_shot_spread  LogNormal(log prior.log_shot_sd_spread, LOG_SPREAD_SD^2)
    bias[m]          Normal(0, prior.bias_scale^2)
    effect_sd        HalfNormal(EFFECT_SD_OF_CHANGE prior.change_scale)
    drill_scale      LogNormal(log(DRILL_SCALE_OF_CHANGE prior.change_scale), LOG_DRILL_SCALE^2)
    jump_sd          LogNormal(log(JUMP_SD_OF_CHANGE prior.change_scale), LOG_JUMP_SD^2)
    jump_chance      Beta(JUMP_CHANCE_PRIOR)

What the data cannot speak of is not sampled: where no player has two sessions with readings there
is no drift, unlogged change or likeness of days; without logged changes there are no drills.
On which scale a parameter is sampled (log, or an SD as the size of a normal) belongs to
``models.tendency.density`` and changes nothing here.

What is integrated out, and how. Baselines, walks, days and effects, given which part of each
mixture holds: exactly, here by one dense normal a combination, in the compiled density by a Kalman
filter whose single sweep back gives every place of a jump (``models.tendency.jump_filter``). The
parts, the kind of unlogged change and its place: exactly, by a sum. ``log shot_sd``: sampled here;
in the compiled density integrated by adaptive Gauss-Hermite quadrature
(``models.tendency.likelihood``, which states the error). All of them are drawn afterwards by
``models.tendency.smoother``.
"""

import itertools
from typing import Any

import numpy as np
import pymc as pm
import pytensor.tensor as pt

from models.tendency.data import TraitSeries
from models.tendency.density import (
    ALIKE_PRIOR,
    DRILL_SCALE_OF_CHANGE,
    EFFECT_SD_OF_CHANGE,
    HALF_YEAR_WEEKS,
    JUMP_CHANCE_PRIOR,
    JUMP_SD_OF_CHANGE,
    LOG_DRILL_SCALE,
    LOG_JUMP_SD,
    LOG_SHOT_SD_MEAN_SD,
    LOG_SPREAD_SD,
)
from models.tendency.jump_filter import JUMP_VARIANCES, STEADY, STEADY_WEEKS
from models.tendency.likelihood import EFFECT_VARIANCES, LEAST_CHANCE, MIXED
from models.traits import Prior


def build_tendency_model(series: TraitSeries, prior: Prior) -> pm.Model:
    """Return the unsampled model of one trait; it reads nothing but its arguments.

    Dimensions: ``player``; ``method``, those with a bias; ``group`` of changes by name.
    """
    players, methods = series.scatter.shape
    change = prior.change_scale
    coords = {
        "player": np.arange(players),
        "method": np.arange(1, methods),
        "group": series.groups,
    }
    with pm.Model(coords=coords) as model:
        mu = pm.Normal("mu", prior.mean, prior.mean_sd)
        spread = pm.HalfNormal("spread", prior.between_scale)
        session_sd = pm.HalfNormal("session_sd", prior.session_scale)
        drift = day_alike = jump_sd = jump_chance = 0.0
        if series.moving:
            drift = pm.HalfNormal("drift", prior.drift_scale)
            day_alike = pm.Beta("day_alike", *ALIKE_PRIOR)
            jump_sd = pm.LogNormal("jump_sd", np.log(JUMP_SD_OF_CHANGE * change), LOG_JUMP_SD)
            jump_chance = pm.Beta("jump_chance", *JUMP_CHANCE_PRIOR)
        bias = pt.zeros(1)
        if methods > 1:
            free = pm.Normal("bias", 0, prior.bias_scale, dims="method")
            bias = pt.concatenate([bias, free])
        effect_sd, group_effect = 0.0, pt.zeros(0)
        if series.groups.size:
            effect_sd = pm.HalfNormal("effect_sd", EFFECT_SD_OF_CHANGE * change)
            middle = np.log(DRILL_SCALE_OF_CHANGE * change)
            drill_scale = pm.LogNormal("drill_scale", middle, LOG_DRILL_SCALE)
            drill = pm.Normal("drill_raw", dims="group")
            group_effect = pm.Deterministic("group_effect", drill_scale * drill, dims="group")

        log_shot_mean = pm.Normal("log_shot_mean", np.log(prior.shot_sd), LOG_SHOT_SD_MEAN_SD)
        log_shot_spread = pm.LogNormal(
            "log_shot_spread", np.log(prior.log_shot_sd_spread), LOG_SPREAD_SD
        )
        log_shot_sd = pm.Normal("log_shot_sd", log_shot_mean, log_shot_spread, dims="player")
        reading_var = pt.exp(2 * log_shot_sd)[:, None] + series.reading2

        known = np.nonzero(series.scatter_df > 0)
        if known[0].size:
            half_df, observed = series.scatter_df[known] / 2, series.scatter[known]
            pm.Gamma("scatter", alpha=half_df, beta=0.5 / reading_var[known], observed=observed)
        if series.missed.any():
            pm.Potential("missed", _missed_logp(series, pt.exp(log_shot_sd)))
        for p in range(players):
            one = _Sessions(series, p)
            if one.value.size:
                covariance = (
                    spread**2
                    + drift**2 * one.weeks_shared
                    + session_sd**2 * day_alike**one.days_apart
                    + pt.diag(reading_var[p, one.method] / one.count)
                )
                changed = effect_sd**2 * one.logged[:, None] + jump_sd**2 * one.unlogged
                means = pm.MvNormal.dist(
                    mu + bias[one.method] + one.started @ group_effect[one.group],
                    covariance + changed,
                )
                given = pm.logp(means, np.broadcast_to(one.value, (*one.parts, one.value.size)))
                pm.Potential(f"sessions_{p}", pt.logsumexp(given + one.log_chance(jump_chance)))
    return model


class _Sessions:
    """One player's session means, one entry a session and method, and how they can have changed.

    ``logged`` (part, 1, entry, entry): covariance that logged changes bring in each combination of
    their parts, in units of effect_sd^2; ``unlogged`` (change, entry, entry): the same of each
    unlogged change that can be, none first, in units of jump_sd^2.
    """

    def __init__(self, series: TraitSeries, p: int) -> None:
        mine = slice(series.first[p], series.first[p + 1])
        own = slice(series.change_first[p], series.change_first[p + 1])
        count, gap = series.count[mine], series.gap[mine]
        weeks = np.cumsum(gap) - gap[:1].sum()
        session, self.method = np.nonzero(count > 0)
        self.count, self.value = count[session, self.method], series.mean[mine][count > 0]
        self.weeks_shared = np.minimum.outer(weeks[session], weeks[session])
        order = np.unique(session, return_inverse=True)[1]
        self.days_apart = np.abs(np.subtract.outer(order, order))

        self.group = series.change_group[own]
        self.started = (session[:, None] >= series.change_at[own]).astype(float)
        mixed = min(self.group.size, MIXED)
        early = [float(np.mean(EFFECT_VARIANCES))] * (self.group.size - mixed)
        parts = [[*early, *v] for v in itertools.product(EFFECT_VARIANCES, repeat=mixed)]
        self.logged = np.einsum(
            "ic,pc,jc->pij", self.started, np.reshape(parts, (len(parts), -1)), self.started
        )

        self.span = weeks[-1] if weeks.size else 0.0
        shapes, shares = [np.zeros(session.size)], [1.0]
        if self.span > 0 and series.moving:
            steady = weeks[session] / STEADY_WEEKS
            jumps = [(session >= r).astype(float) for r in range(1, weeks.size)]
            chances = [STEADY, *((1 - STEADY) * gap[1:] / self.span)]
            for shape, chance in zip([steady, *jumps], chances, strict=True):
                if chance > 0:
                    shapes += [np.sqrt(v) * shape for v in JUMP_VARIANCES]
                    shares += [chance / len(JUMP_VARIANCES)] * len(JUMP_VARIANCES)
        self.unlogged = np.einsum("ui,uj->uij", shapes, shapes)
        self.shares = np.array(shares)
        self.parts = len(parts), len(shares)

    def log_chance(self, jump_chance: Any) -> Any:
        """Return the log chance of each part and unlogged change, (1, change)."""
        even = -np.log(self.parts[0])
        if self.shares.size == 1:
            return np.full((1, 1), even)
        none = pt.log1p(-jump_chance) * self.span / HALF_YEAR_WEEKS
        some = pt.log(-pt.expm1(none)) + np.log(self.shares[1:])
        return even + pt.concatenate([none[None], some])[None]


def _missed_logp(series: TraitSeries, shot_sd: Any) -> Any:
    """Return the log chance of the shots that missed the readable face."""
    t5 = pm.StudentT.dist(nu=5, mu=series.centre, sigma=shot_sd * np.sqrt(0.6))
    upper, lower = (pt.exp(pm.logcdf(t5, side * series.half)) for side in (1, -1))
    chance = 1 - (upper - lower) * series.other_inside + LEAST_CHANCE
    return (series.missed * pt.log(chance)).sum()
