"""Each player's true tendency, behind session noise, shot scatter, reading error and gaps.

For player p, trait k, session s at week t, shot i, reading method m:

    level[p,k](t) = alpha[p,k] + random walk with SD drift[k] * sqrt(weeks)
                    + sum of change_effect[c,k] over logged changes started by t
    alpha[p,k]    ~ Normal(mu[k], spread[k])
    session mean  = level + u,            u ~ Normal(0, session_sd[k])
    shot          = session mean + e,     e ~ Normal(0, shot_sd[p,k]), correlated between traits
    reading       = shot + bias[m,k] + r, r ~ Normal(0, reading_sd[m,k])

Given the SDs, biases and change effects, everything else is linear and Gaussian, so baselines,
walks, session effects and shots are integrated out exactly: a scalar local-level filter a player
and trait over session means (``models.local_level``), and a chi-square likelihood for the scatter
within sessions. The cost of a gradient grows with sessions, not with shots.

A shot that missed the readable face is censored: it enters through the chance that the player's
scatter sends a strike that far.

Shot correlations enter through Fisher's z of the within-session correlations, freed of reading
error (Fisher 1921, Metron 1:3; Spearman 1904, Am. J. Psychol. 15:72), partially pooled with the
players' own values integrated out; session means of different traits are taken as independent.

``log_shot_sd`` is centred because a player's scatter is informed by dozens of shots; change
effects are not, because few players share a drill.
"""

from dataclasses import dataclass

import numpy as np
import pymc as pm
import pytensor.tensor as pt
from numpy.typing import NDArray

from models.squad_density import packed, squad_density_op
from models.traits import FACE_HALF_MM, Prior

Floats = NDArray[np.float64]
Indices = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class TendencyData:
    """Session summaries, already validated.

    P players, S sessions (a player's own order, padded at the end), K traits, M methods a trait,
    C logged changes, G names of changes, J pairs of traits.

    ``count``, ``mean`` (M, P, S, K): effective number of readings and their robust mean, 0 where
    there is none; ``scatter``, ``scatter_df`` (M, P, K): sum of squares within sessions and its
    degrees of freedom; ``reading_sd`` (M, K); ``gap`` (P, S): weeks since the player's previous
    session; ``week`` (P, S): weeks since the squad's first session, inf in padding.
    ``free_method``, ``free_trait``: the biases to learn, as index arrays of equal length.
    ``change_player``, ``change_name``, ``change_week`` (C,); ``effect_change``,
    ``effect_trait``, ``effect_group`` (E,): which change acts on which trait, and which of the
    (name, trait) groups ``group_name``, ``group_trait`` it belongs to.
    ``pair_z``, ``pair_variance`` (P, J): Fisher z of the correlation and its sampling variance,
    infinite where nothing is known. ``missed`` (P,) counts shots struck off the readable face,
    ``strike_mean`` (P, 2) is where the player's readable strikes lie, across and up, in mm.
    """

    players: tuple[str, ...]
    traits: tuple[str, ...]
    week: Floats
    gap: Floats
    count: Floats
    mean: Floats
    scatter: Floats
    scatter_df: Floats
    reading_sd: Floats
    free_method: Indices
    free_trait: Indices
    change_player: Indices
    change_week: Floats
    effect_change: Indices
    effect_trait: Indices
    effect_group: Indices
    group_trait: Indices
    pair_z: Floats
    pair_variance: Floats
    missed: Floats
    strike_mean: Floats


@dataclass(frozen=True, slots=True)
class Form:
    """Which of its assumptions the model makes.

    ``drift``: levels walk between sessions; ``days``: sessions have effects of their own;
    ``alike``: those effects resemble the neighbouring sessions'.
    """

    drift: bool = True
    days: bool = True
    alike: bool = False

    def __post_init__(self) -> None:
        if self.alike and not self.days:
            msg = "days cannot be alike in a model without days' effects: set days, or drop alike"
            raise ValueError(msg)


USUAL = Form()


@dataclass(frozen=True, eq=False)
class TendencyPriors:
    """Prior scales by trait, shape ``(trait,)``, each in the trait's unit."""

    mean: Floats
    mean_sd: Floats
    between_scale: Floats
    shot_sd: Floats
    log_shot_sd_spread: Floats
    session_scale: Floats
    drift_scale: Floats
    change_scale: Floats
    bias_scale: Floats

    @classmethod
    def from_table(cls, rows: tuple[Prior, ...]) -> "TendencyPriors":
        """Stack the priors of several traits."""
        return cls(
            mean=np.array([r.mean for r in rows]),
            mean_sd=np.array([r.mean_sd for r in rows]),
            between_scale=np.array([r.between_scale for r in rows]),
            shot_sd=np.array([r.shot_sd for r in rows]),
            log_shot_sd_spread=np.array([r.log_shot_sd_spread for r in rows]),
            session_scale=np.array([r.session_scale for r in rows]),
            drift_scale=np.array([r.drift_scale for r in rows]),
            change_scale=np.array([r.change_scale for r in rows]),
            bias_scale=np.array([r.bias_scale for r in rows]),
        )


LOG_SHOT_SD_MEAN_SD = 0.5
"""Prior SD of the squad's mean log shot SD around the trait table's value."""

LOG_SPREAD_SD = 0.5
"""Prior SD of the log of how far players differ in log shot SD. It keeps away from 0: players do
differ, and with few players a spread near 0 is a funnel that no step size fits."""

STRIKES = ("strike_toe_mm", "strike_up_mm")
LEAST_CHANCE = 1e-6
"""Chance of a miss that no scatter explains, such as a mistaken entry."""

UNKNOWN_VARIANCE = 1e12
"""Stands for the variance of a correlation that nothing is known of."""

ALIKE_PRIOR = (1.5, 3.0)
"""Beta prior of the correlation of neighbouring days: mean .33, nine in ten below .68."""

PAIR_MEAN_SD = 0.4
PAIR_SPREAD_SCALE = 0.25
"""Prior scales of the squad's mean Fisher z of two traits and of its spread between players."""


def build_tendency_model(
    data: TendencyData, priors: TendencyPriors, form: Form = USUAL
) -> pm.Model:
    """Return the unsampled model; it reads nothing but its arguments."""
    none = pt.zeros(len(data.traits))
    coords = {
        "player": list(data.players),
        "trait": list(data.traits),
        "free_method": np.arange(len(data.free_method)),
        "logged_effect": np.arange(len(data.effect_change)),
        "effect_group": np.arange(len(data.group_trait)),
        "pair": np.arange(data.pair_z.shape[1]),
    }
    with pm.Model(coords=coords) as model:
        mu = pm.Normal("mu", priors.mean, priors.mean_sd, dims="trait")
        spread = pm.HalfNormal("spread", priors.between_scale, dims="trait")
        drift = session_sd = alike = none
        if form.drift:
            drift = pm.HalfNormal("drift", priors.drift_scale, dims="trait")
        if form.days:
            session_sd = pm.HalfNormal("session_sd", priors.session_scale, dims="trait")
        if form.alike:
            alike = pm.Beta("day_alike", *ALIKE_PRIOR, dims="trait")
        log_shot_mean = pm.Normal(
            "log_shot_mean", np.log(priors.shot_sd), LOG_SHOT_SD_MEAN_SD, dims="trait"
        )
        log_shot_spread = pm.LogNormal(
            "log_shot_spread", np.log(priors.log_shot_sd_spread), LOG_SPREAD_SD, dims="trait"
        )
        log_shot_sd = pm.Normal(
            "log_shot_sd", log_shot_mean, log_shot_spread, dims=("player", "trait")
        )

        free = effect_raw = centre = tau = pair_mean = pair_spread = pt.zeros(0)
        if len(data.free_method):
            free = pm.Normal("free_bias", 0, priors.bias_scale[data.free_trait], dims="free_method")
        if len(data.effect_change):
            scale = priors.change_scale[data.group_trait]
            centre = pm.Normal("group_effect", 0, scale, dims="effect_group")
            tau = pm.HalfNormal("group_spread", 0.5 * scale, dims="effect_group")
            effect_raw = pm.Normal("effect_raw", dims="logged_effect")
            effect = centre[data.effect_group] + tau[data.effect_group] * effect_raw
            pm.Deterministic("effect", effect, dims="logged_effect")
        if data.pair_z.shape[1]:
            pair_mean = pm.Normal("pair_mean", 0, PAIR_MEAN_SD, dims="pair")
            pair_spread = pm.HalfNormal("pair_spread", PAIR_SPREAD_SCALE, dims="pair")
        found = squad_density_op(
            mu,
            spread,
            drift,
            session_sd,
            log_shot_sd,
            free,
            centre,
            tau,
            effect_raw,
            alike,
            pair_mean,
            pair_spread,
            pm.Data("summaries", packed_data(data)),
        )
        pm.Potential("session_summaries", found[0])
    return model


def effect_started(data: TendencyData) -> Floats:
    """Return 1 where a change's effect is on in its player's session, (effect, session)."""
    owner = data.change_player[data.effect_change]
    begun = data.week[owner] >= data.change_week[data.effect_change][:, None]
    return begun.astype(np.float64)


def packed_data(data: TendencyData) -> Floats:
    """Return the model's one data variable, ``summaries``; a compiled model takes another one."""
    known = np.isfinite(data.pair_variance)
    there = set(STRIKES) <= set(data.traits)
    return packed(
        count=data.count,
        mean=data.mean,
        scatter=data.scatter,
        scatter_df=data.scatter_df,
        reading_sd=data.reading_sd,
        gap=data.gap,
        started=effect_started(data),
        by_effect=[data.change_player[data.effect_change], data.effect_trait, data.effect_group],
        free=[data.free_method, data.free_trait],
        pair_z=np.where(known, data.pair_z, 0),
        pair_variance=np.where(known, data.pair_variance, UNKNOWN_VARIANCE),
        missed=data.missed if there else np.zeros(len(data.players)),
        strike_mean=data.strike_mean,
        face=[*(data.traits.index(s) if there else 0 for s in STRIKES), *FACE_HALF_MM],
        least_chance=LEAST_CHANCE,
    )
