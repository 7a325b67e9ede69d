"""The tendency model of one trait, sampled without compiling: for thousands of seasons.

The posterior is that of ``models.tendency`` under the priors of the trait table, with levels,
session effects and change effects integrated out by dense normal algebra and two short cuts:
players' shot SDs come from an empirical-Bayes step instead of joint sampling, and the rest is
sampled by adaptive random-walk Metropolis (Haario, Saksman & Tamminen 2001, Bernoulli 7:223). How
near it comes to full fits is measured in the evidence run.
"""

from dataclasses import dataclass
from datetime import datetime

import numba
import numpy as np
from numpy.typing import NDArray

from models.sampler_report import SamplerReport
from models.traits import TRAITS
from tests.evidence.seasons import TRAIT, Squad
from tracker.dataset import SquadData, squad_data
from tracker.posterior import Fit, FitInfo

Floats = NDArray[np.float64]

FIXED = 5
"""mu, log spread, log drift, log session SD, bias; then centre and log spread of each drill."""
KEPT = 160


@dataclass(frozen=True, eq=False)
class QuickFit:
    """The draws as a fit without levels, and where the sampler stood."""

    fit: Fit
    point: Floats
    covariance: Floats
    accepted: float


@numba.njit(cache=True, nogil=True)
def _log_posterior(x, prior, week, mean, noise, share, on, sessions):
    """Log posterior density of the transformed parameters; priors as in models.tendency."""
    mu, spread, drift = x[0], np.exp(x[1]), np.exp(x[2])
    session, bias = np.exp(x[3]), x[4]
    drills = on.shape[0]
    # prior: mean, mean SD, between, session, drift, bias scales, change scale
    total = -0.5 * ((mu - prior[0]) / prior[1]) ** 2 - 0.5 * (bias / prior[5]) ** 2
    total += x[1] - 0.5 * (spread / prior[2]) ** 2
    total += x[3] - 0.5 * (session / prior[3]) ** 2
    total += x[2] - 0.5 * (drift / prior[4]) ** 2
    for g in range(drills):
        centre, tau = x[5 + 2 * g], np.exp(x[6 + 2 * g])
        total -= 0.5 * (centre / prior[6]) ** 2
        total += x[6 + 2 * g] - 0.5 * (tau / (0.5 * prior[6])) ** 2
    most = week.shape[1]
    chol = np.empty((most, most))
    z = np.empty(most)
    for p in range(week.shape[0]):
        for s in range(sessions[p]):
            e = mean[p, s] - mu - bias * share[p, s]
            for g in range(drills):
                e -= x[5 + 2 * g] * on[g, p, s]
            for t in range(s + 1):
                value = spread**2 + drift**2 * min(week[p, s], week[p, t])
                for g in range(drills):
                    value += np.exp(2 * x[6 + 2 * g]) * on[g, p, s] * on[g, p, t]
                if s == t:
                    value += session**2 + noise[p, s]
                for r in range(t):
                    value -= chol[s, r] * chol[t, r]
                if s == t:
                    chol[s, s] = np.sqrt(value)
                else:
                    chol[s, t] = value / chol[t, t]
                    e -= chol[s, t] * z[t]
            z[s] = e / chol[s, s]
            total -= np.log(chol[s, s]) + 0.5 * z[s] ** 2
    return total


@numba.njit(cache=True, nogil=True)
def _walk(x, root, steps, normal, uniform, prior, week, mean, noise, share, on, sessions):
    """Return the visited points and how many steps were accepted."""
    visited = np.empty((steps, x.size))
    here = _log_posterior(x, prior, week, mean, noise, share, on, sessions)
    accepted = 0
    for i in range(steps):
        there = x + root @ normal[i]
        found = _log_posterior(there, prior, week, mean, noise, share, on, sessions)
        if np.log(uniform[i]) < found - here:
            x, here = there, found
            accepted += 1
        visited[i] = x
    return visited, accepted


def quick_fit(
    squad: Squad, look: int, seed: int, before: QuickFit | None = None, steps: int = 3000
) -> QuickFit:
    """Return the fit of everybody's first sessions; ``before``, an earlier look, warms it up."""
    data = squad_data(squad.upto(look), squad.changes, traits=(TRAIT,), references=("photo",))
    rng = np.random.default_rng([seed, look])
    model, row = data.model, TRAITS[TRAIT].prior
    assert row is not None
    count, mean = model.count[..., 0], model.mean[..., 0]
    sessions = (count.sum(axis=0) > 0).sum(axis=1)
    shot_mean, shot_sd = _shot_sds(data)
    shot_draws = np.exp(shot_mean + shot_sd * rng.standard_normal((KEPT, shot_mean.size)))
    one = np.exp(2 * shot_mean) + model.reading_sd**2
    weight = count / one[:, :, None]
    total = np.maximum(weight.sum(axis=0), 1e-12)
    week = np.where(np.isfinite(model.week), model.week - model.week[:, :1], 0.0)
    methods = count.shape[0]
    on = _drills_on(data, week.shape)
    arrays = (
        np.array(
            [row.mean, row.mean_sd, row.between_scale, row.session_scale, row.drift_scale,
             row.bias_scale, row.change_scale]
        ),
        week,
        (weight * mean).sum(axis=0) / total,
        1 / total,
        weight[1] / total if methods > 1 else np.zeros(week.shape),
        on,
        sessions,
    )  # fmt: skip
    size = FIXED + 2 * len(on)
    if before is not None and before.point.size == size:
        x, cov, rounds = before.point, before.covariance, (600, steps)
    else:
        x = np.zeros(size)
        x[1:4] = np.log([row.between_scale, 0.5 * row.drift_scale, 0.8 * row.session_scale])
        x[6::2] = np.log(0.25 * row.change_scale)
        cov, rounds = np.diag(np.full(size, 0.1)), (1500, 1500, 2500, steps)
    visited, accepted = np.empty((0, size)), 0
    for number in rounds:
        root = np.linalg.cholesky(cov * (2.38**2 / size) + 1e-8 * np.eye(size))
        normal, uniform = rng.standard_normal((number, size)), rng.random(number)
        visited, accepted = _walk(x, root, number, normal, uniform, *arrays)
        x = visited[-1]
        fresh = np.cov(visited[number // 3 :].T)
        cov = fresh if accepted > 0.02 * number else 0.1 * cov
    kept = visited[np.linspace(0, len(visited) - 1, KEPT).astype(int)]
    fit = _as_fit(data, kept, shot_draws, seed)
    return QuickFit(fit, x, cov, accepted / len(visited))


def _shot_sds(data: SquadData) -> tuple[Floats, Floats]:
    """Return posterior mean and SD of each player's log shot SD, partially pooled."""
    model, prior = data.model, TRAITS[TRAIT].prior
    assert prior is not None
    df = model.scatter_df[..., 0].sum(axis=0)
    read = (model.scatter_df[..., 0] * model.reading_sd**2).sum(axis=0) / np.maximum(df, 1)
    seen = model.scatter[..., 0].sum(axis=0) / np.maximum(df, 1)
    shot = np.maximum(seen - read, 0.2 * seen)
    log_sd, error2 = 0.5 * np.log(shot), (seen / shot) ** 2 / (2 * df)
    centre = np.average(log_sd, weights=1 / (error2 + prior.log_shot_sd_spread**2))
    spread2 = max(np.mean((log_sd - centre) ** 2 - error2), 0.1**2)
    weight = spread2 / (spread2 + error2)
    return centre + weight * (log_sd - centre), np.sqrt(weight * error2)


def _drills_on(data: SquadData, shape: tuple[int, ...]) -> Floats:
    model = data.model
    on = np.zeros((len(model.group_trait), *shape))
    for c, k, g in zip(model.effect_change, model.effect_trait, model.effect_group, strict=True):
        assert k == 0
        p = model.change_player[c]
        on[g, p] += model.week[p] >= model.change_week[c]
    return on


def _as_fit(data: SquadData, x: Floats, shot_sd: Floats, seed: int) -> Fit:
    model = data.model
    samples, methods = len(x), len(model.count)
    _, players, sessions, _ = model.count.shape
    bias = np.zeros((samples, methods, 1))
    if methods > 1:
        bias[:, 1, 0] = x[:, 4]
    drills = len(model.group_trait)
    order = np.asarray(data.group_name)
    effect, spread = np.zeros((samples, drills, 1)), np.zeros((samples, drills, 1))
    for g in range(drills):
        effect[:, order[g], 0] = x[:, 5 + 2 * g]
        spread[:, order[g], 0] = np.exp(x[:, 6 + 2 * g])
    affects = np.zeros((len(data.changes), 1), dtype=bool)
    affects[model.effect_change, 0] = True
    return Fit(
        info=FitInfo(0, datetime(2026, 1, 1), "", seed, 0.0, SamplerReport(0, 1.0, 1000.0), {}),
        players=data.players,
        traits=model.traits,
        methods=data.methods,
        changes=data.changes,
        drills=data.change_names,
        session_start=data.session_start,
        counts=data.readings,
        raw_mean=data.raw_mean,
        raw_se=data.raw_se,
        level=np.zeros((samples, players, sessions, 1), dtype=np.float32),
        mu=x[:, [0]],
        spread=np.exp(x[:, [1]]),
        drift=np.exp(x[:, [2]]),
        session_sd=np.exp(x[:, [3]]),
        shot_sd=shot_sd[:, :, None],
        corr=np.ones((samples, players, 1, 1), dtype=np.float32),
        bias=bias,
        reading_sd=model.reading_sd,
        change_effect=np.zeros((samples, len(data.changes), 1)),
        drill_effect=effect,
        drill_spread=spread,
        affects=affects,
    )
