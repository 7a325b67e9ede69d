"""A fit of a squad of any size, made by hand to look like one: nothing is sampled."""

from datetime import timedelta

import numpy as np

from models.traits import MODELLED, TRAITS
from tests.fits import FIRST_DAY, make_fit
from tracker.posterior import Fit
from tracker.records import Change

DRILLS = (
    ("raise the tee", "strike_up_mm"),
    ("tape on the toe", "strike_toe_mm"),
    ("ball forward", "attack_deg"),
    ("stick on the line", "path_deg"),
    ("grip by quarter", "face_deg"),
    ("step and swing", "club_speed_mps"),
)
"""Invented drills and what each acts on; every player does two."""


def big_fit(players: int, sessions: int, samples: int = 1000, seed: int = 5) -> Fit:
    """Return a fit of so many players with so many weekly sessions and two logged changes each."""
    rng = np.random.default_rng(seed)
    names = [f"P{i:03d}" for i in range(players)]
    levels = {}
    for name in names:
        levels[name] = {}
        for trait in MODELLED:
            prior = TRAITS[trait].prior
            assert prior is not None
            walk = np.cumsum(rng.normal(0, 0.1 * prior.shot_sd / np.sqrt(sessions), sessions))
            start = rng.normal(prior.mean, 0.5 * prior.between_scale)
            levels[name][trait] = start + walk
    changes = [
        Change(name, FIRST_DAY + timedelta(days=7 * place), "drill", *DRILLS[which])
        for i, name in enumerate(names)
        for place, which in ((sessions // 3, i % 6), (2 * sessions // 3, (i + 2) % 6))
    ]
    response = rng.normal(1.0, 0.6, (samples, len(changes)))
    jumps = {
        (name, "strike_up_mm"): (np.where(rng.random(samples) < 0.8, sessions // 2, -1), 4.0)
        for name in names[::10]
    }
    return make_fit(
        levels,
        days=[7 * i for i in range(sessions)],
        samples=samples,
        level_sd={t: 0.15 * TRAITS[t].prior.shot_sd for t in MODELLED},  # type: ignore[union-attr]
        changes=changes,
        change_effect={c: {change.trait: response[:, c]} for c, change in enumerate(changes)},
        drill_effect={n: {t: rng.normal(1.0, 0.4, samples)} for n, t in DRILLS},
        jump_chance=0.1,
        jumps=jumps,
    )
