"""How parameter draws become a fit: hidden levels, correlations and change effects by name."""

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from models.smoother import draw_correlations, smooth_levels
from models.tendency import effect_started
from tracker.dataset import SquadData
from tracker.posterior import Fit, FitInfo

Floats = NDArray[np.float64]


def completed(squad: SquadData, draws: Mapping[str, Floats]) -> dict[str, Floats]:
    """Return draws with what the model does not sample: known biases, and 0 for what is left out.

    Adds ``bias`` (sample, method, trait) and, where they are absent, ``drift``, ``session_sd``
    (sample, trait) and ``effect`` (sample, 0).
    """
    model = squad.model
    samples, traits = draws["mu"].shape
    none = np.zeros((samples, traits))
    bias = np.zeros((samples, *model.reading_sd.shape))
    if len(model.free_method):
        bias[:, model.free_method, model.free_trait] = draws["free_bias"]
    absent = {"drift": none, "session_sd": none, "effect": np.zeros((samples, 0))}
    return {**absent, **draws, "bias": bias}


def steps(squad: SquadData, draws: Mapping[str, Floats]) -> Floats:
    """Return the summed effects of logged changes, (sample, player, session, trait)."""
    model = squad.model
    step = np.zeros((len(draws["mu"]), *model.count.shape[1:]))
    started = effect_started(model)
    for e, (c, k) in enumerate(zip(model.effect_change, model.effect_trait, strict=True)):
        step[:, model.change_player[c], :, k] += draws["effect"][:, e][:, None] * started[e]
    return step


def assembled(squad: SquadData, draws: dict[str, Floats], info: FitInfo, seed: int) -> Fit:
    """Return the stored form: levels, correlations and change effects by name.

    ``draws`` holds the sampled parameters of ``models.tendency`` by name, draws first; what the
    model's form leaves out is absent.
    """
    model = squad.model
    rng = np.random.default_rng([seed, 1])
    draws = completed(squad, draws)
    samples, traits = draws["mu"].shape
    change_effect = np.zeros((samples, len(squad.changes), traits))
    affects = np.zeros((len(squad.changes), traits), dtype=np.bool_)
    for e, (c, k) in enumerate(zip(model.effect_change, model.effect_trait, strict=True)):
        change_effect[:, c, k] = draws["effect"][:, e]
        affects[c, k] = True
    drill_effect = np.zeros((samples, len(squad.change_names), traits))
    drill_spread = np.zeros_like(drill_effect)
    for g, (name, k) in enumerate(zip(squad.group_name, model.group_trait, strict=True)):
        drill_effect[:, name, k] = draws["group_effect"][:, g]
        drill_spread[:, name, k] = draws["group_spread"][:, g]
    level = smooth_levels(
        draws,
        count=model.count,
        mean=model.mean,
        gap=model.gap,
        reading_sd=model.reading_sd,
        step=steps(squad, draws),
        rng=rng,
    )
    no_pairs = np.zeros((samples, 0))
    corr = draw_correlations(
        draws.get("pair_mean", no_pairs),
        draws.get("pair_spread", no_pairs),
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
        mu=draws["mu"],
        spread=draws["spread"],
        drift=draws["drift"],
        session_sd=draws["session_sd"],
        shot_sd=np.exp(draws["log_shot_sd"]),
        corr=corr,
        bias=draws["bias"],
        reading_sd=model.reading_sd,
        change_effect=change_effect,
        drill_effect=drill_effect,
        drill_spread=drill_spread,
        affects=affects,
        day_alike=draws.get("day_alike"),
    )
