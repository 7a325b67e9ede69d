"""Fits made by hand: draws with chosen levels and SDs, so that nothing has to be sampled."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.sampling.report import SamplerReport
from models.traits import MODELLED, TRAITS
from tracker.fit_info import FitInfo
from tracker.posterior import Fit
from tracker.records import Change, Player

FIRST_DAY = date(2026, 1, 5)
CLEAN = SamplerReport(divergences=0, max_rhat=1.0, min_ess=2000.0)
BROKEN = SamplerReport(divergences=7, max_rhat=1.2, min_ess=50.0)

Level = float | Sequence[float] | NDArray[np.float64]


def day(number: int) -> date:
    """The calendar day ``number`` days after the first."""
    return FIRST_DAY + timedelta(days=number)


def noise(samples: int, *shape: int, seed: int) -> NDArray[np.float64]:
    """Normal draws whose mean over samples is exactly 0 and SD exactly 1."""
    draws = np.random.default_rng(seed).standard_normal((samples, *shape))
    draws -= draws.mean(axis=0)
    return draws / draws.std(axis=0)


def make_fit(
    levels: Mapping[str, Mapping[str, Level]],
    *,
    days: Sequence[int] | Mapping[str, Sequence[int]] = (0, 7, 14, 21),
    samples: int = 400,
    level_sd: float | Mapping[str, float] = 0.5,
    traits: tuple[str, ...] = MODELLED,
    shots: int | Mapping[tuple[str, str], ArrayLike] = 15,
    raw_mean: Mapping[tuple[str, str], Sequence[float]] | None = None,
    methods: tuple[str, ...] = ("photo",),
    shot_sd: Mapping[str, float] | None = None,
    session_sd: Mapping[str, float] | None = None,
    drift: Mapping[str, float] | None = None,
    spread: Mapping[str, float] | None = None,
    reading_sd: Mapping[str, float] | None = None,
    corr: Mapping[tuple[str, str], float] | None = None,
    changes: Sequence[Change] = (),
    change_effect: Mapping[int, Mapping[str, ArrayLike]] | None = None,
    drill_effect: Mapping[str, Mapping[str, ArrayLike]] | None = None,
    report: SamplerReport = CLEAN,
    reports: Mapping[str, SamplerReport] | None = None,
    day_alike: Mapping[str, float] | None = None,
    jump_chance: float = 0.0,
    jump_sd: Mapping[str, float] | None = None,
    effect_sd: Mapping[str, float] | None = None,
    jumps: Mapping[tuple[str, str], tuple[ArrayLike, ArrayLike]] | None = None,
    seed: int = 11,
    physics: Mapping[str, ArrayLike] | None = None,
    ball_check: Sequence[tuple[str, str, int, float, float, float, float]] = (),
) -> Fit:
    """Build a fit from a table of levels.

    ``levels[player][trait]`` is one number, one number a session, or draws ``(samples, session)``
    used as they are; numbers get normal noise of SD ``level_sd``, mean exactly as asked for.
    Traits left out stand at the prior mean. ``days`` counts from ``FIRST_DAY``, for all players or
    by player. ``shots`` is readings a session, or by (player, trait) one number a session or an
    array (method, session); pairs left out have 15 by the first method. Scales are by trait,
    the prior's where left out. ``corr`` is by pair of traits. ``ball_check`` rows are trait,
    player, session number, observed, predicted, uncalibrated, standard error. ``jumps`` gives,
    by player and trait, the session before which an unlogged change came and its size, by draw.
    """
    names = tuple(levels)
    by_player = {n: tuple(days[n] if isinstance(days, Mapping) else days) for n in names}
    n, p, k = samples, len(names), len(traits)
    s = max(len(d) for d in by_player.values())
    m = len(methods)

    starts = np.full((p, s), np.datetime64("NaT", "s"), dtype="datetime64[s]")
    counts = np.zeros((m, p, s, k), dtype=np.int64)
    level = np.zeros((n, p, s, k))
    raw = np.full((p, s, k), np.nan)
    for i, name in enumerate(names):
        own = len(by_player[name])
        starts[i, :own] = [np.datetime64(day(d), "s") for d in by_player[name]]
        for j, trait in enumerate(traits):
            wanted = np.asarray(levels[name].get(trait, _prior(trait, "mean")), dtype=float)
            if wanted.ndim == 2:
                level[:, i, :own, j] = wanted
            else:
                sd = level_sd if isinstance(level_sd, float | int) else level_sd.get(trait, 0.5)
                wobble = noise(n, own, seed=seed + 1000 * i + j)
                level[:, i, :own, j] = wanted + sd * wobble
            given = shots if isinstance(shots, int) else shots.get((name, trait), 15)
            read = np.asarray(given)
            if read.ndim == 2:
                counts[:, i, :own, j] = read
            else:
                counts[0, i, :own, j] = read
            means = (raw_mean or {}).get((name, trait))
            found = level[:, i, :own, j].mean(axis=0) if means is None else np.asarray(means)
            raw[i, :own, j] = np.where(counts[:, i, :own, j].sum(axis=0) > 0, found, np.nan)

    def scale(given: Mapping[str, float] | None, field: str) -> NDArray[np.float64]:
        return np.array([(given or {}).get(t, _prior(t, field)) for t in traits])

    sd_of_shots = scale(shot_sd, "shot_sd")
    corr_matrix = np.eye(k)
    for (a, b), rho in (corr or {}).items():
        x, y = traits.index(a), traits.index(b)
        corr_matrix[x, y] = corr_matrix[y, x] = rho
    drills = tuple(dict.fromkeys(c.name for c in changes))
    effects = np.zeros((n, len(changes), k))
    for c, by_trait in (change_effect or {}).items():
        for trait, value in by_trait.items():
            effects[:, c, traits.index(trait)] = np.asarray(value)
    drill_effects = np.zeros((n, len(drills), k))
    for drill, by_trait in (drill_effect or {}).items():
        for trait, value in by_trait.items():
            drill_effects[:, drills.index(drill), traits.index(trait)] = np.asarray(value)
    affects = np.array(
        [[c.trait in (None, t) for t in traits] for c in changes], dtype=bool
    ).reshape(len(changes), k)
    read_sd = np.array([(reading_sd or {}).get(t, TRAITS[t].reading_sd) for t in traits])
    total = counts.sum(axis=0)
    error = np.full((p, s, k), np.nan)
    np.divide(sd_of_shots, np.sqrt(total), out=error, where=total > 0)
    jump_at, jump = np.full((n, p, k), -1, dtype=np.int16), np.zeros((n, p, k), dtype=np.float32)
    for (name, trait), (at, size) in (jumps or {}).items():
        jump_at[:, names.index(name), traits.index(trait)] = at
        jump[:, names.index(name), traits.index(trait)] = size
    info = FitInfo(
        1, datetime(2026, 6, 1, 12), "hand-made", seed, 0.0, report, {}, reports=dict(reports or {})
    )
    return Fit(
        info=info,
        players=tuple(Player(name) for name in names),
        traits=traits,
        methods=tuple(methods for _ in traits),
        changes=tuple(changes),
        drills=drills,
        session_start=starts,
        counts=counts,
        raw_mean=raw,
        raw_se=error,
        level=level.astype(np.float32),
        mu=np.tile(scale(None, "mean"), (n, 1)),
        spread=np.tile(scale(spread, "between_scale"), (n, 1)),
        drift=np.tile(scale(drift, "drift_scale"), (n, 1)),
        session_sd=np.tile(scale(session_sd, "session_scale"), (n, 1)),
        shot_sd=np.tile(sd_of_shots, (n, p, 1)),
        corr=np.tile(corr_matrix, (n, p, 1, 1)).astype(np.float32),
        bias=np.zeros((n, m, k)),
        reading_sd=np.tile(read_sd, (m, 1)),
        change_effect=effects,
        drill_effect=drill_effects,
        affects=affects,
        day_alike=np.tile([(day_alike or {}).get(t, 0.0) for t in traits], (n, 1)),
        jump_sd=np.tile(scale(jump_sd, "change_scale"), (n, 1)),
        jump_chance=np.full((n, k), jump_chance),
        effect_sd=np.tile([(effect_sd or {}).get(t, 1.0) for t in traits], (n, 1)),
        drill_scale=np.tile(scale(None, "change_scale"), (n, 1)),
        jump_at=jump_at,
        jump=jump,
        physics={name: np.asarray(draws, dtype=float) for name, draws in (physics or {}).items()},
        ball_check=_ball_table(ball_check, names),
    )


def _ball_table(
    rows: Sequence[tuple[str, str, int, float, float, float, float]], names: tuple[str, ...]
) -> dict[str, NDArray[np.generic]]:
    if not rows:
        return {}
    trait, player, session, *numbers = zip(*rows, strict=True)
    table: dict[str, NDArray[np.generic]] = {
        "trait": np.array(trait),
        "player": np.array([names.index(p) for p in player]),
        "session": np.array(session),
    }
    fields = ("observed", "predicted", "uncalibrated", "standard_error")
    return table | {f: np.array(n, dtype=float) for f, n in zip(fields, numbers, strict=True)}


def _prior(trait: str, field: str) -> float:
    prior = TRAITS[trait].prior
    assert prior is not None
    return float(getattr(prior, field))


def with_info(fit: Fit, info: FitInfo) -> Fit:
    """Return the same draws under another identity."""
    return replace(fit, info=info)
