"""Fits that stand near an academy's planted tendencies, so that physics is judged by itself.

Levels are the planted ones with an error of known SD, drawn once for the fit and again for every
draw; scatter, session SDs and correlations are the planted ones. Nothing is sampled.
"""

from datetime import datetime

import numpy as np

from models.traits import MODELLED, TRAITS
from synthetic_data.spec import DELIVERY_METHODS, STRIKE_METHODS, session_sd
from synthetic_data.spec import TRAITS as PLANTED
from tests.fits import CLEAN
from tracker.fit_info import FitInfo
from tracker.posterior import Fit
from tracker.records import Player

LEVEL_SD = {
    "strike_toe_mm": 1.5,
    "strike_up_mm": 1.2,
    "attack_deg": 0.3,
    "club_speed_mps": 0.15,
    "loft_deg": 0.3,
    "path_deg": 0.4,
    "face_deg": 0.4,
}
"""About what a fit of ten sessions leaves open of a level."""
BIAS_SD = {"strike_toe_mm": 0.4, "strike_up_mm": 0.3}
ANGLE_BIAS_SD = 0.1
"""About what it leaves open of the bias of a second method, mm and degrees or m/s."""
UNUSED = ("day_alike", "jump_sd", "jump_chance", "effect_sd", "drill_scale")
"""Nothing moves here, so that these scales are nil."""


def fit_near(academy, seed=1, samples=400):
    """The fit; photo and radar are the methods without bias, as in the academy."""
    rng = np.random.default_rng(seed)
    order = [PLANTED.index(t) for t in MODELLED]
    sd = np.array([LEVEL_SD[t] for t in MODELLED])
    names = [p.name for p in academy.players]
    by_player = [academy.tendencies[academy.tendencies["player"] == n] for n in names]
    most = max(len(t) for t in by_player)
    shape = (len(names), most, len(MODELLED))
    starts = np.full(shape[:2], np.datetime64("NaT", "s"), dtype="datetime64[s]")
    level = np.zeros((samples, *shape))
    counts = np.zeros((2, *shape), dtype=np.int64)
    for p, table in enumerate(by_player):
        own = len(table)
        starts[p, :own] = np.array(
            [np.datetime64(datetime(d.year, d.month, d.day), "s") for d in table["session"]]
        )
        # one error for all of a player's sessions: that is how levels err
        middle = table[list(MODELLED)].to_numpy() + sd * rng.standard_normal(len(MODELLED))
        level[:, p, :own] = middle + sd * rng.standard_normal((samples, 1, len(MODELLED)))
        counts[0, p, :own] = 15
    groups = [STRIKE_METHODS if TRAITS[t].group == "strike" else DELIVERY_METHODS for t in MODELLED]
    pairs = list(zip(MODELLED, groups, strict=True))
    usual = [[TRAITS[t].default_reading_sd(g[i].name) for t, g in pairs] for i in (0, 1)]
    bias = np.zeros((samples, 2, len(MODELLED)))
    for k, (trait, methods) in enumerate(zip(MODELLED, groups, strict=True)):
        unsure = BIAS_SD.get(trait, ANGLE_BIAS_SD)
        planted = methods[1].bias.get(trait, 0.0) + unsure * rng.standard_normal()
        bias[:, 1, k] = planted + unsure * rng.standard_normal(samples)
    day = np.array([session_sd()[t] for t in MODELLED])
    own_sd = np.stack([p.shot_sd[order] for p in academy.players])
    corr = np.stack([p.shot_correlation[np.ix_(order, order)] for p in academy.players])
    none = np.zeros((samples, 0, len(MODELLED)))
    return Fit(
        info=FitInfo(1, datetime(2026, 9, 1, 12), "near the truth", seed, 0.0, CLEAN, {}),
        players=tuple(Player(p.name, p.handed) for p in academy.players),
        traits=MODELLED,
        methods=tuple(tuple(m.name for m in methods) for methods in groups),
        changes=(),
        drills=(),
        session_start=starts,
        counts=counts,
        raw_mean=level.mean(axis=0),
        raw_se=np.ones(shape),
        level=level.astype(np.float32),
        mu=np.zeros((samples, len(MODELLED))),
        spread=np.ones((samples, len(MODELLED))),
        drift=np.zeros((samples, len(MODELLED))),
        session_sd=np.tile(day, (samples, 1)),
        shot_sd=np.tile(own_sd, (samples, 1, 1)),
        corr=np.tile(corr, (samples, 1, 1, 1)).astype(np.float32),
        bias=bias,
        reading_sd=np.array(usual),
        change_effect=none,
        drill_effect=none,
        affects=np.zeros((0, len(MODELLED)), dtype=bool),
        jump_at=np.full((samples, len(names), len(MODELLED)), -1, dtype=np.int16),
        jump=np.zeros((samples, len(names), len(MODELLED)), dtype=np.float32),
        **dict.fromkeys(UNUSED, np.zeros((samples, len(MODELLED)))),
    )  # fmt: skip
