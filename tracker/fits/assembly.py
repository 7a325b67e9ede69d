"""How draws of each trait's parameters become a fit: levels, correlations, effects by name."""

from collections.abc import Mapping, Sequence

import numpy as np

from models.arrays import Floats
from models.tendency.correlation import draw_correlations, pair_draws
from models.tendency.data import TendencyData, TraitSeries
from models.tendency.likelihood import EFFECT_VARIANCES
from models.tendency.smoother import Smoothed
from tracker.fit_info import FitInfo
from tracker.fits.dataset import SquadData
from tracker.posterior import Fit

SCALES = (
    "mu", "spread", "drift", "session_sd", "day_alike", "jump_sd", "jump_chance", "effect_sd",
    "drill_scale",
)  # fmt: skip
"""What a fit keeps of a trait's parameters, (sample, trait)."""


def assembled(
    squad: SquadData,
    series: Sequence[TraitSeries],
    draws: Sequence[Mapping[str, Floats]],
    smooth: Sequence[Smoothed],
    info: FitInfo,
    seed: int,
) -> Fit:
    """Return the stored form of the draws of every trait, in the order of the squad's traits.

    ``draws`` hold ``models.tendency.density.NAMES`` and ``drill_scale``, and where there are any
    ``bias`` and ``group_effect``; ``smooth`` is what was hidden behind each trait's readings.
    """
    model = squad.model
    rng = np.random.default_rng([seed, 1])
    samples = len(draws[0]["mu"])
    players, sessions, traits = (len(model.players), model.week.shape[1], len(model.traits))
    arrays = {name: np.stack([d[name] for d in draws], axis=1) for name in SCALES}
    level = np.zeros((samples, players, sessions, traits), dtype=np.float32)
    shot_sd = np.zeros((samples, players, traits))
    bias = np.zeros((samples, *model.reading_sd.shape))
    jump_at = np.full((samples, players, traits), -1, dtype=np.int16)
    jump = np.zeros((samples, players, traits), dtype=np.float32)
    change_effect = np.zeros((samples, len(squad.changes), traits))
    drill_effect = np.zeros((samples, len(squad.change_names), traits))
    affects = np.zeros((len(squad.changes), traits), dtype=np.bool_)
    owner, place = np.nonzero(np.isfinite(model.week))
    for k, (one, own, hidden) in enumerate(zip(series, draws, smooth, strict=True)):
        level[:, owner, place, k] = hidden.level
        shot_sd[:, :, k] = hidden.shot_sd
        jump_at[:, :, k], jump[:, :, k] = hidden.jump_at, hidden.jump
        if "bias" in own:
            bias[:, 1 : 1 + own["bias"].shape[1], k] = own["bias"]
        mean = _group_means(squad, k, one, own, rng)
        for g, values in mean.items():
            drill_effect[:, squad.group_name[g], k] = values
        for e in np.flatnonzero(model.effect_trait == k):
            c, g = int(model.effect_change[e]), int(model.effect_group[e])
            affects[c, k] = True
            known = np.flatnonzero(one.effect == e)
            if known.size:
                change_effect[:, c, k] = hidden.effect[:, known[0]]
            else:
                change_effect[:, c, k] = mean[g] + _answers(own["effect_sd"], rng)
    correlations = draw_correlations(
        *pair_draws(model.pair_z, model.pair_variance, samples, rng),
        model.pair_z,
        model.pair_variance,
        traits,
        rng,
    )
    return Fit(
        info=info,
        players=squad.players,
        traits=model.traits,
        methods=squad.methods,
        changes=squad.changes,
        drills=squad.change_names,
        session_start=squad.session_start,
        counts=squad.readings,
        raw_mean=squad.raw_mean,
        raw_se=squad.raw_se,
        level=level,
        shot_sd=shot_sd,
        corr=correlations,
        bias=bias,
        reading_sd=model.reading_sd,
        change_effect=change_effect,
        drill_effect=drill_effect,
        affects=affects,
        jump_at=jump_at,
        jump=jump,
        mu=arrays["mu"],
        spread=arrays["spread"],
        drift=arrays["drift"],
        session_sd=arrays["session_sd"],
        day_alike=arrays["day_alike"],
        jump_sd=arrays["jump_sd"],
        jump_chance=arrays["jump_chance"],
        effect_sd=arrays["effect_sd"],
        drill_scale=arrays["drill_scale"],
    )


def _answers(effect_sd: Floats, rng: np.random.Generator) -> Floats:
    """Return what a change that no reading speaks of does to a player about its drill's mean."""
    part = rng.choice(np.array(EFFECT_VARIANCES), effect_sd.size)
    return np.asarray(effect_sd * np.sqrt(part) * rng.standard_normal(effect_sd.size))


def _group_means(
    squad: SquadData,
    k: int,
    series: TraitSeries,
    draws: Mapping[str, Floats],
    rng: np.random.Generator,
) -> dict[int, Floats]:
    """Return the mean effect of each of a trait's groups; of one without readings, as if new."""
    model: TendencyData = squad.model
    known = {int(g): i for i, g in enumerate(series.groups)}
    found = {}
    for g in np.flatnonzero(model.group_trait == k):
        if int(g) in known:
            found[int(g)] = draws["group_effect"][:, known[int(g)]]
        else:
            found[int(g)] = draws["drill_scale"] * rng.standard_normal(len(draws["mu"]))
    return found
